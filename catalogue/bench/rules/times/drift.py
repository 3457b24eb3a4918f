"""What a bath that cools or warms while film is in it amounts to at the sheet's temperature.

Between two readings the temperature is taken to change evenly. Development adds
up as exp(k · (T − T₀)) over time, which such a straight piece integrates exactly.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise
from math import exp, expm1, isfinite, log

from catalogue.bench.rules.figures import LONGEST_SECONDS, checked_seconds, format_time, plain, temperature_words
from catalogue.bench.rules.times.development import TemperatureRule
from catalogue.errors import InvalidInput

NOTHING_TO_MEND = 1.0  # seconds; less than a hand is quick


@dataclass(frozen=True)
class TemperatureReading:
    """A bath's temperature in °C, `seconds` after the developer went in."""

    seconds: float
    celsius: float

    def __post_init__(self) -> None:
        if not (isfinite(self.seconds) and 0 <= self.seconds <= LONGEST_SECONDS):
            raise InvalidInput(f"A reading is taken 0 s to 48 hours after pouring in, not at {self.seconds:g} s.")


@dataclass(frozen=True)
class Drift:
    """What readings during development amount to.

    `effective_seconds` is the time at `nominal` °C that has the same effect as the `elapsed_seconds`. `remaining_seconds`
    is how long film must still stay in with the bath held at its last temperature, 0 where it has had enough.
    `longer_by` is what that adds to the planned time (negative: shorter); where development was already over,
    `overdone_seconds` says by how much, in seconds at `nominal`.
    """

    nominal: float
    nominal_seconds: float
    elapsed_seconds: float
    effective_seconds: float
    mean_celsius: float
    last_celsius: float
    remaining_seconds: float
    longer_by: float
    overdone_seconds: float

    def words(self, unit: str = "°C") -> str:
        """What has happened and what to do."""
        at = temperature_words(self.nominal, unit)
        said = (
            f"{format_time(self.elapsed_seconds)} so far count as {format_time(self.effective_seconds)} at {at}, "
            f"as if the bath had stood at {temperature_words(self.mean_celsius, unit)} throughout. "
        )
        if self.overdone_seconds > NOTHING_TO_MEND:
            percent = 100 * self.overdone_seconds / self.nominal_seconds
            return said + (
                f"That is {format_time(self.overdone_seconds)} ({plain(percent)} %) more than "
                f"{format_time(self.nominal_seconds)}. Pour out now."
            )
        if self.remaining_seconds <= NOTHING_TO_MEND:
            return said + "That is what was wanted. Pour out now."
        change = (
            "as planned"
            if abs(self.longer_by) < NOTHING_TO_MEND
            else f"{format_time(abs(self.longer_by))} {'longer' if self.longer_by > 0 else 'shorter'} than planned"
        )
        return said + (
            f"If it stays at {temperature_words(self.last_celsius, unit)}, leave the film in for another "
            f"{format_time(self.remaining_seconds)}, {change}."
        )


def start_and_end(start: float, end: float, seconds: float) -> tuple[TemperatureReading, TemperatureReading]:
    """Readings from the temperature in °C when the developer went in and `seconds` later."""
    return TemperatureReading(0, start), TemperatureReading(checked_seconds(seconds), end)


def effective_seconds(readings: Iterable[TemperatureReading], nominal: float, rule: TemperatureRule) -> float:
    """The time at `nominal` °C with the same effect as what the readings span: ∫ exp(k · (T − T₀)) dt.

    Needs two readings or more, the first at 0 s, in order of time; every temperature must lie in the rule's range.
    Raises `InvalidInput`.
    """
    taken = tuple(readings)
    if len(taken) < 2:
        raise InvalidInput(f"It takes two readings or more to follow a temperature, not {len(taken)}. Give start and end.")
    if taken[0].seconds != 0:
        raise InvalidInput(f"The first reading belongs to pouring in, 0 s, not {taken[0].seconds:g} s. Add the start.")
    rule.checked(nominal)
    total = 0.0
    for one, other in pairwise(taken):
        if other.seconds <= one.seconds:
            raise InvalidInput(
                f"Readings go forward in time, but {other.seconds:g} s follows {one.seconds:g} s. Put them in order."
            )
        at_start = rule.coefficient * (rule.checked(one.celsius) - nominal)
        change = rule.coefficient * (rule.checked(other.celsius) - one.celsius)
        # ∫ exp(a + c·s) ds over 0..1 is exp(a) · (exp(c) − 1) / c, and exp(a) where nothing changes.
        mean = expm1(change) / change if change else 1.0
        total += (other.seconds - one.seconds) * exp(at_start) * mean
    return total


def drift(
    readings: Iterable[TemperatureReading],
    nominal: float,
    nominal_seconds: float,
    rule: TemperatureRule,
    planned_seconds: float | None = None,
) -> Drift:
    """What the readings so far amount to, and how long film must stay in to have had `nominal_seconds` at `nominal` °C.

    `planned_seconds` is the time that was set, if it isn't `nominal_seconds`. Raises `InvalidInput` for readings out
    of order and temperatures out of the rule's range.
    """
    taken = tuple(readings)
    wanted = checked_seconds(nominal_seconds)
    planned = wanted if planned_seconds is None else checked_seconds(planned_seconds)
    effective = effective_seconds(taken, nominal, rule)
    elapsed, last = taken[-1].seconds, taken[-1].celsius
    missing = wanted - effective
    remaining = max(missing, 0.0) * rule.factor(nominal, last)
    return Drift(
        nominal=nominal,
        nominal_seconds=wanted,
        elapsed_seconds=elapsed,
        effective_seconds=effective,
        mean_celsius=nominal + log(effective / elapsed) / rule.coefficient,
        last_celsius=last,
        remaining_seconds=remaining,
        longer_by=elapsed + remaining - planned,
        overdone_seconds=max(-missing, 0.0),
    )
