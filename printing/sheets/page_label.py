"""The index label of a page, sized to its layout's index area, to cut out and slip in."""

from datetime import date

from catalogue.film.dates import date_words
from catalogue.sleeves.geometry import Rect
from catalogue.views import PageView, RollSummary
from printing.canvas.items import Box, Code, Item, Measure, Sheet, Text, first_fitting, joined, place_words

ROW_MM = 2.5
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
    where = place_words(page.binder, page.number, page.archive_name, f"printed {printed_on.isoformat()}")
    text, size = first_fitting(where, inner.width, foot, 1.5, measure)
    items.append(Text(inner.x, inner.bottom - 0.5, size, text))
    room = Rect(inner.x, inner.y, inner.width, inner.height - foot - 0.8)
    rolls = page.rolls
    if not rolls:
        items.append(Text(room.x, room.y + 5, 4, "empty page"))
        return _sheet(label, items)
    # As many columns as it takes to keep a row of type readable.
    columns = max(1 if len(rolls) <= 2 else 2, -(-len(rolls) // max(1, int(room.height / ROW_MM))))
    rows = -(-len(rolls) // columns)
    cell = Rect(room.x, room.y, (room.width - (columns - 1) * 2) / columns, room.height / rows)
    for n, roll in enumerate(rolls):
        at = cell.moved((n // rows) * (cell.width + 2), (n % rows) * cell.height)
        items += _roll(roll, at, measure)
    return _sheet(label, items)


def _roll(roll: RollSummary, cell: Rect, measure: Measure) -> list[Item]:
    """One roll in its cell: one, two or three lines as the height allows."""
    lines = 3 if cell.height >= 12 else 2 if cell.height >= 6.5 else 1
    exposed = date_words(roll.exposed)
    film = joined(roll.stock, roll.format_name, roll.process)
    rest = joined(roll.camera, roll.subject, roll.place)
    numbered = f"{roll.number}   {roll.frame_range}"
    heads = [joined(numbered, exposed), joined(roll.number, exposed), roll.number]
    if lines == 3:
        texts = [heads, [film], [rest]]
    elif lines == 2:
        texts = [heads, [joined(film, rest)]]
    else:
        texts = [[joined(numbered, exposed, film, rest), joined(numbered, exposed, film), *heads]]
    pitch = cell.height / lines
    items: list[Item] = []
    for n, choices in enumerate(texts):
        if not choices[0]:
            continue
        largest = min(pitch * 0.72, 5.0 if n == 0 else 3.4)
        smallest = max(largest * 0.6, min(largest, 1.5))
        shown, size = first_fitting(choices, cell.width, largest, smallest, measure, n == 0)
        items.append(Text(cell.x, cell.y + pitch * n + pitch * 0.72, size, shown, n == 0))
    return items


def _sheet(label: Rect, items: list[Item]) -> Sheet:
    return Sheet(label.width + 2 * BORDER_MM, label.height + 2 * BORDER_MM, tuple(items))
