"""The forms for prints of a frame: one more is recorded, one is taken back, a time is reckoned."""

from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import ValidationError

from api.dependencies import ArchiveHere, TypedForm
from api.web.rolls.frame_records import print_from
from api.web.scans.scans import show_frame
from api.web.typed import measured, refusal
from catalogue.darkroom.print_records import get_print, record_print, take_back_print, time_for
from catalogue.errors import InvalidInput
from catalogue.settings import get_units

router = APIRouter()


def _back(number: str, label: str) -> Response:
    return RedirectResponse(f"/rolls/{quote(number)}/scans/{quote(label)}#prints", status_code=303)


@router.post("/rolls/{number}/scans/{label}/prints")
def add(request: Request, number: str, label: str, archive: ArchiveHere, form: TypedForm) -> Response:
    """Records one more print of the frame."""
    try:
        with archive.session() as session:
            record_print(session, number, label, print_from(form, get_units(session)))
    except (InvalidInput, ValidationError) as trouble:
        words = refusal(trouble) if isinstance(trouble, ValidationError) else str(trouble)
        kept = {name: value for name, value in form.items() if name not in ("problem", "said", "form")}
        return show_frame(request, archive, number, label, problem=words, form="print", **kept)
    return _back(number, label)


@router.get("/print-records/{print_id}")
def frame_of(print_id: int, archive: ArchiveHere) -> Response:
    """The frame that a print is of, for whoever comes back to the address of its forms."""
    with archive.session(reading=True) as session:
        record = get_print(session, print_id)
    return _back(record.roll, record.frame)


@router.post("/print-records/{print_id}")
def with_print(request: Request, print_id: int, archive: ArchiveHere, form: TypedForm) -> Response:
    """Takes a print back, or reckons its time for another size or height."""
    with archive.session(reading=True) as session:
        record = get_print(session, print_id)
    try:
        if form.get("do") == "take back":
            with archive.session() as session:
                take_back_print(session, print_id)
            return _back(record.roll, record.frame)
        said = _time(archive, print_id, form)
    except InvalidInput as trouble:
        return show_frame(request, archive, record.roll, record.frame, problem=str(trouble))
    return show_frame(request, archive, record.roll, record.frame, said=said)


def _time(archive: ArchiveHere, print_id: int, form: dict[str, str]) -> str:
    """The sentence about another size or height."""
    with archive.session(reading=True) as session:
        units = get_units(session)
        width, height, column = (
            None if value is None else units.mm(value)
            for value in (measured(form.get(n, ""), n) for n in ("width", "height", "column"))
        )
        if form.get("do") == "size":
            if width is None or height is None:
                raise InvalidInput("Write both the width and the height of the other print.")
            return time_for(session, print_id, size_mm=(width, height)).words
        if form.get("do") == "height":
            if column is None:
                raise InvalidInput("Write the other height, from the lens to the paper.")
            return time_for(session, print_id, height_mm=column).words
    raise InvalidInput("That form isn't known here. Load the page again.")
