"""What a roll costs: its film, its share of every bath it went through, and of the sleeve pages it lies on."""

from dataclasses import dataclass
from fractions import Fraction

from sqlmodel import Session, col, func, select

from catalogue.bench.bottles.shelf import BottleView, list_bottles
from catalogue.bench.rules.baths.costs import Chemistry, Money, RollCost, roll_cost, total
from catalogue.bench.rules.baths.state import BathState
from catalogue.bench.supplies import bath_price, money, processed_on, supplies
from catalogue.rolls.rows import roll_row
from catalogue.store.tables.bench import StockFacts, WaitingRoll
from catalogue.store.tables.rolls import FormerNumber, Frame, Roll, Strip


@dataclass(frozen=True)
class PricedRoll:
    """A roll with its cost (None where no price is known), its frames, and the prices that are missing."""

    number: str
    stock: str
    frames: int | None
    cost: RollCost | None
    missing: tuple[str, ...]


@dataclass(frozen=True)
class Average:
    """What a roll and a frame cost on the average of so many rolls that have a cost; the frame only where frames are known."""

    rolls: int
    roll: Money
    frame: Money | None


_Baths = dict[str, list[tuple[BottleView, BathState]]]


def _baths(session: Session) -> _Baths:
    """The baths that each number went through, letter case left out of account."""
    found: _Baths = {}
    for view in list_bottles(session, all_of_them=True):
        for bath in view.state.baths:
            for number in dict.fromkeys(one.roll.roll.casefold() for one in bath.passes):
                found.setdefault(number, []).append((view, bath))
    return found


def _pages(session: Session, roll_id: int) -> Fraction:
    """Pages that a roll fills; one shared with other rolls counts by its strips. One page before it is sleeved."""
    mine: dict[int, int] = {}
    pages = session.exec(select(Strip.page_id).where(Strip.roll_id == roll_id, col(Strip.page_id).is_not(None)))
    for page_id in pages:
        mine[page_id or 0] = mine.get(page_id or 0, 0) + 1
    if not mine:
        return Fraction(1)
    query = select(Strip.page_id, func.count()).where(col(Strip.page_id).in_(mine)).group_by(col(Strip.page_id))
    return sum((Fraction(mine[page_id or 0], count) for page_id, count in session.exec(query)), Fraction(0))


def _chemistry(session: Session, numbers: tuple[str, ...], baths: _Baths) -> tuple[list[Chemistry], list[str]]:
    """The share of each bath; where its capacity isn't known the price is shared by all film that went through so far."""
    found, missing = [], []
    wanted = {number.casefold() for number in numbers}
    seen: set[tuple[int, int]] = set()
    for view, bath in [pair for number in wanted for pair in baths.get(number, [])]:
        if (view.id, bath.entry) in seen:
            continue
        seen.add((view.id, bath.entry))
        price = money(session, bath_price(session, view.id, bath.entry))
        if price is None:
            missing.append(f"{bath.facts.chemical} of {bath.facts.mixed_on}")
            continue
        units = sum((one.roll.takes for one in bath.passes if one.roll.roll.casefold() in wanted), Fraction(0))
        found.append(Chemistry(bath.facts.chemical, price.times(units), bath.facts.capacity_units or bath.done_units))
    return found, missing


def _priced(session: Session, roll: Roll, baths: _Baths) -> PricedRoll:
    former = session.exec(select(FormerNumber.number).where(FormerNumber.roll_id == roll.id))
    chemistry, missing = _chemistry(session, (roll.number, *former), baths)
    facts = session.get(StockFacts, roll.stock) if roll.stock else None
    film = money(session, facts.price) if facts else None
    page = money(session, supplies(session).page_price)
    if film is None:
        missing.insert(0, f"a roll of {roll.stock}" if roll.stock else "the stock, which isn't known")
    if page is None:
        missing.append("a sleeve page")
    waiting = session.get(WaitingRoll, roll.id)
    counted = session.exec(select(func.count()).where(Frame.roll_id == roll.id)).one()
    frames = counted or (waiting.frames_expected if waiting else None)
    cost = None
    if film or chemistry or page:
        # Each chemical's price is multiplied by the units it gave already, for they may differ from bath to bath.
        cost = roll_cost(film=film, chemistry=chemistry, page=page, pages=_pages(session, roll.id or 0), frames=frames)
    return PricedRoll(roll.number, roll.stock, frames, cost, tuple(missing))


def cost_of_roll(session: Session, number: str) -> PricedRoll:
    """What a roll costs so far, under any number it ever had; raises `NotFound` for a roll that isn't there."""
    return _priced(session, roll_row(session, number), _baths(session))


def costs_of_processed(session: Session) -> tuple[PricedRoll, ...]:
    """Every processed roll with its cost, the newest number first."""
    baths = _baths(session)
    rolls = session.exec(
        select(Roll).where(col(Roll.id).in_(processed_on(session).keys())).order_by(col(Roll.number_sort).desc())
    )
    return tuple(_priced(session, roll, baths) for roll in rolls.all())


def average(rolls: tuple[PricedRoll, ...]) -> Average | None:
    """The average of the rolls that have a cost, and of all their frames; None where none has one."""
    known = [roll for roll in rolls if roll.cost]
    if not known:
        return None
    whole = total(roll.cost.total for roll in known if roll.cost)
    framed = [roll for roll in known if roll.frames]
    frame = None
    if framed:
        frame = total(r.cost.total for r in framed if r.cost).shared(sum(r.frames or 0 for r in framed))
    return Average(len(known), whole.shared(len(known)), frame)
