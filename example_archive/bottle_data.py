"""An invented colour kit in two bottles, some of the example's rolls through it, and what things cost in crowns.

Days are counted back from the day the example is built, for a bath keeps for weeks only.
"""

from datetime import date, timedelta

from sqlmodel import Session, select

from catalogue.bench.bottles.by_hand import fill_bottle, put_rolls_through
from catalogue.bench.bottles.shelf import add_bottle, undo_last_entry, write_entry
from catalogue.bench.rules.baths.entries import BathFacts, ClearingMeasured, Filled, Opened
from catalogue.bench.supplies import StockInput, SuppliesInput, set_stock, set_supplies
from catalogue.store.tables.rolls import Roll
from catalogue.units import ML_PER_QUART

STOCK, DEVELOPER, FIXER = "Saffrane 200", "Marlpit kit, developer", "Marlpit kit, fix"
PRICES = {STOCK: ("C-41", 200.0, "7.90"), "Mirelle Pan 125": ("black and white", 125.0, "5.60")}
KIT_PRICE = "14.50"
"""Of each of the kit's two parts."""


def add_bottles(session: Session) -> None:
    """Two brown bottles of a quart with a kit, two batches through both and one undone; prices and pages."""
    today = date.today()
    mixed = today - timedelta(20)
    set_supplies(session, SuppliesInput(currency="crowns", page_price="0.42", pages_left=18))
    for stock, (process, speed, price) in PRICES.items():
        set_stock(session, StockInput(stock=stock, process=process, speed=speed, price=price))
    keys = []
    # The fix takes a roll more and then no other: planning a session with two says so before the film goes in.
    for name, chemical, capacity in (("Brown quart 1", DEVELOPER, 16), ("Brown quart 2", FIXER, 5)):
        bottle = add_bottle(session, name, ML_PER_QUART, "Amber glass, kept in the cupboard under the stairs.")
        bath = BathFacts(chemical, 940, mixed, capacity=capacity, mixed_days=42, open_days=28)
        fill_bottle(session, bottle.id, Filled(on=mixed, bath=bath), KIT_PRICE)
        write_entry(session, bottle.id, Opened(on=mixed + timedelta(4)))
        keys.append(bottle.id)
    write_entry(session, keys[1], ClearingMeasured(on=mixed + timedelta(4), seconds=50, fresh=True))
    rolls = list(session.exec(select(Roll.number).where(Roll.stock == STOCK).order_by(Roll.number_sort)))[-5:]
    for n, batch in enumerate((rolls[:2], rolls[2:4])):
        on = mixed + timedelta(4 + 7 * n)
        for key in keys if batch else ():
            put_rolls_through(session, key, tuple(batch), on, ml=600, back_ml=600)
        write_entry(session, keys[1], ClearingMeasured(on=on, seconds=58 + 8 * n))
    if rolls[4:]:
        put_rolls_through(session, keys[0], tuple(rolls[4:]), today - timedelta(2))
        undo_last_entry(session, keys[0], "that was the black-and-white tank")
