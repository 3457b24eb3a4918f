"""What a roll costs: its film, its share of every bath it went through, and of the sleeve pages it lies on."""

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from sqlmodel import Session, col, func, select

from catalogue.bench.bottles.shelf import BottleView, list_bottles
from catalogue.bench.rules.baths.costs import Chemistry, Money, RollCost, roll_cost, total
from catalogue.bench.rules.baths.state import BathState
from catalogue.bench.supplies import bath_prices, money, supplies
from catalogue.rolls.rows import roll_row
from catalogue.store.tables.bench import StockFacts, WaitingRoll
from catalogue.store.tables.rolls import FormerNumber, Frame, ProcessRecord, Roll, Strip

LATELY = 100
"""Processed rolls whose costs are shown, and averaged."""


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


def _pages(session: Session, roll_ids: Collection[int]) -> dict[int, Fraction]:
    """Pages that each roll fills; one shared with other rolls counts by its strips. A roll that isn't sleeved isn't in it."""
    lying = select(Strip.roll_id, Strip.page_id, func.count()).where(col(Strip.page_id).is_not(None))
    mine = session.exec(lying.where(col(Strip.roll_id).in_(roll_ids)).group_by(col(Strip.roll_id), col(Strip.page_id))).all()
    on_page = select(Strip.page_id, func.count()).where(col(Strip.page_id).in_({page for _, page, _ in mine}))
    full = dict(session.exec(on_page.group_by(col(Strip.page_id))).all())
    found: dict[int, Fraction] = {}
    for roll_id, page_id, count in mine:
        found[roll_id] = found.get(roll_id, Fraction(0)) + Fraction(count, full[page_id])
    return found


def _chemistry(
    numbers: Iterable[str], baths: _Baths, prices: Mapping[tuple[int, int], Money]
) -> tuple[list[Chemistry], list[str]]:
    """The share of each bath; where its capacity isn't known the price is shared by all film that went through so far."""
    found, missing = [], []
    wanted = {number.casefold() for number in numbers}
    seen: set[tuple[int, int]] = set()
    for view, bath in [pair for number in wanted for pair in baths.get(number, [])]:
        if (view.id, bath.entry) in seen:
            continue
        seen.add((view.id, bath.entry))
        price = prices.get((view.id, bath.entry))
        if price is None:
            missing.append(f"{bath.facts.chemical} of {bath.facts.mixed_on}")
            continue
        units = sum((one.roll.takes for one in bath.passes if one.roll.roll.casefold() in wanted), Fraction(0))
        found.append(Chemistry(bath.facts.chemical, price.times(units), bath.facts.capacity_units or bath.done_units))
    return found, missing


def _priced(session: Session, rolls: Sequence[Roll]) -> tuple[PricedRoll, ...]:
    """Rolls with their costs, in the order given; the same few queries for one or many."""
    ids = {roll.id or 0 for roll in rolls}
    numbers = {roll.id: [roll.number] for roll in rolls}
    former = select(FormerNumber.roll_id, FormerNumber.number).where(col(FormerNumber.roll_id).in_(ids))
    for roll_id, number in session.exec(former):
        numbers[roll_id].append(number)
    facts = select(StockFacts.stock, StockFacts.price).where(col(StockFacts.stock).in_({roll.stock for roll in rolls}))
    film_prices = {stock: money(session, price) for stock, price in session.exec(facts)}
    page, pages = money(session, supplies(session).page_price), _pages(session, ids)
    expected = select(WaitingRoll.roll_id, WaitingRoll.frames_expected).where(col(WaitingRoll.roll_id).in_(ids))
    frames = dict(session.exec(expected).all())
    counted = select(Frame.roll_id, func.count()).where(col(Frame.roll_id).in_(ids)).group_by(col(Frame.roll_id))
    frames |= dict(session.exec(counted).all())
    baths, prices = _baths(session), bath_prices(session)
    found = []
    for roll in rolls:
        key = roll.id or 0
        chemistry, missing = _chemistry(numbers[key], baths, prices)
        film = film_prices.get(roll.stock)
        if film is None:
            missing.insert(0, f"a roll of {roll.stock}" if roll.stock else "the stock, which isn't known")
        if page is None:
            missing.append("a sleeve page")
        cost = None
        if film or chemistry or page:
            # Each chemical's price is multiplied by the units it gave already, for they may differ from bath to bath.
            filled = pages.get(key, Fraction(1))  # one page before it is sleeved
            cost = roll_cost(film=film, chemistry=chemistry, page=page, pages=filled, frames=frames.get(key))
        found.append(PricedRoll(roll.number, roll.stock, frames.get(key), cost, tuple(missing)))
    return tuple(found)


def cost_of_roll(session: Session, number: str) -> PricedRoll:
    """What a roll costs so far, under any number it ever had; raises `NotFound` for a roll that isn't there."""
    return _priced(session, [roll_row(session, number)])[0]


def costs_of_processed(session: Session, limit: int = LATELY) -> tuple[PricedRoll, ...]:
    """The processed rolls with the highest numbers, each with its cost, the highest first."""
    recorded = select(ProcessRecord.roll_id).where(ProcessRecord.roll_id == Roll.id).exists()
    processed = col(Roll.processed_from).is_not(None) | recorded
    return _priced(session, session.exec(select(Roll).where(processed).order_by(col(Roll.number_sort).desc()).limit(limit)).all())


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
