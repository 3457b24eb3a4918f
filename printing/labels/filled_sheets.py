"""Many labels on sheets of a stock, with what the sheet says of itself, cut marks, and the test sheet of a printer."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import pairwise

from catalogue.paper.label_sheets import MOST_OFFSET_MM, StockUse
from catalogue.sleeves.geometry import TOLERANCE_MM, Rect
from printing.canvas.items import RULER_MM, Box, Item, Line, Measure, Sheet, Text, first_fitting, ruler
from printing.labels.text import PITCH, flowed, wrapped

Fill = Callable[[Rect], Sequence[Item]]
"""Places the content of one label into its safe inside."""

MARK_MM = 3.0
_CAPTION_MM, _CLEAR_MM, _ABOVE_EDGE_MM = 2.3, 0.8, 0.2


@dataclass(frozen=True)
class SheetCaption:
    """What a sheet says of itself in the margin: what it is, of what archive, when it was printed."""

    what: str
    archive: str
    printed_on: date

    def words(self, number: int, total: int, stock: str) -> list[str]:
        """Fullest first."""
        when = f"printed {self.printed_on.isoformat()} · sheet {number} of {total}"
        short = self.archive if len(self.archive) <= 24 else self.archive[:23].rstrip() + "…"
        return [
            f"{self.what} · {self.archive} · {when} · {stock}",
            f"{self.what} · {self.archive} · {when}",
            f"{self.what} · {short} · {when}",
            f"{self.what} · {when}",
            when,
        ]


def plan_label_sheets(fills: Sequence[Fill], use: StockUse, caption: SheetCaption, measure: Measure) -> tuple[Sheet, ...]:
    """The labels one after another on as many sheets as they need, from the first label that is still there.

    The caption and the 100 mm rule go into the sheet's margins where these are high enough (not on full-bleed stock).
    """
    plans = use.sheets(len(fills))
    rest = iter(fills)
    sheets = []
    for number, labels in enumerate(plans, 1):
        items = _around(use, caption, number, len(plans), measure)
        outlines = [use.outline(n) for n in labels]
        if use.cut == "marks":
            items += cut_marks(outlines, use.printable)
        elif use.cut == "lines":
            items += outline_lines(outlines, use.printable, 0.1, 0.5)
        for n in labels:
            items += next(rest)(use.text_area(n))
        sheets.append(_sheet(use, items))
    return tuple(sheets)


def cut_marks(outlines: Iterable[Rect], printable: Rect) -> list[Item]:
    """Short lines along the edges at every corner; each once, and none where the printer doesn't reach."""
    arms: list[tuple[float, float, float, float]] = []
    for r in outlines:
        along, down = min(MARK_MM, r.width / 3), min(MARK_MM, r.height / 3)
        for x, inward in ((r.x, along), (r.right, -along)):
            arms += [(min(x, x + inward), y, max(x, x + inward), y) for y in (r.y, r.bottom)]
        for y, inward in ((r.y, down), (r.bottom, -down)):
            arms += [(x, min(y, y + inward), x, max(y, y + inward)) for x in (r.x, r.right)]
    return _within(arms, printable, 0.15, 0.35)


def outline_lines(outlines: Iterable[Rect], printable: Rect, width: float, grey: float) -> list[Item]:
    """The edges of labels; an edge that two share is drawn once, one out of the printer's reach not at all."""
    edges: list[tuple[float, float, float, float]] = []
    for r in outlines:
        edges += [(r.x, r.y, r.right, r.y), (r.x, r.bottom, r.right, r.bottom)]
        edges += [(r.x, r.y, r.x, r.bottom), (r.right, r.y, r.right, r.bottom)]
    return _within(edges, printable, width, grey)


def _within(lines: Iterable[tuple[float, float, float, float]], printable: Rect, width: float, grey: float) -> list[Item]:
    seen: dict[tuple[float, ...], Item] = {}
    for x1, y1, x2, y2 in lines:
        a, b = max(x1, printable.x), min(x2, printable.right)
        c, d = max(y1, printable.y), min(y2, printable.bottom)
        if b - a < -TOLERANCE_MM or d - c < -TOLERANCE_MM or (b - a) + (d - c) < 0.2:
            continue
        seen.setdefault(tuple(round(v, 3) for v in (a, c, b, d)), Line(a, c, b, d, width, grey))
    return list(seen.values())


def _around(use: StockUse, caption: SheetCaption, number: int, total: int, measure: Measure) -> list[Item]:
    """The caption above the labels and the rule below, where there is room for them."""
    area, grid = use.printable, use.stock.grid.moved(use.offset.dx, use.offset.dy)
    items: list[Item] = []
    if grid.y - area.y >= _CAPTION_MM * 1.2:
        words, size = first_fitting(caption.words(number, total, use.stock.name), area.width, _CAPTION_MM, 1.5, measure)
        items.append(Text(area.x, area.y + size * 0.95, size, words))
    if area.bottom - grid.bottom >= RULER_MM + _CLEAR_MM:
        items += rule(area.x, area.bottom - _ABOVE_EDGE_MM, area.width, measure)
    return items


