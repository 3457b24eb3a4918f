"""The print desk on the page: putting things in, order, a look beforehand, making the PDFs, and noting what came out."""

from urllib.parse import quote, urlencode

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response

from api.dependencies import ArchiveHere, BackgroundHere, TypedForm
from api.desk.finished import finished_pdfs, kept_with, remove_finished
from api.desk.queue import came_out, put_in_binder, put_in_thing, sheets_of
from api.json.desk.print_desk import asked_of, progress_of
from api.json.desk.prints import now_for
from api.long.print_jobs import begin_printing, stop_printing
from api.web.desk.printing import show_print_page
from api.web.rendering import page
from api.web.typed import inside, measured, whole
from catalogue.desk.queue import empty, move, take_out
from catalogue.errors import InvalidInput, StripleafError
from printing.kinds.registry import settled

router = APIRouter(prefix="/print")


def _number(form: dict[str, str], name: str) -> int:
    found = whole(form.get(name, ""), "number of a thing here")
    if found is None:
        raise InvalidInput("That form isn't known here. Load the page again.")
    return found


@router.post("/later")
def later(request: Request, archive: ArchiveHere, background: BackgroundHere, form: TypedForm) -> Response:
    """Puts a thing, or everything of a binder, in the queue."""
    back, kind = form.pop("back", ""), form.pop("kind", "")
    try:
        with archive.session() as session:
            if kind == "whole-binder":
                width = measured(form.get("width_mm", ""), "width of the spine")
                put_in_binder(session, _number(form, "binder_id"), form.get("paper", ""), 40.0 if width is None else width)
            else:
                put_in_thing(session, kind, {name: value for name, value in form.items() if value})
    except StripleafError as trouble:
        return show_print_page(request, archive, background, problem=str(trouble))
    query = urlencode({"back": back}) if inside(back) else ""
    return RedirectResponse(f"/print?{query}#queue" if query else "/print#queue", status_code=303)


@router.post("/queue")
def change(request: Request, archive: ArchiveHere, background: BackgroundHere, form: TypedForm) -> Response:
    """Moves a thing up or down, takes it out, or empties the queue."""
    do = form.get("do", "")
    try:
        with archive.session() as session:
            if do == "empty":
                empty(session)
            elif do == "out":
                take_out(session, _number(form, "id"))
            elif do in ("up", "down"):
                move(session, _number(form, "id"), up=do == "up")
            else:
                raise InvalidInput("That form isn't known here. Load the page again.")
    except StripleafError as trouble:
        return show_print_page(request, archive, background, problem=str(trouble))
    return RedirectResponse("/print#queue", status_code=303)


@router.post("/making")
def make(request: Request, archive: ArchiveHere, background: BackgroundHere, form: TypedForm) -> Response:
    """Begins to make the PDFs of the queue, or stops that."""
    try:
        if form.get("do") == "stop":
            stop_printing(background)
        else:
            begin_printing(archive, background, str(request.base_url), changed_only=form.get("changed_only") == "yes")
    except StripleafError as trouble:
        return show_print_page(request, archive, background, problem=str(trouble))
    return RedirectResponse("/print/making", status_code=303)


@router.get("/making")
def making(request: Request, archive: ArchiveHere, background: BackgroundHere) -> Response:
    """How far the making is, and what came of it."""
    return page(request, "print_making.html", progress=progress_of(background), files=finished_pdfs(archive)[:6])


@router.post("/files")
def files(request: Request, archive: ArchiveHere, background: BackgroundHere, form: TypedForm) -> Response:
    """Notes that a PDF came out of the printer, or removes it."""
    name, do = form.get("name", ""), form.get("do", "")
    try:
        if do == "remove":
            remove_finished(archive, name)
            return RedirectResponse("/print#finished", status_code=303)
        if do != "printed":
            raise InvalidInput("That form isn't known here. Load the page again.")
        kept = kept_with(archive, name)
        with archive.session() as session:
            count = came_out(session, kept)
    except StripleafError as trouble:
        return show_print_page(request, archive, background, problem=str(trouble))
    return RedirectResponse(f"/print?noted={count}", status_code=303)


@router.get("/look")
def look(request: Request, archive: ArchiveHere, kind: str = "", sheet: int = 1) -> Response:
    """A sheet of a thing as a picture before paper is used, with what is to be known of it."""
    asked = asked_of(request)
    with archive.session(reading=True) as session:
        thing = settled(session, kind, asked)
        title = thing.title(session)
        count, words = sheets_of(session, thing, now_for(request))
    sheet = min(max(sheet, 1), count)
    address = urlencode({"kind": kind, **asked}, quote_via=quote)
    return page(
        request, "print_look.html", title=title, count=count, words=words, sheet=sheet, address=address, kind=kind, asked=asked
    )
