"""The contact sheet: strips and frames where the sleeve page has them, at true size.

Pure layout. The strips keep their places relative to one another exactly, so
the sheet lies over the page and matches; the page's empty margins may be cut.
"""

from dataclasses import dataclass
from datetime import date

from catalogue.film.dates import date_words
from catalogue.sleeves.geometry import Rect
from catalogue.sleeves.page_plan import PlacedFrame, PlacedStrip
from catalogue.views import PageView
from printing.items import Box, Code, Item, Measure, Picture, Sheet, Text, first_fitting, place_words, ruler
from printing.paper import PAPERS, Paper

HEAD_MM, FOOT_MM = 13.0, 4.0
FITS = ("two sheets", "another paper", "fit")


@dataclass(frozen=True)
class ContactSheet:
    """The sheets, their scale (1.0 is true size), the paper used, and why it is so."""

    sheets: tuple[Sheet, ...]
    scale: float
    explanation: str
    paper: Paper


@dataclass(frozen=True)
class PaperFit:
    """Whether one sheet of this paper holds the page at true size; `short_mm` is what is missing, across and down."""

    paper: Paper
    true_size: bool
    landscape: bool
    short_mm: tuple[float, float]
    words: str


def _extent(strips: tuple[PlacedStrip, ...], page: PageView) -> Rect:
    rects = [s.rect for s in strips] or [slot.rect for slot in page.plan.slots]
    x, y = min(r.x for r in rects), min(r.y for r in rects)
    return Rect(x, y, max(r.right for r in rects) - x, max(r.bottom for r in rects) - y)


def _chosen(page: PageView, roll: str | None) -> tuple[tuple[PlacedStrip, ...], tuple[PlacedFrame, ...]]:
    strips = tuple(s for s in page.plan.strips if roll in (None, s.roll))
    return strips, tuple(f for f in page.plan.frames if roll in (None, f.roll))


def _room(paper: Paper, landscape: bool) -> tuple[float, float]:
    width, height = paper.turned(landscape)
    return width - 2 * paper.margin_mm, height - 2 * paper.margin_mm - HEAD_MM - FOOT_MM


def _fits(paper: Paper, need: Rect) -> bool | None:
    """False for portrait, True for landscape, None where one sheet doesn't hold it."""
    for landscape in (False, True):
        width, height = _room(paper, landscape)
        if need.width <= width + 1e-6 and need.height <= height + 1e-6:
            return landscape
    return None


def paper_advice(page: PageView, roll: str | None = None) -> tuple[PaperFit, ...]:
    """For every paper: does one sheet hold the strips at true size, and if not, what is missing."""
    need = _extent(_chosen(page, roll)[0], page)
    found = []
    for paper in PAPERS.values():
        landscape = _fits(paper, need)
        if landscape is not None:
            way = "landscape" if landscape else "portrait"
            found.append(PaperFit(paper, True, landscape, (0, 0), f"{paper.name}, {way}: true size on one sheet."))
            continue
        shorts = []
        for turned in (False, True):
            width, height = _room(paper, turned)
            shorts.append((max(0.0, need.width - width), max(0.0, need.height - height), turned))
        across, down, turned = min(shorts, key=lambda s: s[0] + s[1])
        lost = " and ".join(t for t in (f"{across:.1f} mm across" if across else "", f"{down:.1f} mm down" if down else "") if t)
        found.append(PaperFit(paper, False, turned, (across, down), f"{paper.name}: {lost} short of one sheet at true size."))
    return tuple(found)


