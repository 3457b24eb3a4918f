"""Longer or shorter development for film exposed at another index than its speed.

Stops are positive where film was underexposed and is developed longer (a push),
negative the other way (a pull). Development lifts shadows little: what comes out
here is a starting point, which every result says.
"""

import re
from bisect import bisect_left
from dataclasses import dataclass
from itertools import pairwise
from math import exp, isfinite, log

from catalogue.bench.rules.figures import checked_seconds, format_time, parse_time
from catalogue.errors import InvalidInput

MOST_STOPS = 6.0
STARTING_POINT = "This is a starting point: try it on a roll that doesn't matter, and write down what came of it."
_SIXTHS = {0: "", 2: "1/3", 3: "1/2", 4: "2/3"}


def stops_words(stops: float) -> str:
    """To a third or a half, whichever is nearer: "+1 1/3", "−1", "normal" for none; +0.32 is "+1/3"."""
    third, half = round(stops * 3) / 3, round(stops * 2) / 2
    nearest = third if abs(stops - third) <= abs(stops - half) else half
    if not nearest:
        return "normal"
    whole, sixths = divmod(round(abs(nearest) * 6), 6)
    said = f"{whole or ''} {_SIXTHS[sixths]}".strip()
    return f"{'+' if nearest > 0 else '−'}{said}"


@dataclass(frozen=True)
class PushedTime:
    """A developing time for `stops` of push or pull."""

    seconds: float
    stops: float
    normal_seconds: float

    def words(self) -> str:
        """The time beside the normal one, and that it is a starting point."""
        if abs(self.stops) < 1e-9:
            return f"{format_time(self.seconds)}, the normal time."
        return (
            f"{format_time(self.seconds)} for {stops_words(self.stops)} instead of {format_time(self.normal_seconds)}. "
            f"{STARTING_POINT}"
        )


@dataclass(frozen=True)
class PushTable:
    """A recipe's own times: (stops, seconds) in rising order, the normal time at 0 among them.

    Between two lines the logarithm of time is drawn straight; beyond the first and the last nothing is said.
    """

    points: tuple[tuple[float, float], ...]
    source: str = ""

    def __post_init__(self) -> None:
        if len(self.points) < 2:
            raise InvalidInput(f"A table of push and pull has two lines or more, not {len(self.points)}. Add another.")
        for stops, seconds in self.points:
            _checked_stops(stops)
            checked_seconds(seconds)
        for (one, first), (other, second) in pairwise(self.points):
            if other <= one:
                raise InvalidInput(f"Stops rise line by line, but {other:g} follows {one:g}. Put the lines in order, each once.")
            if second <= first:
                raise InvalidInput(
                    f"More stops take longer, but {format_time(second)} for {other:g} follows {format_time(first)} for {one:g}. "
                    "Check the times."
                )
        if 0 not in (stops for stops, _ in self.points):
            raise InvalidInput("The table has no normal time. Add a line for 0 stops.")

    @classmethod
    def parse(cls, text: str, source: str = "") -> "PushTable":
        """From lines such as "-1: 4:00", "0: 6:00", "+1: 8:00"; raises `InvalidInput` with the line."""
        points = []
        for line in filter(str.strip, text.replace(";", "\n").splitlines()):
            found = re.fullmatch(r"\s*([+\-−]?\s*[0-9]+(?:[.,][0-9]+)?)\s*(?:stops?)?\s*[:=]\s*(.+)", line)
            if not found:
                raise InvalidInput(f"“{line.strip()[:40]}” is not a line of the table. Write stops, a colon, a time: +1: 8:00.")
            points.append((float(re.sub(r"\s", "", found[1]).replace("−", "-").replace(",", ".")), parse_time(found[2])))
        return cls(tuple(sorted(points)), source)

    @property
    def normal_seconds(self) -> float:
        """The time for 0 stops."""
        return next(seconds for stops, seconds in self.points if stops == 0)

    def time_for(self, stops: float) -> PushedTime:
        """The time for `stops`; refuses what lies outside the table."""
        first, last = self.points[0], self.points[-1]
        if not first[0] <= _checked_stops(stops) <= last[0]:
            raise InvalidInput(
                f"The table goes from {first[0]:+g} to {last[0]:+g} stops, and {stops:+.3g} lies outside. "
                "Look for a time in the maker's sheet."
            )
        at = bisect_left(self.points, (stops, 0.0))
        if self.points[at][0] == stops:
            return PushedTime(self.points[at][1], stops, self.normal_seconds)
        (low, short), (high, long) = self.points[at - 1 : at + 1]
        share = (stops - low) / (high - low)
        return PushedTime(exp(log(short) + share * log(long / short)), stops, self.normal_seconds)


@dataclass(frozen=True)
class PushFactor:
    """A factor for each stop, between `low` and `high` stops, where there is no table."""

    per_stop: float
    low: float = -1.0
    high: float = 2.0
    source: str = "common practice, no published source"

    def __post_init__(self) -> None:
        if not (isfinite(self.per_stop) and 1.0 < self.per_stop <= 3.0):
            raise InvalidInput(f"A factor for one stop lies over 1 and up to 3, not {self.per_stop:g}. Usual is 1.25 to 1.5.")
        if not _checked_stops(self.low) <= 0 <= _checked_stops(self.high):
            raise InvalidInput(f"The range must reach from a pull over 0 to a push, not {self.low:g} to {self.high:g} stops.")

    def time_for(self, normal_seconds: float, stops: float) -> PushedTime:
        """The normal time × factor to the power of `stops`; refuses what lies outside the range."""
        if not self.low <= _checked_stops(stops) <= self.high:
            raise InvalidInput(
                f"This factor is meant for {self.low:+g} to {self.high:+g} stops, and {stops:+.3g} lies outside. "
                "Look for a time in the maker's sheet."
            )
        return PushedTime(checked_seconds(normal_seconds) * self.per_stop**stops, stops, normal_seconds)


def _checked_stops(stops: float) -> float:
    if not (isfinite(stops) and abs(stops) <= MOST_STOPS):
        raise InvalidInput(
            f"Push and pull lie between −{MOST_STOPS:g} and +{MOST_STOPS:g} stops, not {stops:g}. Check the index."
        )
    return stops
