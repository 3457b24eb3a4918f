"""What is done with a bottle by hand: rolls chosen and written down, what it says of itself, the trend of its clearing time."""

from dataclasses import dataclass
from datetime import date, timedelta

from sqlmodel import Session

from catalogue.bench.bottles.shelf import BottleView, list_bottles, roll_pass, warnings_before, write_entry
from catalogue.bench.recipes import list_recipes
from catalogue.bench.rules.baths.entries import ClearingMeasured, Filled, Overruled, PouredBack, RollsDone, same_words
from catalogue.bench.rules.baths.film_area import Amount, number_text
from catalogue.bench.rules.baths.ledger import standing
from catalogue.bench.rules.baths.outlook import days_left, units_done
from catalogue.bench.rules.cautions import StepKind, cautions_for
from catalogue.bench.rules.times.fixing import (
    LONGEST_CLEARING,
    ClearingReading,
    ClearingTrend,
    FixTime,
    clearing_trend,
    fix_time,
)
from catalogue.bench.sink.recipe_words import hazards_of
from catalogue.bench.sink.tonights_times import step_time
from catalogue.bench.supplies import set_bath_price
from catalogue.bench.waiting import waiting_film
from catalogue.bench.waiting_groups import film_groups
from catalogue.errors import StripleafError

TOGETHER = 2
"""Rolls offered together where nothing else tells: the usual small tank has two reels (common practice)."""
_HAZARDS: tuple[tuple[str, tuple[StepKind, ...]], ...] = (
    ("fix", ("fixer",)), ("blix", ("bleach", "fixer")), ("bleach", ("bleach",)), ("stop", ("stop bath",)),
    ("rinse", ("final rinse",)), ("wetting", ("final rinse",)), ("ton", ("toner",)),
)  # fmt: skip


def fill_bottle(session: Session, bottle_id: int, entry: Filled, price: str = "") -> BottleView:
    """Fills a bottle; the price of the lot is kept with this filling. Raises as `write_entry` and `set_bath_price` do."""
    with session.begin_nested():
        view = write_entry(session, bottle_id, entry)
        if price.strip():
            set_bath_price(session, bottle_id, view.entries[-1].entry.number, price)
    return view


def put_rolls_through(
    session: Session,
    bottle_id: int,
    numbers: tuple[str, ...],
    on: date,
    *,
    ml: Amount | None = None,
    back_ml: Amount | None = None,
    overrule: str = "",
    again: str = "",
    note: str = "",
) -> BottleView:
    """Writes rolls done by hand: the person's word first where the capacity is passed, then the rolls, then what came back.

    `overrule` is kept only where the capacity is passed indeed. All of it is written, or nothing; raises as `write_entry` does.
    """
    with session.begin_nested():
        rolls = tuple(roll_pass(session, number) for number in numbers)
        entry = RollsDone(on=on, rolls=rolls, ml=ml, again=again, note=note)
        found = warnings_before(session, bottle_id, tuple(roll.roll for roll in rolls), on, None if ml is None else float(ml))
        if overrule.strip() and any(one.kind == "capacity" for one in found.to_overrule):
            write_entry(
                session, bottle_id, Overruled(on=on, reason=overrule, rolls=tuple(roll.roll for roll in rolls), note=note)
            )
        view = write_entry(session, bottle_id, entry)
        if back_ml is not None:
            view = write_entry(session, bottle_id, PouredBack(on=on, ml=back_ml, note=note))
    return view


@dataclass(frozen=True)
class Offer:
    """Rolls that may be next in a bath, and why they are offered."""

    numbers: tuple[str, ...]
    why: str


def offers(session: Session, view: BottleView) -> tuple[Offer, ...]:
    """Rolls that may have gone through this bath: those that just came out of another bottle, then those that wait.

    Each roll is offered once and none that went through this bath; what stands alone at the end is single rolls.
    """
    bath = view.bath
    if bath is None:
        return ()
    waits = {w.number for w in waiting_film(session, "exposed", "processed") if not bath.has_done(w.number)}
    found: list[Offer] = []
    recent: list[tuple[date, int, str, tuple[str, ...]]] = []
    for other in list_bottles(session):
        if other.id == view.id or other.bath is None:
            continue
        by_entry: dict[int, list[str]] = {}
        for one in other.bath.passes:
            by_entry.setdefault(one.entry, []).append(one.roll.roll)
            recent.append((one.on, one.entry, other.name, tuple(by_entry[one.entry])))
    since = date.today() - timedelta(7)
    for on, _, name, numbers in sorted(recent, reverse=True, key=lambda one: (one[0], one[1], len(one[3]))):
        if on >= since and set(numbers) <= waits:
            found.append(Offer(numbers, f"went through {name} on {on}"))
            waits -= set(numbers)
    together = len([one for one in bath.passes if one.entry == bath.passes[-1].entry]) if bath.passes else TOGETHER
    for group in film_groups(session):
        numbers = tuple(number for number in group.numbers if number in waits)[:together]
        if numbers:
            found.append(Offer(numbers, "can share a tank" if len(numbers) > 1 else "waits"))
            waits -= set(numbers)
    return tuple(found)


