"""The book of a binder: which leaves it has, in which order and under which numbers, and which to print again.

Pure: a `BinderRecord` in, sheets out. Front matter (title, contents) is numbered
i, ii, …, the rest 1, 2, …, so that a longer contents moves no other number.
"""

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

from catalogue.paper.sizes import Paper
from catalogue.sleeves.geometry import Rect
from printing.book.binder_record import BinderRecord
from printing.book.index import index_leaves
from printing.book.leaves import Leaf, LeafShape, flow, remembered, row
from printing.book.parts import date_leaves, former_leaves, heirs_leaves, missing_leaves, page_list, title_leaf
from printing.book.rolls import roll_leaves
from printing.canvas.items import Item, Jump, Line, Mark, Measure, Sheet, Text, first_fitting, fitted

__all__ = ["BookPlan", "bound", "draw_leaves", "plan_book", "roman"]

CONTENTS = "contents, 1"
"""The leaf that the head of every other leaf leads back to."""


@dataclass(frozen=True)
class BookPlan:
    """The leaves in order; the first `front` of them bear Roman numbers. `head` stands at the top of every leaf."""

    title: str
    head: str
    shape: LeafShape
    leaves: tuple[Leaf, ...]
    front: int

    @property
    def checksums(self) -> dict[str, str]:
        """Leaf name to check letters: what to keep of a printing, to tell later which leaves have changed."""
        return {leaf.name: leaf.checksum for leaf in self.leaves}


def roman(number: int) -> str:
    """A number from 1 on in small Roman numerals."""
    signs = ((1000, "m"), (900, "cm"), (500, "d"), (400, "cd"), (100, "c"), (90, "xc"))
    small = ((50, "l"), (40, "xl"), (10, "x"), (9, "ix"), (5, "v"), (4, "iv"), (1, "i"))
    text = ""
    for value, sign in (*signs, *small):
        text += sign * (number // value)
        number %= value
    return text


def plan_book(record: BinderRecord, *, paper: str | Paper = "A4", measure: Measure) -> BookPlan:
    """Every leaf of the binder's book on A4 or Letter; raises `InvalidInput` for other paper."""
    shape = LeafShape.on(paper)
    quick = remembered(measure)
    body = [
        *heirs_leaves(record, shape, quick),
        *page_list(record, shape, quick),
        *roll_leaves(record, shape, quick),
        *missing_leaves(record, shape, quick),
        *date_leaves(record, shape, quick),
        *former_leaves(record, shape, quick),
        *index_leaves(record, shape, quick),
    ]
    head = f"{record.binder} · {record.archive}"
    title = f"{record.binder}: book of the negatives"
    return bound(title, head, title_leaf(record, shape, quick), body, shape, quick, heads=(record.archive, record.binder))


def bound(
    title: str,
    head: str,
    front: Sequence[Leaf],
    body: Sequence[Leaf],
    shape: LeafShape,
    measure: Measure,
    *,
    heads: Sequence[str],
) -> BookPlan:
    """Title, contents and body as one plan: numbers given, and every jump bound to the leaf that has its matter."""
    found: dict[str, str] = {}
    for leaf in body:
        for held in leaf.holds:
            found.setdefault(held, leaf.name)
    names = {leaf.name for leaf in body}

    def led(item: Item) -> Item | None:
        if not isinstance(item, Jump) or item.name in names:
            return item
        name = found.get(item.name) or found.get(item.name.rsplit("/", 1)[0])
        return replace(item, name=name) if name else None

    settled = [replace(leaf, items=tuple(i for item in leaf.items if (i := led(item)) is not None)) for leaf in body]
    width = shape.body.width
    columns = ((0.0, 50.0), (52.0, width - 52.0 - 34.0), (width - 31.0, 17.0), (width - 12.0, 12.0))

    blocks = []
    for n, leaf in enumerate(settled, 1):
        texts = (leaf.name, leaf.title, leaf.checksum, str(n))
        cells = [(x, wide, text) for (x, wide), text in zip(columns, texts, strict=True)]
        blocks.append(row(cells, measure, size=2.6, jump=leaf.name, most=3))
    table_head = row(
        [(x, wide, t) for (x, wide), t in zip(columns, ("Name of the leaf", "What is on it", "Check", "Leaf"), strict=True)],
        measure,
        size=2.3,
        grey=0.35,
    )
    contents = flow("contents", "Contents", blocks, shape, measure, heads=heads, section="Contents", repeat=table_head)
    return BookPlan(title, head, shape, (*front, *contents, *settled), len(front) + len(contents))


def draw_leaves(
    plan: BookPlan, *, printed_on: date, measure: Measure, only: Collection[str] | None = None
) -> Iterator[tuple[Leaf, Sheet]]:
    """The finished sheets one by one, with marks for outline and links; `only` these leaf names, or all.

    Links to leaves that aren't drawn are left out.
    """
    drawn = [(n, leaf) for n, leaf in enumerate(plan.leaves) if only is None or leaf.name in only]
    names = {leaf.name for _, leaf in drawn}
    in_section = False
    last = len(plan.leaves) - plan.front
    for n, leaf in drawn:
        items = [item for item in leaf.items if not isinstance(item, Jump) or item.name in names]
        marks: list[Item] = []
        if leaf.section:
            in_section = True
            marks.append(Mark(f"part: {leaf.section}", leaf.section, 0))
        marks.append(Mark(leaf.name, leaf.outline, 1 if in_section else 0))
        number = roman(n + 1) if n < plan.front else str(n + 1 - plan.front)
        of = f"leaf {number}" if n < plan.front else f"leaf {number} of {last}"
        if CONTENTS in names and leaf.name != CONTENTS:
            items.append(Jump(Rect(plan.shape.body.x, 10, plan.shape.body.width, 6), CONTENTS))
        around = _around(plan, leaf, of, printed_on, measure)
        yield leaf, Sheet(plan.shape.width, plan.shape.height, (*marks, *items, *around))


def _around(plan: BookPlan, leaf: Leaf, of: str, printed_on: date, measure: Measure) -> list[Item]:
    """Head and foot of a leaf: whose it is; its name, check letters, printing date and number."""
    shape, body = plan.shape, plan.shape.body
    head, head_size = fitted(plan.head, body.width, 2.6, 1.7, measure)
    foot = shape.height - 9.5
    ends = f"printed {printed_on.isoformat()} · {of}"
    letters = f"check {leaf.checksum}"
    taken = measure(ends, 2.5, False) + 3
    names = [f"{leaf.name} · {letters}", f"{leaf.name[:40]}… · {letters}", f"{leaf.name[:20]}… · {letters}", letters]
    name, size = first_fitting(names, body.width - taken, 2.7, 1.7, measure, True)
    return [
        Text(body.x, 14, head_size, head, grey=0.2),
        Line(body.x, foot - 4.2, body.right, foot - 4.2, 0.15),
        Text(body.x, foot, size, name, True),
        Text(body.right, foot, 2.5, ends, align="right"),
    ]
