"""A session as the clock and the tank card take it: steps with cues, temperatures in the person's units, cautions."""

from typing import Any

from sqlmodel import Session

from catalogue.bench.rules.cautions import StepKind, cautions_for
from catalogue.bench.rules.figures import temperature_words
from catalogue.bench.rules.times.schedule import Agitation, Kind, TimedStep, steps_as_json
from catalogue.bench.sink.log import session_view
from catalogue.bench.sink.recipe_words import WARM_C, hazards_of
from catalogue.bench.sink.sink_views import SessionView, SinkStep
from catalogue.clock import moment_now
from catalogue.settings import get_units
from catalogue.units import Units

POUR_S = 10
"""Poured out in the last 10 s of a step (US Navy training manual 14209)."""
_TIMED: dict[str, Kind] = {
    "developer": "developer", "water": "rinse", "stop": "stop bath", "bleach": "bleach", "fix": "fixer", "blix": "bleach",
    "wash": "wash", "wetting agent": "wetting agent",
}  # fmt: skip
_GO_TO_WASTE = ("bleach", "fix", "blix")


def hazards(process: str, kinds: list[str], warmest_c: float | None) -> tuple[str, ...]:
    """The cautions for these steps; mixing and storing belong to every session, hot water to warm baths."""
    found: set[StepKind] = {"mixing", "storing"}
    for kind in kinds:
        found |= hazards_of(kind, process)
        if kind in _GO_TO_WASTE:
            found.add("disposal")
    if warmest_c is not None and warmest_c > WARM_C:
        found.add("warm water")
    return cautions_for(found)


def session_cautions(view: SessionView) -> tuple[str, ...]:
    """The cautions for a session's steps."""
    warmest = max((s.temperature_c for s in view.steps if s.temperature_c is not None), default=None)
    return hazards(view.process, [s.kind for s in view.steps], warmest)


def warmth(step: SinkStep, units: Units) -> str:
    """The temperature wanted, with its tolerance, in the person's unit: "37.8 °C ± 0.15"."""
    if step.temperature_c is None:
        return ""
    around = step.tolerance_c or 0
    return temperature_words(step.temperature_c, units.temperature) + (
        f" ± {around if units.temperature == '°C' else around * 9 / 5:.2g}" if around else ""
    )


def timed(step: SinkStep, units: Units) -> TimedStep:
    """A planned step as the clock at the sink runs it."""
    seconds = step.seconds or 1
    rhythm = (step.first_s, step.every_s, step.for_s) if step.every_s else (step.first_s, 0, 0)
    if step.every_s and step.for_s >= step.every_s:  # without a rest
        rhythm = (seconds, 0, 0)
    agitation = Agitation(*rhythm, step.agitation) if step.agitation else Agitation(*rhythm)
    note = ", ".join(t for t in (step.amounts, f"from {step.bottle}" if step.bottle else "") if t)
    return TimedStep(
        step.name[:60], seconds, _TIMED.get(step.kind, "other"), warmth(step, units), agitation,
        POUR_S if seconds > 2 * POUR_S else 0, False, step.temperature_c, note,
    )  # fmt: skip


def clock_state(session: Session, session_id: int) -> dict[str, Any]:
    """The session as the clock reads it: steps counted from 0, the log, and the time here."""
    view, units = session_view(session, session_id), get_units(session)
    return {
        "id": str(view.id),
        "now": moment_now(),
        "unit": units.temperature[-1],
        "steps": steps_as_json(timed(s, units) for s in view.steps),
        "log": [
            {"key": f.key, "step": f.step - 1, "what": f.what, "at": f.at.replace("+00:00", "Z"), "value": f.value or None}
            for f in view.facts
        ],
    }
