"""PDFs."""

from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, Query, Request
from fastapi.responses import Response

from api.dependencies import ArchiveHere
from api.desk import printables
from api.desk.contact_sheets import sheet_of_page, sheet_of_rolls
from api.errors import PROBLEMS
from catalogue.rolls.file import get_page
from printing.sheets.documents import ContactOptions, PrintedPdf

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


def contact_options(
    side: str = "base", balance: str = "as set", marks: bool = False, boxes: bool = False, percent: float = 100.0
) -> ContactOptions:
    """How a contact sheet is drawn: `side` base or emulsion; `balance` each, common or as set for the roll; `marks`
    (selects and crops) and `boxes` (to tick) true or false; `percent` of true size, 100 to 400."""
    return ContactOptions(side, balance, marks, boxes, percent)


OptionsHere = Annotated[ContactOptions, Depends(contact_options)]


@router.get("/contact-sheet.pdf", response_class=PdfResponse)
def rolls_sheet(
    request: Request, archive: ArchiveHere, options: OptionsHere, roll: Annotated[list[str], Query()], paper: str = "",
    fit: str = "two sheets",
) -> PdfResponse:  # fmt: skip
    """The contact sheet of several rolls, page by page as they are filed."""
    with archive.session(reading=True) as session:
        rolls, made = sheet_of_rolls(session, roll, root=str(request.base_url), paper=paper, fit=fit, options=options)
    return answer(made, f"contact sheet {', '.join(rolls)}.pdf")


@router.get("/rolls/{number}/contact-sheet.pdf", response_class=PdfResponse)
def roll_sheet(
    request: Request, number: str, archive: ArchiveHere, options: OptionsHere, paper: str = "", fit: str = "two sheets"
) -> PdfResponse:
    """The contact sheet of a roll, at true size unless `fit` is "fit" or a percentage is given."""
    with archive.session(reading=True) as session:
        (roll,), made = sheet_of_rolls(session, [number], root=str(request.base_url), paper=paper, fit=fit, options=options)
    return answer(made, f"contact sheet {roll}.pdf")


@router.get("/pages/{page_id}/contact-sheet.pdf", response_class=PdfResponse)
def page_sheet(
    request: Request, page_id: int, archive: ArchiveHere, options: OptionsHere, paper: str = "", fit: str = "two sheets"
) -> PdfResponse:
    """The contact sheet of a whole page."""
    with archive.session(reading=True) as session:
        page, made = sheet_of_page(session, page_id, root=str(request.base_url), paper=paper, fit=fit, options=options)
    return answer(made, f"contact sheet {page.binder} page {page.number}.pdf")


@router.get("/pages/{page_id}/label.pdf", response_class=PdfResponse)
def label(request: Request, page_id: int, archive: ArchiveHere) -> PdfResponse:
    """The index label of a page."""
    with archive.session(reading=True) as session:
        page = get_page(session, page_id)
        made = printables.page_label(session, page_id, f"{request.base_url}pages/{page_id}")
    return answer(made, f"label {page.binder} page {page.number}.pdf")
