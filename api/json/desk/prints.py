"""More PDFs: cards, lists, labels on label sheets, the binder book and the finding aid."""

from datetime import date
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response

from api.dependencies import ArchiveHere
from api.desk import printables
from api.errors import PROBLEMS
from api.json.desk.documents import PdfResponse, answer
from catalogue.desk.papers import use_of
from catalogue.rolls.file import get_binder
from catalogue.rolls.register import NewRoll
from printing.book.documents import book_pdf
from printing.book.finding_aid import as_html

router = APIRouter(responses=PROBLEMS, tags=["print"])
Start = Query(default=1, ge=1, le=400)
Offset = Query(default=None, ge=-5, le=5, description="mm; left out, the correction kept for this label sheet.")


@router.post("/cut-card.pdf", response_class=PdfResponse)
def cut_card(given: NewRoll, archive: ArchiveHere, paper: str = "") -> PdfResponse:
    """The life-size cut card of a roll before it is cut; nothing is stored."""
    with archive.session(reading=True) as session:
        return answer(printables.cut_card(session, given, paper), "cut card.pdf")


@router.get("/pages/{page_id}/strip-list.pdf", response_class=PdfResponse)
def strip_list(request: Request, page_id: int, archive: ArchiveHere, paper: str = "") -> PdfResponse:
    """The slip for the ring edge of a page: which frames lie in which slot."""
    with archive.session(reading=True) as session:
        made = printables.strip_list(session, page_id, f"{request.base_url}pages/{page_id}", paper)
    return answer(made, f"strip list {page_id}.pdf")


@router.get("/rolls/{number}/frames/{label}/print-card.pdf", response_class=PdfResponse)
def print_card(
    request: Request, number: str, label: str, archive: ArchiveHere, paper: str = "", record: int | None = None
) -> PdfResponse:
    """The card that goes into the darkroom with a frame, filled from its latest print or from the `record` asked for."""
    link = f"{request.base_url}rolls/{quote(number)}/scans/{quote(label)}"
    with archive.session(reading=True) as session:
        return answer(printables.print_card(session, number, label, link, paper, record), f"print card {number} {label}.pdf")


@router.get("/rolls/{number}/label.pdf", response_class=PdfResponse)
def roll_label(
    request: Request, number: str, archive: ArchiveHere, stock: str = "a4-3x8", start: int = Start, waiting: str = "",
    dx: float | None = Offset, dy: float | None = Offset,
) -> PdfResponse:  # fmt: skip
    """A label for a roll's can on a label sheet, from its `start`-th label on; `dx` and `dy` correct the printer, in mm."""
    with archive.session(reading=True) as session:
        use = use_of(session, stock, start, dx, dy)
        made = printables.roll_label(session, number, use, f"{request.base_url}rolls/{quote(number)}", waiting)
    return answer(made, f"label {number}.pdf")


@router.get("/numbers.pdf", response_class=PdfResponse)
def numbers(
    archive: ArchiveHere, count: int = Query(default=24, ge=1, le=500), copies: int = Query(default=1, ge=1, le=20),
    stock: str = "a4-4x12", start: int = Start, dx: float | None = Offset, dy: float | None = Offset,
) -> PdfResponse:  # fmt: skip
    """The next roll numbers, printed ahead for cassettes; none is issued by that."""
    with archive.session(reading=True) as session:
        made = printables.cassette_numbers(session, count, use_of(session, stock, start, dx, dy), copies)
    return answer(made, "numbers for cassettes.pdf")


@router.get("/label-test.pdf", response_class=PdfResponse)
def label_test(archive: ArchiveHere, stock: str = "a4-3x8", dx: float | None = Offset, dy: float | None = Offset) -> PdfResponse:
    """The test sheet from which a printer's correction is read off in mm."""
    with archive.session(reading=True) as session:
        return answer(printables.label_test(session, use_of(session, stock, 1, dx, dy)), "label test.pdf")


@router.get("/bottle-tag.pdf", response_class=PdfResponse)
def bottle_tag(
    archive: ArchiveHere, name: str = Query(max_length=80), what: str = Query(default="", max_length=200), mixed: str = "",
    opened: str = "", discard_after: str = "", rolls: int = Query(default=0, ge=0, le=400), stock: str = "a4-2x7",
    start: int = Start, dx: float | None = Offset, dy: float | None = Offset,
) -> PdfResponse:  # fmt: skip
    """A tag for a bottle on a label sheet; dates in EDTF, and a box to tick for each of so many rolls."""
    with archive.session(reading=True) as session:
        use = use_of(session, stock, start, dx, dy)
        made = printables.typed_bottle_tag(session, use, name, what, mixed, opened, discard_after, rolls)
    return answer(made, f"bottle tag {name}.pdf")


@router.get("/binders/{binder_id}/spine.pdf", response_class=PdfResponse)
def spine(binder_id: int, archive: ArchiveHere, width_mm: float = Query(default=40, ge=8, le=80), paper: str = "") -> PdfResponse:
    """The back of a binder with the range it holds."""
    with archive.session(reading=True) as session:
        return answer(printables.spine(session, binder_id, width_mm, paper), f"spine {binder_id}.pdf")


@router.get("/slips.pdf", response_class=PdfResponse)
def slips(archive: ArchiveHere, paper: str = "") -> PdfResponse:
    """A slip for every strip that is out, to stay in its slot."""
    with archive.session(reading=True) as session:
        return answer(printables.out_slips(session, paper), "slips.pdf")


@router.get("/binders/{binder_id}/book.pdf", response_class=PdfResponse)
def book(binder_id: int, archive: ArchiveHere, paper: str = "") -> Response:
    """The binder's book: every page and roll, gaps, an index, and how to find a negative without a program."""
    with archive.session(reading=True) as session:
        plan = printables.book_plan(session, binder_id, paper)
        binder = get_binder(session, binder_id).name
    made = book_pdf(plan, printed_on=date.today())
    return PdfResponse(made, headers={"content-disposition": f"inline; filename*=UTF-8''{quote(binder)}.pdf"})


@router.get("/finding-aid.html", response_class=HTMLResponse)
def aid(archive: ArchiveHere) -> HTMLResponse:
    """The whole archive described by level, by the elements of ISAD(G)."""
    with archive.session(reading=True) as session:
        tree = printables.finding_aid_tree(session)
    return HTMLResponse(as_html(tree))


@router.get("/finding-aid.pdf", response_class=PdfResponse)
def aid_on_paper(archive: ArchiveHere, paper: str = "") -> PdfResponse:
    """The same on leaves of paper, with contents and check letters."""
    with archive.session(reading=True) as session:
        made = printables.finding_aid_pdf(session, paper)
    return PdfResponse(made, headers={"content-disposition": "inline; filename*=UTF-8''finding%20aid.pdf"})
