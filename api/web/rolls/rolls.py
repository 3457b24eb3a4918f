"""A roll: what it is, how it was processed, where its strips lie, and what was done with them."""

from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import ValidationError
from sqlmodel import Session

from api.dependencies import ArchiveHere, TypedForm
from api.web.rendering import page
from api.web.typed import is_whole, measured, refusal
from catalogue.bench.bottles.shelf import baths_of
from catalogue.bench.sink.log import sessions_of
from catalogue.errors import InvalidInput, NotFound, StripleafError
from catalogue.rolls.change import FrameChanges, RollChanges, get_roll, update_frame, update_roll
from catalogue.rolls.choices import choices_of_roll
from catalogue.rolls.file import find_page
from catalogue.rolls.move import history, move_strip, put_back, take_out, turn_strip
from catalogue.rolls.number import renumber_roll
from catalogue.rolls.offers import last_binders, pages_to_choose, suggestions
from catalogue.rolls.process import ProcessInput, record_process
from catalogue.rolls.rows import range_of
from catalogue.settings import get_units
from catalogue.store.engine import Archive
from catalogue.units import Units

router = APIRouter()


def _show(
    request: Request,
    archive: Archive,
    number: str,
    *,
    problem: str = "",
    status: int = 200,
    typed: dict[str, dict[str, str]] | None = None,
) -> Response:
    """The roll's page; `typed` holds what was typed into the form that was refused, by its button."""
    with archive.session(reading=True) as session:
        roll = get_roll(session, number)
        chosen = choices_of_roll(session, number)
        near = {s.binder for s in roll.strips if s.binder} or last_binders(session, limit=1)
        nearby = pages_to_choose(session, sorted(near))
        places = [(p.id, f"{b.name}, page {p.number} ({p.free_slots} free)") for b in nearby for p in b.pages]
        return page(
            request, "roll.html", status=status, roll=roll, moves=history(session, number), places=places,
            problem=problem, new=request.query_params.get("new") == "1", known=suggestions(session),
            strip_ranges={s.id: range_of(s.labels) for s in roll.strips}, units=get_units(session), typed=typed or {},
            selects=[f for f in roll.frames if f.id in chosen and chosen[f.id].selected],
            sessions=sessions_of(session, roll.id), baths=baths_of(session, number),
        )  # fmt: skip


@router.get("/rolls/{number}")
def roll(request: Request, number: str, archive: ArchiveHere) -> Response:
    """One roll."""
    return _show(request, archive, number)


def process_from(form: dict[str, str], units: Units) -> ProcessInput:
    """The process form; the time is minutes and seconds as "3:15" or minutes, the temperature in the set unit."""
    minutes, _, seconds = form.get("time", "").strip().partition(":")
    whole, rest = measured(minutes, "time"), measured(seconds, "time")
    time_s = round((whole or 0) * 60 + (rest or 0)) if whole is not None or rest is not None else None
    warmth = measured(form.get("temperature", ""), "temperature")
    names = ("process", "developer", "dilution", "done_on", "done_by", "notes")
    return ProcessInput(
        **{n: form.get(n, "").strip() for n in names},
        temperature_c=None if warmth is None else units.celsius(warmth),
        time_s=time_s,
        push_stops=measured(form.get("push_stops", ""), "stops"),
    )


@router.post("/rolls/{number}")
def change(request: Request, number: str, archive: ArchiveHere, form: TypedForm) -> Response:
    """One form of the roll's page, told apart by its button."""
    do = form.pop("do", "")
    try:
        with archive.session() as session:
            _do(session, number, do, form)
    except (StripleafError, ValidationError) as trouble:
        words = refusal(trouble) if isinstance(trouble, ValidationError) else str(trouble)
        return _show(request, archive, number, problem=words, status=422, typed={do: form})
    new = form.get("new_number", "") if do == "renumber" else number
    return RedirectResponse(f"/rolls/{quote(' '.join(new.split()))}", status_code=303)


def _do(session: Session, number: str, do: str, form: dict[str, str]) -> None:
    """Carries out one form."""
    strip = int(form["strip"]) if is_whole(form.get("strip", "")) else 0
    why = form.get("why", "").strip()[:300]
    if do == "facts":
        names = RollChanges.model_fields
        update_roll(session, number, RollChanges(**{k: v for k, v in form.items() if k in names}))
    elif do == "process":
        record_process(session, number, process_from(form, get_units(session)))
    elif do == "renumber":
        renumber_roll(session, number, form.get("new_number", ""))
    elif do == "frames":
        for key, caption in form.items():
            if key.startswith("caption:"):
                update_frame(session, number, key.removeprefix("caption:"), FrameChanges(caption=caption))
    elif do == "move":
        page_id, slot = form.get("page_id", ""), form.get("slot", "")
        if elsewhere := form.get("binder", "").strip():
            number_there = form.get("page_number", "")
            if not is_whole(number_there):
                raise InvalidInput(f"Write which page of {elsewhere[:60]}, as a number from 1.")
            page_id = str(find_page(session, elsewhere, int(number_there)).id)
        if not (is_whole(page_id) and is_whole(slot)):
            raise InvalidInput("Choose a page and write the slot as a number from 1.")
        move_strip(session, strip, page_id=int(page_id), slot=int(slot), why=why)
    elif do in ("head to foot", "over"):
        now = next((s for s in get_roll(session, number).strips if s.id == strip), None)
        if now is None:
            raise NotFound(f"Roll {number} has no such strip. Load the page again.")
        if do == "over":
            turn_strip(session, strip, turned_over=not now.turned_over, why=why)
        else:
            turn_strip(session, strip, upside_down=not now.upside_down, why=why)
    elif do == "out":
        take_out(session, strip, why, form.get("due", ""))
    elif do == "back":
        put_back(session, strip, why)
    else:
        raise InvalidInput("That form isn't known here. Load the page again.")
