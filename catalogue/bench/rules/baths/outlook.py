"""What a bath's state says before film goes in and afterwards: warnings, who shared it, how long it lasts."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from math import floor
from typing import Literal

from catalogue.bench.rules.baths.bottle import room_for
from catalogue.bench.rules.baths.entries import RollPass, distinct
from catalogue.bench.rules.baths.film_area import Amount, exact, number_text, rolls_text
from catalogue.bench.rules.baths.state import BathState
from catalogue.errors import InvalidInput, NotFound

WarningKind = Literal["capacity", "again", "capacity unknown", "date", "clearing", "remark"]


@dataclass(frozen=True)
class BathWarning:
    """One plain sentence; `must_be_overruled` where the ledger takes the rolls only with the person's word.

    For "capacity" that word is an `Overruled` entry, for "again" the field
    `again` of `RollsDone`; all other kinds are just told.
    """

    kind: WarningKind
    sentence: str
    must_be_overruled: bool


@dataclass(frozen=True)
class Warnings:
    """What is to be said before film goes in, the grave first; false where there is nothing to say."""

    items: tuple[BathWarning, ...] = ()

    def __iter__(self) -> Iterator[BathWarning]:
        return iter(self.items)

    def __len__(self) -> int:
        return len(self.items)

    @property
    def to_overrule(self) -> tuple[BathWarning, ...]:
        """Those that need the person's word."""
        return tuple(one for one in self.items if one.must_be_overruled)

    @property
    def told(self) -> tuple[BathWarning, ...]:
        """Those that are just told."""
        return tuple(one for one in self.items if not one.must_be_overruled)


def _days(number: int) -> str:
    return "1 day" if number == 1 else f"{number} days"


def check_before(bath_state: BathState, rolls: tuple[RollPass, ...], on: date, ml: Amount | None = None) -> Warnings:
    """What speaks against putting these rolls in on this day, taking `ml` out of the bottle (None: not followed).

    Past the capacity, or a roll that went through already, must be overruled;
    age, an unknown capacity, a slow clearing time and remarks are just told
    (a shelf life warns and never blocks: common practice, no published
    source). What can't be done at all is raised: an emptied bath, a day before
    mixing or a roll named twice as `InvalidInput`, more ml than there are as
    `DoesNotFit`.
    """
    name, rolls = bath_state.facts.chemical, distinct(rolls)
    room, taken = room_for(bath_state, rolls, None if ml is None else exact(ml, "What is taken out in ml"))
    if on < bath_state.facts.mixed_on:
        raise InvalidInput(f"{on} is before {name} was mixed, on {bath_state.facts.mixed_on}. Check both days.")
    found: list[BathWarning] = []
    if room is not None and taken > room:
        found.append(BathWarning("capacity", _past_capacity(bath_state, max(room, Fraction(0)), taken), True))
    if again := [one.roll for one in rolls if bath_state.has_done(one.roll)]:
        said = f"Roll {', '.join(again)} went through {name} already."
        found.append(BathWarning("again", said, True))
    if room is None:
        said = f"How much {name} takes isn't known; {rolls_text(bath_state.done_units)} went through so far."
        found.append(BathWarning("capacity unknown", said, False))
    if (left := days_left(bath_state, on)) is not None and left < 0:
        said = f"{name} is past its date by {_days(-left)}: it was good until {bath_state.discard_on}."
        found.append(BathWarning("date", said, False))
    if slow := _slow_clearing(bath_state):
        found.append(BathWarning("clearing", slow, False))
    found += [BathWarning("remark", remark, False) for remark in bath_state.remarks]
    return Warnings(tuple(found))


def _past_capacity(bath: BathState, room: Fraction, taken: Fraction) -> str:
    where = "What is taken of" if bath.facts.one_shot else "The bath of"
    return (
        f"{where} {bath.facts.chemical} takes {rolls_text(room)} more, and these rolls need {number_text(taken)}: "
        f"{number_text(taken - room)} too many."
    )


