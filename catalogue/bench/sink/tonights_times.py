"""How long a step takes tonight: the recipe's time, by its own tables, at the bath's temperature, pushed and in used bath."""

from dataclasses import dataclass

from catalogue.bench.recipes import temperature_rule
from catalogue.bench.rules.figures import temperature_words
from catalogue.bench.rules.times.development import TemperatureRule, warnings
from catalogue.bench.rules.times.push_pull import STARTING_POINT, PushFactor, PushTable, stops_words
from catalogue.bench.rules.times.use_table import UseTable
from catalogue.bench.waiting_views import StepView
from catalogue.errors import InvalidInput

_SAME = 0.05  # °C that nobody reads off a thermometer


@dataclass(frozen=True)
class StepTime:
    """The time in s, how it came about, and what to look out for; None where the recipe gives no time."""

    seconds: int | None
    reasons: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


def step_time(
    step: StepView,
    *,
    temperature_c: float | None = None,
    push_stops: float = 0.0,
    rolls_done: float = 0.0,
    rolls_now: float = 1.0,
    unit: str = "°C",
    black_and_white: bool = False,
) -> StepTime:
    """The time of a step for the bath as it really is; `rolls_done` counts film by area in a bath used before.

    Raises `InvalidInput` where the recipe says nothing: outside its tables, for a push without table or factor, at
    another temperature without a rule.
    """
    if step.seconds is None and not step.use_table:
        return StepTime(None)
    normal = float(step.seconds or 0)
    seconds, reasons, said = normal, [], []
    if step.use_table and step.solution == "bath":
        use = UseTable(step.use_table).time_for(rolls_done, rolls_now)
        seconds = use.seconds
        reasons.append(use.words)
    if push_stops and step.kind == "developer":
        factor = _push(step, push_stops)
        seconds *= factor
        reasons.append(f"{stops_words(push_stops)}: {factor:.2f} times the normal time.")
        said.append(STARTING_POINT)
    nominal = step.temperature_c
    if temperature_c is not None and nominal is not None and abs(temperature_c - nominal) > max(_SAME, step.tolerance_c or 0):
        seconds *= _warmth(step, nominal, temperature_c, unit)
        reasons.append(f"{temperature_words(temperature_c, unit)} instead of {temperature_words(nominal, unit)}.")
    at = temperature_c if temperature_c is not None else nominal
    if step.kind == "developer" and black_and_white and at is not None:
        said += warnings(seconds, at)
    return StepTime(round(seconds), tuple(reasons), tuple(dict.fromkeys(said)))


def _push(step: StepView, stops: float) -> float:
    if step.push_table:
        pushed = PushTable(step.push_table).time_for(stops)
        return pushed.seconds / pushed.normal_seconds
    if step.push_factor is not None:
        return PushFactor(step.push_factor).time_for(float(step.seconds or 0), stops).seconds / float(step.seconds or 1)
    raise InvalidInput(
        f"{step.name}: the recipe says nothing of {stops_words(stops)}. Add a line of the maker's table, or a factor for a stop."
    )


def _warmth(step: StepView, nominal: float, actual: float, unit: str) -> float:
    rule = temperature_rule(step)
    if rule is None:
        around = f" ± {step.tolerance_c:g} °C" if step.tolerance_c else ""
        raise InvalidInput(
            f"{step.name}: the recipe is for {temperature_words(nominal, unit)}{around} and says nothing of "
            f"{temperature_words(actual, unit)}. Bring the bath to its temperature, or add the maker's times to the recipe."
        )
    if step.temperature_table:
        return _between(step.temperature_table, actual) / float(step.seconds or 1)
    return rule.factor(nominal, actual)


def _between(table: tuple[tuple[float, int], ...], at: float) -> float:
    """The time at a temperature between two lines of the sheet, straight in the logarithm of time."""
    if not table[0][0] <= at <= table[-1][0]:
        TemperatureRule.from_two_points(table[0], table[-1]).checked(at)
    below = max(line for line in table if line[0] <= at)
    above = min(line for line in table if line[0] >= at)
    if below == above:
        return float(below[1])
    rule = TemperatureRule.from_two_points(below, above)
    return below[1] * rule.factor(below[0], at)
