"""How the negatives of a roll, or of one of its strips, are made positive; the numbers are kept, pictures never altered."""

from dataclasses import replace
from pathlib import Path

from sqlmodel import Session, col, select

from catalogue.errors import InvalidInput, NotFound, UnreadablePicture
from catalogue.rolls.rows import roll_row
from catalogue.rolls.scan_rows import ScanPair, area_of, scans_of
from catalogue.scans.look.exposures import FrameStatistics, balance, common_exposure
from catalogue.scans.look.frame_pictures import file_picture
from catalogue.scans.look.positives import FilmKind, Inversion, kind_for, of_strip
from catalogue.scans.look.shown import Look
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


def _preview(session: Session, pair: ScanPair) -> Path:
    scan, file = pair
    return file_picture(session, file, Look(area_of(scan)), large=True)


def scan_statistics(session: Session, pair: ScanPair) -> FrameStatistics:
    """What is measured in the scan of a frame. Raises `UnreadablePicture`."""
    from PIL import Image

    from catalogue.scans.look.film_base import statistics_of

    with Image.open(_preview(session, pair)) as picture:
        return statistics_of(picture)


def _found_base(session: Session, pairs: list[ScanPair]) -> tuple[tuple[float, float, float], str]:
    """The base from the rebate of the scans if one shows it surely, else from all their thinnest parts."""
    from PIL import Image

    from catalogue.scans.look.film_base import Sureness, base_of_roll, find_base

    for pair in pairs[:8]:
        with Image.open(_preview(session, pair)) as picture:
            try:
                found = find_base(picture)
            except InvalidInput:
                continue
        if found.sureness is Sureness.SURE:
            return found.transmittance, f"From {pair[1].path}: {found.reason}"
    whole = base_of_roll([scan_statistics(session, pair).thinnest for pair in pairs])
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
        inversion = common_exposure([scan_statistics(session, pair) for pair in pairs], start)
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


def _pointed(session: Session, roll: Roll, point: tuple[int, float, float]) -> tuple[tuple[float, float, float], str]:
    from PIL import Image

    from catalogue.scans.look.film_base import find_base

    scan_id, x, y = point
    scan = session.get(Scan, scan_id)
    if scan is None or session.get_one(Frame, scan.frame_id).roll_id != roll.id:
        raise NotFound(f"There is no scan {scan_id} of roll {roll.number} to point at. Choose one of its scans.")
    if not (0 <= x <= 1 and 0 <= y <= 1):
        raise InvalidInput(
            f"The spot {x:g}, {y:g} lies outside the picture, which runs from 0 to 1. Point at the film base in it."
        )
    file = session.get_one(ScanFile, scan.file_id)
    with Image.open(_preview(session, (scan, file))) as picture:
        spot = (min(picture.width - 1, int(x * picture.width)), min(picture.height - 1, int(y * picture.height)))
        found = find_base(picture, spot)
    return found.transmittance, f"Pointed at in {file.path}: {found.reason}"


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
        for pair in _shown(session, roll_id, row.strip_id):
            if row.exposure == "each" and start.kind is not FilmKind.SLIDE:
                try:
                    pair[0].balance = balance(scan_statistics(session, pair), start, colours_of=start).to_json()
                except UnreadablePicture:
                    continue  # shown with the roll's own numbers
            session.add(pair[0])
    session.flush()
