"""How strong a solution is mixed, and what goes into the cylinder for a volume.

Parts are written with "+": 1+9 is one part concentrate and nine parts water, ten
in all. A colon is read in two ways (1+9 by most in the darkroom, one in nine in
a laboratory), so that is asked and never guessed. Both readings are common
practice, no published source.
"""

import re
from dataclasses import dataclass
from functools import reduce
from math import gcd, isfinite
from typing import Literal

from catalogue.bench.rules.figures import checked_ml, parse_number, plain, volume_words
from catalogue.errors import InvalidInput

ColonMeans = Literal["plus", "in all"]

MOST_CONCENTRATES = 4
MOST_PARTS = 10_000.0

# What can be told apart on the glass, in ml, by the amount: a syringe, then ever larger cylinders. Common practice.
GRADUATIONS: tuple[tuple[float, float], ...] = ((10, 0.1), (50, 0.5), (200, 1), (500, 5), (float("inf"), 10))
_STOCK = frozenset({"stock", "neat", "undiluted", "full strength"})
_LETTERS = "ABCD"


@dataclass(frozen=True)
class Amounts:
    """What to measure out, in ml: each concentrate in the order of its parts, then water."""

    concentrates: tuple[float, ...]
    water: float

    @property
    def total(self) -> float:
        """The whole volume in ml."""
        return sum(self.concentrates) + self.water

    def words(self, unit: str = "ml") -> str:
        """ "60 ml concentrate + 540 ml water"; several concentrates are A, B and so on."""
        many = len(self.concentrates) > 1
        said = [
            f"{volume_words(ml, unit)} {f'concentrate {_LETTERS[nr]}' if many else 'concentrate'}"
            for nr, ml in enumerate(self.concentrates)
        ]
        return " + ".join([*said, f"{volume_words(self.water, unit)} water"] if self.water else said)


@dataclass(frozen=True)
class Dilution:
    """Parts of each concentrate, then parts of water; refuses what can't be mixed.

    `concentrates` has one entry, or one for each of a concentrate's up to four bottles (A, B, …). `water` 0 is stock.
    """

    concentrates: tuple[float, ...]
    water: float

    def __post_init__(self) -> None:
        if not 1 <= len(self.concentrates) <= MOST_CONCENTRATES:
            raise InvalidInput(
                f"A dilution has 1 to {MOST_CONCENTRATES} concentrates, not {len(self.concentrates)}. Write for example 1+9."
            )
        if any(not (isfinite(part) and 0 < part <= MOST_PARTS) for part in self.concentrates):
            said = ", ".join(f"{part:.10g}" for part in self.concentrates)
            raise InvalidInput(f"Parts of concentrate lie over 0 and up to {MOST_PARTS:.0f}, not {said}. Write for example 1+9.")
        if not (isfinite(self.water) and 0 <= self.water <= MOST_PARTS):
            raise InvalidInput(
                f"Parts of water lie between 0 and {MOST_PARTS:.0f}, not {self.water:.10g}. Write for example 1+9."
            )

    @property
    def parts_concentrate(self) -> float:
        """Parts of all concentrates together."""
        return sum(self.concentrates)

    @property
    def parts_total(self) -> float:
        """Parts in all, water with them."""
        return self.parts_concentrate + self.water

    @property
    def is_stock(self) -> bool:
        """No water goes into it."""
        return self.water == 0

    @property
    def text(self) -> str:
        """As it is written everywhere: "1+9", "1+1+8", stock as "1+0"."""
        return "+".join(f"{part:.10g}" for part in (*self.concentrates, self.water))

    def words(self) -> str:
        """The parts spelt out, with their sum."""
        if self.is_stock and len(self.concentrates) == 1:
            return "stock, no water"
        names = _LETTERS if len(self.concentrates) > 1 else ""
        said = [f"{_parts(part)} concentrate{f' {names[nr]}' if names else ''}" for nr, part in enumerate(self.concentrates)]
        said += [f"{_parts(self.water)} water"] if self.water else []
        return f"{' + '.join(said)} = {_parts(self.parts_total)} in all"

    def amounts(self, volume_ml: float) -> Amounts:
        """What makes `volume_ml` ml of it, exactly; the sum is the volume."""
        volume = checked_ml(volume_ml)
        shares = tuple(volume * part / self.parts_total for part in self.concentrates)
        return Amounts(shares, volume * self.water / self.parts_total)

    def measured(self, volume_ml: float) -> Amounts:
        """The same as a cylinder can show it; the sum stays `volume_ml`.

        Each concentrate is rounded to its graduation (`GRADUATIONS`), water takes up the difference. Without enough
        water to take it up the amounts stay exact. Refuses an amount under 0.1 ml, which nobody can measure.
        """
        exact = self.amounts(volume_ml)
        if (least := min(exact.concentrates)) < 0.1:
            more = volume_ml * 0.1 / least
            raise InvalidInput(
                f"{plain(volume_ml)} ml at {self.text} take {least:.2g} ml of concentrate, less than can be measured (0.1 ml). "
                f"Mix at least {plain(more, 0)} ml, or make a weaker stock first."
            )
        rounded = tuple(_graduated(ml) for ml in exact.concentrates)
        water = volume_ml - sum(rounded)
        return Amounts(rounded, water) if not self.is_stock and water > 0 else exact