def _slow_clearing(bath: BathState) -> str:
    """A fixer that takes twice the fresh clearing time is done (common practice, no published source)."""
    fresh = next((one for one in reversed(bath.clearings) if one.fresh), None)
    last = max(bath.clearings, key=lambda one: one.on, default=None)
    if fresh is None or last is None or last.seconds < 2 * fresh.seconds:
        return ""
    return (
        f"{bath.facts.chemical} cleared in {last.seconds} s on {last.on}, and in {fresh.seconds} s when fresh. "
        "At twice the fresh time it is to be renewed."
    )


def left(bath_state: BathState) -> Fraction | None:
    """Units the bath still takes; None if its capacity is unknown."""
    return bath_state.left


def units_done(bath_state: BathState) -> Fraction:
    """Weighted units that lie on the bath now, for a table of times by batch; 0 for a one-shot bath."""
    return bath_state.used_units


def next_roll_number_in_bath(bath_state: BathState) -> int:
    """Which roll of its life the next one is, from 1: whole units that lie on the bath now, plus one."""
    return floor(bath_state.used_units) + 1


def days_left(bath_state: BathState, on: date) -> int | None:
    """Days of shelf life left: 0 on the last day, below 0 past it; None where no shelf life is given."""
    return None if bath_state.discard_on is None else (bath_state.discard_on - on).days


def pace_words(bath_state: BathState, on: date) -> str:
    """Whether capacity or shelf life ends first at the pace since the filling (over a day at least), and when.

    Raises `InvalidInput` for a day before the bath was filled.
    """
    if on < bath_state.filled_on:
        raise InvalidInput(
            f"{bath_state.facts.chemical} was filled on {bath_state.filled_on} only, after {on}. Give a later day."
        )
    name, rest, discard = bath_state.facts.chemical, bath_state.left, bath_state.discard_on
    a_day = bath_state.done_units / max((on - bath_state.filled_on).days, 1)
    runs_out = None
    if rest is not None and a_day and (days := floor(max(rest, Fraction(0)) / a_day)) < 36_500:
        runs_out = on + timedelta(days)
    if runs_out and (discard is None or runs_out <= discard):
        return f"At the present pace of {number_text(a_day * 30, 1)} rolls in 30 days {name} runs out on {runs_out}."
    if discard is None:
        return f"When {name} runs out can't be said yet."
    first = "" if rest is None or not a_day else ", before its capacity is used up"
    return f"{name} reaches the end of its shelf life on {discard}{first}."


def rolls_through(bath: BathState) -> tuple[str, ...]:
    """Every roll that went through the bath, in order, each once."""
    seen: dict[str, str] = {}
    for one in bath.passes:
        seen.setdefault(one.roll.roll.casefold(), one.roll.roll)
    return tuple(seen.values())


@dataclass(frozen=True)
class Shared:
    """The other rolls of a bath as seen from one roll; a roll that went through twice may stand in two places."""

    roll: str
    before: tuple[str, ...]
    together: tuple[str, ...]
    after: tuple[str, ...]


def who_shared(bath: BathState, roll: str) -> Shared:
    """Which rolls went through before, together with and after this one; raises `NotFound` if it never did."""
    mine = [one.entry for one in bath.passes if one.roll.roll.casefold() == roll.strip().casefold()]
    if not mine:
        raise NotFound(f"Roll {roll} never went through this bath of {bath.facts.chemical}. Went through: {_list(bath)}.")

    def others(wanted: list[int]) -> tuple[str, ...]:
        found = (one.roll.roll for one in bath.passes if one.entry in wanted)
        return tuple(dict.fromkeys(one for one in found if one.casefold() != roll.strip().casefold()))

    entries = [one.entry for one in bath.passes]
    return Shared(
        roll.strip(),
        others([entry for entry in entries if entry < min(mine)]),
        others(mine),
        others([entry for entry in entries if entry > min(mine) and entry not in mine]),
    )


def _list(bath: BathState) -> str:
    rolls = rolls_through(bath)
    shown = ", ".join(rolls[:10]) or "none"
    return f"{shown} and {len(rolls) - 10} more" if len(rolls) > 10 else shown
