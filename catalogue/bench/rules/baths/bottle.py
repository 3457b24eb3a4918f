"""A bottle and the baths filled into it, folded from the ledger of entries by a pure function.

A bottle is the vessel, a bath one filling of it. `fold` turns a ledger into the
state of the bottle; `append` writes one more entry, or refuses it and has
changed nothing. Bottles keep to one chemical for ever, storage bottles are one
size with the mix they hold, and a bath's capacity is counted down roll by roll
(all three common practice, no published source).
"""

from collections.abc import Iterable
from dataclasses import replace
from datetime import date
from fractions import Fraction
from functools import reduce

from catalogue.bench.rules.baths.entries import (
    BottleSize,
    ClearingMeasured,
    Deed,
    Emptied,
    Filled,
    Opened,
    Overruled,
    PouredBack,
    Replenished,
    RollPass,
    RollsDone,
    ml_text,
    same_words,
)
from catalogue.bench.rules.baths.film_area import exact, number_text, rolls_text
from catalogue.bench.rules.baths.state import BathState, BottleState, Clearing, DonePass
from catalogue.errors import AlreadyExists, DoesNotFit, InvalidInput


def fold(bottle: BottleSize, deeds: Iterable[Deed]) -> BottleState:
    """The state after these deeds, which are numbered upwards (`ledger.standing` gives them).

    Raises `InvalidInput`, `DoesNotFit` or `AlreadyExists` where one is impossible.
    """
    return reduce(after, deeds, BottleState(bottle))


def after(state: BottleState, deed: Deed) -> BottleState:
    """The state of a bottle after one more deed; raises as `fold` does."""
    if isinstance(deed, Filled):
        return _filled(state, deed)
    bath = state.bath
    if bath is None:
        raise InvalidInput(f"{state.bottle.name} is empty, so nothing can be done with its bath. Fill it first.")
    if deed.on < bath.facts.mixed_on:
        raise InvalidInput(f"{deed.on} is before {bath.facts.chemical} was mixed, on {bath.facts.mixed_on}. Check both days.")
    match deed:
        case Opened():
            if bath.opened_on:
                raise AlreadyExists(
                    f"{state.bottle.name} was opened on {bath.opened_on} already. Correct that entry if it's wrong."
                )
            bath = replace(bath, opened_on=deed.on)
        case RollsDone():
            bath = _rolls_done(bath, deed)
        case PouredBack():
            bath = _poured_back(bath, deed)
        case Replenished():
            bath = _replenished(state.bottle, bath, deed)
        case ClearingMeasured():
            bath = replace(bath, clearings=(*bath.clearings, Clearing(deed.on, deed.seconds, deed.fresh)))
        case Overruled():
            bath = replace(bath, granted=(*bath.granted, *((roll.casefold(), deed.reason) for roll in deed.rolls)))
        case Emptied():
            bath = _emptied(bath, deed)
    if bath.emptied_on is not None:
        return replace(state, bath=None, former=(*state.former, bath))
    return replace(state, bath=bath)


def _filled(state: BottleState, deed: Filled) -> BottleState:
    name, facts = state.bottle.name, deed.bath
    if state.bath:
        raise InvalidInput(f"{name} still holds {state.bath.facts.chemical}. Empty it before filling in {facts.chemical}.")
    if facts.mixed_ml > state.bottle.volume_ml:
        raise DoesNotFit(
            f"{ml_text(facts.mixed_ml)} of {facts.chemical} don't go into {name}, which holds {ml_text(state.bottle.volume_ml)}. "
            "Take a larger bottle or two."
        )
    if state.former and deed.on < (emptied := state.former[-1].emptied_on or date.min):
        raise InvalidInput(f"{name} was emptied on {emptied} only, so it can't have been filled on {deed.on}. Check both days.")
    remarks: tuple[str, ...] = ()
    if state.chemical and not same_words(state.chemical, facts.chemical):
        if not deed.word:
            raise InvalidInput(
                f"{name} is the bottle of {state.chemical}, and a bottle keeps to one chemical for ever. "
                f"Take another for {facts.chemical}, or say in a word why it goes in here."
            )
        remarks = (f"{name} held {state.chemical} before. {deed.word}",)
    bath = BathState(deed.number, facts, deed.on, facts.mixed_ml, remarks=remarks)
    return replace(state, bath=bath, chemical=state.chemical or facts.chemical)


def room_for(bath: BathState, rolls: tuple[RollPass, ...], ml: Fraction | None) -> tuple[Fraction | None, Fraction]:
    """What the rolls may take and what they take, in weighted units; None where the capacity is unknown.

    What is drawn from a one-shot bath has its share of the capacity, however
    much stays in the bottle. Raises `DoesNotFit` for more ml than there are.
    """
    if bath.emptied_on is not None:
        raise InvalidInput(f"{bath.facts.chemical} was thrown away on {bath.emptied_on}. Fill the bottle first.")
    if ml is not None and ml > bath.in_bottle_ml:
        raise DoesNotFit(
            f"{ml_text(ml)} can't be taken: {ml_text(bath.in_bottle_ml)} of {bath.facts.chemical} are in the bottle. "
            "Take less, or mix more."
        )
    if not bath.in_bottle_ml:
        raise DoesNotFit(f"No {bath.facts.chemical} is in the bottle. Pour back what is out, or mix new.")
    room = bath.left
    if room is not None and bath.facts.one_shot and ml is not None:
        room = room * ml / bath.in_bottle_ml
    return room, sum((roll.takes for roll in rolls), Fraction(0))


