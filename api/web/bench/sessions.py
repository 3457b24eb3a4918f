"""Planning a session at the sink on one screen: which rolls on which reels, what the bottles say, then the plan is kept."""

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session

from api.dependencies import ArchiveHere, TypedForm
from api.web.rendering import page
from api.web.typed import measured, validated, whole
from catalogue.bench.bottles.shelf import BottleView, list_bottles
from catalogue.bench.recipes import list_recipes
from catalogue.bench.rules.baths.entries import same_words
from catalogue.bench.rules.figures import format_time
from catalogue.bench.sink.log import goes_on, list_sessions
from catalogue.bench.sink.plan import NewSession, Worked, busy_rolls, plan_session, work_out
from catalogue.bench.sink.sink_views import TankView
from catalogue.bench.tanks import list_tanks, loading
from catalogue.bench.waiting import waiting_film
from catalogue.bench.waiting_views import RecipeView, WaitingView
from catalogue.errors import InvalidInput, StripleafError
from catalogue.own_shapes import format_of
from catalogue.settings import get_units

router = APIRouter()


@router.get("/bench/sessions")
def sessions(request: Request, archive: ArchiveHere) -> Response:
    """All sessions, those that go on first."""
    with archive.session(reading=True) as session:
        every = list_sessions(session)
        going = [s for s in every if goes_on(s)]
        return page(request, "sessions.html", going=going, over=[s for s in every if not goes_on(s)])


def new_session_from(session: Session, form: Mapping[str, str]) -> NewSession:
    """The form's fields as a session; fields with a number behind a dash belong to a roll or a step."""
    units = get_units(session)

    def by_step(prefix: str) -> dict[int, str]:
        found = {n.removeprefix(prefix): v.strip() for n, v in form.items() if n.startswith(prefix) and v.strip()}
        return {int(step): value for step, value in found.items() if step.isascii() and step.isdigit()}

    reels = {n.removeprefix("reel-"): whole(v, "reel") for n, v in form.items() if n.startswith("reel-") and v.strip()}
    if not reels:
        raise InvalidInput("Choose a reel for one roll at least.")
    recipe = whole(form.get("recipe", ""), "recipe")
    if recipe is None:
        raise InvalidInput("Choose a recipe. Recipes are typed in under Bench, Recipes.")
    warm = {step: measured(value, "temperature") for step, value in by_step("temp-").items()}
    volume = measured(form.get("volume", ""), "volume")
    values: dict[str, Any] = {
        "recipe_id": recipe, "rolls": [{"number": n, "reel": r} for n, r in reels.items()],
        "tank_id": whole(form.get("tank", ""), "tank"), "volume_ml": units.ml(volume) if volume is not None else None,
        "temperatures_c": {step: units.celsius(value) for step, value in warm.items() if value is not None},
        "push_stops": measured(form.get("push", ""), "push in stops"),
        "bottles": {step: whole(value, "bottle") for step, value in by_step("bottle-").items()},
        "overruled": by_step("overrule-"), "again": by_step("again-"),
        **{name: form.get(name, "").strip() for name in ("title", "done_by", "notes")},
    }  # fmt: skip
    return validated(NewSession, values)


@dataclass(frozen=True)
class _Choices:
    """What can be chosen on the screen, read once."""

    recipes: tuple[RecipeView, ...]
    tanks: tuple[TankView, ...]
    film: tuple[WaitingView, ...]
    bottles: tuple[BottleView, ...]

    def recipe(self, form: Mapping[str, str]) -> RecipeView | None:
        """The recipe that the form names."""
        return next((r for r in self.recipes if str(r.id) == form.get("recipe")), None)

    def bottles_for(self, form: Mapping[str, str]) -> dict[int, list[tuple[int, str]]]:
        """For each step that isn't water the bottles that hold its chemical, with what is left in them."""
        found: dict[int, list[tuple[int, str]]] = {}
        recipe = self.recipe(form)
        for step in recipe.steps if recipe else ():
            if step.solution == "water":
                continue
            found[step.position] = []
            for view in self.bottles:
                bath = view.bath
                if bath is None or not same_words(bath.facts.chemical, step.chemical):
                    continue
                left = f"{float(bath.left):.3g} rolls left" if bath.left is not None else "capacity unknown"
                found[step.position].append((view.id, f"{view.name}: {left}"))
        return found


