"""Which waiting rolls can share a tank: by the recipe that each is to have, its push, and what a tank takes."""

from typing import Any

from sqlmodel import Session

from catalogue.bench.recipes import recipe_view
from catalogue.bench.rules.tank_groups import RollForTank, TankGroup, tank_groups
from catalogue.bench.sink.plan import busy_rolls
from catalogue.bench.sink.tonights_times import step_time
from catalogue.bench.waiting import waiting_film
from catalogue.bench.waiting_views import WaitingView
from catalogue.errors import StripleafError
from catalogue.film.dates import parse_date
from catalogue.own_shapes import own_formats


def film_groups(session: Session) -> tuple[TankGroup, ...]:
    """Exposed rolls in no session yet, in groups that can share a tank, oldest first; each says why others can't join."""
    busy = busy_rolls(session)
    rolls = [_wanted(session, view) for view in waiting_film(session, "exposed") if view.number not in busy]
    return tank_groups(rolls, own=own_formats(session))


def _wanted(session: Session, view: WaitingView) -> RollForTank:
    """How a roll is to be developed; without a recipe nothing of it is settled."""
    dated = view.finished_on or view.exposed or view.loaded_on
    facts: dict[str, Any] = {
        "number": view.number, "format_key": view.format_key, "stock": view.stock, "ei": view.exposure_index,
        "exposed": parse_date(dated) if dated else None, "push_stops": view.push_stops,
    }  # fmt: skip
    if view.recipe_id is None:
        return RollForTank(**facts)
    recipe = recipe_view(session, view.recipe_id)
    developer = recipe.developer
    if developer is None:
        return RollForTank(**facts, process=recipe.process)
    try:
        seconds = step_time(developer, push_stops=view.push_stops).seconds
    except StripleafError:
        seconds = None  # the recipe says nothing of this push; planning says so when it comes to it
    return RollForTank(
        **facts, process=recipe.process, developer=developer.chemical or developer.name, dilution=developer.dilution,
        temperature_c=developer.temperature_c, time_s=seconds,
    )  # fmt: skip
