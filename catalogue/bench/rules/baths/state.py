"""A bath and its bottle as they stand: what the ledger folds into."""

from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction

from catalogue.bench.rules.baths.entries import BathFacts, BottleSize, RollPass


@dataclass(frozen=True)
class DonePass:
    """One roll that went through: when, by which entry, why again (if so) and why past the capacity (if so)."""

    roll: RollPass
    on: date
    entry: int
    again: str = ""
    overruled: str = ""


@dataclass(frozen=True)
class Clearing:
    """A clearing time in seconds as measured on a day; `fresh` for the fresh bath."""

    on: date
    seconds: int
    fresh: bool


@dataclass(frozen=True)
class BathState:
    """One filling as it stands. `entry` is the number of the entry that filled it, and names the bath in its bottle.

    Volumes are ml, capacity is units. `restored` is what replenishing gave
    back, `thrown` the capacity that went with bath thrown away in part.
    """

    entry: int
    facts: BathFacts
    filled_on: date
    in_bottle_ml: Fraction
    opened_on: date | None = None
    out_ml: Fraction = Fraction(0)
    lost_ml: Fraction = Fraction(0)
    passes: tuple[DonePass, ...] = ()
    restored: Fraction = Fraction(0)
    thrown: Fraction = Fraction(0)
    clearings: tuple[Clearing, ...] = ()
    granted: tuple[tuple[str, str], ...] = ()
    remarks: tuple[str, ...] = ()
    emptied_on: date | None = None

    @property
    def done_units(self) -> Fraction:
        """Weighted units of all rolls that went through."""
        return sum((one.roll.takes for one in self.passes), Fraction(0))

    @property
    def used_units(self) -> Fraction:
        """Weighted units that lie on the bath now: done, less what replenishing restored.

        A one-shot bath is fresh for every roll, so nothing lies on it.
        """
        return Fraction(0) if self.facts.one_shot else self.done_units - self.restored

    @property
    def left(self) -> Fraction | None:
        """Units it still takes; None if the capacity is unknown, below 0 only where that was overruled.

        What is left of a one-shot bath is the share of its capacity that is still in the bottle.
        """
        capacity = self.facts.capacity_units
        if capacity is None:
            return None
        if self.emptied_on is not None:
            return Fraction(0)
        if self.facts.one_shot:
            return capacity * self.in_bottle_ml / self.facts.mixed_ml
        return capacity - self.used_units - self.thrown

    @property
    def open_since(self) -> date | None:
        """The day it was opened; a bath that film went through was opened that day at the latest."""
        return min([day for day in (self.opened_on, *(one.on for one in self.passes)) if day], default=None)

    @property
    def discard_on(self) -> date | None:
        """The last day of its shelf life: the earlier of mixed + life and opened + open life."""
        ends = [self.facts.mixed_on + timedelta(self.facts.mixed_days)] if self.facts.mixed_days else []
        if self.facts.open_days and self.open_since:
            ends.append(self.open_since + timedelta(self.facts.open_days))
        return min(ends, default=None)

    def has_done(self, roll: str) -> bool:
        """Whether the roll went through already; letter case doesn't count."""
        return any(one.roll.roll.casefold() == roll.casefold() for one in self.passes)


@dataclass(frozen=True)
class BottleState:
    """A bottle as it stands: its one chemical, the bath in it (None if empty), and those before, oldest first."""

    bottle: BottleSize
    chemical: str = ""
    bath: BathState | None = None
    former: tuple[BathState, ...] = ()

    @property
    def baths(self) -> tuple[BathState, ...]:
        """All fillings, oldest first."""
        return (*self.former, self.bath) if self.bath else self.former
