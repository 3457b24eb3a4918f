"""The strip list: a narrow slip for the ring edge of a page, each line exactly beside its slot.

Pure layout at true size. It follows the page plan: on a page turned head to
foot the last slot comes first, and frames are read from the ring side.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from catalogue.errors import DoesNotFit, InvalidInput
from catalogue.film.frame_numbers import FrameNumber, frames_text
from catalogue.paper.sizes import PAPERS, Paper
from catalogue.sleeves.geometry import TOLERANCE_MM, Rect
from catalogue.sleeves.page_plan import PlacedSlot, PlacedStrip
from catalogue.views import PageView
from printing.canvas.items import Box, Item, Line, Measure, Sheet, Text, first_fitting, fitted, place_words, ruler
from printing.sheets.tank_card import HEAD_MM, card_head, roll_words, wrapped

SLIP_WIDTH_MM = 14.0
_SIDE = 1.0
LEAST_BESIDE_MM = 112.0
"""Beside the slip on its sheet: the line of 100 mm whole, and a beginning of what it is for."""
_ENDS = 3.0  # kept in the first and last cell for the page's name and the date


@dataclass(frozen=True)
class SlipPiece:
    """A piece of the slip on its sheet: `rect` there, and `top_mm` of it on the page (from the page's top edge)."""

    rect: Rect
    top_mm: float
    slots: tuple[int, ...]


@dataclass(frozen=True)
class StripList:
    """One sheet with the slip, in one piece or, where the paper is too short, in several side by side."""

    sheet: Sheet
    pieces: tuple[SlipPiece, ...]


def true_size_rule(x: float, y: float, width: float, measure: Measure) -> list[Item]:
    """The line of 100 mm with its sentence; y is the line, and the marks stand 1.6 mm above it."""
    words = ["True size. This line is 100 mm: if not, print at 100 %.", "This line is 100 mm: if not, print at 100 %."]
    text, size = first_fitting(words, width - 102, 2.6, 1.6, measure)
    return [*ruler(x, y), Text(x + 102, y, size, text)]


def frame_range(labels: Sequence[str]) -> str:
    """Labels in their order, "1–6", "6–1", "1–4, 7"; words of any script pass as they are."""
    try:
        numbers = [FrameNumber.parse(label) for label in labels]
        backwards = len(numbers) > 1 and numbers[-1] < numbers[0]
        parts = frames_text(numbers[::-1] if backwards else numbers).replace("-", "–").split(", ")
    except InvalidInput:
        return ", ".join(labels)
    if not backwards:
        return ", ".join(parts)
    turned = []
    for part in reversed(parts):
        ends, space, halves = part.partition(" ")
        turned.append("–".join(reversed(ends.split("–"))) + space + halves)
    return ", ".join(turned)


def plan_strip_list(
    page: PageView,
    *,
    printed_on: date,
    measure: Measure,
    out_reasons: Mapping[int, str] | None = None,
    paper: Paper = PAPERS["A4"],
    link: str = "",
) -> StripList:
    """The slip of a page, from the top of its first slot to the bottom of its last.

    `out_reasons` says by strip id why a strip is out. Raises `DoesNotFit` where
    one slot is longer than the paper.
    """
    width, height = paper.turned(False)
    m = paper.margin_mm
    rows: list[list[PlacedSlot]] = []
    for slot in sorted(page.plan.slots, key=lambda s: (s.from_top, s.rect.x if page.plan.ring_side == "left" else -s.rect.x)):
        if rows and rows[-1][0].from_top == slot.from_top:
            rows[-1].append(slot)
        else:
            rows.append([slot])
    room = height - 2 * m - 1
    groups: list[list[list[PlacedSlot]]] = []
    for row in rows:
        if row[0].rect.height > room:
            raise DoesNotFit(
                f"One slot is {row[0].rect.height:g} mm high and {paper.name} leaves {room:g} mm. Choose larger paper."
            )
        if groups and row[0].rect.bottom - _top(groups, rows, groups[-1]) <= room + TOLERANCE_MM:
            groups[-1].append(row)
        else:
            groups.append([row])
    items: list[Item] = []
    pieces = []
    for n, group in enumerate(groups):
        top = _top(groups, rows, group)
        last = group[-1][0].rect
        following = next((r for r in rows if r[0].rect.y > last.y), None) if n + 1 < len(groups) else None
        end = (last.bottom + following[0].rect.y) / 2 if following else last.bottom
        rect = Rect(m + 1 + n * (SLIP_WIDTH_MM + 6), m + 0.5, SLIP_WIDTH_MM, min(end - top, room))
        pieces.append(SlipPiece(rect, top, tuple(s.number for row in group for s in row)))
        items += _piece(page, pieces[-1], group, out_reasons or {}, printed_on, n, len(groups), measure)
    x = pieces[-1].rect.right + 8
    if width - m - x < LEAST_BESIDE_MM:
        raise DoesNotFit(
            f"{paper.name} leaves {max(0.0, width - m - x):.0f} mm beside the slip for what it is and the 100 mm rule; "
            f"{LEAST_BESIDE_MM:g} mm are needed. Choose larger paper."
        )
    area = Rect(x, m, width - m - x, HEAD_MM)
    ends = f"printed {printed_on.isoformat()} · true size, print at 100 %"
    where = place_words(page.binder, page.number, page.archive_name, ends)
    way = " It is turned head to foot." if page.turned else ""
    words = ", ".join(r.number for r in page.rolls) or "empty page"
    many = [f"{len(page.rolls)} rolls: {page.rolls[0].number} … {page.rolls[-1].number}"] if len(page.rolls) > 1 else []
    items += card_head(area, ["Strip list", "Strips"], [words, *many], where, measure, link)
    advice = (
        "Cut the slip out and lay it along the ring edge, its top level with the top of the first slot. "
        f"Frames are read from the ring side, which is at the {page.plan.ring_side} here.{way}"
    )
    if len(groups) > 1:
        advice += " Join the pieces at equal letters, edge to edge."
    for line_number, line in enumerate(wrapped(advice, area.width, 4.0, measure)):
        items.append(Text(x, m + HEAD_MM + 6 + 5.6 * line_number, 4.0, line))
    items += true_size_rule(x, height - m - 1.2, area.width, measure)
    return StripList(Sheet(width, height, tuple(items)), tuple(pieces))


def _top(groups: list[list[list[PlacedSlot]]], rows: list[list[PlacedSlot]], group: list[list[PlacedSlot]]) -> float:
    """Where a piece begins on the page: at its first slot, or half way from the slot above on an earlier piece."""
    first = group[0][0].rect
    if group is groups[0]:
        return first.y
    above = max((r[0].rect.bottom for r in rows if r[0].rect.y < first.y), default=first.y)
    return (above + first.y) / 2


def _piece(
    page: PageView, piece: SlipPiece, group: list[list[PlacedSlot]], reasons: Mapping[int, str], printed_on: date,
    number: int, count: int, measure: Measure,
) -> list[Item]:  # fmt: skip
    rect = piece.rect
    items: list[Item] = [Box(rect, 0.2)]
    inner = rect.width - 2 * _SIDE
    for row_number, row in enumerate(group):
        slot = row[0].rect
        y = rect.y + slot.y - piece.top_mm
        for edge in (y, y + slot.height):
            if rect.y + 0.05 < edge < rect.bottom - 0.05:
                items.append(Line(rect.x, edge, rect.right, edge, 0.15))
        first, last = row_number == 0, row_number == len(group) - 1
        low, high = y + (_ENDS if first else 0.6), y + slot.height - (_ENDS if last else 0.6)
        if first:
            names = [f"{page.binder}, page {page.number}", f"page {page.number}", f"p. {page.number}"]
            text, size = first_fitting(names, inner, 2.2, 1.4, measure, True)
            items.append(Text(rect.x + _SIDE, y + 2.3, size, text, True))
        if last:
            text, size = fitted(printed_on.isoformat(), inner, 2.0, 1.4, measure)
            items.append(Text(rect.x + _SIDE, y + slot.height - 0.7, size, text))
        items += _cell(page, row, Rect(rect.x + _SIDE, low, inner, high - low), y + slot.height / 2, reasons, measure)
    for at, letter in ((rect.y + 3, number - 1), (rect.bottom - 1, number)):
        if 0 <= letter < count - 1:
            items.append(Text(rect.right + 1, at, 3.4, chr(ord("A") + letter), True))
    return items


_Said = tuple[list[str], float, bool]
"""A line: its wordings fullest first, the type size in mm, bold."""


def _strip_lines(
    page: PageView, strip: PlacedStrip, reasons: Mapping[int, str], inner: float, most: int, measure: Measure
) -> list[_Said]:
    """Roll where several share the page, frames from the ring side, out with its reason."""
    frames = sorted((f for f in page.plan.frames if f.strip_id == strip.strip_id), key=lambda f: f.place)
    lines: list[_Said] = []
    if len(page.rolls) > 1:
        whole = wrapped(strip.roll, inner, 2.6, measure)
        if len(whole) <= most:
            lines += [([line], 2.6, False) for line in whole]
        else:
            lines.append((roll_words(strip.roll), 2.6, False))
    labels = [f.label for f in frames]
    text = frame_range(labels) if labels else "no frames"
    short = [text, text.removesuffix(" by halves"), *([f"{labels[0]}…{labels[-1]}"] if len(labels) > 1 else [])]
    lines.append((short, 4.4, True))
    cut = [f.label for f in frames if f.part != "whole"]
    if cut:
        lines.append(([f"{', '.join(cut)} in part", "in part"], 2.4, False))
    if strip.out:
        reason = reasons.get(strip.strip_id, "").strip()
        said = wrapped(f"out: {reason}" if reason else "out", inner, 2.4, measure)
        if len(said) > most:
            said = [*said[: most - 1], said[most - 1] + "…"]
        lines += [([line], 2.4, True) for line in said]
    return lines


def _cell(
    page: PageView, row: list[PlacedSlot], room: Rect, middle: float, reasons: Mapping[int, str], measure: Measure
) -> list[Item]:
    """The strips of one row of slots, centred on the row; where there are more than fit, type shrinks."""
    lines: list[_Said] = []
    for place, slot in enumerate(row, 1):
        strips = [s for s in page.plan.strips if s.slot == slot.number]
        strips.sort(key=lambda s: s.rect.x if page.plan.ring_side == "left" else -s.rect.x)
        if len(row) == 1:
            lines.append(([f"{slot.from_top}"], 2.2, False))
        elif strips:
            lines.append(([f"{slot.from_top}.{place}"], 2.2, False))
        if not strips and len(row) == 1:
            lines.append((["free"], 2.4, False))
        most = 6 if len(row) == 1 and len(strips) == 1 else 2
        for strip in strips:
            lines += _strip_lines(page, strip, reasons, room.width, most, measure)
    if not lines:
        lines.append((["free"], 2.4, False))
    tall = sum(size * 1.18 for _, size, _ in lines)
    by = min(1.0, room.height / tall)
    y = min(max(middle - tall * by / 2, room.y), room.bottom - tall * by)
    items: list[Item] = []
    for texts, size, bold in lines:
        size *= by
        text, fits = first_fitting(texts, room.width, size, min(size, 1.5), measure, bold)
        items.append(Text(room.x, y + size * 0.9, fits, text, bold))
        y += size * 1.18
    return items
