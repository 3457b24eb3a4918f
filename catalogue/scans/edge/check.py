"""A whole proposal held against the edge numbers on the film: confirmed, or corrected with the sentence that says so."""

from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from sqlmodel import Session, select

from catalogue.errors import InvalidInput, UnreadablePicture
from catalogue.film.formats import FilmFormat
from catalogue.film.frame_numbers import FrameNumber
from catalogue.rolls.rows import film_of
from catalogue.scans.edge.bars import read_edge_codes
from catalogue.scans.edge.frames import FoundCode, frame_numbers_on
from catalogue.scans.look.shown import part_of
from catalogue.scans.read.folder_runs import run_row
from catalogue.settings import scan_folder
from catalogue.store.engine import Archive
from catalogue.store.tables.rolls import Frame, Roll
from catalogue.store.tables.scans import DxStock, RunFile

LONGEST_PX = 6000
"""A frame at 4000 pixels an inch is 5700 long; bars 0.6 mm wide need no more."""


def picture_span(width: float, film: FilmFormat) -> tuple[float, float]:
    """Where the picture lies along a scan of one frame with its rebate: in the middle, as the film's pitch leaves it."""
    part = min(1.0, film.frame_along_mm / film.pitch_mm)
    return (1 - part) / 2 * width, (1 + part) / 2 * width


@dataclass(frozen=True)
class EdgeOfScan:
    """The codes along the edge of one scan, and its size along the film and across it, in pixels as it was looked at."""

    codes: tuple[FoundCode, ...]
    along_px: int
    across_px: int


def edge_of(path: Path, longest_px: int) -> EdgeOfScan:
    """Reads the edge codes of a file, upright, as the areas of its frames are. Raises `UnreadablePicture`."""
    picture = part_of(path, (0.0, 0.0, 1.0, 1.0), longest_px)
    codes = read_edge_codes(picture)
    along, across = picture.size[::-1] if codes and codes[0].turn in (90, 270) else picture.size
    return EdgeOfScan(codes, along, across)


def _number_of(edge: EdgeOfScan, film: FilmFormat) -> FrameNumber | None:
    # A lone code says its number but no scale: the scan shows the film across, from edge to edge.
    scale = min(edge.along_px, edge.across_px) / film.gauge_width_mm
    spans = [picture_span(edge.along_px, film)]
    return frame_numbers_on(edge.codes, spans, px_per_mm=scale)[0] if edge.codes else None


def hold_against_edges(
    archive: Archive,
    run_id: int,
    *,
    told: Callable[[int, int], None] = lambda done, read: None,
    cancelled: Callable[[], bool] = lambda: False,
) -> str:
    """Reads the edge code of every file of a run and corrects or confirms its frame; gives a sentence.

    Each file is committed as it is done. What was settled by hand stays, with a doubt where the edge says otherwise.
    Raises `InvalidInput` for a run that is tied already, or film that bears no such code.
    """
    with archive.session(reading=True) as session:
        run = run_row(session, run_id)
        if run.state == "linked":
            raise InvalidInput("This reading is tied to its frames already. Undo it first.")
        roll = session.get_one(Roll, run.roll_id)
        film, root = film_of(session, roll), scan_folder(session)
        if film.gauge != "135":
            raise InvalidInput(f"{film.name} bears no such edge code; 35 mm film does.")
        frames = {f.label: f.id or 0 for f in session.exec(select(Frame).where(Frame.roll_id == roll.id))}
        waiting = [
            (r.id or 0, r.path) for r in session.exec(select(RunFile).where(RunFile.run_id == run_id, RunFile.state == "read"))
        ]
    read, confirmed, corrected, numbers = 0, 0, 0, set[str]()
    for done, (key, path) in enumerate(waiting, 1):
        if cancelled():
            break
        number = None
        with suppress(UnreadablePicture):  # a kind that can't be cut shows no edge here
            edge = edge_of(root / path, LONGEST_PX)
            number = _number_of(edge, film)
            numbers |= {found.code.dx_number for found in edge.codes}
        if number is not None and number.text in frames:
            read += 1
            with archive.session() as session:
                agreed = _hold(session, key, number.text, frames[number.text])
            confirmed, corrected = confirmed + agreed, corrected + (not agreed)
        told(done, read)
    if len(numbers) == 1:
        _name_roll(archive, run_id, next(iter(numbers)))
    return (
        f"The edge numbers of {read} of {len(waiting)} files can be read: {confirmed} confirm the frame, {corrected} correct it."
    )


def _hold(session: Session, key: int, label: str, frame_id: int) -> bool:
    """Confirms or corrects one file; says whether the edge agrees."""
    row = session.get_one(RunFile, key)
    if row.frame_id == frame_id:
        row.sureness = 1.0
        return True
    if row.chosen:
        row.doubt = f"The edge code says frame {label}."
    else:
        row.frame_id, row.sureness, row.doubt = frame_id, 0.9, f"The edge code says frame {label}, so it is proposed."
        row.role = row.role or "master"
    session.add(row)
    return False


def _name_roll(archive: Archive, run_id: int, dx_number: str) -> None:
    """A roll without a stock gets the one that the person has named for its DX number."""
    with archive.session() as session:
        known = session.get(DxStock, dx_number)
        roll = session.get_one(Roll, run_row(session, run_id).roll_id)
        if known is not None and not roll.stock:
            roll.stock = known.stock
            session.add(roll)
