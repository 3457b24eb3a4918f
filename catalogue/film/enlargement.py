"""Exposure times under the enlarger: steps in stops, and the time for another size or height.

A stop doubles the light, so a time changed by s stops is the time × 2^s. The light on
the paper falls with the square of the distance from the lens, and by the equation of
the thin lens that distance is f × (1 + m) at a magnification m; so for the same lens,
aperture, negative and paper the time goes with ((1 + m2) / (1 + m1))². That is optics;
real paper, lamp and light head depart from it, so it is where a test strip starts.
Lengths in mm, times in seconds, both above zero.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import isfinite, log2

from catalogue.errors import InvalidInput

LONGEST_S = 86_400.0
HIGHEST_MM = 3000.0
MOST_STOPS = 10.0
LEAST_MAGNIFICATION, MOST_MAGNIFICATION = 0.05, 100.0
DIVISIONS = (2, 3)
"""Halves and thirds of a stop: common practice, no published source."""


def checked_time(seconds: float) -> float:
    """The time; raises `InvalidInput` for none or more than a day."""
    if not (isfinite(seconds) and 0 < seconds <= LONGEST_S):
        raise InvalidInput(f"A time of {seconds:g} s is out of range. Give more than 0 and at most {LONGEST_S:.0f} s.")
    return seconds


def checked_height(mm: float) -> float:
    """The enlarger's height; raises `InvalidInput` outside 0 to 3000 mm."""
    if not (isfinite(mm) and 0 < mm <= HIGHEST_MM):
        raise InvalidInput(f"An enlarger height of {mm:g} mm is out of range. Give more than 0 and at most {HIGHEST_MM:.0f} mm.")
    return mm


def checked_size(size_mm: tuple[float, float]) -> tuple[float, float]:
    """Width and height of a print; raises `InvalidInput` outside 5 to 3000 mm."""
    if not all(isfinite(mm) and 5 <= mm <= HIGHEST_MM for mm in size_mm):
        raise InvalidInput(
            f"A print of {size_mm[0]:g} × {size_mm[1]:g} mm is out of range. Give width and height from 5 to {HIGHEST_MM:.0f} mm."
        )
    return size_mm


def magnification(print_mm: tuple[float, float], film_mm: tuple[float, float]) -> float:
    """How much larger the print is than what it shows of the film; long side is held against long side.

    Both as width and height in mm in any order. Raises `InvalidInput` below 0.05 and above 100 times.
    """
    if not all(isfinite(mm) and mm > 0 for mm in (*print_mm, *film_mm)):
        raise InvalidInput("A magnification needs print and film longer than 0 mm. Check the four numbers.")
    # Where the paper cuts a side off, the other one is what was enlarged to it.
    found = max(max(print_mm) / max(film_mm), min(print_mm) / min(film_mm))
    if not LEAST_MAGNIFICATION <= found <= MOST_MAGNIFICATION:
        raise InvalidInput(
            f"{print_mm[0]:g} × {print_mm[1]:g} mm is {found:.3g} times the {film_mm[0]:g} × {film_mm[1]:g} mm on the film. "
            f"Give a print of {LEAST_MAGNIFICATION:g} to {MOST_MAGNIFICATION:g} times."
        )
    return found


def time_for_magnification(seconds: float, m1: float, m2: float) -> float:
    """The time at magnification `m2` of what took `seconds` at `m1`; a starting point for a test strip."""
    for m in (m1, m2):
        if not (isfinite(m) and m > 0):
            raise InvalidInput(f"A magnification of {m:g} is none. Give a number above 0.")
    return checked_time(checked_time(seconds) * ((1 + m2) / (1 + m1)) ** 2)


def time_for_height(seconds: float, height1_mm: float, height2_mm: float) -> float:
    """The time at another height, both from the lens to the paper; a starting point for a test strip.

    The distance is f × (1 + m), so this is the rule of the magnification once more. A scale that
    counts from elsewhere than the lens gives other numbers.
    """
    return checked_time(checked_time(seconds) * (checked_height(height2_mm) / checked_height(height1_mm)) ** 2)


def stepped(seconds: float, stops: float) -> float:
    """The time changed by so many stops: seconds × 2^stops. Raises `InvalidInput` beyond 10 stops."""
    if not (isfinite(stops) and abs(stops) <= MOST_STOPS):
        raise InvalidInput(f"{stops:g} stops are out of range. Give {-MOST_STOPS:g} to +{MOST_STOPS:g}.")
    return checked_time(checked_time(seconds) * 2.0**stops)


def stops_between(seconds: float, other: float) -> float:
    """How many stops `other` is more than `seconds`."""
    return log2(checked_time(other) / checked_time(seconds))


@dataclass(frozen=True)
class Step:
    """One step of a time: how many stops off, the whole time, and what is given more (burn) or held back (dodge), in s."""

    stops: Fraction
    seconds: float
    change_s: float

    @property
    def words(self) -> str:
        """The stops as a printer says them: "+1 1/2", "−1/3", "0"."""
        if not self.stops:
            return "0"
        whole, part = divmod(abs(self.stops), 1)
        sign = "+" if self.stops > 0 else "−"
        return sign + " ".join(str(p) for p in (whole, part) if p)


def steps_of(seconds: float, division: int = 3, reach: int = 1) -> Sequence[Step]:
    """The time from −reach to +reach stops by halves (2) or thirds (3), shortest first. Raises `InvalidInput`."""
    if division not in DIVISIONS:
        raise InvalidInput(f"A stop is divided by 2 or 3 here, not {division}.")
    if not 1 <= reach <= 4:
        raise InvalidInput(f"{reach} stops either way are out of range. Give 1 to 4.")
    found = []
    for n in range(-reach * division, reach * division + 1):
        time = stepped(seconds, n / division)
        found.append(Step(Fraction(n, division), time, time - seconds))
    return tuple(found)


def time_words(seconds: float) -> str:
    """A time as a timer takes it: to a tenth below 100 s, whole seconds above."""
    return f"{seconds:.0f} s" if seconds >= 99.95 else f"{round(seconds, 1):g} s"
