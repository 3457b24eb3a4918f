"""The entries of a bottle's ledger: what a person did, one frozen record each.

An entry has its `number` in the ledger (from 1; 0 until it is written), the day
`on` which it was done, and a free `note`. Nothing is ever rubbed out: `Undone`
and `Corrected` are entries themselves. Volumes are ml, times seconds, film is
counted in units (see `film_area`), all exact fractions. Every class refuses
impossible values with `InvalidInput`.
"""

from dataclasses import dataclass
from datetime import date
from fractions import Fraction

from catalogue.bench.rules.baths.film_area import Amount, checked_weight, exact, number_text
from catalogue.errors import InvalidInput
from catalogue.film.roll_numbers import parse_roll_number

MOST_ML = 1_000_000
MOST_DAYS = 36_500


def ml_text(ml: Fraction) -> str:
    """A volume as it is spoken of: "600 ml"."""
    return f"{number_text(ml, 1)} ml"


def _volume(ml: Amount, what: str) -> Fraction:
    found = exact(ml, what)
    if not 0 < found <= MOST_ML:
        raise InvalidInput(f"{what} lies above 0 and up to {MOST_ML} ml, not at {number_text(found)}.")
    return found


def _words(text: str, what: str, *, needed: bool, longest: int = 400) -> str:
    plain = " ".join(text.split())
    if needed and not plain:
        raise InvalidInput(f"{what} is missing. Write a few words.")
    if len(plain) > longest:
        raise InvalidInput(f"{what} has {len(plain)} characters. Keep to {longest}.")
    return plain


def same_words(one: str, other: str) -> bool:
    """Whether two names mean the same thing: letter case and spaces don't count."""
    return " ".join(one.split()).casefold() == " ".join(other.split()).casefold()


@dataclass(frozen=True)
class BottleSize:
    """A physical vessel, with the volume it holds in ml."""

    name: str
    volume_ml: Fraction

    def __init__(self, name: str, volume_ml: Amount) -> None:
        object.__setattr__(self, "name", _words(name, "The bottle's name", needed=True, longest=80))
        object.__setattr__(self, "volume_ml", _volume(volume_ml, "The volume of a bottle"))


@dataclass(frozen=True)
class BathFacts:
    """What is filled in: the chemical, its volume, its day, what it can do and how long it keeps.

    `capacity` is in units for the whole mixed volume, None where nobody knows.
    The days are the person's or the maker's figures: `mixed_days` counts from
    mixing, `open_days` from the first opening. A one-shot bath is used once
    and thrown away. `replenish_ml` is the replenisher in ml for each unit.
    """

    chemical: str
    volume_ml: Amount
    mixed_on: date
    capacity: Amount | None = None
    mixed_days: int | None = None
    open_days: int | None = None
    one_shot: bool = False
    replenish_ml: Amount | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "chemical", _words(self.chemical, "The name of the chemical", needed=True, longest=120))
        object.__setattr__(self, "volume_ml", _volume(self.volume_ml, "The volume of a bath"))
        if self.capacity is not None:
            capacity = exact(self.capacity, "A capacity in units")
            if not 0 < capacity <= 100_000:
                raise InvalidInput(
                    f"A capacity lies above 0 and up to 100000 units, not at {number_text(capacity)}. Leave it empty if unknown."
                )
            object.__setattr__(self, "capacity", capacity)
        for days in (self.mixed_days, self.open_days):
            if days is not None and not 1 <= days <= MOST_DAYS:
                raise InvalidInput(f"{days} days is out of range for a shelf life. Give 1 to {MOST_DAYS}, or leave it empty.")
        if self.replenish_ml is not None:
            if self.one_shot:
                raise InvalidInput("A one-shot bath is thrown away after use, so it has no replenishment. Leave that empty.")
            object.__setattr__(self, "replenish_ml", _volume(self.replenish_ml, "Replenisher for one unit"))

    @property
    def mixed_ml(self) -> Fraction:
        """The volume as an exact fraction."""
        return exact(self.volume_ml)

    @property
    def capacity_units(self) -> Fraction | None:
        """The capacity as an exact fraction."""
        return None if self.capacity is None else exact(self.capacity)

    @property
    def replenish_ml_per_unit(self) -> Fraction | None:
        """The replenishment rate as an exact fraction."""
        return None if self.replenish_ml is None else exact(self.replenish_ml)


@dataclass(frozen=True)
class RollPass:
    """One roll on its way through a bath: its number, its units of area and its stock's weight."""

    roll: str
    units: Amount = 1
    weight: Amount = 1

    def __post_init__(self) -> None:
        object.__setattr__(self, "roll", parse_roll_number(self.roll))
        units = exact(self.units, "Units of film")
        if not 0 < units <= 1000:
            raise InvalidInput(f"{self.roll}: units of film lie above 0 and up to 1000, not at {number_text(units)}.")
        object.__setattr__(self, "units", units)
        object.__setattr__(self, "weight", checked_weight(self.weight))

    @property
    def takes(self) -> Fraction:
        """Weighted units: what the roll takes out of the bath."""
        return exact(self.units) * exact(self.weight)


