"""The print desk: its queue, the PDFs made of it as long work, and a look at a sheet beforehand."""

from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import FileResponse, Response
from pydantic import BaseModel, Field

from api.dependencies import ArchiveHere, BackgroundHere
from api.desk.finished import FinishedPdf, finished_pdf, finished_pdfs, kept_with, remove_finished
from api.desk.queue import Waiting, came_out, listed, pdf_of, put_in_binder, put_in_thing
from api.errors import PROBLEMS
from api.json.desk.prints import PdfResponse, now_for
from api.json.desk.prints import printed as printed_pdf
from api.long.background import Background
from api.long.print_jobs import PRINTING, begin_printing, stop_printing
from catalogue.desk.queue import empty, move, take_out
from catalogue.store.engine import Archive
from printing.canvas.sheet_pictures import WIDEST_PX, sheet_png
from printing.kinds.registry import find_kind, settled

router = APIRouter(prefix="/print-desk", responses=PROBLEMS, tags=["print"])
NOT_VALUES = ("kind", "sheet", "width")


class Thing(BaseModel):
    """A thing to print: its kind, and what it is made of by name."""

    kind: str = Field(max_length=40)
    what: dict[str, Any] = Field(default_factory=dict)


class WholeBinder(BaseModel):
    """How everything of a binder is printed; `width_mm` is that of the spine."""

    paper: str = ""
    width_mm: float = Field(default=40, ge=8, le=80)


class Moving(BaseModel):
    """Up is towards the first."""

    up: bool


class Making(BaseModel):
    """With `changed_only`, what is as it was printed last is left out."""

    changed_only: bool = False


class Progress(BaseModel):
    """Things drawn, of how many, and the last sentence about it."""

    running: bool
    done: int
    total: int
    words: str


def progress_of(background: Background) -> Progress:
    """How far the making is."""
    done, total = background.counted(PRINTING)
    return Progress(running=background.running(PRINTING), done=done, total=total, words=background.said(PRINTING))


def asked_of(request: Request) -> dict[str, str]:
    """What a thing is made of, from an address; what stands empty there is left out."""
    return {name: value for name, value in request.query_params.items() if value and name not in NOT_VALUES}


def _queue(archive: Archive) -> tuple[Waiting, ...]:
    with archive.session(reading=True) as session:
        return listed(session)


@router.get("/queue")
def queue(archive: ArchiveHere) -> tuple[Waiting, ...]:
    """Everything that waits to be printed, in order."""
    return _queue(archive)


@router.post("/queue", status_code=201)
def put_in(given: Thing, archive: ArchiveHere) -> tuple[Waiting, ...]:
    """Puts a thing in; the same thing waits once. Answers with the queue."""
    with archive.session() as session:
        put_in_thing(session, given.kind, given.what)
    return _queue(archive)


@router.post("/binders/{binder_id}", status_code=201)
def put_in_everything(binder_id: int, given: WholeBinder, archive: ArchiveHere) -> tuple[Waiting, ...]:
    """Puts in everything of a binder: spine, labels, strip lists, contact sheets, book. Answers with the queue."""
    with archive.session() as session:
        put_in_binder(session, binder_id, given.paper, given.width_mm)
    return _queue(archive)


@router.delete("/queue", status_code=204)
def empty_queue(archive: ArchiveHere) -> None:
    """Takes everything out."""
    with archive.session() as session:
        empty(session)


@router.delete("/queue/{wish_id}", status_code=204)
def take_out_one(wish_id: int, archive: ArchiveHere) -> None:
    """Takes a thing out."""
    with archive.session() as session:
        take_out(session, wish_id)


@router.post("/queue/{wish_id}/move")
def move_one(wish_id: int, given: Moving, archive: ArchiveHere) -> tuple[Waiting, ...]:
    """Changes places with the thing before or after it. Answers with the queue."""
    with archive.session() as session:
        move(session, wish_id, up=given.up)
    return _queue(archive)


@router.post("/making", status_code=202)
def begin(request: Request, given: Making, archive: ArchiveHere, background: BackgroundHere) -> Progress:
    """Begins to make the PDFs of the queue, one a kind of paper; what is under way goes on."""
    begin_printing(archive, background, str(request.base_url), changed_only=given.changed_only)
    return progress_of(background)


@router.get("/making")
def making(background: BackgroundHere) -> Progress:
    """How far it is."""
    return progress_of(background)


@router.delete("/making")
def stop(background: BackgroundHere) -> Progress:
    """Stops it; no file is left of it."""
    stop_printing(background)
    return progress_of(background)


@router.get("/files")
def files(archive: ArchiveHere) -> tuple[FinishedPdf, ...]:
    """The finished PDFs, newest first."""
    return finished_pdfs(archive)


@router.get("/files/{name}", response_class=FileResponse)
def file(name: str, archive: ArchiveHere) -> FileResponse:
    """A finished PDF."""
    path = finished_pdf(archive, name)
    disposition = {"content-disposition": f"inline; filename*=UTF-8''{quote(name)}"}
    return FileResponse(path, media_type="application/pdf", headers=disposition)


@router.delete("/files/{name}", status_code=204)
def remove(name: str, archive: ArchiveHere) -> None:
    """Removes a finished PDF."""
    remove_finished(archive, name)


@router.post("/files/{name}/printed", status_code=204)
def printed(name: str, archive: ArchiveHere) -> None:
    """Notes that these sheets came out of the printer, and takes them out of the queue."""
    kept = kept_with(archive, name)
    with archive.session() as session:
        came_out(session, kept)


@router.get("/thing.pdf", response_class=PdfResponse)
def thing(request: Request, archive: ArchiveHere, kind: str) -> PdfResponse:
    """One thing as PDF; what it is made of stands in the address by name, as in the queue."""
    return printed_pdf(archive, find_kind(kind).understood(asked_of(request)), now_for(request))


@router.get("/sheet.png", response_class=Response, responses={200: {"content": {"image/png": {}}}})
def sheet(
    request: Request, archive: ArchiveHere, kind: str, sheet: int = Query(default=1, ge=1, le=100_000),
    width: int = Query(default=900, ge=50, le=WIDEST_PX),
) -> Response:  # fmt: skip
    """A sheet of a thing as a picture so many pixels wide."""
    with archive.session(reading=True) as session:
        pdf, at = pdf_of(session, settled(session, kind, asked_of(request)), now_for(request), sheet)
    return Response(sheet_png(pdf, at, width), media_type="image/png", headers={"cache-control": "no-store"})