STOCK = Dilution((1,), 0)
"""Undiluted, written 1+0."""


class AmbiguousRatio(InvalidInput):
    """A ratio written with a colon: `plus` and `in_all` are its two meanings, for the edge to ask and remember."""

    def __init__(self, written: str, plus: Dilution, in_all: Dilution) -> None:
        self.written, self.plus, self.in_all = written, plus, in_all
        super().__init__(
            f"“{written}” is read in two ways: {plus.text} ({plus.words()}) or, as one amount in the whole, "
            f"{in_all.text} ({in_all.words()}). Write {plus.text} or {in_all.text}."
        )


def parse(text: str, colon_means: ColonMeans | None = None) -> Dilution:
    """The dilution in "1+9", "1 + 9", "1+1+8" (A, B, water) or "stock"; whole parts in lowest terms, 2+18 as 1+9.

    "1:9" raises `AmbiguousRatio` unless `colon_means` says how the person reads it: "plus" as 1+9, "in all" as one in
    nine, 1+8. Anything else raises `InvalidInput`.
    """
    given = " ".join(text.split())
    if given.lower() in _STOCK:
        return STOCK
    if len(given) > 40 or not re.fullmatch(r"[0-9.,]+(?: ?\+ ?[0-9.,]+)+|[0-9.,]+(?: ?: ?[0-9.,]+)+", given):
        raise InvalidInput(f"“{given[:40]}” is not a dilution. Write for example 1+9, 1+1+8 or stock.")
    parts = [parse_number(part) for part in re.split(r"[+:]", given)]
    plus = _lowest(parts)
    if "+" in given or colon_means == "plus":
        return plus
    inside = parts[-1] - sum(parts[:-1])
    if inside < 0:
        first, last = f"{'+'.join(f'{part:g}' for part in parts)}", f"{'+'.join(f'{part:g}' for part in reversed(parts))}"
        raise InvalidInput(
            f"“{given}” can't be {sum(parts[:-1]):g} in {parts[-1]:g}. Write {first} or {last}, concentrate first, water last."
        )
    in_all = _lowest([*parts[:-1], inside])
    if colon_means == "in all":
        return in_all
    raise AmbiguousRatio(given, plus, in_all)


def _lowest(parts: list[float]) -> Dilution:
    made = Dilution(tuple(parts[:-1]), parts[-1])
    if all(part == int(part) for part in parts):
        by = reduce(gcd, (int(part) for part in parts))
        made = Dilution(tuple(int(part) // by for part in parts[:-1]), int(parts[-1]) // by)
    return made


def _graduated(ml: float) -> float:
    step = next(step for up_to, step in GRADUATIONS if ml < up_to)
    return round(round(ml / step) * step, 1)


def _parts(part: float) -> str:
    return f"{part:.10g} {'part' if part == 1 else 'parts'}"
