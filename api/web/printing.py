"""Choosing what to print, with a sentence on which paper holds it at true size."""

from fastapi import APIRouter, Request
from fastapi.responses import Response

from api.dependencies import ArchiveHere
from api.web.rendering import page
from catalogue.filing import get_page
from catalogue.rolls import get_roll, list_rolls
from printing.documents import FITS, paper_advice
from printing.paper import PAPERS

router = APIRouter()


@router.get("/print")
def choose(request: Request, archive: ArchiveHere, roll: str = "", paper: str = "A4", fit: str = FITS[0]) -> Response:
    """The labels and contact sheets of a roll."""
    with archive.session() as session:
        rolls = list_rolls(session)
        view = get_roll(session, roll) if roll else None
        pages = [get_page(session, page_id) for page_id in view.page_ids] if view else []
    advice = [(p, paper_advice(p, view.number)) for p in pages] if view else []
    return page(
        request, "print.html", rolls=rolls, view=view, pages=pages, advice=advice, papers=PAPERS.values(), paper=paper,
        fit=fit, fits=FITS,
    )  # fmt: skip