def candidates(session: Session, view: BottleView) -> tuple[str, ...]:
    """Every roll that is not sleeved, loaded ones left out, and has not been through this bath; the oldest first."""
    bath = view.bath
    if bath is None:
        return ()
    return tuple(w.number for w in waiting_film(session, "exposed", "processed") if not bath.has_done(w.number))


@dataclass(frozen=True)
class ClearingOutlook:
    """The clearing time of a fixer: the trend by rolls and by days, the day it is spent (or None), and how long to fix now."""

    by_rolls: ClearingTrend
    by_days: ClearingTrend
    spent_on: date | None
    fix_now: FixTime


def clearing_outlook(view: BottleView) -> ClearingOutlook | None:
    """Where the clearing time of the bath in the bottle leads; None without a measured one.

    A reading counts with the units of film that were written before it.
    """
    bath = view.bath
    if bath is None or not bath.clearings:
        return None
    by_rolls, by_days, done = [], [], 0.0
    fresh = None
    for deed in standing(tuple(marked.entry for marked in view.entries)):
        if deed.number < bath.entry:
            continue
        if isinstance(deed, RollsDone):
            done += float(sum(one.takes for one in deed.rolls))
        if isinstance(deed, ClearingMeasured):
            seconds = min(float(deed.seconds), LONGEST_CLEARING)
            fresh = seconds if deed.fresh else fresh
            by_rolls.append(ClearingReading(min(done, 10_000.0), seconds))
            by_days.append(ClearingReading(min(max((deed.on - bath.facts.mixed_on).days, 0), 10_000), seconds))
    rolls, days = clearing_trend(by_rolls, fresh), clearing_trend(by_days, fresh, "days")
    return ClearingOutlook(rolls, days, days.spent_on(bath.facts.mixed_on), fix_time(rolls.last.seconds))


@dataclass(frozen=True)
class NextTime:
    """How long the next roll takes in this bath by a recipe that has it longer as the bath is used."""

    recipe: str
    step: str
    seconds: int


def next_times(session: Session, view: BottleView) -> tuple[NextTime, ...]:
    """The next time in this bath by each recipe with a table for its chemical; none where no recipe says."""
    bath = view.bath
    if bath is None:
        return ()
    found = []
    for recipe in list_recipes(session):
        for step in recipe.steps:
            if step.solution != "bath" or not step.use_table or not same_words(step.chemical, bath.facts.chemical):
                continue
            try:
                seconds = step_time(step, rolls_done=float(units_done(bath)), rolls_now=1.0).seconds
            except StripleafError:
                continue  # past the table: the bath says by itself that it is used up
            if seconds is not None:
                found.append(NextTime(recipe.name, step.name, seconds))
    return tuple(found)


def says(view: BottleView, on: date) -> tuple[str, ...]:
    """What a bottle says of its bath on a day: past its date or its capacity, or slow to clear."""
    bath = view.bath
    if bath is None:
        return ()
    found = []
    if (left := bath.left) is not None and left <= 0:
        found.append(f"Nothing is left of its capacity of {number_text(bath.facts.capacity_units or left)} rolls. Mix new.")
    elif left is not None and left < 1:
        found.append(f"Only {number_text(left)} of a roll is left.")
    if (days := days_left(bath, on)) is not None and days <= 0:
        late = f"Past its date by {'1 day' if days == -1 else f'{-days} days'}: it was good until {bath.discard_on}."
        found.append(late if days else "Today is its last day.")
    outlook = clearing_outlook(view)
    if outlook is not None and outlook.by_rolls.state in ("spent", "due"):
        found.append(outlook.by_rolls.words)
    return tuple(found)


def bottle_cautions(session: Session, chemical: str) -> tuple[str, ...]:
    """The cautions for mixing, storing and throwing away what is in a bottle, by its name and the recipes that use it."""
    kinds: set[StepKind] = {"mixing", "storing", "disposal"}
    name = chemical.casefold()
    for part, more in _HAZARDS:
        if part in name:
            kinds.update(more)
    for recipe in list_recipes(session):
        for step in recipe.steps:
            if chemical and same_words(step.chemical, chemical):
                # A bottle may serve several processes, so of developers both cautions are said.
                kinds |= {"developer", "colour developer"} if step.kind == "developer" else hazards_of(step.kind, "")
    if len(kinds) == 3:
        kinds.update(("developer", "colour developer"))  # not known what it is: the graver cautions are said
    return cautions_for(kinds)