def plan_contact_sheet(
    page: PageView,
    paper: Paper,
    *,
    fit: str,
    printed_on: date,
    link: str,
    measure: Measure,
    roll: str | None = None,
    before: int = 0,
    total: int | None = None,
) -> ContactSheet:
    """Plans the sheets; `fit` says what is done where one sheet of this paper doesn't hold true size.

    Sheets are counted on from `before` others already planned, `total` in all.
    """
    strips, frames = _chosen(page, roll)
    need = _extent(strips, page)

    def paint(on: Paper, landscape: bool, windows: list[Rect], why: str, scale: float = 1.0) -> ContactSheet:
        return _paint(page, strips, frames, on, landscape, windows, scale, why, printed_on, link, measure, roll, before, total)

    if not strips:
        return paint(paper, False, [need], "No film lies on this page yet.")
    one = _fits(paper, need)
    if one is not None:
        return paint(paper, one, [need], f"True size on one sheet of {paper.name}, {'landscape' if one else 'portrait'}.")
    reason = f"The strips take {need.width:.0f} × {need.height:.0f} mm"
    larger = sorted(PAPERS.values(), key=lambda p: p.width_mm * p.height_mm)
    other = next((p for p in larger if _fits(p, need) is not None), None)
    if fit == "another paper" and other is not None:
        why = f"{reason}, more than one sheet of {paper.name} holds, so {other.name} is used, at true size."
        return paint(other, bool(_fits(other, need)), [need], why)
    if fit == "another paper":
        reason += ", more than any paper known here holds on one sheet"
    if fit != "fit":
        windows, landscape = _windows(paper, need, strips, frames)
        if len(windows) == 1:
            cut = "all pictures go on it at true size and the ends of the strips are left off."
            return paint(paper, landscape, windows, f"{reason}, more than one sheet of {paper.name} holds; {cut}")
        if windows:
            why = f"{reason}, more than one sheet of {paper.name} holds, so they go on {len(windows)} sheets, at true size."
            return paint(paper, landscape, windows, why)
        reason += f", and one picture is larger than a sheet of {paper.name}"
    scales = {way: min(_room(paper, way)[0] / need.width, _room(paper, way)[1] / need.height) for way in (False, True)}
    landscape = scales[True] > scales[False]
    scale = min(1.0, int(scales[landscape] * 1000) / 1000)
    why = f"{reason}; one sheet of {paper.name} holds them at {scale:.1%} of true size. It will not lie over the page."
    if other is not None:
        why += f" {other.name} holds them at true size."
    return paint(paper, landscape, [need], why, scale)


def _bands(edges: list[tuple[float, float]], room: float) -> list[tuple[float, float]]:
    """Groups pieces (start, end), sorted, into the fewest bands no longer than `room`; [] where a piece is longer."""
    bands: list[list[float]] = []
    for start, end in sorted(edges):
        if end - start > room + 1e-6:
            return []
        if bands and end - bands[-1][0] <= room + 1e-6:
            bands[-1][1] = max(bands[-1][1], end)
        else:
            bands.append([start, end])
    return [(a, b) for a, b in bands]


def _windows(
    paper: Paper, need: Rect, strips: tuple[PlacedStrip, ...], frames: tuple[PlacedFrame, ...]
) -> tuple[list[Rect], bool]:
    """Parts of the page, one a sheet: whole strips, and where a strip is longer than the paper, whole frames."""
    rows = sorted({(s.rect.y, s.rect.bottom) for s in strips})
    best: tuple[list[Rect], bool] = ([], False)
    best_cost = (2, 0)
    for landscape in (False, True):
        width, height = _room(paper, landscape)
        down = _bands(rows, height)
        if need.width <= width + 1e-6:
            across = [(need.x, need.right)]
        else:
            across = _bands(sorted({(f.rect.x, f.rect.right) for f in frames}), width)
        windows = [Rect(x0, y0, x1 - x0, y1 - y0) for y0, y1 in down for x0, x1 in across]
        cost = (int(len(across) > 1), len(windows))  # a strip whole on one sheet is worth another sheet
        if windows and cost < best_cost:
            best, best_cost = (windows, landscape), cost
    return best


def _paint(
    page: PageView, strips: tuple[PlacedStrip, ...], frames: tuple[PlacedFrame, ...], paper: Paper, landscape: bool,
    windows: list[Rect], scale: float, why: str, printed_on: date, link: str, measure: Measure, roll: str | None,
    before: int, total: int | None,
) -> ContactSheet:  # fmt: skip
    width, height = paper.turned(landscape)
    sheets = []
    for number, window in enumerate(windows, before + 1):
        left = (width - window.width * scale) / 2
        top = paper.margin_mm + HEAD_MM
        items: list[Item] = []
        for strip in strips:
            seen = _cut(strip.rect, window)
            if seen is not None:
                items.append(Box(_on_sheet(seen, window, left, top, scale), 0.1, 0.6, strip.out))
        for frame in frames:
            if window.contains(frame.rect):
                items += _frame(
                    frame,
                    _on_sheet(frame.rect, window, left, top, scale),
                    scale,
                    measure,
                    len(page.rolls) > 1,
                    strips,
                )
        items += _head(page, paper, width, number, total or before + len(windows), scale, printed_on, link, measure, roll)
        items += _rule(paper, width, height, scale)
        sheets.append(Sheet(width, height, tuple(items)))
    return ContactSheet(tuple(sheets), scale, why, paper)


