"""Which negative is this picture from? A file handed in, and the frames it may be from."""

from fastapi import APIRouter, Request
from fastapi.responses import Response
from starlette.concurrency import run_in_threadpool

from api.dependencies import ArchiveHere
from api.web.rendering import page
from catalogue.errors import InvalidInput, StripleafError
from catalogue.scans.look.from_picture import from_picture, read_query
from catalogue.store.engine import Archive

router = APIRouter()


@router.get("/from-picture")
def ask(request: Request) -> Response:
    """The form."""
    return page(request, "from_picture.html", found=None, problem="")


@router.post("/from-picture")
async def answer(request: Request, archive: ArchiveHere) -> Response:
    """The frames that the picture may be from."""
    async with request.form() as form:
        given = form.get("picture")
        data = await given.read() if given is not None and not isinstance(given, str) else b""
    return await run_in_threadpool(_answer, request, archive, data)


def _answer(request: Request, archive: Archive, data: bytes) -> Response:
    try:
        if not data:
            raise InvalidInput("Choose a picture file first.")
        asked = read_query(data)
        with archive.session(reading=True) as session:
            found = from_picture(session, asked)
    except StripleafError as trouble:
        return page(request, "from_picture.html", status=422, found=None, problem=str(trouble))
    return page(request, "from_picture.html", found=found, problem="")
