"""The index label of a page, sized to its layout's index area, to cut out and slip in."""

from datetime import date

from catalogue.sleeves.geometry import Rect
from catalogue.views import PageView, RollSummary
from printing.items import Box, Code, Item, Measure, Sheet, Text, fitted

BORDER_MM = 10.0
"""Paper around the label, so that its cut line can be printed and followed."""


def plan_page_label(page: PageView, *, printed_on: date, link: str, measure: Measure) -> Sheet:
    """The label with its cut line; the number always survives, then dates, stock and format, camera, subject."""
    area = page.layout.index_area
    label = Rect(BORDER_MM, BORDER_MM, area.width, area.height)
    items: list[Item] = [Box(label, 0.1, 0.5)]
    inner = label.inset(1.2)
    side = min(inner.height, 20.0)
    if side >= 12:
        items.append(Code(Rect(inner.right - side, inner.y + (inner.height - side) / 2, side, side), link))
        inner = Rect(inner.x, inner.y, inner.width - side - 1.5, inner.height)
    foot = 2.2
    where = f"{page.binder}, page {page.number}"
    text, size = fitted(f"{where} · {page.archive_name} · printed {printed_on.isoformat()}", inner.width, foot, 1.5, measure)
    items.append(Text(inner.x, inner.bottom - 0.5, size, text))
    room = Rect(inner.x, inner.y, inner.width, inner.height - foot - 0.8)
    rolls = page.rolls
    if not rolls:
        items.append(Text(room.x, room.y + 5, 4, "empty page"))
        return _sheet(label, items)
    columns = 1 if len(rolls) <= 2 else 2
    rows = -(-len(rolls) // columns)
    cell = Rect(room.x, room.y, (room.width - (columns - 1) * 2) / columns, room.height / rows)
    for n, roll in enumerate(rolls):
        at = cell.moved((n // rows) * (cell.width + 2), (n % rows) * cell.height)
        items += _roll(roll, at, measure)
    return _sheet(label, items)


def _roll(roll: RollSummary, cell: Rect, measure: Measure) -> list[Item]:
    """One roll in its cell: one, two or three lines as the height allows."""
    lines = 3 if cell.height >= 12 else 2 if cell.height >= 6.5 else 1
    head = f"{roll.number}   {roll.frame_range}"
    film = " · ".join(t for t in (roll.stock, roll.format_name, roll.process) if t)
    rest = " · ".join(t for t in (roll.camera, roll.subject, roll.place) if t)
    if lines == 3:
        texts = [" · ".join(t for t in (head, roll.exposed) if t), film, rest]
    elif lines == 2:
        texts = [" · ".join(t for t in (head, roll.exposed) if t), " · ".join(t for t in (film, rest) if t)]
    else:
        texts = [" · ".join(t for t in (head, roll.exposed, film, rest) if t)]
    pitch = cell.height / lines
    items: list[Item] = []
    for n, text in enumerate(texts):
        if not text:
            continue
        largest = min(pitch * 0.72, 5.0 if n == 0 else 3.4)
        shown, size = fitted(text, cell.width, largest, largest * 0.6, measure, n == 0)
        items.append(Text(cell.x, cell.y + pitch * n + pitch * 0.72, size, shown, n == 0))
    return items


def _sheet(label: Rect, items: list[Item]) -> Sheet:
    return Sheet(label.width + 2 * BORDER_MM, label.height + 2 * BORDER_MM, tuple(items))
