"""PDFs."""

from datetime import date
from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import Response

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from catalogue.filing import get_page
from catalogue.reading import roll_pages
from printing.documents import PrintedPdf, contact_sheet_pdf, page_label_pdf

router = APIRouter(responses=PROBLEMS, tags=["print"])


class PdfResponse(Response):
    """A PDF."""

    media_type = "application/pdf"


def answer(made: PrintedPdf, name: str) -> PdfResponse:
    """The PDF to be opened under this name, with what is to be known of it in its headers."""
    return PdfResponse(
        made.pdf,
        headers={
            "content-disposition": f"inline; filename*=UTF-8''{quote(name)}",
            "x-scale": f"{made.scale:g}",
            "x-explanation": quote(made.explanation, safe=" ,.;:()%"),
        },
    )


@router.get("/rolls/{number}/contact-sheet.pdf", response_class=PdfResponse)
def roll_sheet(request: Request, number: str, archive: ArchiveHere, paper: str = "A4", fit: str = "two sheets") -> PdfResponse:
    """The contact sheet of a roll, at true size unless `fit` is "fit"."""
    with archive.session(reading=True) as session:
        roll, pages = roll_pages(session, number)
    link = f"{request.base_url}rolls/{quote(roll)}"
    made = contact_sheet_pdf(pages, paper=paper, fit=fit, roll=roll, printed_on=date.today(), link=link)
    return answer(made, f"contact sheet {roll}.pdf")


@router.get("/pages/{page_id}/contact-sheet.pdf", response_class=PdfResponse)
def page_sheet(request: Request, page_id: int, archive: ArchiveHere, paper: str = "A4", fit: str = "two sheets") -> PdfResponse:
    """The contact sheet of a whole page."""
    with archive.session(reading=True) as session:
        page = get_page(session, page_id)
    link = f"{request.base_url}pages/{page_id}"
    made = contact_sheet_pdf([page], paper=paper, fit=fit, printed_on=date.today(), link=link)
    return answer(made, f"contact sheet {page.binder} page {page.number}.pdf")


@router.get("/pages/{page_id}/label.pdf", response_class=PdfResponse)
def label(request: Request, page_id: int, archive: ArchiveHere) -> PdfResponse:
    """The index label of a page."""
    with archive.session(reading=True) as session:
        page = get_page(session, page_id)
    made = page_label_pdf(page, printed_on=date.today(), link=f"{request.base_url}pages/{page_id}")
    return answer(made, f"label {page.binder} page {page.number}.pdf")
