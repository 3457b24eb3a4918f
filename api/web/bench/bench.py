"""The bench: what is loaded, what waits to be processed, what dries; a roll is noted here with three taps."""

from dataclasses import asdict
from datetime import date
from typing import Any
from urllib.parse import quote, urlencode

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from starlette.concurrency import run_in_threadpool

from api.dependencies import ArchiveHere, TypedForm
from api.web.rendering import page
from api.web.typed import measured, validated, whole
from catalogue.bench.cassette_picture import MOST_BYTES, cassette_in
from catalogue.bench.recipes import list_recipes
from catalogue.bench.sink.log import going_sessions
from catalogue.bench.waiting import (
    NewWaiting,
    WaitingChanges,
    change_waiting,
    drop_waiting,
    known_stock,
    note_roll,
    waiting_film,
    waiting_view,
)
from catalogue.bench.waiting_groups import film_groups
from catalogue.errors import InvalidInput, StripleafError
from catalogue.film.camera_contacts import CameraContacts
from catalogue.own_shapes import all_formats
from catalogue.rolls.number import next_roll_number
from catalogue.rolls.offers import suggestions
from catalogue.store.engine import Archive

router = APIRouter()
_CHANGED = ("stock", "camera", "lens", "exposed", "loaded_on", "finished_on", "subject", "place", "remarks")
_TEXTS = ("cassette_code", "stock", "camera", "lens", "loaded_on", "finished_on", "subject", "place", "remarks")


def _show(
    request: Request,
    archive: Archive,
    *,
    problem: str = "",
    said: str = "",
    status: int = 200,
    form: dict[str, str] | None = None,
) -> Response:
    with archive.session(reading=True) as session:
        film = waiting_film(session)
        recipes, going = list_recipes(session), going_sessions(session)
        return page(
            request, "bench.html", status=status, problem=problem, said=said, form=form or {},
            loaded=[w for w in film if w.state == "loaded"], groups=film_groups(session), by_number={w.number: w for w in film},
            processed=[w for w in film if w.state == "processed"], next_number=next_roll_number(session),
            formats=all_formats(session), known=suggestions(session), recipes=recipes, going=going,
        )  # fmt: skip


@router.get("/bench")
def show(
    request: Request, archive: ArchiveHere, noted: str = "", code: str = "", stock: str = "", frames: str = "", index: str = ""
) -> Response:
    """What is loaded, what waits, what dries; the query fills in what a cassette told."""
    form = {"cassette_code": code, "stock": stock, "frames_expected": frames, "exposure_index": index}
    said = f"Roll {noted} is noted. Write the number on the cassette." if noted else ""
    return _show(request, archive, said=said, form={k: v for k, v in form.items() if v})


def _noted(form: dict[str, str]) -> NewWaiting:
    values: dict[str, Any] = {name: form.get(name, "").strip() for name in _TEXTS}
    values |= {
        "number": form.get("number", "").strip() or None, "state": form.get("state", "exposed"),
        "format": form.get("format", "135-24x36"), "exposure_index": measured(form.get("exposure_index", ""), "exposure index"),
        "push_stops": measured(form.get("push_stops", ""), "push in stops") or 0.0,
        "frames_expected": whole(form.get("frames_expected", ""), "number of exposures"),
        "recipe_id": whole(form.get("recipe", ""), "recipe"),
    }  # fmt: skip
    return validated(NewWaiting, values)


@router.post("/bench/note")
def note(request: Request, archive: ArchiveHere, form: TypedForm) -> Response:
    """Notes a roll, or shows the page again with what is wrong and everything typed."""
    try:
        with archive.session() as session:
            number = note_roll(session, _noted(form)).number
    except StripleafError as trouble:
        return _show(request, archive, problem=str(trouble), status=422, form=form)
    return RedirectResponse(f"/bench?noted={quote(number)}", status_code=303)


def _one(request: Request, archive: Archive, number: str, *, problem: str = "", form: dict[str, str] | None = None) -> Response:
    with archive.session(reading=True) as session:
        view = waiting_view(session, number)
        shown = {n: str(v) for n, v in asdict(view).items() if v not in (None, 0.0)}
        shown["recipe"] = str(view.recipe_id or "")
        return page(
            request, "waiting_roll.html", status=422 if problem else 200, view=view, form=form or shown, problem=problem,
            recipes=list_recipes(session), known=suggestions(session),
        )  # fmt: skip


@router.get("/bench/rolls/{number}")
def one(request: Request, number: str, archive: ArchiveHere) -> Response:
    """A roll that waits, to be changed."""
    return _one(request, archive, number)


@router.post("/bench/rolls/{number}")
def change(request: Request, number: str, archive: ArchiveHere, form: TypedForm) -> Response:
    """Keeps what is known of a roll that waits, or takes its note back."""
    try:
        if form.get("do") == "drop":
            with archive.session() as session:
                drop_waiting(session, number, form.get("reason", ""))
            return RedirectResponse("/bench", status_code=303)
        values: dict[str, Any] = {name: form[name].strip() for name in (*_CHANGED, "state") if name in form}
        values |= {
            "exposure_index": measured(form.get("exposure_index", ""), "exposure index"),
            "push_stops": measured(form.get("push_stops", ""), "push in stops") or 0.0,
            "frames_expected": whole(form.get("frames_expected", ""), "number of exposures"),
            "recipe_id": whole(form.get("recipe", ""), "recipe"),
        }
        with archive.session() as session:
            change_waiting(session, number, validated(WaitingChanges, values))
    except StripleafError as trouble:
        return _one(request, archive, number, problem=str(trouble), form=form)
    return RedirectResponse("/bench", status_code=303)


@router.post("/bench/finished")
def finished(request: Request, archive: ArchiveHere, form: TypedForm) -> Response:
    """Takes a roll out of its camera: it is exposed and waits."""
    try:
        with archive.session() as session:
            changes = WaitingChanges(state="exposed", finished_on=date.today().isoformat())
            change_waiting(session, form.get("number", ""), changes)
    except StripleafError as trouble:
        return _show(request, archive, problem=str(trouble), status=422)
    return RedirectResponse("/bench", status_code=303)


@router.post("/bench/cassette")
async def cassette(request: Request, archive: ArchiveHere) -> Response:
    """Reads a photographed bar code or typed contact squares, and fills the form with what they say."""
    async with request.form() as form:
        given = form.get("picture")
        data = await given.read(MOST_BYTES + 1) if given is not None and not isinstance(given, str) else b""
        squares = str(form.get("squares", "")).strip()
    return await run_in_threadpool(_cassette, request, archive, data, squares)


def _cassette(request: Request, archive: Archive, data: bytes, squares: str) -> Response:
    told: dict[str, str] = {}
    try:
        if not data and not squares:
            raise InvalidInput("Choose a photograph of the cassette's bar code, or type its twelve contact squares.")
        if squares:
            contacts = CameraContacts.parse(squares)
            told |= {"index": str(contacts.speed or ""), "frames": str(contacts.exposures or "")}
        if data:
            code = cassette_in(data)
            with archive.session(reading=True) as session:
                told |= {"code": str(code), "frames": str(code.exposures or ""), "stock": known_stock(session, code)}
    except StripleafError as trouble:
        return _show(request, archive, problem=str(trouble), status=422)
    return RedirectResponse(f"/bench?{urlencode({k: v for k, v in told.items() if v})}#note", status_code=303)
