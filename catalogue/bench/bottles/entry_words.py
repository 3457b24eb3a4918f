"""A line of a bottle's ledger in words, volumes in the person's unit."""

from fractions import Fraction

from catalogue.bench.rules.baths.entries import (
    AnyEntry,
    BathFacts,
    ClearingMeasured,
    Corrected,
    Emptied,
    Filled,
    Opened,
    Overruled,
    PouredBack,
    Replenished,
    RollsDone,
    Undone,
)
from catalogue.bench.rules.baths.film_area import exact, number_text
from catalogue.bench.rules.figures import format_time, volume_words
from catalogue.units import Units


def ml_words(ml: Fraction | float, units: Units) -> str:
    """A volume in the person's unit; "0 ml" for none."""
    return volume_words(float(ml), units.volume) if ml else "0 ml"


def _bath(bath: BathFacts, units: Units) -> str:
    facts = [f"{ml_words(bath.mixed_ml, units)} of {bath.chemical}, mixed {bath.mixed_on}"]
    if bath.capacity_units is not None:
        facts.append(f"takes {number_text(bath.capacity_units)} rolls")
    if bath.mixed_days:
        facts.append(f"keeps {bath.mixed_days} days")
    if bath.open_days:
        facts.append(f"keeps {bath.open_days} days once opened")
    if bath.one_shot:
        facts.append("used once")
    if bath.replenish_ml_per_unit is not None:
        facts.append(f"{ml_words(bath.replenish_ml_per_unit, units)} of replenisher a roll")
    return ", ".join(facts)


def entry_words(entry: AnyEntry, units: Units) -> str:
    """What was done, as a sentence without its day and its note."""
    match entry:
        case Filled():
            said = f"filled: {_bath(entry.bath, units)}"
            return f"{said} (another chemical: {entry.word})" if entry.word else said
        case Opened():
            return "opened"
        case RollsDone():
            count = len(entry.rolls)
            said = f"+{count} roll{'' if count == 1 else 's'}: {', '.join(one.roll for one in entry.rolls)}"
            takes = sum((one.takes for one in entry.rolls), Fraction(0))
            if takes != count:
                said += f", counted as {number_text(takes)}"
            if entry.ml is not None:
                said += f", {ml_words(exact(entry.ml), units)} taken out"
            return f"{said} (once more: {entry.again})" if entry.again else said
        case PouredBack():
            return f"poured back: {ml_words(exact(entry.ml), units)}"
        case Replenished():
            said = f"replenished with {ml_words(exact(entry.ml), units)}"
            if drawn := exact(entry.drawn_off_ml):
                said += f" after {ml_words(drawn, units)} were drawn off"
            return said
        case ClearingMeasured():
            return f"film cleared in {format_time(entry.seconds)}{', fresh' if entry.fresh else ''}"
        case Emptied():
            return "emptied" if entry.ml is None else f"thrown away: {ml_words(exact(entry.ml), units)}"
        case Overruled():
            return f"overruled for {', '.join(entry.rolls)}: {entry.reason}"
        case Undone():
            return f"entry {entry.of} undone{f': {entry.word}' if entry.word else ''}"
        case Corrected():
            why = f" ({entry.word})" if entry.word else ""
            return f"entry {entry.of} corrected{why}: {entry.instead.on}, {entry_words(entry.instead, units)}"
