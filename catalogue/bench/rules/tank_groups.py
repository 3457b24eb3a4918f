"""Exposed rolls that wait, grouped by what can share a tank, oldest first, with the reason why others can't join.

Film shares a tank where process, developer, dilution, temperature and time are
the same; formats may be mixed as far as the reels fit. Where no time is known,
only rolls of one stock with the same push share, except in C-41 and E-6, which
have one time for every stock (common practice, no published source).
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction

from catalogue.bench.rules.baths.film_area import Amount, exact, number_text
from catalogue.errors import InvalidInput
from catalogue.film.dates import UncertainDate
from catalogue.film.formats import FilmFormat, find_format
from catalogue.film.roll_numbers import sort_text

_ONE_TIME_FOR_ALL = ("c-41", "e-6")


@dataclass(frozen=True)
class RollForTank:
    """An exposed roll and how it is to be developed; empty texts and None where that isn't settled.

    `exposed` gives the days as bounds, None where unknown. Temperature in °C,
    time in the developer in s. Raises `InvalidInput`.
    """

    number: str
    format_key: str
    stock: str = ""
    exposed: UncertainDate | None = None
    process: str = ""
    developer: str = ""
    dilution: str = ""
    temperature_c: float | None = None
    time_s: int | None = None
    ei: float | None = None
    push_stops: float = 0

    def __post_init__(self) -> None:
        if not self.number.strip():
            raise InvalidInput("A waiting roll needs its number.")
        if self.temperature_c is not None and not 0 <= self.temperature_c <= 60:
            raise InvalidInput(f"Roll {self.number}: {self.temperature_c:g} °C is out of range. Give 0 to 60 °C.")
        if self.time_s is not None and not 0 < self.time_s <= 86_400:
            raise InvalidInput(f"Roll {self.number}: {self.time_s} s is out of range. Give 1 second to 24 hours.")
        if not -5 <= self.push_stops <= 5:
            raise InvalidInput(f"Roll {self.number}: {self.push_stops:g} stops is out of range. Give -5 to +5.")

    @property
    def oldest_first(self) -> tuple[bool, date, date, str]:
        """Sort key: earliest day, then latest, then number; rolls without any date come last."""
        first, last = self.exposed.order if self.exposed else (date.max, date.max)
        return (self.exposed is None, first, last, sort_text(self.number))

    @property
    def settled(self) -> bool:
        """Whether it's known how to develop it: a process, or a developer at least."""
        return bool(self.process.strip() or self.developer.strip())


@dataclass(frozen=True)
class TankRoom:
    """What stands in a tank: the height of its column and of a reel for each gauge, in mm.

    The gauges are those of the formats: "135", "120", "220", "127", "110",
    "sheet". A tank without a gauge takes no film of it. Raises `InvalidInput`.
    """

    name: str
    height_mm: Amount
    reel_mm: Mapping[str, Amount] = field(hash=False)

    def __post_init__(self) -> None:
        if not exact(self.height_mm, "A tank's height in mm"):
            raise InvalidInput(f"{self.name}: the height must be above 0 mm.")
        for gauge, height in self.reel_mm.items():
            if not exact(height, "A reel's height in mm"):
                raise InvalidInput(f"{self.name}: a reel for {gauge} must be higher than 0 mm.")

    def height_of(self, gauge: str) -> Fraction | None:
        """A reel's height in mm; None where the tank takes no such film or the reel is higher than the tank."""
        height = exact(self.reel_mm[gauge]) if gauge in self.reel_mm else None
        return height if height is not None and height <= exact(self.height_mm) else None


@dataclass(frozen=True)
class TankGroup:
    """Rolls that share a tank, oldest first.

    `ready` is false where how to develop isn't settled or no tank takes the
    film. `why_not_others` has a sentence for each other group.
    """

    rolls: tuple[RollForTank, ...]
    ready: bool
    why_not_others: tuple[str, ...] = ()

    @property
    def numbers(self) -> tuple[str, ...]:
        """The roll numbers, in order."""
        return tuple(roll.number for roll in self.rolls)


def _plain(text: str) -> str:
    return " ".join(text.split()).casefold()


def _time_key(roll: RollForTank) -> tuple[object, ...]:
    if roll.time_s is not None:
        return ("time", roll.time_s)
    if _plain(roll.process) in _ONE_TIME_FOR_ALL:
        return ("push", roll.push_stops)
    return ("stock", _plain(roll.stock), roll.push_stops)


def _key(roll: RollForTank) -> tuple[object, ...]:
    if not roll.settled:
        return ("not settled",)
    development = (_plain(roll.process), _plain(roll.developer), "".join(_plain(roll.dilution).split()))
    return (*development, roll.temperature_c, _time_key(roll))


