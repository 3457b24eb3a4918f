"""The print page: the queue, what is finished, and choosing what to print, with a sentence on which paper holds it."""

from dataclasses import dataclass
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from fastapi.responses import Response

from api.dependencies import ArchiveHere, BackgroundHere
from api.desk.finished import finished_pdfs
from api.desk.queue import listed
from api.json.desk.print_desk import progress_of
from api.long.background import Background
from api.web.rendering import page
from api.web.typed import inside, is_whole
from catalogue.desk.papers import paper_named, papers_here, stocks_here
from catalogue.desk.queue import count_waiting
from catalogue.errors import DoesNotFit, InvalidInput
from catalogue.paper.sizes import Paper
from catalogue.rolls.change import newest_rolls
from catalogue.rolls.move import any_strip_away
from catalogue.rolls.offers import binders_on_shelf
from catalogue.rolls.page import roll_pages
from catalogue.store.engine import Archive
from catalogue.views import PageView
from printing.contact.options import BALANCES, LARGEST_PERCENT, PLAIN, SIDES
from printing.kinds.labels.bottle_tag import BottleTagAsked
from printing.kinds.labels.cassette_numbers import CassetteNumbersAsked
from printing.kinds.registry import KINDS, find_kind
from printing.sheets.documents import FITS, ContactOptions, contact_sheet_words, paper_advice

NEWEST, BINDERS = 30, 12
"""Rolls and binders offered on one screen; another roll is typed, other binders are a link away."""
router = APIRouter()
QUEUE = 20
"""So much of the queue is shown at once."""


@dataclass(frozen=True)
class PageAdvice:
    """A page, what its sheet will be like on the paper chosen, and how the papers take it at true size."""

    page: PageView
    words: str
    papers: tuple[str, ...]


def _advice(
    view: PageView, rolls: list[str], paper: Paper, papers: tuple[Paper, ...], fit: str, options: ContactOptions
) -> PageAdvice:
    try:
        words = contact_sheet_words(view, paper=paper, fit=fit, roll=rolls, options=options, papers=papers)
    except DoesNotFit as problem:
        words = str(problem)
    return PageAdvice(view, words, paper_advice(view, rolls, papers=papers, options=options) if options.percent == 100 else ())


def _percent(text: str) -> float:
    try:
        return float(text.strip().removesuffix("%").strip().replace(",", "."))
    except ValueError:
        raise InvalidInput(
            f"“{text[:20]}” is no percentage. Type a number from 100 (true size) to {LARGEST_PERCENT}, for example 150."
        ) from None


@router.get("/print")
def choose(
    request: Request, archive: ArchiveHere, background: BackgroundHere, roll: str = "", more: str = "", paper: str = "",
    fit: str = FITS[0], side: str = SIDES[0], balance: str = BALANCES[0], marks: str = "", boxes: str = "",
    percent: str = "100", back: str = "", noted: str = "", binders_from: int | None = Query(default=None, ge=1),
    queue_from: int = Query(default=1, ge=1),
) -> Response:  # fmt: skip
    """The queue, and the labels and contact sheets of a roll, or of several."""
    options = ContactOptions(side, balance, bool(marks), bool(boxes), _percent(percent))
    return show_print_page(
        request,
        archive,
        background,
        roll=roll,
        more=more,
        paper=paper,
        fit=fit,
        options=options,
        back=back,
        noted=noted,
        binders_from=binders_from,
        queue_from=queue_from,
    )


@router.get("/print/thing")
def ask(request: Request, archive: ArchiveHere, kind: str = "") -> Response:
    """What a kind of print asks for."""
    found = find_kind(kind)
    with archive.session(reading=True) as session:
        choices = {"paper": papers_here(session), "stock": stocks_here(session)}
    return page(request, "print_thing.html", kind=found, choices=choices)


def show_print_page(
    request: Request, archive: Archive, background: Background, *, roll: str = "", more: str = "", paper: str = "",
    fit: str = FITS[0], options: ContactOptions = PLAIN, back: str = "", noted: str = "", problem: str = "",
    binders_from: int | None = None, queue_from: int = 1,
) -> Response:  # fmt: skip
    """The page, with a sentence where something was refused."""
    asked = [n for n in (roll.strip(), *(other.strip() for other in more.split(","))) if n] if roll else []
    with archive.session(reading=True) as session:
        rolls = newest_rolls(session, NEWEST)
        found = [roll_pages(session, number) for number in asked]
        papers, stocks, chosen = papers_here(session), stocks_here(session), paper_named(session, paper)
        shelf = binders_on_shelf(session, binders_from, BINDERS)  # the last ones are those that grow
        away = any_strip_away(session)
        queue, waiting_now = listed(session, queue_from, QUEUE), count_waiting(session)
    numbers = list(dict.fromkeys(number for number, _ in found))
    pages = {view.id: view for _, lying in found for view in lying}
    advice = [_advice(view, numbers, chosen, papers, fit, options) for view in pages.values()]
    wishes = {
        "side": options.side, "balance": options.balance, "marks": options.marks, "boxes": options.boxes,
        "percent": f"{options.percent:g}",
    }  # fmt: skip
    query = urlencode([*(("roll", n) for n in numbers), ("paper", chosen.key), ("fit", fit), *wishes.items()])
    return page(
        request, "print.html", status=422 if problem else 200, rolls=rolls, numbers=numbers, more=", ".join(numbers[1:]),
        pages=list(pages.values()), advice=advice, papers=papers, paper=chosen.key, fit=fit, fits=FITS, shelf=shelf, size=BINDERS,
        away=away, kinds=list(KINDS.values()), choices={"paper": papers, "stock": stocks}, options=options,
        numbers_kind=CassetteNumbersAsked, tag_kind=BottleTagAsked, sheet_query=query,
        sheet_asked={"roll": ", ".join(numbers), "paper": chosen.key, "fit": fit, **wishes},
        queue=queue, queue_first=queue_from, waiting=waiting_now, queue_size=QUEUE,
        progress=progress_of(background), files=finished_pdfs(archive), back=inside(back), problem=problem,
        noted=int(noted) if is_whole(noted) else None,
    )  # fmt: skip
