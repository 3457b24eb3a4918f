"""Planning a session: which rolls on which reels, how much to mix, how long each step takes, what the bottles say.

Everything is said before the film goes in. A bath past its capacity can be overruled with a reason, which is kept.
"""

import json
from dataclasses import asdict, dataclass, replace
from datetime import date
from typing import Any

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session, col, select

from catalogue.bench.bottles.shelf import BottleView, bath_warnings, bottle_view, roll_pass
from catalogue.bench.recipes import is_black_and_white, recipe_view
from catalogue.bench.rules.baths.entries import same_words
from catalogue.bench.rules.baths.outlook import units_done
from catalogue.bench.rules.dilution import STOCK, Dilution
from catalogue.bench.rules.dilution import parse as parse_dilution
from catalogue.bench.rules.tank import Loading, VolumeNeeded, check_volume, volume_needed
from catalogue.bench.sink.sink_views import BathSays, SinkStep
from catalogue.bench.sink.tonights_times import step_time
from catalogue.bench.tanks import loading, tank_view
from catalogue.bench.waiting import waiting_view
from catalogue.bench.waiting_views import RecipeView, StepView, WaitingView
from catalogue.clock import now
from catalogue.errors import DoesNotFit, InvalidInput
from catalogue.film.formats import FilmFormat
from catalogue.own_shapes import format_of
from catalogue.settings import get_units
from catalogue.store.tables.bench import OPEN_STATES, TankRoll, TankSession
from catalogue.store.tables.rolls import Roll


class RollOnReel(BaseModel):
    """A waiting roll and its reel; reel 1 is the lowest."""

    model_config = ConfigDict(extra="forbid")
    number: str = Field(max_length=40)
    reel: int = Field(ge=1, le=20)


class NewSession(BaseModel):
    """A session to plan. Temperatures in °C by step, bottles by step, words by step; steps count from 1."""

    model_config = ConfigDict(extra="forbid")
    recipe_id: int
    rolls: list[RollOnReel] = Field(min_length=1, max_length=40)
    tank_id: int | None = None
    volume_ml: float | None = Field(default=None, gt=0, le=50_000, description="None takes what is needed.")
    temperatures_c: dict[int, float] = Field(default={}, description="What the baths really have.")
    push_stops: float | None = Field(default=None, ge=-5, le=5, description="None takes what the rolls want.")
    bottles: dict[int, int] = {}
    overruled: dict[int, str] = Field(default={}, description="Why a bath is used past its capacity.")
    again: dict[int, str] = Field(default={}, description="Why a roll goes through the same bath twice.")
    title: str = Field(default="", max_length=120)
    done_by: str = Field(default="", max_length=120)
    notes: str = Field(default="", max_length=4000)


@dataclass(frozen=True)
class Worked:
    """A session worked out, nothing stored: the steps, the volume with its reason, and what the baths say."""

    recipe: RecipeView
    rolls: tuple[tuple[WaitingView, int], ...]
    steps: tuple[SinkStep, ...]
    volume: VolumeNeeded | None
    volume_ml: float | None
    empty_reels: int
    said: tuple[BathSays, ...]
    push_stops: float

    @property
    def grave(self) -> tuple[BathSays, ...]:
        """What has still to be overruled before it can be planned."""
        words = {s.position: (s.overruled, s.again) for s in self.steps}
        return tuple(b for b in self.said if b.grave and not words[b.step][1 if b.kind == "again" else 0])


def _films(session: Session, rolls: list[RollOnReel]) -> list[tuple[WaitingView, int, FilmFormat]]:
    found = []
    for given in rolls:
        view = waiting_view(session, given.number)
        if view.state == "processed":
            raise InvalidInput(f"Roll {view.number} is processed already. Sleeve it, or take it out of this session.")
        found.append((view, given.reel, format_of(session, view.format_key)))
    numbers = [view.number for view, _, _ in found]
    twice = next((n for n in numbers if numbers.count(n) > 1), None)
    if twice:
        raise InvalidInput(f"Roll {twice} is named twice. A roll goes on one reel.")
    return found


