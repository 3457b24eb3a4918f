"""The form for the choice about a frame."""

from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from api.dependencies import ArchiveHere, TypedForm
from api.web.rolls.frame_records import EDGES, choice_from
from api.web.scans.scans import show_frame
from catalogue.errors import InvalidInput
from catalogue.rolls.choices import choose_frame
from catalogue.rolls.rows import frame_row, roll_row

router = APIRouter()


@router.get("/rolls/{number}/scans/{label}/choice")
@router.get("/rolls/{number}/scans/{label}/prints")
def frame_again(number: str, label: str) -> Response:
    """The frame's page, for whoever comes back to the address of one of its forms."""
    return RedirectResponse(f"/rolls/{quote(number)}/scans/{quote(label)}", status_code=303)


@router.post("/rolls/{number}/scans/{label}/choice")
def choose(request: Request, number: str, label: str, archive: ArchiveHere, form: TypedForm) -> Response:
    """Keeps whether the frame is a select, and its crop."""
    try:
        with archive.session() as session:
            frame = frame_row(session, roll_row(session, number), label)
            choose_frame(session, number, label, choice_from(form, session, frame.id or 0))
    except InvalidInput as trouble:
        kept = {name: form[name] for name in (*EDGES, "selected") if name in form}
        return show_frame(request, archive, number, label, problem=str(trouble), form="choice", **kept)
    return RedirectResponse(f"/rolls/{quote(number)}/scans/{quote(label)}#choice", status_code=303)