@dataclass(frozen=True, kw_only=True)
class Entry:
    """What all entries have: the day it was done, a note, and the number the ledger gives it."""

    on: date
    note: str = ""
    number: int = 0

    def __post_init__(self) -> None:
        object.__setattr__(self, "note", _words(self.note, "A note", needed=False))
        if self.number < 0:
            raise InvalidInput(f"Entries are numbered from 1, not {self.number}.")


@dataclass(frozen=True, kw_only=True)
class Filled(Entry):
    """A bath was filled into the bottle; `word` says why, if it's another chemical than the bottle's first."""

    bath: BathFacts
    word: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "word", _words(self.word, "The word about another chemical", needed=False))
        if self.bath.mixed_on > self.on:
            raise InvalidInput(
                f"{self.bath.chemical} can't have been filled in on {self.on} and mixed later, on {self.bath.mixed_on}. "
                "Check both days."
            )


@dataclass(frozen=True, kw_only=True)
class Opened(Entry):
    """The bottle was opened for the first time since it was filled."""


@dataclass(frozen=True, kw_only=True)
class RollsDone(Entry):
    """Rolls went through the bath together.

    `ml` is what was taken out of the bottle for it, None where that isn't
    followed. `again` says why, if a roll goes through the same bath once more.
    """

    rolls: tuple[RollPass, ...]
    ml: Amount | None = None
    again: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "rolls", distinct(self.rolls))
        object.__setattr__(self, "again", _words(self.again, "The word about a second pass", needed=False))
        if self.ml is not None:
            object.__setattr__(self, "ml", _volume(self.ml, "What is taken out of a bottle"))


@dataclass(frozen=True, kw_only=True)
class PouredBack(Entry):
    """What was out in the tank came back into the bottle, with the rolls it had done."""

    ml: Amount

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "ml", _volume(self.ml, "What is poured back"))


@dataclass(frozen=True, kw_only=True)
class Replenished(Entry):
    """Replenisher was added, after some of the bath was drawn off for it.

    `ml_per_unit` is the rate where it differs from the bath's own.
    """

    ml: Amount
    drawn_off_ml: Amount = 0
    ml_per_unit: Amount | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "ml", _volume(self.ml, "Replenisher"))
        object.__setattr__(self, "drawn_off_ml", exact(self.drawn_off_ml, "What is drawn off in ml"))
        if self.ml_per_unit is not None:
            object.__setattr__(self, "ml_per_unit", _volume(self.ml_per_unit, "Replenisher for one unit"))


@dataclass(frozen=True, kw_only=True)
class ClearingMeasured(Entry):
    """A leader cleared in so many seconds in this fixer; `fresh` marks the time of the fresh bath."""

    seconds: int
    fresh: bool = False

    def __post_init__(self) -> None:
        super().__post_init__()
        if not 1 <= self.seconds <= 7200:
            raise InvalidInput(f"A clearing time of {self.seconds} s is out of range. Give 1 to 7200 seconds.")


@dataclass(frozen=True, kw_only=True)
class Emptied(Entry):
    """The bath was thrown away: all of it, or `ml` of it."""

    ml: Amount | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.ml is not None:
            object.__setattr__(self, "ml", _volume(self.ml, "What is thrown away"))


@dataclass(frozen=True, kw_only=True)
class Overruled(Entry):
    """The person's word that these rolls may go in though the bath is past its capacity; good for one pass each."""

    reason: str
    rolls: tuple[str, ...]

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "reason", _words(self.reason, "The reason for overruling", needed=True))
        object.__setattr__(self, "rolls", tuple(parse_roll_number(roll) for roll in self.rolls))
        if not self.rolls:
            raise InvalidInput("An overruling names the rolls it is for. Give one roll number at least.")


Deed = Filled | Opened | RollsDone | PouredBack | Replenished | ClearingMeasured | Emptied | Overruled
"""What can be undone or corrected because it happened at the bench."""


@dataclass(frozen=True, kw_only=True)
class Undone(Entry):
    """Entry `of` doesn't count; it stays in the ledger, marked. Undoing an `Undone` brings the entry back."""

    of: int
    word: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "word", _words(self.word, "The word about undoing", needed=False))


@dataclass(frozen=True, kw_only=True)
class Corrected(Entry):
    """Entry `of` was written wrongly; `instead` counts in its place."""

    of: int
    instead: Deed
    word: str = ""

    def __post_init__(self) -> None:
        super().__post_init__()
        object.__setattr__(self, "word", _words(self.word, "The word about the correction", needed=False))


AnyEntry = Deed | Undone | Corrected
Ledger = tuple[AnyEntry, ...]
"""A bottle's entries in the order they were written; nothing is ever taken out."""


def distinct(rolls: tuple[RollPass, ...]) -> tuple[RollPass, ...]:
    """The rolls of one pass; refuses none at all and the same one twice."""
    if not rolls:
        raise InvalidInput("No roll is named. Give one roll number at least.")
    seen: set[str] = set()
    for one in rolls:
        if one.roll.casefold() in seen:
            raise InvalidInput(f"Roll {one.roll} is named twice in one pass. Name it once.")
        seen.add(one.roll.casefold())
    return tuple(rolls)
