"""What is scanned, and how finely: pixels per inch on the film, by frame, roll and page.

The levels are those of the FADGI Technical Guidelines for film of 35 mm to
4 × 5 in and for larger film (2016 table, from memory: editable defaults, not
quoted as the standard). A person's own aim stands beside them.
"""

from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlmodel import Session, col, func, select

from catalogue.errors import InvalidInput
from catalogue.film.formats import FilmFormat
from catalogue.rolls.rows import films_of
from catalogue.rolls.scan_rows import ppi_on_film
from catalogue.settings import get_setting, set_setting
from catalogue.store.tables.rolls import Binder, Frame, Page, Roll, Strip, StripFrame
from catalogue.store.tables.scans import Scan, ScanFile

AIM = "scan_aim_ppi"
DEFAULT_AIM = 2400
"""An enlargement of 35 mm to 20 × 30 cm at 300 pixels an inch needs 2500; common practice, no published source."""
PREVIEW_PPI = 800
"""Below this a scan is a preview: it tells what is on the frame and no more; common practice, no published source."""
_UP_TO_4X5, _LARGER = (1000, 2000, 3000, 4000), (500, 1000, 1500, 2000)
AT_ONCE = 50
"""Rolls, or pages, on one screen or in one answer."""
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


def _summed(name: str, link: str, frames: list[tuple[float, int]], aimed: int) -> Coverage:
    counts = Counter(grade(ppi, aimed) for ppi, _ in frames)
    scanned = [(ppi, level) for ppi, level in frames if ppi > 0]
    return Coverage(
        name, link, len(frames), tuple((g, counts.get(g, 0)) for g in GRADES),
        round(min((ppi for ppi, _ in scanned), default=0)), min((level for _, level in scanned), default=0),
    )  # fmt: skip


@dataclass(frozen=True)
class Covered:
    """Some rolls or pages with their coverage, the place of the first among all (from 1), and how many there are."""

    lines: tuple[Coverage, ...]
    first: int
    total: int


def covered_rolls(session: Session, first: int = 1, limit: int = AT_ONCE) -> Covered:
    """Rolls in the order of their numbers. Blank frames need no scan and aren't counted."""
    total = session.exec(select(func.count()).select_from(Roll)).one()
    rolls = session.exec(select(Roll).order_by(col(Roll.number_sort)).offset(first - 1).limit(limit)).all()
    frames: dict[int, list[tuple[float, int]]] = defaultdict(list)
    for roll_id, _, found in _frames(session, col(Frame.roll_id).in_([roll.id for roll in rolls])):
        frames[roll_id].append(found)
    aimed = aim(session)
    lines = (_summed(r.number, f"/rolls/{r.number}/scans", frames[r.id or 0], aimed) for r in rolls)
    return Covered(tuple(lines), first, total)


def covered_pages(session: Session, first: int = 1, limit: int = AT_ONCE) -> Covered:
    """Pages with film in them as the binders stand. Blank frames need no scan and aren't counted."""
    filled = col(Page.id).in_(select(Strip.page_id).where(col(Strip.page_id).is_not(None)))
    total = session.exec(select(func.count()).select_from(Page).where(filled)).one()
    shelf = select(Page.id, Page.number, Binder.name).join(Binder, col(Binder.id) == col(Page.binder_id)).where(filled)
    pages = session.exec(shelf.order_by(col(Binder.position), col(Page.number)).offset(first - 1).limit(limit)).all()
    lying = (
        select(Strip.page_id, StripFrame.frame_id)
        .join(StripFrame, col(StripFrame.strip_id) == col(Strip.id))
        .where(col(Strip.page_id).in_([key for key, _, _ in pages]))
        .distinct()
    )
    on_page: dict[int | None, list[int]] = defaultdict(list)
    for page_id, frame_id in session.exec(lying):
        on_page[page_id].append(frame_id)
    on_them = select(StripFrame.frame_id).join(Strip, col(Strip.id) == col(StripFrame.strip_id))
    within = col(Frame.id).in_(on_them.where(col(Strip.page_id).in_([key for key, _, _ in pages])))
    found = {key: one for _, key, one in _frames(session, within)}
    aimed = aim(session)
    lines = (
        _summed(f"{binder}, page {number}", f"/pages/{key}", [found[f] for f in on_page[key] if f in found], aimed)
        for key, number, binder in pages
    )
    return Covered(tuple(lines), first, total)


def _frames(session: Session, within: Any) -> Iterator[tuple[int, int, tuple[float, int]]]:
    """Of the frames within that aren't blank: roll, key, and pixels per inch (0 unscanned) with the level they reach.

    The finest of a frame's whole scans that are there counts.
    """
    sizes = (Scan.area_w, Scan.area_h, ScanFile.width_px, ScanFile.height_px)
    query = (
        select(Frame.id, Frame.roll_id, Frame.length_mm, *sizes)  # type: ignore[call-overload]
        .select_from(Frame)
        .join(Scan, (col(Scan.frame_id) == col(Frame.id)) & col(Scan.role).in_(("master", "working")), isouter=True)
        .join(ScanFile, (col(ScanFile.id) == col(Scan.file_id)) & (col(ScanFile.state) != "missing"), isouter=True)
        .where(within, Frame.state != "blank")
    )
    rows = session.exec(query).all()
    films = films_of(session, session.exec(select(Roll).where(col(Roll.id).in_({row[1] for row in rows}))).all())
    best: dict[tuple[int, int], float] = {}
    for key, roll_id, length, part_wide, part_high, wide, high in rows:
        ppi = ppi_on_film((wide * (part_wide or 1), high * (part_high or 1)), films[roll_id], length) if wide else 0.0
        best[key, roll_id] = max(best.get((key, roll_id), 0.0), ppi)
    for (key, roll_id), ppi in best.items():
        yield roll_id, key, (ppi, stars(ppi, films[roll_id]))