def _rolls_done(bath: BathState, deed: RollsDone) -> BathState:
    ml = None if deed.ml is None else exact(deed.ml)
    room, taken = room_for(bath, deed.rolls, ml)
    repeated = [one.roll for one in deed.rolls if bath.has_done(one.roll)]
    if repeated and not deed.again:
        raise AlreadyExists(
            f"Roll {', '.join(repeated)} went through this bath already, and a roll is counted once. "
            "Take it out of the list, or say why it goes in again."
        )
    reasons = dict(reversed(bath.granted))  # the first word given for a roll is the first to be used
    past = room is not None and taken > room
    missing = [one.roll for one in deed.rolls if one.roll.casefold() not in reasons]
    if past and missing:
        raise DoesNotFit(
            f"{bath.facts.chemical} takes {rolls_text(max(room or Fraction(0), Fraction(0)))} more, and these rolls need "
            f"{number_text(taken)}. Leave rolls out or mix new; to go past the capacity, overrule it with a reason for "
            f"{', '.join(missing)}."
        )
    granted = list(bath.granted)
    for one in deed.rolls:
        if one.roll.casefold() in reasons:
            granted.remove((one.roll.casefold(), reasons[one.roll.casefold()]))
    passes = tuple(
        DonePass(
            one,
            deed.on,
            deed.number,
            deed.again if one.roll in repeated else "",
            reasons.get(one.roll.casefold(), "") if past else "",
        )
        for one in deed.rolls
    )
    if ml is None and bath.facts.one_shot:
        ml = bath.in_bottle_ml  # mixed for these rolls, and all of it used
    return replace(
        bath,
        passes=bath.passes + passes,
        granted=tuple(granted),
        in_bottle_ml=bath.in_bottle_ml - (ml or 0),
        out_ml=bath.out_ml if bath.facts.one_shot else bath.out_ml + (ml or 0),
    )


def _poured_back(bath: BathState, deed: PouredBack) -> BathState:
    ml = exact(deed.ml)
    if bath.facts.one_shot:
        raise InvalidInput(f"{bath.facts.chemical} is used one-shot and isn't poured back. Throw away what was in the tank.")
    if ml > bath.out_ml:
        raise DoesNotFit(
            f"{ml_text(ml)} can't come back: {ml_text(bath.out_ml)} of {bath.facts.chemical} are out. Measure again, or write "
            "down first what was taken."
        )
    lost = bath.out_ml - ml
    remarks = (*bath.remarks, f"{deed.on}: {ml_text(lost)} less came back than was taken.") if lost else bath.remarks
    return replace(bath, in_bottle_ml=bath.in_bottle_ml + ml, out_ml=Fraction(0), lost_ml=bath.lost_ml + lost, remarks=remarks)


def _replenished(bottle: BottleSize, bath: BathState, deed: Replenished) -> BathState:
    if bath.facts.one_shot:
        raise InvalidInput(f"{bath.facts.chemical} is used one-shot and isn't replenished. Mix new.")
    rate = bath.facts.replenish_ml_per_unit if deed.ml_per_unit is None else exact(deed.ml_per_unit)
    if rate is None:
        raise InvalidInput(
            f"How many ml of replenisher {bath.facts.chemical} needs for one unit isn't known. Give it with the ml."
        )
    ml, drawn = exact(deed.ml), exact(deed.drawn_off_ml)
    if drawn > bath.in_bottle_ml:
        raise DoesNotFit(f"{ml_text(drawn)} can't be drawn off: {ml_text(bath.in_bottle_ml)} are in the bottle. Measure again.")
    filled = bath.in_bottle_ml - drawn + ml
    if filled + bath.out_ml > bottle.volume_ml:
        raise DoesNotFit(
            f"{bottle.name} holds {ml_text(bottle.volume_ml)}, and there would be {ml_text(filled + bath.out_ml)}. "
            f"Draw off {ml_text(filled + bath.out_ml - bottle.volume_ml)} more first."
        )
    gone = bath.lost_ml + drawn
    short = max(gone - ml, Fraction(0))
    said = f"{deed.on}: {ml_text(ml)} were poured in for {ml_text(gone)} lost or drawn off; {ml_text(short)} are missing."
    return replace(
        bath,
        in_bottle_ml=filled,
        lost_ml=short,
        # A bath never becomes better than fresh.
        restored=bath.restored + min(ml / rate, bath.used_units),
        remarks=(*bath.remarks, said) if short else bath.remarks,
    )


def _emptied(bath: BathState, deed: Emptied) -> BathState:
    last = max((one.on for one in bath.passes), default=bath.filled_on)
    if deed.on < max(last, bath.filled_on):
        raise InvalidInput(f"{bath.facts.chemical} was still in use on {last}, after {deed.on}. Check both days.")
    there = bath.in_bottle_ml + bath.out_ml
    ml = there if deed.ml is None else exact(deed.ml)
    if ml > there:
        raise DoesNotFit(f"{ml_text(ml)} can't be thrown away: there are {ml_text(there)}. Leave the volume empty for all of it.")
    if ml == there:
        return replace(bath, in_bottle_ml=Fraction(0), out_ml=Fraction(0), emptied_on=deed.on)
    from_out = min(ml, bath.out_ml)
    thrown = bath.thrown
    if not bath.facts.one_shot and bath.left is not None:
        # What is thrown away takes its share of the capacity left along; reckoned as if all were equally used.
        thrown += max(bath.left, Fraction(0)) * ml / there
    return replace(bath, out_ml=bath.out_ml - from_out, in_bottle_ml=bath.in_bottle_ml - ml + from_out, thrown=thrown)
