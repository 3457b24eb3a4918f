"""The film that goes on a contact sheet, as seen from the side wanted, with room found for the boxes to tick."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

from catalogue.paper.sizes import Paper
from catalogue.sleeves.from_behind import seen_from_behind
from catalogue.sleeves.geometry import Rect
from catalogue.sleeves.page_plan import PlacedFrame, PlacedStrip
from catalogue.views import PageView
from printing.contact.options import ContactOptions

TICK_MM, CLEAR_MM, LINE_MM = 3.2, 0.5, 0.2
"""A box to tick with a pencil is so wide and high, keeps so far from pictures and film above and below it, and stands so
far in from its picture's end, so that its line stays on the paper where a picture ends there (own choice)."""

Rolls = str | Collection[str] | None


@dataclass(frozen=True)
class SeenFilm:
    """Strips and frames of a page in page mm, as seen; `ticks` has a box for each frame, or None where it has no room.

    `spare_mm` is the least height free of pictures beside a frame that has no room.
    """

    page: PageView
    strips: tuple[PlacedStrip, ...]
    frames: tuple[PlacedFrame, ...]
    ticks: tuple[Rect | None, ...]
    spare_mm: float = 0.0

    def strip_of(self, frame: PlacedFrame) -> PlacedStrip:
        """The strip a frame lies on."""
        return next(s for s in self.strips if s.strip_id == frame.strip_id)

    def height_of(self, strip: PlacedStrip) -> tuple[float, float]:
        """From where to where a strip reaches down the page, with its boxes to tick."""
        boxes = [tick for f, tick in zip(self.frames, self.ticks, strict=True) if tick and f.strip_id == strip.strip_id]
        return strip.rect.y, max([strip.rect.bottom, *(box.bottom for box in boxes)])

    @property
    def extent(self) -> Rect:
        """What the strips take on the page, or its slots where it is empty."""
        rects = [s.rect for s in self.strips] or [slot.rect for slot in self.page.plan.slots]
        return around([*rects, *(tick for tick in self.ticks if tick)])


def around(rects: Sequence[Rect]) -> Rect:
    """The smallest rectangle around these."""
    x, y = min(r.x for r in rects), min(r.y for r in rects)
    return Rect(x, y, max(r.right for r in rects) - x, max(r.bottom for r in rects) - y)


def wanted(roll: Rolls) -> tuple[str, ...] | None:
    """The rolls asked for, or None for all."""
    return roll if roll is None else (roll,) if isinstance(roll, str) else tuple(dict.fromkeys(roll))


def seen_film(page: PageView, roll: Rolls, options: ContactOptions) -> SeenFilm:
    """What of a page goes on paper: one roll, several, or all."""
    if options.side == "emulsion":
        page = replace(page, plan=seen_from_behind(page.plan))
    rolls = wanted(roll)
    strips = tuple(s for s in page.plan.strips if rolls is None or s.roll in rolls)
    frames = tuple(f for f in page.plan.frames if rolls is None or f.roll in rolls)
    film = SeenFilm(page, strips, frames, (None,) * len(frames))
    return _with_ticks(film, options.percent / 100) if options.boxes else film


def _with_ticks(film: SeenFilm, scale: float) -> SeenFilm:
    """Finds each box a place: in the rebate below the picture, else below the strip; never on a picture or film."""
    size, clear, line = TICK_MM / scale, CLEAR_MM / scale, LINE_MM / scale
    ticks: list[Rect | None] = []
    spare = float("inf")
    for frame in film.frames:
        strip = film.strip_of(frame)
        rebate = strip.rect.bottom - frame.rect.bottom
        rows = [strip.rect.bottom + clear]
        if rebate >= size + 2 * clear:
            rows.insert(0, frame.rect.bottom + (rebate - size) / 2)
        boxes = [Rect(x, y, size, size) for y in rows for x in (frame.rect.right - size - line, frame.rect.x + line)]
        found = next((box for box in boxes if _free(box, frame, film, [t for t in ticks if t], clear, scale)), None)
        ticks.append(found)
        if found is None:
            below = [s.rect.y - strip.rect.bottom for s in film.strips if s.rect.y >= strip.rect.bottom]
            spare = min(spare, max(rebate, min(below, default=rebate)) * scale)
    return replace(film, ticks=tuple(ticks), spare_mm=spare if None in ticks else 0.0)


def _free(box: Rect, frame: PlacedFrame, film: SeenFilm, ticks: Sequence[Rect], clear: float, scale: float) -> bool:
    if any(box.overlaps(other) for other in ticks):
        return False
    # Enlarged strips lie apart from one another, each with its own boxes below it.
    mine = [f.rect for f in film.frames if scale == 1 or f.strip_id == frame.strip_id]
    if any(box.overlaps(rect) for rect in mine):
        return False
    apart = Rect(box.x, box.y - clear, box.width, box.height + 2 * clear)
    return scale != 1 or not any(apart.overlaps(s.rect) for s in film.strips if s.strip_id != frame.strip_id)


@dataclass(frozen=True)
class Piece:
    """A part of the page put on a sheet: `window` in page mm goes to (x, y) in sheet mm, times the scale.

    `strip_id`: only this strip's film is drawn, None for all. `label` stands above it.
    """

    window: Rect
    x: float
    y: float
    strip_id: int | None = None
    label: str = ""

    def on_sheet(self, rect: Rect, scale: float) -> Rect:
        """A rectangle of the page where it comes to lie on the sheet."""
        x, y = self.x + (rect.x - self.window.x) * scale, self.y + (rect.y - self.window.y) * scale
        return Rect(x, y, rect.width * scale, rect.height * scale)

    def cut(self, rect: Rect) -> Rect | None:
        """What of a rectangle of the page lies inside the window."""
        x0, x1 = max(rect.x, self.window.x), min(rect.right, self.window.right)
        y0, y1 = max(rect.y, self.window.y), min(rect.bottom, self.window.bottom)
        return Rect(x0, y0, x1 - x0, y1 - y0) if x1 > x0 and y1 > y0 else None


@dataclass(frozen=True)
class ContactPlan:
    """Which part of the page goes where, sheet by sheet, before anything is drawn or measured."""

    film: SeenFilm
    paper: Paper
    landscape: bool
    scale: float
    sheets: tuple[tuple[Piece, ...], ...]
    why: str
    options: ContactOptions
    rolls: tuple[str, ...] | None
