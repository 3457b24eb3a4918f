"""Every kind of thing that can be printed: what it is made of, its name in words, its paper, and the function that makes it.

What a thing is made of is checked by a model when it is put in the queue, so that a bad value is refused then.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from types import MappingProxyType
from typing import Any
from urllib.parse import quote

from sqlmodel import Session

from api.desk import printables
from api.desk.contact_sheets import sheet_of_page, sheet_of_rolls
from api.desk.print_models import (
    Asked,
    Book,
    CassetteNumbers,
    FindingAid,
    InBook,
    OnLabels,
    OnPaper,
    OutSlips,
    PageLabel,
    PageSheet,
    PrintCard,
    RollLabelAsked,
    RollSheet,
    Spine,
    StripList,
)  # fmt: skip
from catalogue.desk.papers import paper_named, stock_named, use_of
from catalogue.errors import InvalidInput, NotFound
from catalogue.rolls.file import binder_row, get_page
from catalogue.rolls.move import strips_away
from catalogue.rolls.page import roll_pages
from catalogue.rolls.rows import frame_row, page_row, roll_row
from catalogue.settings import archive_name
from catalogue.sleeves.geometry import Size
from printing.book.documents import planned_finding_aid
from printing.book.finding_aid import finding_aid
from printing.book.leaves import BOOK_PAPERS
from printing.book.plan import BookPlan
from printing.labels.documents import roll_labels_pdf, spines_pdf
from printing.labels.gathering import page_labels_pdf
from printing.sheets.documents import PrintedPdf


@dataclass(frozen=True)
class Now:
    """When it is printed, and the address of the service (ending in /) that codes on the sheets lead to."""

    on: date
    base: str


SAME = Now(date(2000, 1, 1), "http://localhost/")
"""For checksums: neither the date printed nor the address makes a sheet another."""

Make = Callable[[Session, Sequence[Any], Now], PrintedPdf]
Plan = Callable[[Session, Any, Now], BookPlan]


@dataclass(frozen=True)
class Kind:
    """A kind of thing. Either `make` (things of one `joins` share sheets) or, for what has leaves by name, `plan`.

    `title` raises `NotFound` where what it is made of isn't there. `stock` is the key of a label sheet.
    """

    name: str
    model: type[Asked]
    title: Callable[[Session, Any], str]
    make: Make | None = None
    plan: Plan | None = None
    joins: Callable[[Any], tuple[object, ...]] | None = None
    stock: Callable[[Any], str] = field(default=lambda asked: "")
    dated: bool = False
    """Whether its leaves bear the day within their text."""


def _page(session: Session, page_id: int) -> str:
    row = page_row(session, page_id)
    return f"{binder_row(session, row.binder_id).name}, page {row.number}"


def _binder(session: Session, binder_id: int) -> str:
    return binder_row(session, binder_id).name


def _roll(session: Session, number: str) -> str:
    return roll_row(session, number).number


def _roll_sheet(session: Session, asked: Sequence[RollSheet], now: Now) -> PrintedPdf:
    (one,) = asked
    _, made = sheet_of_rolls(session, one.numbers, root=now.base, paper=one.paper, fit=one.fit, options=one.options, on=now.on)
    return made


def _page_sheet(session: Session, asked: Sequence[PageSheet], now: Now) -> PrintedPdf:
    (one,) = asked
    _, made = sheet_of_page(session, one.page_id, root=now.base, paper=one.paper, fit=one.fit, options=one.options, on=now.on)
    return made


def _page_labels(session: Session, asked: Sequence[PageLabel], now: Now) -> PrintedPdf:
    pages = [(get_page(session, one.page_id), f"{now.base}pages/{one.page_id}") for one in asked]
    return page_labels_pdf(pages, printed_on=now.on, paper=paper_named(session, asked[0].paper))


def _strip_list(session: Session, asked: Sequence[StripList], now: Now) -> PrintedPdf:
    (one,) = asked
    return printables.strip_list(session, one.page_id, f"{now.base}pages/{one.page_id}", one.paper, on=now.on)


def _roll_labels(session: Session, asked: Sequence[RollLabelAsked], now: Now) -> PrintedPdf:
    views = [
        printables.roll_label_view(session, one.roll, f"{now.base}rolls/{quote(one.roll)}", one.waiting, on=now.on)
        for one in asked
    ]
    first = asked[0]
    return roll_labels_pdf(views, use_of(session, first.stock, first.start, first.dx, first.dy))


def _numbers(session: Session, asked: Sequence[CassetteNumbers], now: Now) -> PrintedPdf:
    (one,) = asked
    use = use_of(session, one.stock, one.start, one.dx, one.dy)
    return printables.cassette_numbers(session, one.count, use, one.copies, on=now.on)


def _print_card(session: Session, asked: Sequence[PrintCard], now: Now) -> PrintedPdf:
    (one,) = asked
    link = f"{now.base}rolls/{quote(one.roll)}/scans/{quote(one.frame)}"
    return printables.print_card(session, one.roll, one.frame, link, one.paper, on=now.on)


def _spines(session: Session, asked: Sequence[Spine], now: Now) -> PrintedPdf:
    views = [printables.spine_view(session, one.binder_id, on=now.on) for one in asked]
    size = Size(asked[0].width_mm, printables.SPINE_HEIGHT_MM)
    return spines_pdf(views, size, paper=paper_named(session, asked[0].paper))


def _slips(session: Session, asked: Sequence[OutSlips], now: Now) -> PrintedPdf:
    (one,) = asked
    return printables.out_slips(session, one.paper, on=now.on)


def _book(session: Session, asked: Book, now: Now) -> BookPlan:
    return printables.book_plan(session, asked.binder_id, asked.paper)


def _aid(session: Session, asked: FindingAid, now: Now) -> BookPlan:
    records = printables.all_records(session)
    if not records:
        raise NotFound("No binder has a page yet, so there is nothing to describe. Sleeve a roll first.")
    paper = paper_named(session, asked.paper, BOOK_PAPERS)
    return planned_finding_aid(finding_aid(records, described_on=now.on), paper=paper)


def _rolls_title(session: Session, asked: RollSheet) -> str:
    found = [_roll(session, number) for number in asked.numbers]
    return f"Contact sheet of {'roll' if len(found) == 1 else 'rolls'} {', '.join(found)}"


def _slips_title(session: Session, asked: OutSlips) -> str:
    if not strips_away(session):
        raise NotFound("No strip is out, so there is no slip to print.")
    return "Slips for strips that are out"


KINDS: Mapping[str, Kind] = MappingProxyType(
    {
        "roll-sheet": Kind(
            "contact sheet of a roll", RollSheet, _rolls_title, _roll_sheet
        ),
        "page-sheet": Kind(
            "contact sheet of a page", PageSheet, lambda s, a: f"Contact sheet of {_page(s, a.page_id)}", _page_sheet
        ),
        "page-label": Kind(
            "index label of a page", PageLabel, lambda s, a: f"Index label of {_page(s, a.page_id)}", _page_labels,
            joins=lambda a: (a.paper,),
        ),
        "strip-list": Kind("strip list of a page", StripList, lambda s, a: f"Strip list of {_page(s, a.page_id)}", _strip_list),
        "roll-label": Kind(
            "label of a roll", RollLabelAsked, lambda s, a: f"Label of roll {_roll(s, a.roll)}", _roll_labels,
            joins=lambda a: (a.stock, a.dx, a.dy), stock=lambda a: a.stock,
        ),
        "cassette-numbers": Kind(
            "numbers for cassettes", CassetteNumbers, lambda s, a: f"The next {a.count} numbers for cassettes", _numbers,
            stock=lambda a: a.stock,
        ),
        "print-card": Kind(
            "print card of a frame", PrintCard, lambda s, a: f"Print card of roll {_roll(s, a.roll)}, frame {a.frame}",
            _print_card,
        ),
        "spine": Kind(
            "spine of a binder", Spine, lambda s, a: f"Spine of {_binder(s, a.binder_id)}", _spines,
            joins=lambda a: (a.width_mm, a.paper),
        ),
        "out-slips": Kind("slips for strips that are out", OutSlips, _slips_title, _slips),
        "book": Kind("book of a binder", Book, lambda s, a: f"Book of {_binder(s, a.binder_id)}", plan=_book),
        "finding-aid": Kind(
            "finding aid", FindingAid, lambda s, a: f"Finding aid of {archive_name(s)}", plan=_aid, dated=True,
        ),
    }
)  # fmt: skip


def find_kind(key: str) -> Kind:
    """The kind of this key; raises `InvalidInput` with those known."""
    if key not in KINDS:
        raise InvalidInput(f"“{key[:30]}” is nothing that can be printed. Choose one of: {', '.join(KINDS)}.")
    return KINDS[key]


def settled(session: Session, key: str, given: Mapping[str, Any]) -> tuple[Kind, Asked, str]:
    """Kind, checked values and title of a thing; raises `InvalidInput` or `NotFound` with a sentence."""
    kind = find_kind(key)
    asked = kind.model.understood(given)
    if isinstance(asked, OnPaper):
        asked = asked.model_copy(update={"paper": _paper_key(session, asked)})
    if isinstance(asked, OnLabels):  # whether the first label is on the sheet and the correction can be
        asked = asked.model_copy(update={"stock": use_of(session, asked.stock, asked.start, asked.dx, asked.dy).stock.key})
    if isinstance(asked, RollSheet):
        numbers = [roll_row(session, number).number for number in asked.numbers]
        if not any(roll_pages(session, number)[1] for number in numbers):
            raise NotFound(f"Roll {', '.join(numbers)} lies on no page yet, so there is no contact sheet of it. File it first.")
        asked = asked.model_copy(update={"roll": ", ".join(dict.fromkeys(numbers))})
    if isinstance(asked, RollLabelAsked | PrintCard):  # a former number or "07" means the roll and frame there are
        roll = roll_row(session, asked.roll)
        found: dict[str, str] = {"roll": roll.number}
        if isinstance(asked, PrintCard):
            found["frame"] = frame_row(session, roll, asked.frame).label
        asked = asked.model_copy(update=found)
    return kind, asked, kind.title(session, asked)


def _paper_key(session: Session, asked: OnPaper) -> str:
    """The paper's own key; raises `InvalidInput` for one that isn't known, or that no book is made of."""
    among = BOOK_PAPERS if isinstance(asked, InBook) else ()
    found = paper_named(session, asked.paper, among)
    if among and found.key not in among:
        raise InvalidInput(f"It is printed on A4 or Letter, not on {found.name}. Choose one of the two.")
    return found.key


def on_paper(session: Session, kind: Kind, asked: Asked) -> str:
    """What to put into the printer, in words."""
    stock = kind.stock(asked)
    if stock:
        return f"label sheet, {stock_named(session, stock).name}"
    return f"plain paper, {paper_named(session, asked.paper).name}" if isinstance(asked, OnPaper) else "plain paper"
