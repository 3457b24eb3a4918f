"""A line of a bottle's ledger as it is stored, and back: its kind and its figures as JSON; fractions stay exact."""

import json
from dataclasses import fields
from datetime import date
from fractions import Fraction
from typing import Any

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
    RollPass,
    RollsDone,
    Undone,
)
from catalogue.errors import ArchiveProblem

KINDS: dict[str, type[AnyEntry]] = {
    "filled": Filled,
    "opened": Opened,
    "rolls done": RollsDone,
    "poured back": PouredBack,
    "replenished": Replenished,
    "clearing time": ClearingMeasured,
    "emptied": Emptied,
    "overruled": Overruled,
    "undone": Undone,
    "corrected": Corrected,
}


def kind_of(entry: AnyEntry) -> str:
    """The word under which an entry is kept."""
    return next(word for word, cls in KINDS.items() if type(entry) is cls)


def _plain(value: Any) -> Any:
    if isinstance(value, Fraction):
        return str(value)
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    if isinstance(value, BathFacts | RollPass):
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value)}
    if type(value) in KINDS.values():
        return {"kind": kind_of(value), **{f.name: _plain(getattr(value, f.name)) for f in fields(value)}}
    return value


def to_json(entry: AnyEntry) -> str:
    """The figures of an entry, without its number, which is the row's own."""
    return json.dumps({f.name: _plain(getattr(entry, f.name)) for f in fields(entry) if f.name != "number"}, ensure_ascii=False)


def _entry(kind: str, number: int, values: dict[str, Any]) -> AnyEntry:
    values = {**values, "on": date.fromisoformat(values["on"]), "number": number}
    if "bath" in values:
        bath = values["bath"]
        values["bath"] = BathFacts(**{**bath, "mixed_on": date.fromisoformat(bath["mixed_on"])})
    if kind == "rolls done":
        values["rolls"] = tuple(RollPass(**one) for one in values["rolls"])
    if kind == "overruled":
        values["rolls"] = tuple(values["rolls"])
    if kind == "corrected":
        inside = dict(values["instead"])
        values["instead"] = _entry(inside.pop("kind"), int(inside.pop("number", 0)), inside)
    return KINDS[kind](**values)


def from_json(kind: str, number: int, data: str) -> AnyEntry:
    """The entry as it was written; raises `ArchiveProblem` where the line can't be read."""
    try:
        return _entry(kind, number, json.loads(data))
    except (KeyError, TypeError, ValueError) as problem:
        raise ArchiveProblem(
            f"Entry {number} of a bottle's ledger can't be read ({problem}). Restore a backup copy."
        ) from problem
