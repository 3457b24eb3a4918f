"""More PDFs: cards, lists, labels on label sheets, the binder book and the finding aid."""

from datetime import date
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response

from api import printables
from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from api.json.documents import PdfResponse, answer
from catalogue.registering import NewRoll
from printing.book_documents import book_pdf, planned_book
from printing.finding_aid import as_html, finding_aid

router = APIRouter(responses=PROBLEMS, tags=["print"])
Start = Query(default=1, ge=1, le=400)
Offset = Query(default=0.0, ge=-5, le=5)


@router.post("/cut-card.pdf", response_class=PdfResponse)
def cut_card(given: NewRoll, archive: ArchiveHere, paper: str = "A4") -> PdfResponse:
    """The life-size cut card of a roll before it is cut; nothing is stored."""
    with archive.session(reading=True) as session:
        return answer(printables.cut_card(session, given, paper), "cut card.pdf")


@router.get("/pages/{page_id}/strip-list.pdf", response_class=PdfResponse)
def strip_list(request: Request, page_id: int, archive: ArchiveHere, paper: str = "A4") -> PdfResponse:
    """The slip for the ring edge of a page: which frames lie in which slot."""
    with archive.session(reading=True) as session:
        made = printables.strip_list(session, page_id, f"{request.base_url}pages/{page_id}", paper)
    return answer(made, f"strip list {page_id}.pdf")


@router.get("/rolls/{number}/frames/{label}/print-card.pdf", response_class=PdfResponse)
def print_card(request: Request, number: str, label: str, archive: ArchiveHere, paper: str = "A4") -> PdfResponse:
    """The card that goes into the darkroom with a frame."""
    link = f"{request.base_url}rolls/{quote(number)}/scans/{quote(label)}"
    with archive.session(reading=True) as session:
        return answer(printables.print_card(session, number, label, link, paper), f"print card {number} {label}.pdf")


@router.get("/rolls/{number}/label.pdf", response_class=PdfResponse)
def roll_label(
    request: Request, number: str, archive: ArchiveHere, stock: str = "a4-3x8", start: int = Start, waiting: str = "",
    dx: float = Offset, dy: float = Offset,
) -> PdfResponse:  # fmt: skip
    """A label for a roll's can on a label sheet, from its `start`-th label on; `dx` and `dy` correct the printer, in mm."""
    with archive.session(reading=True) as session:
        use = printables.use_of(stock, start, dx, dy)
        made = printables.roll_label(session, number, use, f"{request.base_url}rolls/{quote(number)}", waiting)
    return answer(made, f"label {number}.pdf")


@router.get("/numbers.pdf", response_class=PdfResponse)
def numbers(
    archive: ArchiveHere, count: int = Query(default=24, ge=1, le=500), copies: int = Query(default=1, ge=1, le=20),
    stock: str = "a4-4x12", start: int = Start, dx: float = Offset, dy: float = Offset,
) -> PdfResponse:  # fmt: skip
    """The next roll numbers, printed ahead for cassettes; none is issued by that."""
    with archive.session(reading=True) as session:
        made = printables.cassette_numbers(session, count, printables.use_of(stock, start, dx, dy), copies)
    return answer(made, "numbers for cassettes.pdf")


@router.get("/label-test.pdf", response_class=PdfResponse)
def label_test(archive: ArchiveHere, stock: str = "a4-3x8", dx: float = Offset, dy: float = Offset) -> PdfResponse:
    """The test sheet from which a printer's correction is read off in mm."""
    with archive.session(reading=True) as session:
        return answer(printables.label_test(session, printables.use_of(stock, 1, dx, dy)), "label test.pdf")


@router.get("/binders/{binder_id}/spine.pdf", response_class=PdfResponse)
def spine(binder_id: int, archive: ArchiveHere, width_mm: float = Query(default=40, ge=8, le=80)) -> PdfResponse:
    """The back of a binder with the range it holds."""
    with archive.session(reading=True) as session:
        return answer(printables.spine(session, binder_id, width_mm), f"spine {binder_id}.pdf")


@router.get("/slips.pdf", response_class=PdfResponse)
def slips(archive: ArchiveHere) -> PdfResponse:
    """A slip for every strip that is out, to stay in its slot."""
    with archive.session(reading=True) as session:
        return answer(printables.out_slips(session), "slips.pdf")


@router.get("/binders/{binder_id}/book.pdf", response_class=PdfResponse)
def book(binder_id: int, archive: ArchiveHere, paper: str = "A4") -> Response:
    """The binder's book: every page and roll, gaps, an index, and how to find a negative without a program."""
    with archive.session(reading=True) as session:
        record = printables.binder_record(session, binder_id)
    made = book_pdf(planned_book(record, paper=paper), printed_on=date.today())
    return PdfResponse(made, headers={"content-disposition": f"inline; filename*=UTF-8''{quote(record.binder)}.pdf"})


@router.get("/finding-aid.html", response_class=HTMLResponse)
def aid(archive: ArchiveHere) -> HTMLResponse:
    """The whole archive described by level, by the elements of ISAD(G)."""
    with archive.session(reading=True) as session:
        records = printables.all_records(session)
    return HTMLResponse(as_html(finding_aid(records, described_on=date.today())))