def _choices(session: Session) -> _Choices:
    """Film that can go into a tank is not processed, and in no session that goes on."""
    busy = busy_rolls(session)
    film = tuple(w for w in waiting_film(session, "exposed", "loaded") if w.number not in busy)
    return _Choices(list_recipes(session), list_tanks(session), film, list_bottles(session))


def _screen(
    request: Request,
    session: Session,
    there: _Choices,
    form: Mapping[str, str],
    *,
    worked: Worked | None,
    problem: str = "",
    status: int = 200,
) -> Response:
    return page(
        request, "plan_session.html", status=status, form=form, worked=worked, problem=problem, recipes=there.recipes,
        chosen=there.recipe(form), tanks=there.tanks, film=there.film, bottles=there.bottles_for(form),
        units=get_units(session), clock=format_time,
    )  # fmt: skip


def _smallest_tank(session: Session, there: _Choices, picked: list[WaitingView]) -> str:
    """The smallest tank that takes each of these rolls on a reel of its own, as the form has it; empty where none does."""
    reels = {reel: [(w.number, format_of(session, w.format_key), w.frames_expected)] for reel, w in enumerate(picked, 1)}
    for tank in sorted(there.tanks, key=lambda t: t.holds_ml):
        with suppress(StripleafError):
            if picked:
                loading(tank, reels)
            return str(tank.id)
    return ""


def _first_bottles(there: _Choices, form: Mapping[str, str]) -> dict[str, str]:
    """The first fitting bottle of each step, as the form has it."""
    return {f"bottle-{step}": str(found[0][0]) for step, found in there.bottles_for(form).items() if found}


def _defaults(session: Session, there: _Choices, rolls: str, recipe: str) -> dict[str, str]:
    """The rolls that were picked, one a reel from the lowest up, their recipe, the smallest tank, fitting bottles."""
    film = {w.number: w for w in there.film}
    picked = [film[n] for n in rolls.split(",") if n in film]
    form = {f"reel-{w.number}": str(reel) for reel, w in enumerate(picked, 1)}
    known = [str(w.recipe_id) for w in picked if w.recipe_id]
    form["recipe"] = recipe or next(iter(known), str(there.recipes[0].id) if len(there.recipes) == 1 else "")
    form["tank"] = _smallest_tank(session, there, picked)
    return {**form, **_first_bottles(there, form)}


@router.get("/bench/sessions/plan")
def plan(request: Request, archive: ArchiveHere, rolls: str = "", recipe: str = "") -> Response:
    """The screen, with the rolls that were picked (numbers between commas) already on their reels."""
    with archive.session(reading=True) as session:
        there = _choices(session)
        form = _defaults(session, there, rolls, recipe)
        worked, problem = None, ""
        if rolls and form["recipe"]:
            try:
                worked = work_out(session, new_session_from(session, form))
            except StripleafError as trouble:
                problem = str(trouble)
        return _screen(request, session, there, form, worked=worked, problem=problem)


@router.post("/bench/sessions/plan")
def keep(request: Request, archive: ArchiveHere, form: TypedForm) -> Response:
    """Works the session out again, or keeps the plan; whatever is wrong is said with everything typed still there."""
    try:
        if form.get("do") == "work":
            with archive.session(reading=True) as session:
                there = _choices(session)
                filled = {**_first_bottles(there, form), **form}
                return _screen(request, session, there, filled, worked=work_out(session, new_session_from(session, filled)))
        with archive.session() as session:
            key = plan_session(session, new_session_from(session, form))
    except StripleafError as trouble:
        with archive.session(reading=True) as session:
            worked = None
            with suppress(StripleafError):  # the sentence says already what is wrong
                worked = work_out(session, new_session_from(session, form))
            return _screen(request, session, _choices(session), form, worked=worked, problem=str(trouble), status=422)
    return RedirectResponse(f"/bench/sessions/{key}", status_code=303)
