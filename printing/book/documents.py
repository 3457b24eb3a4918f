"""Finished books and finding aids: drawn leaf by leaf straight into a file, or as bytes where that is small enough."""

from collections.abc import Callable, Collection
from dataclasses import dataclass
from datetime import date
from io import BytesIO
from typing import BinaryIO

from catalogue.errors import NotFound
from catalogue.paper.sizes import Paper
from printing.book.binder_record import BinderRecord
from printing.book.finding_aid import Description
from printing.book.finding_aid_leaves import plan_finding_aid
from printing.book.plan import BookPlan, draw_leaves, plan_book
from printing.canvas.paint import StreamingPainter, measure
from printing.sheets.documents import font_words

__all__ = ["PrintedBook", "book_pdf", "planned_book", "planned_finding_aid", "write_book"]


@dataclass(frozen=True)
class PrintedBook:
    """What was printed: (leaf name, check letters) in order, to be kept for the next printing, and what is to be known."""

    leaves: tuple[tuple[str, str], ...]
    explanation: str
    missing: tuple[str, ...]


def planned_book(record: BinderRecord, *, paper: str | Paper = "A4") -> BookPlan:
    """The plan of a binder's book with the widths of the fonts it is printed in."""
    return plan_book(record, paper=paper, measure=measure)


def planned_finding_aid(tree: Description, *, paper: str | Paper = "A4") -> BookPlan:
    """The plan of the finding aid's leaves, likewise."""
    return plan_finding_aid(tree, paper=paper, measure=measure)


def write_book(
    plan: BookPlan,
    out: BinaryIO,
    *,
    printed_on: date,
    only: Collection[str] | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> PrintedBook:
    """Writes the book, or `only` the leaves of these names, to an open file; pictures go in as they are, leaf by leaf.

    `progress` hears the leaves done and their total, and may raise to stop. Nothing is kept in memory but the plan,
    so the file is half written where drawing fails: write to a temporary file and rename it. Raises `NotFound` where
    no leaf is left to print.
    """
    wanted = [leaf for leaf in plan.leaves if only is None or leaf.name in only]
    if not wanted:
        raise NotFound("No leaf of this book is to be printed: none has changed. Print the whole book instead.")
    number = {leaf.name: n for n, leaf in enumerate(plan.leaves)}
    painter = StreamingPainter(plan.title, out)
    before: int | None = None
    for done, (leaf, sheet) in enumerate(draw_leaves(plan, printed_on=printed_on, measure=measure, only=only), 1):
        n = number[leaf.name]
        if before is None or n != before + 1 or n == plan.front:
            front = n < plan.front
            painter.label(n + 1 if front else n + 1 - plan.front, roman=front)
        before = n
        painter.draw([sheet])
        if progress is not None:
            progress(done, len(wanted))
    painter.close()
    return PrintedBook(
        tuple((leaf.name, leaf.checksum) for leaf in wanted),
        _words(len(wanted), len(plan.leaves), painter),
        tuple(sorted(painter.missing)),
    )


def book_pdf(plan: BookPlan, *, printed_on: date, only: Collection[str] | None = None) -> bytes:
    """The same as bytes: for a few leaves; a whole book with pictures is better written to a file."""
    out = BytesIO()
    write_book(plan, out, printed_on=printed_on, only=only)
    return out.getvalue()


def _words(drawn: int, whole: int, painter: StreamingPainter) -> str:
    """One sentence on what was printed, and one for every text that may not be read on it."""
    words = f"{drawn} of {whole} leaves." if drawn != whole else f"All {whole} leaves."
    return words + font_words(painter)
