"""The forms of a bottle's page: which fields each kind of entry has, and what was typed as an entry, and back."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from typing import Any

from sqlmodel import Session

from api.web.typed import whole
from catalogue.bench.bottles.shelf import roll_pass
from catalogue.bench.rules.baths.entries import (
    AnyEntry,
    BathFacts,
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
)
from catalogue.bench.rules.baths.film_area import Amount, exact, number_text
from catalogue.bench.rules.figures import parse_time, parse_volume, plain
from catalogue.errors import InvalidInput
from catalogue.units import Units

Form = Mapping[str, str]


@dataclass(frozen=True)
class Field:
    """A field: its name, its words, how it is typed (text, number, date, tick), and a hint; volumes say their unit."""

    name: str
    words: str
    typed: str = "text"
    hint: str = ""
    volume: bool = False


FIELDS: dict[str, tuple[Field, ...]] = {
    "filled": (
        Field("chemical", "What goes in"),
        Field("volume", "Volume", "number", "or with its unit: 1 l, 1 qt, 16 fl oz", True),
        Field("mixed_on", "Mixed on", "date"),
        Field("capacity", "Takes so many rolls", "number", "135-36 or 120, by the data sheet; empty if unknown"),
        Field("mixed_days", "Keeps so many days once mixed", "number"),
        Field("open_days", "Keeps so many days once opened", "number"),
        Field("one_shot", "Used once and thrown away", "tick"),
        Field("replenish", "Replenisher for one roll", "number", "", True),
        Field("price", "Price of the lot", "number"),
        Field("word", "If it is another chemical than before: why it goes in here"),
    ),
    "opened": (),
    "rolls done": (
        Field("rolls", "Rolls", "text", "numbers with commas between"),
        Field("ml", "Taken out of the bottle", "number", "empty: not followed", True),
        Field("again", "If a roll goes in once more: why"),
    ),
    "poured back": (Field("ml", "Poured back", "number", "", True),),
    "replenished": (
        Field("ml", "Replenisher poured in", "number", "", True),
        Field("drawn_off", "Drawn off before", "number", "", True),
        Field("per_unit", "Replenisher for one roll", "number", "only if it differs from what was said at filling", True),
    ),
    "clearing time": (
        Field("seconds", "A leader cleared in", "text", "45 s or 1:10"),
        Field("fresh", "The fixer was fresh", "tick"),
    ),
    "emptied": (Field("ml", "Only so much of it", "number", "empty: all of it", True),),
    "overruled": (Field("rolls", "Rolls"), Field("reason", "Why")),
}
COMMON = (Field("on", "Done on", "date"), Field("note", "Note"))


def day(text: str, what: str = "day") -> date:
    """A day as a date field sends it, today where nothing was typed; raises `InvalidInput`."""
    if not text.strip():
        return date.today()
    try:
        return date.fromisoformat(text.strip())
    except ValueError as problem:
        raise InvalidInput(f"“{text[:20]}” is no {what}. Write it as 2031-05-14.") from problem


def volume(text: str, units: Units) -> Amount | None:
    """Millilitres as typed in the person's unit or with another one; None where nothing was typed."""
    if not text.strip():
        return None
    if units.volume == "ml" and text.strip().removesuffix("ml").strip().replace(".", "", 1).isdecimal():
        return exact(text.strip().removesuffix("ml").strip(), "A volume in ml")
    return parse_volume(text, bare=units.volume)


def needed(text: str, units: Units, what: str) -> Amount:
    """As `volume`, but it must be typed."""
    found = volume(text, units)
    if found is None:
        raise InvalidInput(f"{what} is missing. Write it in {units.volume}.")
    return found


def numbers_in(text: str) -> tuple[str, ...]:
    """Roll numbers with commas between; spaces belong to a number."""
    return tuple(" ".join(part.split()) for part in text.split(",") if part.strip())


