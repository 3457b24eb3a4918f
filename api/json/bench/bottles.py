"""Bottles and their ledgers as JSON: listed, added, written to, undone, corrected; and who shared a bath."""

from dataclasses import asdict
from datetime import date
from typing import Any

from fastapi import APIRouter, Query
from sqlmodel import Session

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from api.json.bench.bottle_shapes import (
    BathOut,
    BottleOut,
    ClearingOut,
    EntryCorrection,
    EntryIn,
    FillIn,
    NewBottle,
    RollsIn,
    Undo,
    clearing_out,
)
from catalogue.bench.bottles.bath_evidence import bath_evidence
from catalogue.bench.bottles.by_hand import fill_bottle, put_rolls_through
from catalogue.bench.bottles.shelf import (
    BottleView,
    add_bottle,
    baths_of,
    bottle_view,
    list_bottles,
    throw_away_bottle,
    undo_last_entry,
    warnings_before,
    write_entry,
)
from catalogue.bench.rules.baths.entries import Corrected
from catalogue.bench.rules.baths.film_area import exact
from catalogue.bench.rules.baths.outlook import who_shared
from catalogue.rolls.rows import roll_row

router = APIRouter(responses=PROBLEMS, tags=["bench"])
Start = Query(default=1, ge=1, le=400)
Offset = Query(default=None, ge=-5, le=5)


@router.get("/bottles")
def listed(archive: ArchiveHere, thrown_away: bool = False) -> list[BottleOut]:
    """Every bottle by name, those thrown away only where asked for."""
    with archive.session(reading=True) as session:
        return [BottleOut.of(session, view) for view in list_bottles(session, all_of_them=thrown_away)]


@router.post("/bottles", status_code=201)
def added(given: NewBottle, archive: ArchiveHere) -> BottleOut:
    """A new, empty bottle."""
    with archive.session() as session:
        view = add_bottle(session, given.name, float(exact(given.holds_ml, "The volume of a bottle")), given.notes)
        return BottleOut.of(session, view)


@router.get("/bottles/{bottle_id}")
def one(bottle_id: int, archive: ArchiveHere) -> BottleOut:
    """One bottle with its state and its whole ledger."""
    with archive.session(reading=True) as session:
        return BottleOut.of(session, bottle_view(session, bottle_id))


def _written(session: Session, bottle_id: int, given: EntryIn) -> BottleView:
    if isinstance(given, FillIn):
        return fill_bottle(session, bottle_id, given.deed(session), given.price)
    if isinstance(given, RollsIn):
        return put_rolls_through(
            session, bottle_id, tuple(given.rolls), given.on or date.today(), ml=given.ml, back_ml=given.poured_back_ml,
            overrule=given.overrule, again=given.again, note=given.note,
        )  # fmt: skip
    return write_entry(session, bottle_id, given.deed(session))


@router.post("/bottles/{bottle_id}/entries", status_code=201)
def written(bottle_id: int, given: EntryIn, archive: ArchiveHere) -> BottleOut:
    """Adds a line to the ledger, or says why it can't be so."""
    with archive.session() as session:
        return BottleOut.of(session, _written(session, bottle_id, given))


@router.post("/bottles/{bottle_id}/undo")
def undone(bottle_id: int, given: Undo, archive: ArchiveHere) -> BottleOut:
    """Undoes the last entry that counts; it stays in the ledger, marked."""
    with archive.session() as session:
        return BottleOut.of(session, undo_last_entry(session, bottle_id, given.word))


@router.post("/bottles/{bottle_id}/entries/{number}/correct")
def corrected(bottle_id: int, number: int, given: EntryCorrection, archive: ArchiveHere) -> BottleOut:
    """Writes what counts instead of an entry; that one stays in the ledger, marked."""
    with archive.session() as session:
        entry = Corrected(on=date.today(), of=number, instead=given.instead.deed(session), word=given.word)
        return BottleOut.of(session, write_entry(session, bottle_id, entry))


@router.post("/bottles/{bottle_id}/thrown-away")
def thrown(bottle_id: int, archive: ArchiveHere) -> BottleOut:
    """Takes the bottle out of use; its ledger stays."""
    with archive.session() as session:
        return BottleOut.of(session, throw_away_bottle(session, bottle_id))


@router.post("/bottles/{bottle_id}/back")
def back(bottle_id: int, archive: ArchiveHere) -> BottleOut:
    """Takes the bottle back into use."""
    with archive.session() as session:
        return BottleOut.of(session, throw_away_bottle(session, bottle_id, False))


@router.get("/bottles/{bottle_id}/warnings")
def warned(
    bottle_id: int, archive: ArchiveHere, roll: list[str] = Query(max_length=200), ml: float | None = None,
    on: date | None = None,
) -> list[dict[str, Any]]:  # fmt: skip
    """What speaks against putting these rolls in, said before; `ml` is what would be taken out of the bottle."""
    with archive.session(reading=True) as session:
        return [asdict(found) for found in warnings_before(session, bottle_id, tuple(roll), on or date.today(), ml)]


@router.get("/bottles/{bottle_id}/clearing")
def clearing(bottle_id: int, archive: ArchiveHere) -> ClearingOut | None:
    """The trend of the fixer's clearing time, or null where none was measured."""
    with archive.session(reading=True) as session:
        return clearing_out(bottle_view(session, bottle_id))


@router.get("/bottles/{bottle_id}/evidence")
def evidence(bottle_id: int, archive: ArchiveHere) -> dict[str, Any] | None:
    """The film bases of the bath's rolls as device densities (never Status M), or null where none was measured."""
    with archive.session(reading=True) as session:
        found = bath_evidence(session, bottle_view(session, bottle_id))
        return asdict(found) if found else None


@router.get("/rolls/{number}/baths")
def baths(number: str, archive: ArchiveHere) -> list[dict[str, Any]]:
    """Every bath that the roll went through, and which rolls went before, together with and after it."""
    with archive.session(reading=True) as session:
        found = []
        now = roll_row(session, number).number
        for view, bath in baths_of(session, number):
            name = _name_in(session, now, [one.roll.roll for one in bath.passes])
            shared = who_shared(bath, name)
            found.append(
                {
                    "bottle_id": view.id, "bottle": view.name, "bath": BathOut.of(session, view.id, bath).model_dump(mode="json"),
                    "before": shared.before, "together": shared.together, "after": shared.after,
                }
            )  # fmt: skip
        return found


def _name_in(session: Session, number: str, written: list[str]) -> str:
    """The number under which the roll stands in a ledger, which may be a former one."""
    return next((one for one in written if roll_row(session, one).number == number), number)