def tank_groups(
    rolls: Iterable[RollForTank],
    tank: TankRoom | None = None,
    *,
    mixed_formats: bool = True,
    own: Iterable[FilmFormat] = (),
) -> tuple[TankGroup, ...]:
    """Tankfuls in the order of their oldest roll; every roll is in exactly one.

    Without a `tank` a group is as large as it likes. `own` are the person's
    formats. Raises `UnknownFormat`, or `InvalidInput` for a number given twice.
    """
    waiting, shapes = sorted(rolls, key=lambda roll: roll.oldest_first), tuple(own)
    seen: set[str] = set()
    for roll in waiting:
        if roll.number.casefold() in seen:
            raise InvalidInput(f"Roll {roll.number} waits twice in the list. Name it once.")
        seen.add(roll.number.casefold())
    gauges = {roll.number: find_format(roll.format_key, shapes).gauge for roll in waiting}
    alike: dict[tuple[object, ...], list[RollForTank]] = {}
    for roll in waiting:
        mixing = () if mixed_formats else (gauges[roll.number],)
        alike.setdefault((*_key(roll), *mixing), []).append(roll)
    found = [group for one in alike.values() for group in _tankfuls(one, tank, gauges)]
    found.sort(key=lambda group: group.rolls[0].oldest_first)
    return tuple(
        TankGroup(
            group.rolls,
            group.ready,
            tuple(_why_not(group, other, tank, gauges, mixed_formats) for other in found if other is not group),
        )
        for group in found
    )


def _tankfuls(rolls: list[RollForTank], tank: TankRoom | None, gauges: Mapping[str, str]) -> list[TankGroup]:
    """Each roll into the first tankful with room for its reel, oldest first."""
    ready = rolls[0].settled
    if tank is None:
        return [TankGroup(tuple(rolls), ready)]
    fulls: list[tuple[list[RollForTank], Fraction]] = []
    homeless: list[RollForTank] = []
    for roll in rolls:
        height = tank.height_of(gauges[roll.number])
        if height is None:
            homeless.append(roll)
            continue
        for place, (inside, room) in enumerate(fulls):
            if height <= room:
                inside.append(roll)
                fulls[place] = (inside, room - height)
                break
        else:
            fulls.append(([roll], exact(tank.height_mm) - height))
    groups = [TankGroup(tuple(inside), ready) for inside, _ in fulls]
    return [*groups, TankGroup(tuple(homeless), False)] if homeless else groups


def _time_words(roll: RollForTank) -> str:
    if roll.time_s is not None:
        return f"{roll.time_s // 60}:{roll.time_s % 60:02} min"
    push = f" at {roll.push_stops:+g} stops" if roll.push_stops else ""
    known = "" if _plain(roll.process) in _ONE_TIME_FOR_ALL else f" for {roll.stock or 'an unnamed stock'}"
    return f"no time given{known}{push}"


def _differences(one: RollForTank, other: RollForTank) -> list[str]:
    """How the other is developed differently: "temperature 24 °C, not 20 °C"."""

    def named(text: str) -> str:
        return text.strip() or "not given"

    def warmth(roll: RollForTank) -> str:
        return "not given" if roll.temperature_c is None else f"{roll.temperature_c:g} °C"

    mine, theirs = _key(one), _key(other)
    words = (
        ("process", named(one.process), named(other.process)),
        ("developer", named(one.developer), named(other.developer)),
        ("dilution", named(one.dilution), named(other.dilution)),
        ("temperature", warmth(one), warmth(other)),
        ("time", _time_words(one), _time_words(other)),
    )
    return [
        f"{what} {its}, not {here}"
        for (what, here, its), mine_is, theirs_is in zip(words, mine, theirs, strict=True)
        if mine_is != theirs_is
    ]


def _why_not(group: TankGroup, other: TankGroup, tank: TankRoom | None, gauges: Mapping[str, str], mixed_formats: bool) -> str:
    one, two = group.rolls[0], other.rolls[0]
    numbers = [f"Roll {other.numbers[0]}", f"Rolls {', '.join(other.numbers)}"][len(other.rolls) > 1]
    lead = f"{numbers} can't join"
    if not two.settled:
        return f"{lead}: how to develop is not settled yet. Give a process or a developer."
    if not one.settled:
        return f"{lead}: how to develop {', '.join(group.numbers)} is not settled yet."
    if _key(one) != _key(two):
        return f"{lead}: {'; '.join(_differences(one, two))}."
    mine, its = gauges[one.number], gauges[two.number]
    if not mixed_formats and mine != its:
        return f"{lead}: {its} film is not to be mixed with {mine} film in one tank."
    assert tank is not None  # without a tank, rolls developed alike are one group
    for gauge in (its, mine):
        if tank.height_of(gauge) is None:
            return f"{lead}: {tank.name} takes no {gauge} film."
    room, needed = _room_left(group, tank, gauges), tank.height_of(its) or Fraction(0)
    if needed > room:
        high = f"a reel for {its} is {number_text(needed, 1)} mm high"
        return f"{lead}: {tank.name} has {number_text(room, 1)} mm left beside these, and {high}."
    return f"{lead}: a tank is filled with the older rolls first."


def _room_left(group: TankGroup, tank: TankRoom, gauges: Mapping[str, str]) -> Fraction:
    return exact(tank.height_mm) - sum((tank.height_of(gauges[n]) or Fraction(0) for n in group.numbers), Fraction(0))
