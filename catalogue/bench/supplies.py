"""Costs and supplies: what film, chemistry and sleeve pages cost, what a roll costs, and what to buy at the present pace."""

import re
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session, col, select

from catalogue.bench.bottles.shelf import list_bottles
from catalogue.bench.rules.baths.costs import Money, Supply, SupplyOutlook, supply
from catalogue.bench.rules.baths.entries import same_words
from catalogue.bench.rules.baths.film_area import MOST_WEIGHT, exact
from catalogue.errors import InvalidInput
from catalogue.film.dates import parse_date
from catalogue.settings import get_setting, set_setting
from catalogue.store.tables.bench import FillingPrice, StockFacts
from catalogue.store.tables.rolls import ProcessRecord, Roll

CURRENCY, PAGE_PRICE, PAGES_LEFT, PAGES_PACK = "supply_currency", "supply_page_price", "supply_pages_left", "supply_pages_pack"
NO_CURRENCY = "¤"
"""Stands for a currency nobody named (the sign for any currency, ISO/IEC 8859-1)."""
USUAL_PACK = 25
"""Sleeve pages in a pack: 25 pages hold 25 rolls (common practice, no published source)."""
MOST_PRICE = 1_000_000
YEAR, LEAST_SPAN = 365, 30
_PRICE = re.compile(r"[0-9]{1,9}(?:[.,][0-9]{1,6})?", re.ASCII)


def checked_price(text: str, what: str) -> str:
    """A price as a plain decimal number with a point, or nothing; raises `InvalidInput`, `what` being its subject."""
    plain = text.strip()
    if not plain:
        return ""
    if not _PRICE.fullmatch(plain) or Decimal(plain.replace(",", ".")) > MOST_PRICE:
        raise InvalidInput(f"{what} can't be “{plain[:30]}”. Write figures alone, up to {MOST_PRICE}, for example 8.40.")
    return format(Decimal(plain.replace(",", ".")), "f")


class SuppliesInput(BaseModel):
    """Prices are decimal numbers as text in the archive's one currency; an empty text or None means not known."""

    model_config = ConfigDict(extra="forbid")
    currency: str = Field(default="", max_length=12, examples=["crowns"])
    page_price: str = Field(default="", max_length=30, description="What one sleeve page costs.", examples=["0.42"])
    pages_left: int | None = Field(default=None, ge=0, le=100_000, description="Empty sleeve pages in the drawer.")
    pages_pack: int = Field(default=USUAL_PACK, ge=1, le=10_000, description="Sleeve pages in a pack as bought.")


def supplies(session: Session) -> SuppliesInput:
    """What is set."""
    left = get_setting(session, PAGES_LEFT)
    return SuppliesInput(
        currency=get_setting(session, CURRENCY), page_price=get_setting(session, PAGE_PRICE),
        pages_left=int(left) if left else None, pages_pack=int(get_setting(session, PAGES_PACK, str(USUAL_PACK))),
    )  # fmt: skip


def set_supplies(session: Session, given: SuppliesInput) -> SuppliesInput:
    """Sets prices, pages and currency; amounts typed before are taken to be in it. Raises `InvalidInput`."""
    price = checked_price(given.page_price, "The price of a sleeve page")
    currency = Money(0, given.currency).currency if given.currency.strip() else ""
    values = {CURRENCY: currency, PAGE_PRICE: price, PAGES_PACK: str(given.pages_pack)}
    values[PAGES_LEFT] = "" if given.pages_left is None else str(given.pages_left)
    for key, value in values.items():
        set_setting(session, key, value)
    return supplies(session)


def money(session: Session, price: str) -> Money | None:
    """A price as kept, in the archive's currency; None where it isn't known."""
    return Money(price, get_setting(session, CURRENCY) or NO_CURRENCY) if price else None


def bath_price(session: Session, bottle_id: int, entry: int) -> str:
    """What the filling that entry `entry` of a bottle's ledger wrote cost, or nothing."""
    found = session.get(FillingPrice, (bottle_id, entry))
    return found.price if found else ""


def bath_prices(session: Session) -> dict[tuple[int, int], Money]:
    """What fillings cost that have a price, by bottle and by the entry of its ledger that wrote the filling."""
    kept = session.exec(select(FillingPrice)).all()
    currency = (get_setting(session, CURRENCY) or NO_CURRENCY) if kept else NO_CURRENCY
    return {(row.bottle_id, row.entry): Money(row.price, currency) for row in kept}


def set_bath_price(session: Session, bottle_id: int, entry: int, price: str) -> None:
    """Keeps the price of a filling under its entry, which never changes its number; raises `InvalidInput`."""
    plain, known = checked_price(price, "The price of the lot"), session.get(FillingPrice, (bottle_id, entry))
    if plain:
        session.merge(FillingPrice(bottle_id=bottle_id, entry=entry, price=plain))
    elif known is not None:
        session.delete(known)
    session.flush()