def _push(given: NewSession, views: list[WaitingView]) -> float:
    wanted = {view.push_stops for view in views}
    if given.push_stops is not None:
        return given.push_stops
    if len(wanted) > 1:
        each = ", ".join(f"{view.number} {view.push_stops:+g}" for view in views)
        raise InvalidInput(
            f"These rolls want different development in stops: {each}. Take them in two tanks, or say one for all."
        )
    return wanted.pop()


def work_out(session: Session, given: NewSession) -> Worked:
    """Works out a session and stores nothing; raises what can't be done: film, reels, times, volumes, empty bottles."""
    recipe = recipe_view(session, given.recipe_id)
    films = _films(session, given.rolls)
    views = [view for view, _, _ in films]
    push = _push(given, views)
    loaded = _loaded(session, given, films)
    needed = _volume(recipe, loaded)
    volume = given.volume_ml if given.volume_ml is not None else needed.ml if needed else None
    if needed and not needed.fits and given.volume_ml is None:
        raise DoesNotFit(needed.explanation)
    if loaded and volume is not None:
        check_volume(loaded.tank, loaded.reels, volume)
    for place in (*given.bottles, *given.temperatures_c, *given.overruled, *given.again):
        if not 1 <= place <= len(recipe.steps):
            raise InvalidInput(f"{recipe.name} has steps 1 to {len(recipe.steps)}, no step {place}.")
    said: list[BathSays] = []
    steps = []
    passes = tuple(roll_pass(session, view.number) for view in views)
    units = float(sum(one.takes for one in passes))
    for step in recipe.steps:
        bottle = _bottle(session, given, step)
        if bottle is not None:
            found = bath_warnings(bottle, passes, date.today(), _draws(step, volume))
            said += [BathSays(step.position, bottle.name, w.kind, w.sentence, w.must_be_overruled) for w in found]
        steps.append(_step(session, given, recipe, step, bottle, volume, push, units))
    rolls = tuple((view, reel) for view, reel, _ in films)
    return Worked(recipe, rolls, tuple(steps), needed, volume, loaded.empty_on_top() if loaded else 0, tuple(said), push)


def _loaded(session: Session, given: NewSession, films: list[tuple[WaitingView, int, FilmFormat]]) -> Loading | None:
    if given.tank_id is None:
        return None
    reels: dict[int, list[tuple[str, FilmFormat, int | None]]] = {}
    for view, reel, film in films:
        reels.setdefault(reel, []).append((view.number, film, view.frames_expected))
    return loading(tank_view(session, given.tank_id), reels)


def _volume(recipe: RecipeView, loaded: Loading | None) -> VolumeNeeded | None:
    if loaded is None:
        return None
    developer = recipe.developer
    one_shot = developer is not None and developer.solution == "one-shot"
    dilution: Dilution = parse_dilution(developer.dilution) if developer and developer.dilution else STOCK
    least = developer.least_ml if developer and one_shot and developer.least_ml else None
    return volume_needed(loaded.tank, loaded.reels, dilution, least)


def _draws(step: StepView, volume: float | None) -> float | None:
    """What a step takes out of its bottle in ml; None where that isn't known."""
    if step.solution == "bath" or volume is None:
        return volume
    if not step.dilution:
        return None
    mixed = parse_dilution(step.dilution)
    # Of several concentrates the bottle holds one, and which of them it is nobody said.
    return mixed.measured(volume).concentrates[0] if len(mixed.concentrates) == 1 else None


def _bottle(session: Session, given: NewSession, step: StepView) -> BottleView | None:
    key = given.bottles.get(step.position)
    if key is None:
        return None
    bottle = bottle_view(session, key)
    if step.solution == "water":
        raise InvalidInput(f"Step {step.position}, {step.name}, is water: it takes nothing from {bottle.name}.")
    if bottle.bath is not None and step.chemical and not same_words(bottle.bath.facts.chemical, step.chemical):
        raise InvalidInput(
            f"{bottle.name} holds {bottle.bath.facts.chemical}, and step {step.position}, {step.name}, wants {step.chemical}. "
            "Choose another bottle, or change the recipe."
        )
    return bottle


