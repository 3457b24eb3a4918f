"""Costs and supplies as JSON; money is a decimal number as text with the archive's currency beside it."""

from datetime import date
from typing import Any

from fastapi import APIRouter, Query
from pydantic import BaseModel

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from catalogue.bench.roll_costs import PricedRoll, average, cost_of_roll, costs_of_processed
from catalogue.bench.rules.baths.costs import Money
from catalogue.bench.supplies import (
    StockInput,
    SuppliesInput,
    list_stocks,
    processing_pace,
    set_stock,
    set_supplies,
    supplies,
    what_to_buy,
)

router = APIRouter(responses=PROBLEMS, tags=["bench"])


class MoneyOut(BaseModel):
    """An amount rounded to two places, half to even."""

    amount: str
    currency: str

    @classmethod
    def of(cls, money: Money) -> "MoneyOut":
        """From the exact amount."""
        return cls(amount=str(money.rounded()), currency=money.currency)


class RollCostOut(BaseModel):
    """What a roll costs: its parts, the sum, a frame's share, and the prices that are missing for a whole sum."""

    roll: str
    stock: str
    frames: int | None
    lines: list[tuple[str, MoneyOut]]
    total: MoneyOut | None
    per_frame: MoneyOut | None
    missing: list[str]

    @classmethod
    def of(cls, priced: PricedRoll) -> "RollCostOut":
        """From the read model."""
        cost = priced.cost
        return cls(
            roll=priced.number, stock=priced.stock, frames=priced.frames, missing=list(priced.missing),
            lines=[(line.name, MoneyOut.of(line.cost)) for line in cost.lines] if cost else [],
            total=MoneyOut.of(cost.total) if cost else None,
            per_frame=MoneyOut.of(cost.per_frame) if cost and cost.per_frame else None,
        )  # fmt: skip


class SuppliesOut(BaseModel):
    """What is set, the costs of processed rolls and their average, the pace in rolls a day, and what to buy."""

    set: SuppliesInput
    rolls: list[RollCostOut]
    average_roll: MoneyOut | None
    average_frame: MoneyOut | None
    rolls_in_pace: int
    days_in_pace: int
    rolls_a_day: float
    outlook: list[dict[str, Any]]


@router.get("/supplies")
def shown(archive: ArchiveHere, ahead_days: int = Query(default=90, ge=1, le=3650)) -> SuppliesOut:
    """Costs and supplies; `ahead_days` is how long what is bought is to last."""
    with archive.session(reading=True) as session:
        rolls, today = costs_of_processed(session), date.today()
        mean, pace = average(rolls), processing_pace(session, today)
        return SuppliesOut(
            set=supplies(session), rolls=[RollCostOut.of(roll) for roll in rolls],
            average_roll=MoneyOut.of(mean.roll) if mean else None,
            average_frame=MoneyOut.of(mean.frame) if mean and mean.frame else None,
            rolls_in_pace=pace.rolls, days_in_pace=pace.days, rolls_a_day=float(pace.a_day),
            outlook=[
                {
                    "name": one.supply.name, "counted_in": one.supply.counted_in, "left": float(one.supply.left),
                    "rolls": one.rolls, "days": one.days, "lasts_until": one.lasts_until, "buy_packs": one.buy_packs,
                    "sentence": one.sentence,
                }
                for one in what_to_buy(session, today, ahead_days)
            ],
        )  # fmt: skip


@router.put("/supplies")
def kept(given: SuppliesInput, archive: ArchiveHere) -> SuppliesInput:
    """Sets currency, the price of a sleeve page, and the pages left."""
    with archive.session() as session:
        return set_supplies(session, given)


@router.get("/stocks")
def stocks(archive: ArchiveHere) -> list[StockInput]:
    """Every stock that a roll is of or something is known of."""
    with archive.session(reading=True) as session:
        return list(list_stocks(session))


@router.put("/stocks")
def stock(given: StockInput, archive: ArchiveHere) -> StockInput:
    """Keeps what is known of a stock."""
    with archive.session() as session:
        return set_stock(session, given)


@router.get("/rolls/{number}/cost")
def cost(number: str, archive: ArchiveHere) -> RollCostOut:
    """What a roll costs so far: film, its share of the baths, sleeve pages."""
    with archive.session(reading=True) as session:
        return RollCostOut.of(cost_of_roll(session, number))
