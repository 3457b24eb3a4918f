"""What the temperatures logged during development amount to, by the recipe's own rule."""

from sqlmodel import Session

from catalogue.bench.recipes import recipe_view, temperature_rule
from catalogue.bench.rules.figures import format_time, temperature_words
from catalogue.bench.rules.times.drift import TemperatureReading, effective_seconds
from catalogue.bench.sink.log import moment
from catalogue.bench.sink.sink_views import SessionView
from catalogue.errors import StripleafError
from catalogue.settings import get_units


def development_words(session: Session, view: SessionView) -> str:
    """The developing time as it would have been at the recipe's temperature; nothing where that can't be said.

    It takes a beginning, an end and a temperature at the least, and a recipe that says how its time follows temperature.
    The first temperature stands for pouring in, the last one for pouring out.
    """
    planned = next((s for s in view.steps if s.kind == "developer"), None)
    if planned is None or view.recipe_id is None:
        return ""
    here = [f for f in view.facts if f.step == planned.position]
    begun = [moment(f.at) for f in here if f.what == "begun"]
    ended = [moment(f.at) for f in here if f.what == "ended"]
    warmth = [(moment(f.at), float(f.value)) for f in here if f.what == "temperature"]
    if not begun or not ended or not warmth:
        return ""
    took = (ended[-1] - begun[-1]).total_seconds()
    readings = {0.0: warmth[0][1]}
    readings |= {s: c for at, c in warmth if 0 < (s := (at - begun[-1]).total_seconds()) < took}
    readings[took] = warmth[-1][1]
    try:
        recipe = recipe_view(session, view.recipe_id)
        step = next(s for s in recipe.steps if s.position == planned.position)
        rule = temperature_rule(step)
        if rule is None or step.temperature_c is None:
            return ""
        taken = [TemperatureReading(at, celsius) for at, celsius in sorted(readings.items())]
        counts = effective_seconds(taken, step.temperature_c, rule)
    except (StripleafError, StopIteration):  # the rule doesn't reach so far, or the recipe is another by now
        return ""
    at = temperature_words(step.temperature_c, get_units(session).temperature)
    return f"The {format_time(took)} in the developer count as {format_time(counts)} at {at}."
