"""A finding aid on paper, on the leaves of a book: one part a binder, indented by level, frames a line each."""

from collections.abc import Iterator

from catalogue.paper.sizes import Paper
from printing.book.finding_aid import Description
from printing.book.leaves import Block, LeafShape, flow, heading, remembered, row, wrapped
from printing.book.plan import BookPlan, bound
from printing.canvas.items import Measure, Text, joined

INDENT_MM = 4.0
LABEL_MM = 46.0
_SHORT = {
    "Extent and medium of the unit of description": "Extent and medium",
    "Physical characteristics and technical requirements": "Physical characteristics",
}
"""Names too long for the column of a leaf; the first words are kept."""


def plan_finding_aid(tree: Description, *, paper: str | Paper = "A4", measure: Measure) -> BookPlan:
    """Leaves of the finding aid with contents and check letters, as a book has; draw them with `draw_leaves`."""
    shape = LeafShape.on(paper)
    quick = remembered(measure)
    archive = tree.element("Title")
    heads = (archive, "finding aid")
    width = shape.body.width
    elements = list(_elements(tree, width, quick))
    front = flow("title", f"Finding aid: {archive}", elements, shape, quick, heads=heads, section="Title")
    body = []
    for part in tree.parts:
        blocks = [*_elements(part, width, quick), *_parts(part, width, quick)]
        title = part.element("Title")
        body += flow(f"finding aid {title}", title, blocks, shape, quick, heads=heads, section=title)
    return bound(f"Finding aid: {archive}", f"Finding aid · {archive}", front, body, shape, quick, heads=heads)


def _elements(unit: Description, width: float, measure: Measure) -> Iterator[Block]:
    """Name and text of every element; the title stands above as the heading."""
    left = (unit.level - 1) * INDENT_MM if unit.level > 1 else 0.0
    for name, text in unit.elements:
        if name == "Title":
            continue
        cells = [(left, LABEL_MM - 2, _SHORT.get(name, name)), (left + LABEL_MM, width - left - LABEL_MM, text)]
        yield row(cells, measure, size=2.5, ruled=False, most=24)
    yield Block(1.2)


def _parts(unit: Description, width: float, measure: Measure) -> Iterator[Block]:
    for part in unit.parts:
        if part.level == 4:
            yield _frame_line(part, width, measure)
            continue
        yield _heading(part, width, measure)
        yield from _elements(part, width, measure)
        yield from _parts(part, width, measure)


def _heading(unit: Description, width: float, measure: Measure) -> Block:
    left = (unit.level - 1) * INDENT_MM
    block = heading(unit.element("Title"), width - left, measure, size=3.6 if unit.level == 2 else 3.1)
    items = tuple(Text(i.x + left, i.y, i.size, i.text, i.bold) for i in block.items if isinstance(i, Text))
    return Block(block.height, items, keep=True)


def _frame_line(unit: Description, width: float, measure: Measure) -> Block:
    """An item in one row: its title, what it shows, and where it lies."""
    left = 3 * INDENT_MM
    room = (width - left) / 2
    names = ("Title", "Date(s)", "Scope and content", "Physical characteristics and technical requirements", "Note")
    what = joined(*(unit.element(name) for name in names))
    where = unit.element("Existence and location of originals") or "not filed"
    size = 2.3
    step = size * 1.35
    words = wrapped(what, room - 3, size, measure, most=8)
    place = wrapped(where, room, size, measure, most=8)
    items = [Text(left, size + step * n, size, line) for n, line in enumerate(words)]
    items += [Text(left + room, size + step * n, size, line, grey=0.25) for n, line in enumerate(place)]
    return Block(step * max(len(words), len(place)) + 0.5, tuple(items))
