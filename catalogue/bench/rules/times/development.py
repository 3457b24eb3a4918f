"""How long to develop at another temperature than the sheet's.

The rate of development is taken to grow by the same factor with each degree:
t = t₀ · exp(−k · (T − T₀)), T in °C. That is a fit to published charts and holds
over a few degrees only, so every rule states its range and refuses beyond it.
A maker's own chart for film and developer goes before any of this.
"""

from dataclasses import dataclass
from math import exp, isfinite, log

from catalogue.bench.rules.figures import checked_celsius, checked_seconds, format_time, plain, temperature_words
from catalogue.errors import InvalidInput

SHORTEST_EVEN_SECONDS = 300.0  # common practice, no published source
BLACK_AND_WHITE_RANGE = (18.0, 24.0)  # °C; common practice, no published source


@dataclass(frozen=True)
class TemperatureRule:
    """How time follows temperature between `low` and `high` °C.

    `coefficient` is k per °C: 0.081 shortens by 8 % for one degree up. `source` says where it comes from.
    """

    coefficient: float
    low: float
    high: float
    source: str = ""

    def __post_init__(self) -> None:
        if not (isfinite(self.coefficient) and 0.005 <= self.coefficient <= 0.3):
            raise InvalidInput(
                f"A temperature coefficient lies between 0.005 and 0.3 per °C, not {self.coefficient:.4g}. "
                "Usual for black-and-white is about 0.08."
            )
        checked_celsius(self.low)
        checked_celsius(self.high)
        if not self.low < self.high:
            raise InvalidInput(f"A range goes from a lower to a higher temperature, not {self.low:g} to {self.high:g} °C.")

    @classmethod
    def from_two_points(
        cls, first: tuple[float, float], second: tuple[float, float], low: float | None = None, high: float | None = None
    ) -> "TemperatureRule":
        """From two times of a sheet, each (°C, seconds): the straight line in the logarithm of time.

        Valid between the two temperatures unless `low` or `high` widen it. Refuses equal temperatures and a time that
        doesn't fall as it gets warmer.
        """
        (cold, slow), (warm, quick) = sorted((first, second))
        for celsius, seconds in (first, second):
            checked_celsius(celsius)
            checked_seconds(seconds)
        if warm - cold < 0.5:
            raise InvalidInput(f"{cold:g} and {warm:g} °C are too close to tell anything. Take two times a degree or more apart.")
        if quick >= slow:
            raise InvalidInput(
                f"The warmer bath must be quicker, but {format_time(slow)} at {cold:g} °C and {format_time(quick)} at "
                f"{warm:g} °C are given. Check which is which."
            )
        source = f"{format_time(slow)} at {temperature_words(cold)} and {format_time(quick)} at {temperature_words(warm)}"
        low, high = cold if low is None else low, warm if high is None else high
        return cls(log(slow / quick) / (warm - cold), low, high, source)

    def checked(self, celsius: float) -> float:
        """The temperature as it is, if the rule reaches it; raises `InvalidInput` with the range."""
        if not (isfinite(celsius) and self.low <= celsius <= self.high):
            raise InvalidInput(
                f"{plain(celsius, 2)} °C is outside {plain(self.low, 2)} to {plain(self.high, 2)} °C, where this rule holds. "
                "Bring the bath into that range, or use a time from the maker's sheet."
            )
        return celsius

    def factor(self, nominal: float, actual: float) -> float:
        """What to multiply the time at `nominal` °C by to develop at `actual` °C; both must lie in the range."""
        return exp(-self.coefficient * (self.checked(actual) - self.checked(nominal)))

    def words(self) -> str:
        """The rule with its range."""
        return (
            f"{plain(100 * (1 - exp(-self.coefficient)))} % shorter for each degree warmer, "
            f"from {temperature_words(self.low)} to {temperature_words(self.high)}"
        )


COMMON_BLACK_AND_WHITE = TemperatureRule(
    0.081, 18.0, 26.0, "fits the usual published chart for black-and-white; common practice, no published source"
)
"""A starting value where film and developer have no chart of their own."""


@dataclass(frozen=True)
class CorrectedTime:
    """A developing time at another temperature; `warnings` are sentences, empty where all is usual."""

    seconds: float
    nominal_seconds: float
    nominal: float
    actual: float
    warnings: tuple[str, ...]

    @property
    def factor(self) -> float:
        """What the nominal time was multiplied by."""
        return self.seconds / self.nominal_seconds

    def words(self, unit: str = "°C") -> str:
        """ "6:52 at 24 °C instead of 9:30 at 20 °C"; `unit` as in `Units.temperature`."""
        return (
            f"{format_time(self.seconds)} at {temperature_words(self.actual, unit)} instead of "
            f"{format_time(self.nominal_seconds)} at {temperature_words(self.nominal, unit)}"
        )


def time_at(
    nominal_seconds: float,
    nominal: float,
    actual: float,
    rule: TemperatureRule = COMMON_BLACK_AND_WHITE,
    black_and_white: bool = True,
) -> CorrectedTime:
    """The time at `actual` °C for one of `nominal_seconds` at `nominal` °C.

    Raises `InvalidInput` with the range in it where either temperature lies outside the rule's.
    """
    seconds = checked_seconds(nominal_seconds) * rule.factor(nominal, actual)
    return CorrectedTime(seconds, nominal_seconds, nominal, actual, warnings(seconds, actual, black_and_white))


def warnings(seconds: float, celsius: float, black_and_white: bool = True) -> tuple[str, ...]:
    """What to think of before pouring in; sentences for a person, common practice, no published source.

    Under 5 minutes development tends to be uneven. Colour developers are made for shorter times and higher
    temperatures, so nothing is said about those.
    """
    said = []
    low, high = BLACK_AND_WHITE_RANGE
    if black_and_white and seconds < SHORTEST_EVEN_SECONDS:
        said.append(
            f"{format_time(seconds)} is under {format_time(SHORTEST_EVEN_SECONDS)}: development may come out uneven. "
            "Dilute more or work cooler."
        )
    if black_and_white and not low <= celsius <= high:
        said.append(
            f"{temperature_words(celsius)} is outside {low:g} to {high:g} °C, usual for black-and-white: "
            + ("cold developer may not finish its work." if celsius < low else "warm emulsion is soft and scratches easily.")
        )
    return tuple(said)
