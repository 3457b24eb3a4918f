"""Errors at the edge: one table from error class to HTTP status; RFC 9457 problem details."""

from typing import Any

from fastapi import Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from pydantic import BaseModel
from sqlalchemy.exc import IntegrityError
from starlette.exceptions import HTTPException

from catalogue import errors

STATUS: tuple[tuple[type[errors.StripleafError], int], ...] = (
    (errors.NotFound, 404),
    (errors.AlreadyExists, 409),
    (errors.SlotTaken, 409),
    (errors.DoesNotFit, 422),
    (errors.InvalidInput, 422),
    (errors.ArchiveProblem, 503),
    (errors.StripleafError, 400),
)
"""First match counts, so a subclass comes before its base."""


class Problem(BaseModel):
    """RFC 9457 problem details."""

    type: str = "about:blank"
    title: str
    status: int
    detail: str


PROBLEMS: dict[int | str, dict[str, Any]] = {
    code: {"model": Problem, "description": text, "content": {"application/problem+json": {}}}
    for code, text in (
        (404, "There is no such thing."),
        (409, "The number or the slot is taken."),
        (422, "Something can't be understood or doesn't fit; `detail` says what to do."),
    )
}


def status_of(error: errors.StripleafError) -> int:
    """The HTTP status of an error."""
    return next(status for kind, status in STATUS if isinstance(error, kind))


def title_of(error: errors.StripleafError) -> str:
    """The class name as words."""
    name = type(error).__name__
    return "".join(f" {c.lower()}" if c.isupper() else c for c in name).strip().capitalize()


def problem(status: int, title: str, detail: str) -> JSONResponse:
    """A problem-details answer."""
    body = Problem(title=title, status=status, detail=detail).model_dump()
    return JSONResponse(body, status_code=status, media_type="application/problem+json")


def sentence_of(error: RequestValidationError) -> str:
    """One sentence for what a validator refused."""
    first = error.errors()[0]
    where = ".".join(str(part) for part in first["loc"] if part not in ("body", "query", "path"))
    more = len(error.errors()) - 1
    also = f" ({more} more like it.)" if more else ""
    return f"{where or 'The request'}: {first['msg']}.{also}"[:500]


def answer(request: Request, status: int, title: str, detail: str) -> Response:
    """Problem details under /api, a page elsewhere."""
    if request.url.path.startswith("/api"):
        return problem(status, title, detail)
    from api.web.rendering import page

    return page(request, "problem.html", status=status, title=title, detail=detail)


async def on_domain_error(request: Request, error: Exception) -> Response:
    """A domain error becomes its status and its sentence."""
    assert isinstance(error, errors.StripleafError)
    return answer(request, status_of(error), title_of(error), str(error))


async def on_validation_error(request: Request, error: Exception) -> Response:
    """A refused request becomes one sentence."""
    assert isinstance(error, RequestValidationError)
    return answer(request, 422, "Invalid input", sentence_of(error))


async def on_http_error(request: Request, error: Exception) -> Response:
    """Routing errors in the same shape."""
    assert isinstance(error, HTTPException)
    return answer(
        request,
        error.status_code,
        "Not found" if error.status_code == 404 else "Not possible",
        str(error.detail),
    )


async def on_store_error(request: Request, error: Exception) -> Response:
    """What the database refuses, after the session has rolled back, in a sentence."""
    if isinstance(error, OverflowError):
        return answer(request, 422, "Invalid input", "A number is larger than the archive can keep. Check the numbers.")
    if isinstance(error, IntegrityError):
        detail = "This clashes with what the archive holds now, and nothing was changed. Look again and retry."
        return answer(request, 409, "Clash", detail)
    detail = "The archive is busy or can't be written, and nothing was changed. Try again in a moment."
    return answer(request, 503, "Archive busy", detail)
