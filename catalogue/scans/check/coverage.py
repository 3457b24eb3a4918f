"""What is scanned, and how finely: pixels per inch on the film, by frame, roll and page.

The levels are those of the FADGI Technical Guidelines for film of 35 mm to
4 × 5 in and for larger film (2016 table, from memory: editable defaults, not
quoted as the standard). A person's own aim stands beside them.
"""

from collections import Counter
from dataclasses import dataclass

from sqlmodel import Session, col, select

from catalogue.errors import InvalidInput
from catalogue.film.formats import FilmFormat
from catalogue.rolls.rows import film_of
from catalogue.rolls.scan_rows import area_of, ppi_on_film
from catalogue.settings import get_setting, set_setting
from catalogue.store.tables.rolls import Binder, Frame, Page, Roll, Strip, StripFrame
from catalogue.store.tables.scans import Scan, ScanFile

AIM = "scan_aim_ppi"
DEFAULT_AIM = 2400
"""An enlargement of 35 mm to 20 × 30 cm at 300 pixels an inch needs 2500; common practice, no published source."""
PREVIEW_PPI = 800
"""Below this a scan is a preview: it tells what is on the frame and no more; common practice, no published source."""
_UP_TO_4X5, _LARGER = (1000, 2000, 3000, 4000), (500, 1000, 1500, 2000)
GRADES = ("not scanned", "preview only", "below aim", "at aim")
"""Worst first."""


@dataclass(frozen=True)
class Coverage:
    """How the frames of a roll or a page are covered; `worst` is the least grade among them."""

    name: str
    link: str
    frames: int
    counts: tuple[tuple[str, int], ...]
    least_ppi: int
    """Of the frames that are scanned; 0 where none is."""
    stars: int
    """FADGI level 1 to 4 that every scanned frame reaches, 0 where one reaches none."""

    @property
    def worst(self) -> str:
        """The least grade among the frames."""
        return next((grade for grade, count in self.counts if count), GRADES[-1])


def stars(ppi: float, film: FilmFormat) -> int:
    """The FADGI level, 1 to 4, that so many pixels per inch on film reach; 0 for none."""
    # 4 × 5 in counts with the smaller class; its picture is 95 × 120 mm.
    levels = _UP_TO_4X5 if film.frame_along_mm <= 127 and film.frame_across_mm <= 102 else _LARGER
    return sum(ppi >= level - 0.5 for level in levels)


def aim(session: Session) -> int:
    """The resolution the person aims at, pixels per inch on the film."""
    return int(get_setting(session, AIM, str(DEFAULT_AIM)))


def set_aim(session: Session, ppi: int) -> None:
    """Sets the aim; raises `InvalidInput` for what no scan has."""
    if not 100 <= ppi <= 20_000:
        raise InvalidInput(f"An aim of {ppi} pixels per inch is out of range. Give 100 to 20000.")
    set_setting(session, AIM, str(ppi))


def grade(ppi: float, aimed: int) -> str:
    """The grade of one frame; 0 pixels per inch is not scanned."""
    if ppi <= 0:
        return GRADES[0]
    return GRADES[1] if ppi < PREVIEW_PPI else GRADES[2] if ppi < aimed - 0.5 else GRADES[3]


def _best_ppi(session: Session) -> dict[int, float]:
    """For each scanned frame, the finest of its whole scans that are there."""
    films = {roll.id: film_of(session, roll) for roll in session.exec(select(Roll))}
    query = (
        select(Scan, ScanFile, Frame)
        .join(ScanFile, col(ScanFile.id) == col(Scan.file_id))
        .join(Frame, col(Frame.id) == col(Scan.frame_id))
        .where(col(Scan.role).in_(("master", "working")), ScanFile.state != "missing")
    )
    best: dict[int, float] = {}
    for scan, file, frame in session.exec(query):
        ppi = ppi_on_film(file, area_of(scan), films[frame.roll_id], frame.length_mm)
        best[scan.frame_id] = max(best.get(scan.frame_id, 0.0), ppi)
    return best


def _summed(name: str, link: str, frames: list[tuple[float, int]], aimed: int) -> Coverage:
    counts = Counter(grade(ppi, aimed) for ppi, _ in frames)
    scanned = [(ppi, level) for ppi, level in frames if ppi > 0]
    return Coverage(
        name, link, len(frames), tuple((g, counts.get(g, 0)) for g in GRADES),
        round(min((ppi for ppi, _ in scanned), default=0)), min((level for _, level in scanned), default=0),
    )  # fmt: skip


def coverage(session: Session) -> tuple[tuple[Coverage, ...], tuple[Coverage, ...]]:
    """By roll, in the order of numbers, and by page, as the binders stand. Blank frames need no scan and aren't counted."""
    best, aimed = _best_ppi(session), aim(session)
    rolls = {roll.id: roll for roll in session.exec(select(Roll).order_by(col(Roll.number_sort)))}
    films = {key: film_of(session, roll) for key, roll in rolls.items()}
    of_roll: dict[int, list[tuple[float, int]]] = {key or 0: [] for key in rolls}
    of_frame: dict[int, tuple[float, int]] = {}
    for frame in session.exec(select(Frame).where(Frame.state != "blank")):
        ppi = best.get(frame.id or 0, 0.0)
        of_frame[frame.id or 0] = (ppi, stars(ppi, films[frame.roll_id]))
        of_roll[frame.roll_id].append(of_frame[frame.id or 0])
    query = (
        select(Page.id, Page.number, Binder.name, StripFrame.frame_id)
        .join(Binder, col(Binder.id) == col(Page.binder_id))
        .join(Strip, col(Strip.page_id) == col(Page.id))
        .join(StripFrame, col(StripFrame.strip_id) == col(Strip.id))
        .order_by(col(Binder.position), col(Page.number))
    )
    of_page: dict[tuple[int, str], dict[int, tuple[float, int]]] = {}
    for page_id, number, binder, frame_id in session.exec(query):
        if frame_id in of_frame:
            of_page.setdefault((page_id or 0, f"{binder}, page {number}"), {})[frame_id] = of_frame[frame_id]
    by_roll = tuple(_summed(roll.number, f"/rolls/{roll.number}/scans", of_roll[key or 0], aimed) for key, roll in rolls.items())
    by_page = tuple(_summed(name, f"/pages/{key}", list(frames.values()), aimed) for (key, name), frames in of_page.items())
    return by_roll, by_page