def _cut(rect: Rect, window: Rect) -> Rect | None:
    x0, x1 = max(rect.x, window.x), min(rect.right, window.right)
    y0, y1 = max(rect.y, window.y), min(rect.bottom, window.bottom)
    return Rect(x0, y0, x1 - x0, y1 - y0) if x1 - x0 > 0.5 and y1 - y0 > 0.5 else None


def _on_sheet(rect: Rect, window: Rect, left: float, top: float, scale: float) -> Rect:
    return Rect(
        left + (rect.x - window.x) * scale,
        top + (rect.y - window.y) * scale,
        rect.width * scale,
        rect.height * scale,
    )


def _frame(
    frame: PlacedFrame,
    rect: Rect,
    scale: float,
    measure: Measure,
    name_roll: bool,
    strips: tuple[PlacedStrip, ...],
) -> list[Item]:
    strip = next(s for s in strips if s.strip_id == frame.strip_id)
    rebate = (strip.rect.height * scale - rect.height) / 2
    size = max(1.0, min(2.4, rebate * 0.98))
    items: list[Item] = []
    if frame.picture and not frame.out:
        items.append(Picture(rect, frame.picture, frame.rotated, frame.mirrored))
    items.append(Box(rect, 0.1, 0.3, frame.out))
    words = {"picture": "", "double": "double exposure"}.get(frame.state, frame.state)
    own = f"{frame.label}  {'out' if frame.out else words}".strip()
    texts = [own, frame.label]
    if name_roll:
        texts = [f"{frame.roll} / {own}", f"…{frame.roll[-9:]} / {own}", *texts]
    text, size = first_fitting(texts, rect.width, size, size * 0.6, measure)
    # Capitals stand 0.72 of the size high and tails hang 0.22 below: both stay in the rebate.
    items.append(Text(rect.x, rect.y - max(0.23 * size, (rebate - size * 0.72) / 2), size, text))
    return items


def _head(
    page: PageView, paper: Paper, width: float, number: int, total: int, scale: float, printed_on: date, link: str,
    measure: Measure, roll: str | None,
) -> list[Item]:  # fmt: skip
    x, y, m = paper.margin_mm, paper.margin_mm, paper.margin_mm
    code = Rect(width - m - 12.5, y, 12.5, 12.5)
    room = width - 2 * m - 14.5
    rolls = [r for r in page.rolls if roll in (None, r.number)]
    titles = ["  ".join(f"{r.number}  {r.frame_range}" for r in rolls) or "empty page", "  ".join(r.number for r in rolls)]
    if len(rolls) > 1:
        titles.append(f"{len(rolls)} rolls: {rolls[0].number} … {rolls[-1].number}")
    facts = []  # fullest first: dates survive longest, then stock and format, camera, subject
    for kept in (6, 5, 4, 1):
        each = ((date_words(r.exposed), r.format_name, r.stock, r.process, r.camera, r.subject)[:kept] for r in rolls)
        facts.append(" | ".join(" · ".join(t for t in texts if t) for texts in each))
    size = "true size, print at 100 %" if scale == 1.0 else f"reduced to {scale:.1%} of true size"
    ends = f"printed {printed_on.isoformat()} · sheet {number} of {total} · {size}"
    where = place_words(page.binder, page.number, page.archive_name, ends)
    items: list[Item] = [Code(code, link)]
    for texts, baseline, largest, bold in (
        (titles, 4.0, 4.2, True),
        (facts, 7.8, 2.8, False),
        (where, 11.2, 2.5, False),
    ):
        shown, fits = first_fitting(texts, room, largest, largest * 0.62, measure, bold)
        items.append(Text(x, y + baseline, fits, shown, bold))
    return items


def _rule(paper: Paper, width: float, height: float, scale: float) -> list[Item]:
    x, y = paper.margin_mm, height - paper.margin_mm - 1.2
    words = "This line is 100 mm: if not, print at 100 %."
    if scale != 1.0:
        words = f"This line is 100 mm; the frames are drawn at {scale:.1%}."
    return [*ruler(x, y), Text(x + 102, y, 2.2, words)]
