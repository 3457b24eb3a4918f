"""Rolls: registering, reading, changing, numbering, the process record and the contact sheet."""

from datetime import date

from fastapi import APIRouter, Query, Request, Response
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere, roll_link
from api.errors import documented
from api.json.models import FrameOut, ProcessOut, RollLine, RollOut
from api.json.pages import PDF, pdf_response
from catalogue.errors import NotFound
from catalogue.filing import get_page
from catalogue.numbering import renumber_roll
from catalogue.processing import ProcessInput, record_process
from catalogue.registering import NewRoll, register_roll
from catalogue.rolls import FrameChanges, RollChanges, get_roll, list_rolls, update_frame, update_roll

router = APIRouter(tags=["rolls"])

# A roll number may hold a stroke, so the longer paths come before the bare number.


class NewNumber(BaseModel):
    """The number a roll is to bear from now on."""

    model_config = ConfigDict(extra="forbid")
    number: str = Field(max_length=60, examples=["2031-014a"])


@router.get("/rolls", responses=documented(503))
def rolls(archive: ArchiveHere) -> list[RollLine]:
    """All rolls in the order of their numbers, one line each."""
    with archive.session() as session:
        return [RollLine.model_validate(roll) for roll in list_rolls(session)]


@router.post("/rolls", status_code=201, responses=documented(404, 409, 422))
def new_roll(archive: ArchiveHere, given: NewRoll) -> RollOut:
    """Registers a roll and files it, all or nothing."""
    with archive.session() as session:
        return RollOut.model_validate(register_roll(session, given))


@router.get(
    "/rolls/{number:path}/contact-sheet.pdf", response_class=Response, responses=PDF | documented(404, 422)
)
def contact_sheet(
    request: Request,
    archive: ArchiveHere,
    number: str,
    paper: str = Query("A4", max_length=20),
    fit: str = Query("two sheets", max_length=20, description="another paper, two sheets, or fit"),
) -> Response:
    """The roll's contact sheet, a sheet for each page it lies on, at true size where the paper holds it."""
    from printing.documents import contact_sheet_pdf

    with archive.session() as session:
        roll = get_roll(session, number)
        pages = [get_page(session, page_id) for page_id in roll.page_ids]
    if not pages:
        raise NotFound(
            f"Roll {roll.number} lies on no page, so there is nothing to print. File its strips first."
        )
    made = contact_sheet_pdf(
        pages,
        paper=paper,
        fit=fit,
        roll=roll.number,
        printed_on=date.today(),
        link=roll_link(str(request.base_url), roll.number),
    )
    return pdf_response(made.pdf, f"contact-sheet-{roll.number}", made.explanation)


@router.put("/rolls/{number:path}/process", responses=documented(404, 422))
def process(archive: ArchiveHere, number: str, given: ProcessInput) -> ProcessOut:
    """Writes the process record, in place of an earlier one."""
    with archive.session() as session:
        return ProcessOut.model_validate(record_process(session, number, given))


@router.patch("/rolls/{number:path}/frames/{label}", responses=documented(404, 422))
def change_frame(archive: ArchiveHere, number: str, label: str, changes: FrameChanges) -> FrameOut:
    """Changes what is known of a frame."""
    with archive.session() as session:
        return FrameOut.model_validate(update_frame(session, number, label, changes))


@router.post("/rolls/{number:path}/renumber", responses=documented(404, 409, 422))
def renumber(archive: ArchiveHere, number: str, given: NewNumber) -> RollOut:
    """Gives the roll another number; the former one stays findable."""
    with archive.session() as session:
        return RollOut.model_validate(renumber_roll(session, number, given.number))


@router.get("/rolls/{number:path}", responses=documented(404))
def roll(archive: ArchiveHere, number: str) -> RollOut:
    """A roll by its number or a former one."""
    with archive.session() as session:
        return RollOut.model_validate(get_roll(session, number))


@router.patch("/rolls/{number:path}", responses=documented(404, 422))
def change_roll(archive: ArchiveHere, number: str, changes: RollChanges) -> RollOut:
    """Changes what is known of a roll; number and place are left alone."""
    with archive.session() as session:
        return RollOut.model_validate(update_roll(session, number, changes))
