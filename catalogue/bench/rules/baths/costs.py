"""What a roll costs in money, and how long film, chemistry and sleeve pages last at the present pace.

Money is decimal with any text as its currency; amounts in two currencies are
never added, and none is converted. Sums are exact and rounded once, half to
even, so a total may differ by the last digit from the sum of rounded lines.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from math import ceil, floor

from catalogue.bench.rules.baths.film_area import Amount, exact, number_text
from catalogue.errors import InvalidInput


@dataclass(frozen=True)
class Money:
    """An exact amount with its currency as the person writes it."""

    amount: Fraction
    currency: str

    def __init__(self, amount: Amount, currency: str) -> None:
        written = " ".join(currency.split())
        if not 1 <= len(written) <= 12:
            raise InvalidInput(f"A currency is written in 1 to 12 characters, not {len(written)}.")
        object.__setattr__(self, "amount", exact(amount, "A price"))
        object.__setattr__(self, "currency", written)

    def rounded(self, places: int = 2) -> Decimal:
        """The amount with so many decimal places (0 to 6), half to even."""
        if not 0 <= places <= 6:
            raise InvalidInput(f"{places} decimal places are out of range. Give 0 to 6.")
        return Decimal(round(self.amount * 10**places)).scaleb(-places)

    def text(self, places: int = 2) -> str:
        """The amount and its currency: "4.20 crowns"."""
        return f"{self.rounded(places)} {self.currency}"

    def shared(self, parts: Amount) -> "Money":
        """The price of one part; raises `InvalidInput` for no parts."""
        number = exact(parts, "The parts of a price")
        if not number:
            raise InvalidInput("A price can't be shared among 0 parts. Give the number of rolls, units or pages it's for.")
        return Money(self.amount / number, self.currency)

    def times(self, number: Amount) -> "Money":
        """The price of so many."""
        return Money(self.amount * exact(number, "How many"), self.currency)


def total(amounts: Iterable[Money]) -> Money:
    """The exact sum; raises `InvalidInput` for two currencies or nothing to add."""
    found = tuple(amounts)
    currencies = list(dict.fromkeys(one.currency for one in found))
    if len(currencies) != 1:
        if not currencies:
            raise InvalidInput("There is no price to add. Give one at least.")
        raise InvalidInput(f"Amounts in {' and '.join(currencies)} can't be added, for nothing is converted. Give all in one.")
    return Money(sum((one.amount for one in found), Fraction(0)), currencies[0])


@dataclass(frozen=True)
class Chemistry:
    """What a bath costs mixed, and its capacity in units."""

    name: str
    price: Money
    capacity: Amount

    def for_units(self, units: Amount) -> Money:
        """Its share of the price for so many weighted units of film."""
        return self.price.shared(self.capacity).times(units)


@dataclass(frozen=True)
class CostLine:
    """One part of what a roll costs."""

    name: str
    cost: Money


@dataclass(frozen=True)
class RollCost:
    """What a roll costs: its parts, the exact sum and the share of one frame (None without frames)."""

    lines: tuple[CostLine, ...]
    total: Money
    per_frame: Money | None


def roll_cost(
    *,
    film: Money | None = None,
    chemistry: Iterable[Chemistry] = (),
    units: Amount = 1,
    page: Money | None = None,
    pages: Amount = 1,
    frames: int | None = None,
) -> RollCost:
    """The cost of one roll and of a frame on it, from whichever prices are known.

    `units` are the roll's weighted units, `page` the price of one sleeve page,
    `pages` how many the roll fills (a part of one as well). Raises
    `InvalidInput` for no price at all, two currencies, or no frames.
    """
    lines = [CostLine("film", film)] if film else []
    lines += [CostLine(one.name, one.for_units(units)) for one in chemistry]
    if page:
        lines.append(CostLine("sleeve pages", page.times(pages)))
    whole = total(line.cost for line in lines)
    if frames is not None and frames < 1:
        raise InvalidInput(f"A cost can't be shared among {frames} frames. Give 1 or more, or leave it empty.")
    return RollCost(tuple(lines), whole, whole.shared(frames) if frames else None)


@dataclass(frozen=True)
class Supply:
    """Something that is used up: how much is there, how much one roll takes, how much is in a pack when bought.

    `left`, `per_roll` and `pack` are in the same `counted_in` ("pages", "units", "rolls").
    """

    name: str
    left: Amount
    per_roll: Amount
    pack: Amount = 1
    counted_in: str = "units"

    def __post_init__(self) -> None:
        for attribute, what in (("left", "what is left"), ("per_roll", "what a roll takes"), ("pack", "a pack")):
            object.__setattr__(self, attribute, exact(getattr(self, attribute), f"{self.name}: {what}"))
        if not self.per_roll or not self.pack:
            raise InvalidInput(f"{self.name}: what a roll takes and what is in a pack must be above 0.")


@dataclass(frozen=True)
class SupplyOutlook:
    """How long a supply lasts: whole rolls and days (None without a pace), its last day, packs to buy, and all in a sentence."""

    supply: Supply
    rolls: int
    days: int | None
    lasts_until: date | None
    buy_packs: int
    sentence: str


def supply(items: Iterable[Supply], rolls_per_day: Amount, on: date, ahead_days: int = 90) -> tuple[SupplyOutlook, ...]:
    """How long each lasts at this pace, and what to buy to last `ahead_days` (1 to 3650); the scarcest first."""
    a_day = exact(rolls_per_day, "Rolls a day")
    if not 1 <= ahead_days <= 3650:
        raise InvalidInput(f"{ahead_days} days ahead is out of range. Give 1 to 3650.")
    found = [_outlook(item, a_day, on, ahead_days) for item in items]
    return tuple(sorted(found, key=lambda one: (one.days is None, one.days or 0, one.rolls)))


def _outlook(item: Supply, a_day: Fraction, on: date, ahead_days: int) -> SupplyOutlook:
    there, per_roll = exact(item.left), exact(item.per_roll)
    rolls = floor(there / per_roll)
    missing = a_day * ahead_days * per_roll - there
    packs = max(ceil(missing / exact(item.pack)), 0)
    days = floor(there / (per_roll * a_day)) if a_day else None
    last = on + timedelta(days) if days is not None and days < 36_500 else None
    said = f"{item.name}: {number_text(there)} {item.counted_in} left, enough for {rolls} roll{'' if rolls == 1 else 's'}"
    said += f", until {last} at the present pace." if last else "."
    if packs:
        size = f"{number_text(exact(item.pack))} {item.counted_in}"
        said += f" Buy {packs} × {size} to last {ahead_days} days."
    return SupplyOutlook(item, rolls, days, last, packs, said)
