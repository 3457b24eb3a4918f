"""How the negatives of a roll, or of one of its strips, are made positive; the numbers are kept, pictures never altered."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from sqlmodel import Session, col, select

from catalogue.errors import InvalidInput, NotFound, StripleafError
from catalogue.rolls.rows import roll_row
from catalogue.rolls.scan_rows import Area, ScanPair, area_of, scans_of
from catalogue.scans.look.exposures import FrameStatistics, balance, common_exposure
from catalogue.scans.look.positives import Channels, FilmKind, Inversion, kind_for, of_strip
from catalogue.scans.look.shown import Look, make_shown
from catalogue.settings import scan_folder
from catalogue.store.apart import set_apart, set_apart_each
from catalogue.store.tables.rolls import Frame, ProcessRecord, Roll, Strip, StripFrame
from catalogue.store.tables.scans import FilmPositive, Scan, ScanFile

EXPOSURES = ("each", "common")


def likely_kind(session: Session, number: str) -> FilmKind | None:
    """The kind of film as the process record says it, or None."""
    roll = roll_row(session, number)
    process = session.get(ProcessRecord, roll.id)
    return kind_for(process.process if process else "", roll.stock)


def positive_of_roll(session: Session, number: str) -> FilmPositive | None:
    """What is set for the roll, or None."""
    roll = roll_row(session, number)
    return session.exec(select(FilmPositive).where(FilmPositive.roll_id == roll.id, col(FilmPositive.strip_id).is_(None))).first()


def _frames_of(session: Session, roll_id: int, strip_id: int | None) -> list[int]:
    if strip_id is None:
        return [key or 0 for key in session.exec(select(Frame.id).where(Frame.roll_id == roll_id))]
    return list(session.exec(select(StripFrame.frame_id).where(StripFrame.strip_id == strip_id)))


def _shown(session: Session, roll_id: int, strip_id: int | None) -> list[ScanPair]:
    """The scan shown of each frame that is, or may be, a negative."""
    pairs = scans_of(session, _frames_of(session, roll_id, strip_id)).values()
    return [found[0] for found in pairs if found[0][0].polarity != "positive"]


def _measured(folder: Path, path: Path, sha256: str, area: Area | None) -> FrameStatistics:
    from PIL import Image

    from catalogue.scans.look.film_base import statistics_of

    with Image.open(make_shown(folder, path, sha256, Look(area), large=True)) as picture:
        return statistics_of(picture)


def _base_in(
    folder: Path, path: Path, sha256: str, area: Area | None, spot: tuple[float, float] | None
) -> tuple[Channels, str, bool] | None:
    """The base in one picture, at a spot in parts of it or wherever it is: its transmittance, why, and whether that is sure.

    None where none is found. Raises `InvalidInput` for a spot that is no film base.
    """
    from PIL import Image

    from catalogue.scans.look.film_base import Sureness, find_base

    with Image.open(make_shown(folder, path, sha256, Look(area), large=True)) as picture:
        try:
            if spot is None:
                found = find_base(picture)
            else:
                x, y = (min(size - 1, int(part * size)) for part, size in zip(spot, picture.size, strict=True))
                found = find_base(picture, (x, y))
        except InvalidInput:
            if spot is None:
                return None
            raise
    return found.transmittance, found.reason, found.sureness is Sureness.SURE


def _picture(session: Session, pair: ScanPair) -> tuple[Path, Path, str, Area | None]:
    """What is handed to whoever measures the scan of a frame."""
    scan, file = pair
    return Path(session.info["folder"]), scan_folder(session) / file.path, file.sha256, area_of(scan)


def scan_statistics(session: Session, pairs: Sequence[ScanPair]) -> list[FrameStatistics]:
    """What is measured in the scans of frames. Raises `UnreadablePicture`."""
    return set_apart(session, _measured, *(_picture(session, pair) for pair in pairs))


def _found_base(session: Session, pairs: list[ScanPair]) -> tuple[Channels, str]:
    """The base from the rebate of the scans if one shows it surely, else from all their thinnest parts."""
    from catalogue.scans.look.film_base import base_of_roll

    for pair in pairs[:8]:
        (found,) = set_apart(session, _base_in, (*_picture(session, pair), None))
        if found is not None and found[2]:
            return found[0], f"From {pair[1].path}: {found[1]}"
    whole = base_of_roll([measured.thinnest for measured in scan_statistics(session, pairs)])
    return whole.transmittance, f"{whole.reason} ({whole.sureness})"


def set_positive(
    session: Session,
    number: str,
    kind: str,
    *,
    strip_id: int | None = None,
    exposure: str = "common",
    slope: float | None = None,
    stops: float = 0.0,
    point: tuple[int, float, float] | None = None,
) -> FilmPositive:
    """Sets how a roll, or one strip, is shown: the base is found, or taken where the person pointed.

    `point`: a scan's id and a spot in parts of the picture's width and height.
    `stops` makes all of it lighter (above 0) or darker. Raises `InvalidInput`
    where no scan is there to measure, or for impossible numbers.
    """
    roll = roll_row(session, number)
    if exposure not in EXPOSURES:
        raise InvalidInput("Each frame is balanced by itself (each), or all have one exposure (common).")
    if strip_id is not None and ((strip := session.get(Strip, strip_id)) is None or strip.roll_id != roll.id):
        raise NotFound(f"Roll {number} has no strip {strip_id}.")
    start = Inversion(FilmKind(kind)) if kind in set(FilmKind) else Inversion(kind)  # type: ignore[arg-type]  # refuses with a sentence
    if slope is not None:
        start = replace(start, slope=(slope, slope, slope))
    pairs = _shown(session, roll.id or 0, strip_id)
    words = "Shown as scanned: a slide."
    if start.kind is not FilmKind.SLIDE:
        if not pairs:
            raise InvalidInput("There is no scan of this film to measure yet. Read its folder first.")
        base, words = _pointed(session, roll, point) if point else _found_base(session, pairs)
        start = replace(start, base=base)
        inversion = common_exposure(scan_statistics(session, pairs), start)
        start = replace(inversion, exposure=stops)
    whole = positive_of_roll(session, number)
    if strip_id is not None and whole is not None:
        of_strip(Inversion.from_json(whole.inversion), start)  # refuses another kind of film than the roll's
    row = whole if strip_id is None else session.exec(select(FilmPositive).where(FilmPositive.strip_id == strip_id)).first()
    row = row or FilmPositive(roll_id=roll.id or 0, strip_id=strip_id, inversion="")
    row.inversion, row.exposure, row.found = start.to_json(), exposure, words
    session.add(row)
    if strip_id is None:
        _drop_other_kinds(session, roll.id or 0, start.kind)
    session.flush()
    balance_scans(session, roll.id or 0)
    return row


def _drop_other_kinds(session: Session, roll_id: int, kind: FilmKind) -> None:
    """A roll is one stock: strips that were set as another kind of film are shown as their roll from now on."""
    of_strips = select(FilmPositive).where(FilmPositive.roll_id == roll_id, col(FilmPositive.strip_id).is_not(None))
    for own in session.exec(of_strips).all():
        if Inversion.from_json(own.inversion).kind is not kind:
            session.delete(own)


def _pointed(session: Session, roll: Roll, point: tuple[int, float, float]) -> tuple[Channels, str]:
    scan_id, x, y = point
    scan = session.get(Scan, scan_id)
    if scan is None or session.get_one(Frame, scan.frame_id).roll_id != roll.id:
        raise NotFound(f"There is no scan {scan_id} of roll {roll.number} to point at. Choose one of its scans.")
    if not (0 <= x <= 1 and 0 <= y <= 1):
        raise InvalidInput(
            f"The spot {x:g}, {y:g} lies outside the picture, which runs from 0 to 1. Point at the film base in it."
        )
    file = session.get_one(ScanFile, scan.file_id)
    (found,) = set_apart(session, _base_in, (*_picture(session, (scan, file)), (x, y)))
    assert found is not None  # a spot either is film base or is refused
    return found[0], f"Pointed at in {file.path}: {found[1]}"


def clear_positive(session: Session, number: str) -> None:
    """Shows the roll's scans as they are."""
    roll = roll_row(session, number)
    for row in session.exec(select(FilmPositive).where(FilmPositive.roll_id == roll.id)):
        session.delete(row)
    session.flush()


def balance_scans(session: Session, roll_id: int) -> None:
    """Works out the own inversion of each scan where each frame is balanced by itself."""
    rows = session.exec(select(FilmPositive).where(FilmPositive.roll_id == roll_id)).all()
    for row in sorted(rows, key=lambda row: row.strip_id is not None):  # the roll first: a strip's own numbers stand above it
        for scan in session.exec(select(Scan).where(col(Scan.frame_id).in_(_frames_of(session, roll_id, row.strip_id)))):
            scan.balance = ""  # also of those not shown, or they would come back with numbers long gone
            session.add(scan)
        start = Inversion.from_json(row.inversion)
        if row.exposure != "each" or start.kind is FilmKind.SLIDE:
            continue
        pairs = _shown(session, roll_id, row.strip_id)
        measured = set_apart_each(session, _measured, *(_picture(session, pair) for pair in pairs))
        for (scan, _), found in zip(pairs, measured, strict=True):
            if not isinstance(found, StripleafError):  # else it is shown with the roll's own numbers
                scan.balance = balance(found, start, colours_of=start).to_json()
    session.flush()