def entry_from(session: Session, kind: str, form: Form, units: Units, before: AnyEntry | None = None) -> Deed:
    """The form as an entry of this kind; rolls that stood in the one `before` keep their counted film."""
    common: dict[str, Any] = {"on": day(form.get("on", "")), "note": form.get("note", "")}

    def text(name: str) -> str:
        return form.get(name, "").strip()

    match kind:
        case "filled":
            bath = BathFacts(
                text("chemical"), needed(text("volume"), units, "The volume"),
                day(text("mixed_on")) if text("mixed_on") else common["on"],
                text("capacity") or None, whole(text("mixed_days"), "number of days"), whole(text("open_days"), "number of days"),
                bool(text("one_shot")), volume(text("replenish"), units),
            )  # fmt: skip
            return Filled(**common, bath=bath, word=text("word"))
        case "opened":
            return Opened(**common)
        case "rolls done":
            known = {one.roll.casefold(): one for one in before.rolls} if isinstance(before, RollsDone) else {}
            rolls = tuple(known.get(n.casefold()) or roll_pass(session, n) for n in numbers_in(text("rolls")))
            return RollsDone(**common, rolls=rolls, ml=volume(text("ml"), units), again=text("again"))
        case "poured back":
            return PouredBack(**common, ml=needed(text("ml"), units, "What was poured back"))
        case "replenished":
            return Replenished(
                **common, ml=needed(text("ml"), units, "The replenisher"),
                drawn_off_ml=0 if text("drawn_off") in ("", "0") else needed(text("drawn_off"), units, "What was drawn off"),
                ml_per_unit=volume(text("per_unit"), units),
            )  # fmt: skip
        case "clearing time":
            typed = text("seconds")
            seconds = parse_time(f"{typed} s" if typed.isdecimal() else typed)
            return ClearingMeasured(**common, seconds=round(seconds), fresh=bool(text("fresh")))
        case "emptied":
            return Emptied(**common, ml=volume(text("ml"), units))
        case "overruled":
            return Overruled(**common, reason=text("reason"), rolls=numbers_in(text("rolls")))
    raise InvalidInput("That form isn't known here. Load the page again.")


def typed_of(entry: Deed, units: Units) -> dict[str, str]:
    """An entry as its form is filled in to correct it."""

    def ml(value: Amount | None) -> str:
        return "" if value is None else figure(exact(value), units)

    found = {"on": entry.on.isoformat(), "note": entry.note}
    match entry:
        case Filled():
            bath = entry.bath
            capacity = bath.capacity_units
            found |= {
                "chemical": bath.chemical, "volume": ml(bath.mixed_ml), "mixed_on": bath.mixed_on.isoformat(),
                "capacity": "" if capacity is None else str(capacity), "mixed_days": str(bath.mixed_days or ""),
                "open_days": str(bath.open_days or ""), "one_shot": "1" if bath.one_shot else "",
                "replenish": ml(bath.replenish_ml_per_unit), "word": entry.word,
            }  # fmt: skip
        case RollsDone():
            found |= {"rolls": ", ".join(one.roll for one in entry.rolls), "ml": ml(entry.ml), "again": entry.again}
        case PouredBack() | Emptied():
            found |= {"ml": ml(entry.ml)}
        case Replenished():
            found |= {"ml": ml(entry.ml), "drawn_off": ml(entry.drawn_off_ml), "per_unit": ml(entry.ml_per_unit)}
        case ClearingMeasured():
            found |= {"seconds": f"{entry.seconds} s", "fresh": "1" if entry.fresh else ""}
        case Overruled():
            found |= {"rolls": ", ".join(entry.rolls), "reason": entry.reason}
    return found


def figure(ml: Fraction | float, units: Units) -> str:
    """A volume as it is typed in the person's unit, exact enough to come back the same to a tenth of a ml."""
    if units.volume == "ml":
        return number_text(Fraction(ml), 1)
    return plain(float(ml) / units.ml(1.0), 5)


def film_words(passes: tuple[RollPass, ...]) -> str:
    """What rolls count as together: "2 rolls", "2 rolls, counted as 1.67"."""
    takes = sum((one.takes for one in passes), Fraction(0))
    count = f"{len(passes)} roll{'' if len(passes) == 1 else 's'}"
    return count if takes == len(passes) else f"{count}, counted as {number_text(takes)}"