def _step(
    session: Session, given: NewSession, recipe: RecipeView, step: StepView, bottle: BottleView | None, volume: float | None,
    push: float, units: float,
) -> SinkStep:  # fmt: skip
    bath = bottle.bath if bottle else None
    measured = given.temperatures_c.get(step.position)
    time = step_time(
        step, temperature_c=measured, push_stops=push, rolls_done=float(units_done(bath)) if bath else 0.0, rolls_now=units,
        unit=get_units(session).temperature, black_and_white=is_black_and_white(recipe.process),
    )  # fmt: skip
    if time.seconds is None:
        raise InvalidInput(
            f"Step {step.position}, {step.name}: the recipe {recipe.name} gives no time. Add it from the maker's sheet."
        )
    amounts = ""
    if step.solution == "one-shot" and step.dilution and volume is not None:
        amounts = parse_dilution(step.dilution).measured(volume).words()
    return SinkStep(
        step.position, step.kind, step.name, time.seconds, measured if measured is not None else step.temperature_c,
        step.tolerance_c, step.first_s, step.every_s, step.for_s, step.agitation, step.solution, step.chemical, step.dilution,
        amounts, bottle.id if bottle else None, bottle.name if bottle else "", given.overruled.get(step.position, "").strip(),
        given.again.get(step.position, "").strip(), time.reasons, time.warnings, step.notes,
        _draws(step, volume) if bottle else None,
    )  # fmt: skip


def busy_rolls(session: Session) -> dict[str, int]:
    """The rolls that are in a session which isn't over, with its number."""
    query = (
        select(Roll.number, TankSession.id)
        .join(TankRoll, col(TankRoll.roll_id) == col(Roll.id))
        .join(TankSession, col(TankSession.id) == col(TankRoll.session_id))
        .where(col(TankSession.state).in_(OPEN_STATES))
    )
    return {number: key or 0 for number, key in session.exec(query)}


def plan_session(session: Session, given: NewSession) -> int:
    """Keeps a planned session and gives its number; raises where a bath must be overruled first, and writes nothing then."""
    worked = work_out(session, given)
    if worked.grave:
        raise DoesNotFit(
            f"{worked.grave[0].sentence} Choose another bottle, or overrule it with your reason (step {worked.grave[0].step})."
        )
    busy = busy_rolls(session)
    for view, _ in worked.rolls:
        if view.number in busy:
            raise InvalidInput(
                f"Roll {view.number} is in session {busy[view.number]} already. Go on with that one, or give it up first."
            )
    with session.begin_nested():
        row = TankSession(
            recipe_id=given.recipe_id, tank_id=given.tank_id, title=given.title.strip() or worked.recipe.name,
            steps=steps_json(worked), volume_ml=worked.volume_ml, planned_at=now(), done_by=given.done_by.strip(),
            notes=given.notes.strip(),
        )  # fmt: skip
        session.add(row)
        session.flush()
        key = row.id or 0
        session.add_all(TankRoll(session_id=key, roll_id=view.roll_id, reel=reel) for view, reel in worked.rolls)
        session.flush()
    return key


def steps_json(worked: Worked) -> str:
    """The steps as a session keeps them, with the process and the push they were worked out for."""
    kept = {"process": worked.recipe.process, "push_stops": worked.push_stops, "steps": [asdict(s) for s in worked.steps]}
    return json.dumps(kept, ensure_ascii=False)


def steps_from(text: str) -> tuple[str, float, tuple[SinkStep, ...]]:
    """Process, push in stops and steps, as `steps_json` kept them."""
    kept: dict[str, Any] = json.loads(text)
    steps = [replace(SinkStep(**s), reasons=tuple(s["reasons"]), warnings=tuple(s["warnings"])) for s in kept.get("steps", [])]
    return str(kept.get("process", "")), float(kept.get("push_stops", 0.0)), tuple(steps)
