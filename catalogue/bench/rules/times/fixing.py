"""Fixing by the clearing time: how long, how worn the bath is, and when it will be spent.

A scrap of undeveloped film, wetted, clears in the fixer; that time is measured
with every session. Fix for twice that (up to three times, tabular-grain film
longer), and renew the bath when clearing takes twice what it took fresh. Common
practice, no published source.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from math import floor, isfinite
from typing import Literal

from catalogue.bench.rules.figures import format_time, plain
from catalogue.errors import InvalidInput

LEAST_TIMES, MOST_TIMES = 2.0, 3.0
SPENT_AT = 2.0  # times the fresh clearing time
LEAST_READINGS = 3
LONGEST_CLEARING = 1800.0

UseUnit = Literal["rolls", "days"]
State = Literal["can't say yet", "rising", "due", "spent"]


def checked_clearing(seconds: float) -> float:
    """A clearing time in seconds as it is, if it can be one: 1 s to 30 minutes. Raises `InvalidInput`."""
    if not (isfinite(seconds) and 1 <= seconds <= LONGEST_CLEARING):
        raise InvalidInput(
            f"Film clears in 1 s to {LONGEST_CLEARING / 60:.0f} min, not in {seconds:.10g} s. "
            "If it doesn't clear, renew the fixer."
        )
    return seconds


@dataclass(frozen=True)
class FixTime:
    """How long to fix: `seconds` to begin with, up to `at_most_seconds`."""

    clearing_seconds: float
    seconds: float
    at_most_seconds: float

    def words(self) -> str:
        """The time and the rule."""
        upto = f" (up to {format_time(self.at_most_seconds)})" if self.at_most_seconds > self.seconds else ""
        return (
            f"Fix for {format_time(self.seconds)}{upto}: {plain(self.seconds / self.clearing_seconds)} times the "
            f"{format_time(self.clearing_seconds)} it takes to clear."
        )


def fix_time(clearing_seconds: float, times: float = LEAST_TIMES) -> FixTime:
    """Twice the measured clearing time, or up to three `times` it; raises `InvalidInput` outside 2 to 3."""
    if not (isfinite(times) and LEAST_TIMES <= times <= MOST_TIMES):
        raise InvalidInput(f"Film is fixed for {LEAST_TIMES:g} to {MOST_TIMES:g} times its clearing time, not {times:g} times.")
    clearing = checked_clearing(clearing_seconds)
    return FixTime(clearing, clearing * times, clearing * MOST_TIMES)


@dataclass(frozen=True)
class ClearingReading:
    """A clearing time in seconds, taken after `use` rolls through the bath or `use` days since it was mixed."""

    use: float
    seconds: float

    def __post_init__(self) -> None:
        if not (isfinite(self.use) and 0 <= self.use <= 10_000):
            raise InvalidInput(f"A reading is taken after 0 to 10000 rolls or days, not {self.use:g}.")
        checked_clearing(self.seconds)


@dataclass(frozen=True)
class ClearingTrend:
    """Where the clearing time stands and where a straight line through the readings leads.

    `spent_at` is the use, in rolls or days, at which the line passes twice the fresh time; None while nothing can be said.
    """

    state: State
    unit: UseUnit
    fresh_seconds: float
    last: ClearingReading
    spent_at: float | None
    words: str

    def spent_on(self, mixed_on: date) -> date | None:
        """The day on which the line passes the limit, for readings by days; None while nothing can be said."""
        if self.unit != "days" or self.spent_at is None or self.spent_at > 36_500:
            return None
        return mixed_on + timedelta(days=floor(self.spent_at))


def clearing_trend(
    readings: Iterable[ClearingReading], fresh_seconds: float | None = None, unit: UseUnit = "rolls"
) -> ClearingTrend:
    """The trend by least squares, in any order of readings.

    `fresh_seconds` is what it took in the fresh bath; without it the reading at the least use is taken for that. Fewer
    than three readings, readings all at one use, and a trend that doesn't rise say "can't say yet"; a last reading at
    twice the fresh time or more says "spent" whatever the line does. "due" means that the line has passed the limit while
    the last reading has not. Raises `InvalidInput` without any reading.
    """
    taken = sorted(readings, key=lambda reading: reading.use)
    if not taken:
        raise InvalidInput("There is no clearing time yet. Clear a scrap of film in the fixer and write down the seconds.")
    fresh = checked_clearing(taken[0].seconds if fresh_seconds is None else fresh_seconds)
    limit, last = SPENT_AT * fresh, taken[-1]
    # Of several readings at the last use the longest counts: film is not risked on the kinder one.
    last = max((reading for reading in taken if reading.use == last.use), key=lambda reading: reading.seconds)
    slope, intercept = _line(taken) or (None, 0.0)
    rises = len(taken) >= LEAST_READINGS and slope is not None and slope > 0
    crossing = (limit - intercept) / slope if rises and slope else None
    now = f"It cleared in {format_time(last.seconds)}, {plain(last.seconds / fresh)} times the fresh {format_time(fresh)}."
    state: State = "can't say yet"
    if last.seconds >= limit:
        state, words = "spent", f"{now} That is twice or more: don't use it again, mix fresh fixer."
    elif len(taken) < LEAST_READINGS:
        words = f"{now} Can't say yet when it will be spent: {len(taken)} of {LEAST_READINGS} readings."
    elif crossing is None:
        why = "all readings are from one use" if slope is None else "the clearing time doesn't rise"
        words = f"{now} Can't say yet when it will be spent: {why}. Measure again next time."
    elif crossing <= last.use:
        state, words = "due", f"{now} By the trend it is spent already. Measure again before the next roll."
    else:
        state = "rising"
        words = f"{now} By the trend it reaches twice that at about {plain(crossing, 0)} {unit}, now {plain(last.use)}."
        if crossing - taken[0].use > 3 * (last.use - taken[0].use):
            words += " That is far beyond what has been measured, so only a hint."
    return ClearingTrend(state, unit, fresh, last, crossing if state in ("rising", "due") else None, words)


def _line(taken: list[ClearingReading]) -> tuple[float, float] | None:
    """Slope and intercept of the straight line by least squares; None for fewer than two uses."""
    n = len(taken)
    mean_use = sum(reading.use for reading in taken) / n
    mean_seconds = sum(reading.seconds for reading in taken) / n
    spread = sum((reading.use - mean_use) ** 2 for reading in taken)
    if spread < 1e-12:
        return None
    slope = sum((reading.use - mean_use) * (reading.seconds - mean_seconds) for reading in taken) / spread
    return slope, mean_seconds - slope * mean_use