class StockInput(BaseModel):
    """What is known of a film stock. `weight`: how much more it tires a bath than the usual, 0.25 to 4."""

    model_config = ConfigDict(extra="forbid")
    stock: str = Field(max_length=120, examples=["Mirelle Pan 125"])
    process: str = Field(default="", max_length=80)
    speed: float | None = Field(default=None, gt=0, le=1_000_000, description="ISO speed, arithmetic.")
    weight: float = Field(default=1.0, ge=0.25, le=float(MOST_WEIGHT))
    price: str = Field(default="", max_length=30, description="What one roll costs, a decimal number as text.")
    notes: str = Field(default="", max_length=2000)


def list_stocks(session: Session) -> tuple[StockInput, ...]:
    """Every stock that a roll is of or something is known of, by name."""
    known = {row.stock: row for row in session.exec(select(StockFacts))}
    names = {stock for stock in session.exec(select(Roll.stock).distinct()) if stock.strip()} | known.keys()
    return tuple(_stock(known.get(name), name) for name in sorted(names, key=lambda name: (name.casefold(), name)))


def _stock(row: StockFacts | None, name: str) -> StockInput:
    if row is None:
        return StockInput(stock=name)
    return StockInput(
        stock=name, process=row.process, speed=row.speed, weight=row.weight, price=row.price, notes=row.notes
    )  # fmt: skip


def set_stock(session: Session, given: StockInput) -> StockInput:
    """Keeps what is known of a stock, in place of what was; letter case doesn't make another stock. Raises `InvalidInput`."""
    name = " ".join(given.stock.split())
    if not name:
        raise InvalidInput("The name of the stock is missing. Write it as on the rolls.")
    price = checked_price(given.price, f"The price of {name}")
    known = next((one.stock for one in list_stocks(session) if same_words(one.stock, name)), name)
    values = given.model_dump() | {"stock": known, "price": price, "process": given.process.strip(), "notes": given.notes.strip()}
    session.merge(StockFacts(**values))
    session.flush()
    return _stock(session.get_one(StockFacts, known), known)


@dataclass(frozen=True)
class ProcessingPace:
    """How many rolls were processed in the last twelve months, over how many days that is reckoned, and rolls a day."""

    rolls: int
    days: int
    a_day: Fraction


def processing_pace(session: Session, today: date) -> ProcessingPace:
    """Rolls a day over the last 365 days, or since the first roll of them if that is later; 30 days at the least."""
    since = (today - timedelta(YEAR)).isoformat()
    of_roll, recorded = col(Roll.processed_from), col(ProcessRecord.done_on)
    query = select(of_roll, recorded).join(ProcessRecord, col(ProcessRecord.roll_id) == col(Roll.id), isouter=True)
    # The day of the roll stands above that of its record; a date of the record begins with its year.
    lately = (of_roll > since) | (of_roll.is_(None) & (recorded >= since[:4]))
    found = session.exec(query.where(lately)).all()
    known = (date.fromisoformat(roll) if roll else parse_date(record).earliest for roll, record in found)
    days = [day for day in known if day and today - timedelta(YEAR) < day <= today]
    span = min(YEAR, max(LEAST_SPAN, (today - min(days)).days + 1)) if days else YEAR
    return ProcessingPace(len(days), span, Fraction(len(days), span))


def what_to_buy(session: Session, today: date, ahead_days: int = 90) -> tuple[SupplyOutlook, ...]:
    """Sleeve pages and every chemical with a known capacity, one page and one unit a roll; the scarcest first.

    A bath past its date counts as used up.
    """
    items: list[Supply] = []
    given = supplies(session)
    if given.pages_left is not None:
        items.append(Supply("Sleeve pages", given.pages_left, 1, given.pages_pack, "pages"))
    chemicals: dict[str, tuple[str, Fraction, Fraction]] = {}
    for view in list_bottles(session):
        bath = view.bath
        if bath is None or bath.left is None:
            continue
        past = bath.discard_on is not None and bath.discard_on < today
        key = " ".join(bath.facts.chemical.split()).casefold()
        name, left, pack = chemicals.get(key, (bath.facts.chemical, Fraction(0), Fraction(0)))
        chemicals[key] = (
            name,
            left + (Fraction(0) if past else max(bath.left, Fraction(0))),
            max(pack, exact(bath.facts.capacity or 1)),
        )
    items += [Supply(name, left, 1, pack, "rolls") for name, left, pack in chemicals.values()]
    return supply(items, processing_pace(session, today).a_day, today, ahead_days)
