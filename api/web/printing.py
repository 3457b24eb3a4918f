"""Choosing what to print, with a sentence on which paper holds it at true size."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from api.dependencies import ArchiveHere
from api.web.rendering import page
from catalogue.filing import list_binders
from catalogue.moving import strips_away
from catalogue.reading import roll_pages
from catalogue.rolls import list_rolls
from printing.documents import FITS, paper_advice
from printing.label_stock import LABEL_STOCKS
from printing.paper import PAPERS

router = APIRouter()


@router.get("/print")
def choose(request: Request, archive: ArchiveHere, roll: str = "", paper: str = "A4", fit: str = FITS[0]) -> Response:
    """The labels and contact sheets of a roll."""
    with archive.session(reading=True) as session:
        rolls = list_rolls(session)
        number, pages = roll_pages(session, roll) if roll else ("", ())
        binders, away = [b for b in list_binders(session) if b.pages], strips_away(session)
    advice = [(p, paper_advice(p, number)) for p in pages]
    return page(
        request, "print.html", rolls=rolls, number=number, pages=pages, advice=advice, papers=PAPERS.values(), paper=paper,
        fit=fit, fits=FITS, binders=binders, away=away, stocks=LABEL_STOCKS.values(),
    )  # fmt: skip