def rule(x: float, y: float, room: float, measure: Measure) -> list[Item]:
    """A line of 100 mm with a tick every 10 mm and what it is for; 50 mm on small paper, nothing on smaller."""
    length = 100 if room >= 100 else 50
    if room < length:
        return []
    items = ruler(x, y, length)
    if room - length - 2 >= 12:
        choices = [f"This line is {length} mm: if not, print at 100 %.", f"{length} mm"]
        words, size = first_fitting(choices, room - length - 2, 2.2, 1.5, measure)
        items.append(Text(x + length + 2, y - 0.3, size, words))
    return items


def _sheet(use: StockUse, items: Sequence[Item]) -> Sheet:
    return Sheet(use.stock.paper.width_mm, use.stock.paper.height_mm, tuple(items))


@dataclass(frozen=True)
class OffsetScale:
    """A scale across an edge of label 1. The tick that the label's real edge meets is the correction to enter.

    `at` is where the edge lies as measured, uncorrected, so a tick of value v lies at `at` + v; `middle` is the place
    along the edge; `ticks` are the values in mm that the printer reaches, none where the edge lies out of its reach.
    """

    edge: str
    at: float
    middle: float
    ticks: tuple[float, ...]


def offset_scales(use: StockUse) -> tuple[OffsetScale, OffsetScale]:
    """The scales across and down on label 1: on its right and lower edge, or where these lie at the paper's edge, the others."""
    area, first = use.printable, use.stock.label(1)

    def one(far: tuple[str, float], near: tuple[str, float], low: float, high: float, middle: float) -> OffsetScale:
        halves = range(round(-2 * MOST_OFFSET_MM), round(2 * MOST_OFFSET_MM) + 1)
        found = []
        for edge, at in (far, near):
            reached = tuple(h / 2 for h in halves if low - TOLERANCE_MM <= at + h / 2 <= high + TOLERANCE_MM)
            found.append(OffsetScale(edge, at, middle, reached))
        best = max(found, key=lambda s: len(s.ticks))
        return best if best.ticks and best.ticks[0] < 0 < best.ticks[-1] else replace(best, ticks=())

    across = one(("right", first.right), ("left", first.x), area.x, area.right, max(first.y, area.y) + 5.0)
    down = one(("lower", first.bottom), ("upper", first.y), area.y, area.bottom, max(first.x, area.x) + first.width * 0.4)
    return across, down


def plan_test_sheet(use: StockUse, caption: SheetCaption, measure: Measure) -> Sheet:
    """Outlines of all labels as corrected, and two scales on label 1 from which the correction is read in mm.

    To be held over a label sheet against the light, or printed on a used one.
    """
    stock, area = use.stock, use.printable
    line = area.bottom - _ABOVE_EDGE_MM
    outlines = [use.outline(n) for n in range(1, stock.count + 1)]
    items = [*_around(use, caption, 1, 1, measure), *outline_lines(outlines, area, 0.2, 0.55)]
    across, down = offset_scales(use)
    drawn, taken = _scale_items(across, down, measure)
    items += drawn
    if area.bottom - use.stock.grid.moved(0, use.offset.dy).bottom < RULER_MM + _CLEAR_MM:
        # No margin takes the rule, so it lies over the middle of the last row.
        low = stock.label(stock.count)
        line = low.y + low.height / 2
        items += rule(area.x, line, min(area.width, 100), measure)
        taken.append(Rect(area.x, low.y, 101, low.height))
    below = stock.paper.height_mm - line
    sentences = (
        f"Test sheet for {stock.name}.",
        f"{caption.archive}, printed {caption.printed_on.isoformat()} with a correction of {_signed(use.offset.dx)} mm across "
        f"and {_signed(use.offset.dy)} mm down.",
        "Hold it over a label sheet against the light, or print it on a used one. Print at 100 %.",
        f"Across: the number where the {across.edge} edge of the top left label meets the scale “across”."
        if across.ticks
        else f"Across: {area.x:g} mm less what you measure from the paper's left edge to the beginning of the 100 mm line.",
        f"Down: the number where the {down.edge} edge of the top left label meets the scale “down”."
        if down.ticks
        else f"Down: what you measure from the paper's lower edge to the 100 mm line, less {below:.1f} mm.",
        "Enter both with their signs as the correction and print this again: the grey outlines then lie on the labels.",
    )
    return _sheet(use, [*items, *_telling(sentences, use, taken, measure)])


def plan_scales(use: StockUse, measure: Measure) -> Sheet:
    """Of the test sheet the outlines and scales alone: to show where its two numbers are read."""
    outlines = [use.outline(n) for n in range(1, use.stock.count + 1)]
    scales, _ = _scale_items(*offset_scales(use), measure)
    return _sheet(use, [*outline_lines(outlines, use.printable, 0.2, 0.55), *scales])


def _signed(value: float) -> str:
    return f"{value:+g}".replace("-", "−") if value else "0"


