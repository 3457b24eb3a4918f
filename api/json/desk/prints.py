"""Every kind of print at its addresses: one thing as PDF, its parameters those that the kind asks for."""

from collections.abc import Callable, Iterable
from datetime import date
from inspect import Parameter, Signature
from types import UnionType
from typing import Annotated, Any, get_args
from urllib.parse import quote

from fastapi import APIRouter, Query, Request
from fastapi.responses import HTMLResponse, Response
from pydantic.fields import FieldInfo

from api.dependencies import ArchiveHere
from api.desk.queue import pdf_of
from api.errors import PROBLEMS
from catalogue.rolls.plan import NewRoll
from catalogue.store.engine import Archive
from printing.kinds.asked import SEVERAL, Asked, Door, InBook, Now
from printing.kinds.registry import KINDS
from printing.kinds.sheets.cut_card import CutCardAsked

IN_ADDRESSES = {"roll": "number", "frame": "label"}
"""What an address calls a field of a question."""


class PdfResponse(Response):
    """A PDF."""

    media_type = "application/pdf"


def now_for(request: Request) -> Now:
    """Today, and the address this service was called by."""
    return Now(date.today(), str(request.base_url))


def printed(archive: Archive, asked: Asked, now: Now) -> PdfResponse:
    """The thing as PDF, to be opened under its name, with what is to be known of it in its headers."""
    about: dict[str, str] = {}
    with archive.session(reading=True) as session:
        asked = asked.settled(session)
        name = asked.file_name(session)
        if isinstance(asked, InBook):
            pdf, _ = pdf_of(session, asked, now)
        else:
            made = asked.drawn(session, now)
            pdf = made.pdf
            about = {"x-scale": f"{made.scale:g}", "x-explanation": quote(made.explanation, safe=" ,.;:()%")}
    return PdfResponse(pdf, headers={"content-disposition": f"inline; filename*=UTF-8''{quote(name)}.pdf", **about})


def _parameter(name: str, field: FieldInfo, path: str) -> Parameter:
    """A field as the route takes it: in the path, or behind the question mark with the field's own limits."""
    in_path = IN_ADDRESSES.get(name, name)
    kind: Any = field.annotation
    if f"{{{in_path}}}" in path:
        return Parameter(in_path, Parameter.KEYWORD_ONLY, annotation=kind)
    query = Query(description=field.description)
    if SEVERAL in field.metadata:
        kind = Annotated[list[str], query]
    elif isinstance(kind, UnionType) and str in get_args(kind):  # in an address it is a text
        kind = Annotated[str, query]
    else:
        kind = Annotated[kind, *field.metadata, query]
    default = Parameter.empty if field.is_required() else field.default
    return Parameter(name, Parameter.KEYWORD_ONLY, annotation=kind, default=default)


def _route(kind: type[Asked], door: Door) -> Callable[..., Response]:
    back = {said: name for name, said in IN_ADDRESSES.items() if f"{{{said}}}" in door.path}
    fields = {} if door.path.endswith(".html") else kind.model_fields

    def answer(request: Request, archive: ArchiveHere, **given: Any) -> Response:
        asked = kind.understood({back.get(name, name): value for name, value in given.items()})
        if not door.path.endswith(".html"):
            return printed(archive, asked, now_for(request))
        with archive.session(reading=True) as session:
            return HTMLResponse(asked.web_page(session, now_for(request)))

    first = (
        Parameter("request", Parameter.KEYWORD_ONLY, annotation=Request),
        Parameter("archive", Parameter.KEYWORD_ONLY, annotation=ArchiveHere),
    )
    answer.__signature__ = Signature([*first, *(_parameter(n, f, door.path) for n, f in fields.items())])  # type: ignore[attr-defined]
    answer.__name__, answer.__doc__ = door.name, door.said or kind.said
    return answer


def router_of(kinds: Iterable[type[Asked]]) -> APIRouter:
    """The routes of these kinds."""
    made = APIRouter(responses=PROBLEMS, tags=["print"])
    for kind in kinds:
        for door in kind.doors:
            answer = HTMLResponse if door.path.endswith(".html") else PdfResponse
            made.get(door.path, response_class=answer)(_route(kind, door))
    return made


router = router_of(KINDS.values())


@router.post("/cut-card.pdf", response_class=PdfResponse)
def cut_card(given: NewRoll, request: Request, archive: ArchiveHere, paper: str = "") -> PdfResponse:
    """The life-size cut card of a roll before it is cut; nothing is stored."""
    return printed(archive, CutCardAsked.of(given, paper), now_for(request))
