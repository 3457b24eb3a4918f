"""Storage bottles and the baths in them: each bottle has a ledger of entries that are never rubbed out."""

from dataclasses import dataclass
from datetime import date

from sqlmodel import Session, col, func, or_, select

from catalogue.bench.bottles.entry_rows import from_json, kind_of, to_json
from catalogue.bench.rules.baths.entries import AnyEntry, BottleSize, Ledger, RollPass
from catalogue.bench.rules.baths.film_area import Amount
from catalogue.bench.rules.baths.film_area import film_units as units_of_film
from catalogue.bench.rules.baths.ledger import Marked, append, history, state_of, undo_last
from catalogue.bench.rules.baths.outlook import Warnings, check_before
from catalogue.bench.rules.baths.state import BathState, BottleState
from catalogue.clock import now
from catalogue.errors import AlreadyExists, NotFound
from catalogue.own_shapes import format_of
from catalogue.rolls.rows import roll_row
from catalogue.store.tables.bench import Bottle, BottleEvent, StockFacts, WaitingRoll
from catalogue.store.tables.rolls import FormerNumber, Frame, Roll


@dataclass(frozen=True)
class BottleView:
    """A bottle as it stands and everything that was written of it."""

    id: int
    name: str
    holds_ml: float
    notes: str
    thrown_away: bool
    state: BottleState
    entries: tuple[Marked, ...]

    @property
    def bath(self) -> BathState | None:
        """What is in it now."""
        return self.state.bath


def add_bottle(session: Session, name: str, holds_ml: float, notes: str = "") -> BottleView:
    """A new, empty bottle; raises `AlreadyExists` for a name in use, `InvalidInput` for a volume that can't be."""
    vessel = BottleSize(name, holds_ml)
    there = session.exec(select(Bottle).where(func.lower(Bottle.name) == vessel.name.lower())).first()
    if there is not None:
        raise AlreadyExists(f"There is a bottle {there.name} already. Give this one another name.")
    row = Bottle(name=vessel.name, holds_ml=float(vessel.volume_ml), notes=notes.strip())
    session.add(row)
    session.flush()
    return bottle_view(session, row.id or 0)


def bottle_row(session: Session, bottle_id: int) -> Bottle:
    """The bottle; raises `NotFound`."""
    found = session.get(Bottle, bottle_id)
    if found is None:
        raise NotFound(f"There is no bottle {bottle_id}. Look under Bottles.")
    return found


def _ledger(session: Session, bottle_id: int) -> Ledger:
    rows = session.exec(select(BottleEvent).where(BottleEvent.bottle_id == bottle_id).order_by(col(BottleEvent.position)))
    return tuple(from_json(row.kind, row.position, row.data) for row in rows)


def bottle_view(session: Session, bottle_id: int) -> BottleView:
    """A bottle with its ledger; raises `NotFound`."""
    row = bottle_row(session, bottle_id)
    ledger = _ledger(session, bottle_id)
    state = state_of(BottleSize(row.name, row.holds_ml), ledger)
    return BottleView(bottle_id, row.name, row.holds_ml, row.notes, row.thrown_away, state, history(ledger))


def list_bottles(session: Session, *, all_of_them: bool = False) -> tuple[BottleView, ...]:
    """Bottles by name, those thrown away only where asked for."""
    query = select(Bottle.id).order_by(func.lower(Bottle.name))
    if not all_of_them:
        query = query.where(col(Bottle.thrown_away).is_(False))
    return tuple(bottle_view(session, key or 0) for key in session.exec(query))


def _keep(session: Session, bottle_id: int, longer: Ledger, session_id: int | None) -> BottleView:
    entry = longer[-1]
    session.add(
        BottleEvent(
            bottle_id=bottle_id, position=entry.number, kind=kind_of(entry), at=now(), data=to_json(entry), session_id=session_id
        )
    )
    session.flush()
    return bottle_view(session, bottle_id)


def write_entry(session: Session, bottle_id: int, entry: AnyEntry, *, session_id: int | None = None) -> BottleView:
    """Adds a line to a bottle's ledger, or raises why it can't be so and writes nothing."""
    row = bottle_row(session, bottle_id)
    longer = append(BottleSize(row.name, row.holds_ml), _ledger(session, bottle_id), entry, date.today())
    return _keep(session, bottle_id, longer, session_id)


def undo_last_entry(session: Session, bottle_id: int, word: str = "") -> BottleView:
    """Undoes the last entry that counts; it stays in the ledger, marked. Raises `NotFound` where there is none."""
    row = bottle_row(session, bottle_id)
    today = date.today()
    longer = undo_last(BottleSize(row.name, row.holds_ml), _ledger(session, bottle_id), today, today, word)
    return _keep(session, bottle_id, longer, None)


def throw_away_bottle(session: Session, bottle_id: int, thrown_away: bool = True) -> BottleView:
    """Takes a bottle out of use, or back; its ledger stays."""
    bottle_row(session, bottle_id).thrown_away = thrown_away
    session.flush()
    return bottle_view(session, bottle_id)


def roll_pass(session: Session, number: str) -> RollPass:
    """A roll as film that goes through a bath: its area by format and exposures, and its stock's weight."""
    roll: Roll = roll_row(session, number)
    film = format_of(session, roll.format_key)
    frames = session.exec(select(func.count()).where(Frame.roll_id == roll.id)).one()
    waiting = session.get(WaitingRoll, roll.id)
    pieces = frames or (waiting.frames_expected if waiting else None)
    units = units_of_film(film, pieces) if pieces else units_of_film(film)
    facts = session.get(StockFacts, roll.stock) if roll.stock else None
    weight: Amount = facts.weight if facts else 1
    return RollPass(roll.number, units, weight)


def warnings_before(session: Session, bottle_id: int, numbers: tuple[str, ...], on: date, ml: float | None = None) -> Warnings:
    """What speaks against putting these rolls into the bottle's bath, said before the film goes in."""
    return bath_warnings(bottle_view(session, bottle_id), tuple(roll_pass(session, number) for number in numbers), on, ml)


def bath_warnings(view: BottleView, rolls: tuple[RollPass, ...], on: date, ml: float | None = None) -> Warnings:
    """The same for a bottle and rolls that are at hand; raises `NotFound` for an empty bottle."""
    if view.bath is None:
        raise NotFound(f"{view.name} is empty. Fill it first, or choose another bottle.")
    return check_before(view.bath, rolls, on, ml)


def baths_of(session: Session, number: str) -> tuple[tuple[BottleView, BathState], ...]:
    """Every bath that a roll went through, under any number it ever had, by bottle."""
    roll = roll_row(session, number)
    numbers = (roll.number, *session.exec(select(FormerNumber.number).where(FormerNumber.roll_id == roll.id)))
    # Only bottles whose ledger names one of them are folded: a roll's page would read every ledger of the archive else.
    named = or_(*(col(BottleEvent.data).contains(one, autoescape=True) for one in numbers))
    query = select(Bottle.id).where(col(Bottle.id).in_(select(BottleEvent.bottle_id).where(named)))
    found = []
    for key in session.exec(query.order_by(func.lower(Bottle.name))):
        view = bottle_view(session, key or 0)
        found += [(view, bath) for bath in view.state.baths if any(map(bath.has_done, numbers))]
    return tuple(found)