def _scale_items(across: OffsetScale, down: OffsetScale, measure: Measure) -> tuple[list[Item], list[Rect]]:
    """The ticks with their numbers and a name, and the room both scales take."""
    items: list[Item] = []
    taken: list[Rect] = []
    size = 1.7
    top, left = across.middle, down.middle
    for v in across.ticks:
        long = 2.0 if v == int(v) else 1.1
        items.append(Line(across.at + v, top, across.at + v, top - long, 0.2 if v == 0 else 0.1))
        if v == int(v) and int(v) % 2 == 0:
            items.append(Text(across.at + v, top - 2.3, 1.4, _signed(v), v == 0, "middle"))
    for v in down.ticks:
        long = 2.0 if v == int(v) else 1.1
        items.append(Line(left, down.at + v, left + long, down.at + v, 0.2 if v == 0 else 0.1))
        if v == int(v) and int(v) % 2 == 0:
            items.append(Text(left + 2.3, down.at + v + size * 0.36, size, _signed(v), v == 0))
    if across.ticks:
        least, most = across.at + across.ticks[0], across.at + across.ticks[-1]
        name = "across, mm"
        wide = measure(name, size, False)
        if across.edge == "right":
            items.append(Text(least - 1.5, top - 0.4, size, name, align="right"))
            taken.append(Rect(least - 2 - wide, top - 4.5, most - least + wide + 4, 5))
        else:
            items.append(Text(most + 1.5, top - 0.4, size, name))
            taken.append(Rect(least - 1, top - 4.5, most - least + wide + 4, 5))
    if down.ticks:
        # The name stands clear of the outline, on the tick's side that is the label's inside.
        name_at = down.at + (-1.2 if down.edge == "lower" else 1.2 + size * 0.72)
        items.append(Text(left - 0.8, name_at, size, "down, mm", align="right"))
        taken.append(Rect(left - 10, down.at + down.ticks[0] - 1, 17, down.ticks[-1] - down.ticks[0] + 2))
    return items, taken


def _telling(sentences: Sequence[str], use: StockUse, taken: Sequence[Rect], measure: Measure) -> list[Item]:
    """The sentences in labels that the scales leave free, or where there are none, in the largest free room."""
    labels = [use.text_area(n) for n in range(1, use.stock.count + 1)]
    free = [r for r in labels if not any(r.overlaps(t) for t in taken)]
    if not free:
        area, grid = use.printable, use.stock.grid.moved(use.offset.dx, use.offset.dy)
        first = labels[0]
        low = min(area.bottom - 3, max([grid.bottom, *(t.bottom for t in taken)]) + 1.5)
        bands = [
            (area.x, low, area.right, area.bottom - 3),
            (grid.right + MOST_OFFSET_MM + 3, area.y + 4, area.right, area.bottom - 4),
            (first.x, first.y + 6, first.right, first.y + (first.height - 6) / 2),
        ]
        rooms = [Rect(x1, y1, x2 - x1, y2 - y1) for x1, y1, x2, y2 in bands if x2 - x1 > 15 and y2 - y1 > 3]
        free = [max(rooms, key=lambda r: r.width * r.height)] if rooms else [first]
    for size in (2.6, 2.4, 2.2, 2.0, 1.8, 1.6):
        blocks = [wrapped([s], free[0].width / size, measure) for s in sentences]
        most = max(1, int(free[0].height / (PITCH * size)))
        ends = _breaks([len(b) for b in blocks], most)
        if ends is not None and len(ends) <= len(free):
            groups = [sentences[a:b] for a, b in pairwise([0, *ends])]
            return [item for group, room in zip(groups, free, strict=False) for item in _paragraphs(group, room, size, measure)]
    return flowed(sentences, free[0], measure, 1.6, 1.4, between=" ")


def _breaks(lengths: Sequence[int], most: int) -> list[int] | None:
    """Where groups of whole sentences end, each of at most so many lines; None where one sentence is longer."""
    ends: list[int] = []
    lines = 0
    for n, length in enumerate(lengths):
        if length > most:
            return None
        if lines + length > most:
            ends.append(n)
            lines = 0
        lines += length
    return [*ends, len(lengths)]


def _paragraphs(sentences: Sequence[str], room: Rect, size: float, measure: Measure) -> list[Item]:
    items: list[Item] = []
    top = room.y
    for sentence in sentences:
        high = len(wrapped([sentence], room.width / size, measure)) * PITCH * size
        items += flowed([sentence], Rect(room.x, top, room.width, high + TOLERANCE_MM), measure, size, size)
        top += high
    return items


def hole_mark(x: float, y: float, side: float = 5.0) -> list[Item]:
    """Where a hole is to be punched: a cross in a dashed square, its middle at (x, y)."""
    half = side / 2
    return [
        Box(Rect(x - half, y - half, side, side), 0.1, 0.5, True),
        Line(x - half, y, x + half, y, 0.1, 0.5),
        Line(x, y - half, x, y + half, 0.1, 0.5),
    ]
