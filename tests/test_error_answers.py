"""Each error has its status, title and sentence, under /api as problem details (RFC 9457) and elsewhere as a page."""

import asyncio
import json
from collections.abc import Callable, Coroutine
from concurrent.futures import ThreadPoolExecutor
from sqlite3 import OperationalError as Locked
from typing import Any

import pytest
from fastapi import Request
from fastapi.exceptions import RequestValidationError
from sqlalchemy.exc import IntegrityError, OperationalError
from starlette.exceptions import HTTPException
from starlette.responses import Response

from api.errors import answer, on_domain_error, on_http_error, on_store_error, on_validation_error, sentence_of
from catalogue import errors

Handler = Callable[[Request, Exception], Coroutine[Any, Any, Response]]
ANSWERS: tuple[tuple[Handler, Exception, int, str, str], ...] = (
    (on_domain_error, errors.NotFound("Gone."), 404, "Not found", "Gone."),
    (on_domain_error, errors.AlreadyExists("Twice."), 409, "Already exists", "Twice."),
    (on_domain_error, errors.SlotTaken("Full."), 409, "Slot taken", "Full."),
    (on_domain_error, errors.DoesNotFit("Wide."), 422, "Does not fit", "Wide."),
    (on_domain_error, errors.UnreadablePicture("Torn."), 422, "Unreadable picture", "Torn."),
    (on_domain_error, errors.ArchiveProblem("Away."), 503, "Archive problem", "Away."),
    (on_domain_error, errors.StripleafError("Else."), 400, "Stripleaf error", "Else."),
    (on_http_error, HTTPException(404, "No page."), 404, "Not found", "No page."),
    (on_http_error, HTTPException(405, "No way."), 405, "Not possible", "No way."),
    (on_store_error, OverflowError(), 422, "Invalid input", "A number is larger"),
    (on_store_error, IntegrityError("", {}, Locked()), 409, "Clash", "This clashes with"),
    (on_store_error, OperationalError("", {}, Locked()), 503, "Archive busy", "The archive is busy"),
    (
        on_validation_error,
        RequestValidationError([{"loc": ("body", "frames"), "msg": "Not a count"}]),
        422,
        "Invalid input",
        "frames: Not a count.",
    ),
)


def _asked(path: str) -> Request:
    return Request({"type": "http", "method": "GET", "path": path, "headers": [], "query_string": b""})


@pytest.mark.parametrize(("handler", "error", "status", "title", "detail"), ANSWERS)
def test_an_error_is_problem_details_under_api(handler: Handler, error: Exception, status: int, title: str, detail: str) -> None:
    # In a thread of its own: where browser tests ran before, this one has a loop that runs already.
    with ThreadPoolExecutor(1) as apart:
        told = apart.submit(lambda: asyncio.run(handler(_asked("/api/rolls"), error))).result()
    assert (told.status_code, told.media_type) == (status, "application/problem+json")
    body = json.loads(bytes(told.body))
    assert body.pop("detail").startswith(detail)
    assert body == {"type": "about:blank", "title": title, "status": status}


def test_an_error_is_a_page_elsewhere() -> None:
    told = answer(_asked("/rolls/api"), 409, "Slot taken", "Slot 3 is full.")
    assert (told.status_code, told.media_type) == (409, "text/html")
    assert b"Slot taken" in bytes(told.body) and b"Slot 3 is full." in bytes(told.body)


@pytest.mark.parametrize(
    ("refused", "sentence"),
    [
        ([(("body", "process", 0, "time"), "Too long")], "process.0.time: Too long."),
        ([(("query",), "Missing")], "The request: Missing."),
        ([(("path", "id"), "No number"), (("body",), "b"), (("body",), "c")], "id: No number. (2 more like it.)"),
        ([(("body", "a"), "x" * 600)], "a: " + "x" * 497),
    ],
)
def test_what_a_model_refuses_is_one_sentence(refused: list[tuple[tuple[str | int, ...], str]], sentence: str) -> None:
    assert sentence_of(RequestValidationError([{"loc": loc, "msg": msg} for loc, msg in refused])) == sentence
