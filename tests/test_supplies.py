"""Costs and supplies against sums done with Decimal beside them; the pace; the film base as evidence of a bath."""

from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from math import log10

import pytest
from bench_scene import Bench, set_up
from builders import registered
from fastapi.testclient import TestClient
from sqlmodel import Session

from api.app import create_app
from catalogue.bench.bottles.bath_evidence import BaseMeasured, bath_evidence, risen
from catalogue.bench.bottles.by_hand import fill_bottle, put_rolls_through
from catalogue.bench.bottles.shelf import add_bottle, bottle_view, roll_pass, write_entry
from catalogue.bench.roll_costs import average, cost_of_roll, costs_of_processed
from catalogue.bench.rules.baths.entries import BathFacts, Emptied, Filled, RollsDone
from catalogue.bench.supplies import (
    StockInput,
    SuppliesInput,
    list_stocks,
    processing_pace,
    set_stock,
    set_supplies,
    what_to_buy,
)
from catalogue.bench.waiting import NewWaiting, note_roll
from catalogue.errors import InvalidInput
from catalogue.rolls.process import ProcessInput, record_process
from catalogue.scans.look.positives import FilmKind, Inversion
from catalogue.store.engine import Archive
from catalogue.store.tables.scans import FilmPositive

TODAY = date.today()


@pytest.fixture
def bench(session: Session) -> Bench:
    return set_up(session, rolls=3)


def priced(session: Session) -> None:
    set_supplies(session, SuppliesInput(currency="crowns", page_price="0.42", pages_left=25))
    set_stock(session, StockInput(stock="hazelgrain 200", price="7,90", weight=1.5, speed=200, process="C-41"))


def test_a_roll_costs_its_film_its_share_of_the_baths_and_its_page(session: Session) -> None:
    priced(session)
    film = note_roll(session, NewWaiting(stock="hazelgrain 200", frames_expected=36)).number
    bottle = add_bottle(session, "Brown 1", 1000)
    filled = Filled(on=TODAY, bath=BathFacts("Kit developer", 946, TODAY, capacity=16))
    fill_bottle(session, bottle.id, filled, "24.00")
    other = add_bottle(session, "Brown 2", 1000)
    write_entry(session, other.id, Filled(on=TODAY, bath=BathFacts("Fixer", 946, TODAY, capacity=20)))
    for key in (bottle.id, other.id):
        put_rolls_through(session, key, (film,), TODAY)
    found = cost_of_roll(session, film)
    share = Decimal("24.00") / 16 * Decimal("1.5")  # 1.5 units of 16
    whole = Decimal("7.90") + share + Decimal("0.42")
    assert found.cost is not None and found.cost.per_frame is not None
    assert [line.cost.rounded(4) for line in found.cost.lines] == [
        Decimal("7.9000"),
        share.quantize(Decimal("0.0001")),
        Decimal("0.4200"),
    ]
    assert found.cost.total.rounded(4) == whole.quantize(Decimal("0.0001"))
    assert found.cost.per_frame.rounded(4) == (whole / 36).quantize(Decimal("0.0001"))
    assert found.missing == (f"Fixer of {TODAY}",)


def test_without_a_capacity_the_price_is_shared_by_all_that_went_through(session: Session, bench: Bench) -> None:
    bottle = add_bottle(session, "Brown 3", 1000)
    fill_bottle(session, bottle.id, Filled(on=TODAY, bath=BathFacts("Own mix", 500, TODAY)), "9")
    write_entry(session, bottle.id, RollsDone(on=TODAY, rolls=tuple(roll_pass(session, n) for n in bench.rolls)))
    write_entry(session, bottle.id, Emptied(on=TODAY))
    cost = cost_of_roll(session, bench.rolls[0]).cost
    assert cost is not None and cost.total.text() == "3.00 ¤"


def test_rolls_on_one_page_share_its_price(session: Session) -> None:
    set_supplies(session, SuppliesInput(page_price="0.70"))
    first = registered(session, number="2031-001", frames=12)  # two strips of six
    second = registered(session, number="2031-002", frames=6, page_id=first.page_ids[0])
    assert second.page_ids == first.page_ids
    strips = [len(first.strips), len(second.strips)]
    costs = [cost_of_roll(session, n).cost for n in ("2031-001", "2031-002")]
    assert [c.total.amount for c in costs if c] == [Fraction(7, 10) * n / sum(strips) for n in strips]


def test_the_average_is_over_rolls_and_over_all_frames(session: Session) -> None:
    priced(session)
    for number, frames in (("2031-001", 36), ("2031-002", 12)):
        registered(session, number=number, frames=frames, stock="hazelgrain 200")
        record_process(session, number, ProcessInput(process="C-41", done_on=TODAY.isoformat()))
    registered(session, number="2031-003", frames=12)  # never processed: no part of the average
    rolls = costs_of_processed(session)
    assert [roll.number for roll in rolls] == ["2031-002", "2031-001"]
    mean = average(rolls)
    assert mean is not None and mean.frame is not None and mean.rolls == 2
    assert mean.roll.rounded() == Decimal("7.90") + Decimal("0.42")
    assert mean.frame.rounded(6) == (2 * Decimal("8.32") / 48).quantize(Decimal("0.000001"))
    assert average(()) is None


def test_twenty_five_pages_hold_twenty_five_rolls(session: Session, bench: Bench) -> None:
    """Common practice, no published source. 6 rolls in 60 days are 0.1 a day: 25 pages last 250 days."""
    priced(session)
    for n in range(6):
        registered(session, number=f"2030-00{n}", frames=36)
        done = TODAY - timedelta(59) if n == 0 else TODAY
        record_process(session, f"2030-00{n}", ProcessInput(done_on=done.isoformat()))
    registered(session, number="2029-001", frames=36)
    record_process(session, "2029-001", ProcessInput(done_on=(TODAY - timedelta(365)).isoformat()))
    pace = processing_pace(session, TODAY)
    assert (pace.rolls, pace.days, pace.a_day) == (6, 60, Fraction(1, 10))
    found = {one.supply.name: one for one in what_to_buy(session, TODAY)}
    pages = found["Sleeve pages"]
    assert (pages.rolls, pages.days, pages.buy_packs) == (25, 250, 0)
    assert found["Kit K developer"].days == 160  # 16 rolls
    buy = {one.supply.name: one.buy_packs for one in what_to_buy(session, TODAY, 365)}
    assert (buy["Sleeve pages"], buy["Kit K developer"]) == (1, 2)  # 36.5 - 25 pages in packs of 25; 36.5 - 16 in lots of 16


def test_no_pace_is_no_division_by_zero(session: Session) -> None:
    assert processing_pace(session, TODAY).a_day == 0
    assert what_to_buy(session, TODAY) == ()


def test_stocks_keep_one_name_and_refuse_odd_prices(session: Session, bench: Bench) -> None:
    kept = set_stock(session, StockInput(stock=" hazelgrain  200", price="7.5"))
    assert kept.stock == "Hazelgrain 200"  # as it stands on the rolls
    assert [(one.stock, one.price) for one in list_stocks(session)] == [("Hazelgrain 200", "7.5")]
    for price in ("free", "-1", "1e3", "NaN", "12345678901", "1.2345678", "٣"):
        with pytest.raises(InvalidInput, match="figures"):
            set_stock(session, StockInput(stock="x", price=price))
    with pytest.raises(InvalidInput):
        set_stock(session, StockInput(stock="  "))


@pytest.fixture
def client(archive: Archive) -> Iterator[TestClient]:
    with archive.session() as session:
        set_up(session)
    app = create_app(archive.folder)
    with TestClient(app, follow_redirects=False) as opened:
        yield opened
    app.state.archive.close()


def test_costs_through_http(client: TestClient) -> None:
    assert client.put("/api/stocks", json={"stock": "Hazelgrain 200", "price": "8.40"}).json()["weight"] == 1
    assert client.put("/api/supplies", json={"currency": "crowns", "page_price": "0.42", "pages_left": 9}).status_code == 200
    roll = client.get("/api/bottles").json() and client.get("/api/waiting").json()
    number = roll[0]["number"]
    cost = client.get(f"/api/rolls/{number}/cost").json()
    assert cost["total"] == {"amount": "8.82", "currency": "crowns"} and cost["missing"] == []
    assert client.get("/api/supplies").json()["outlook"]
    for body in ({"stock": "x", "weight": 5}, {"stock": "x", "weight": "NaN"}, {"stock": "x", "speed": 0}, {"stock": ""}, {}):
        assert client.put("/api/stocks", json=body).status_code == 422
    for body in ({"pages_left": -1}, {"pages_left": 10**30}, {"pages_pack": 0}, {"page_price": "much"}, {"currency": "x" * 13}):
        assert client.put("/api/supplies", json=body).status_code == 422
    assert client.get("/api/supplies?ahead_days=0").status_code == 422
    assert client.get("/api/rolls/2099-001/cost").status_code == 404


def test_the_page_keeps_what_was_typed(client: TestClient) -> None:
    page = "/bench/supplies"
    stock = {"do": "stock", "stock": "Hazelgrain 200", "price": "8.40", "weight": "1,5", "speed": "200"}
    assert client.post(page, data=stock).status_code == 303
    assert (
        client.post(page, data={"do": "pages", "pages_left": "25", "currency": "crowns", "page_price": "0.42"}).status_code == 303
    )
    shown = client.get(page).text
    assert "25 pages left, enough for 25 rolls" in shown and "8.40" in shown
    assert 'value="1.5"' in client.get(f"{page}?stock=Hazelgrain%20200").text
    for bad in ({"weight": "9"}, {"weight": "much"}, {"price": "cheap"}, {"speed": "-3"}, {"stock": ""}):
        answer = client.post(page, data=stock | {"notes": "kept"} | bad)
        assert answer.status_code == 422 and "kept" in answer.text
    for bad in ({"pages_left": "some"}, {"pages_left": "9" * 18}, {"pages_pack": "0"}, {"currency": "x" * 20}):
        assert client.post(page, data={"do": "pages", "page_price": "0.5"} | bad).status_code == 422
    assert client.post(page, data={}).status_code == 422


def measured(session: Session, number: str, base: tuple[float, float, float], kind: FilmKind = FilmKind.COLOUR_NEGATIVE) -> None:
    roll_id = next(w.roll_id for w in _waiting(session) if w.number == number)
    session.add(FilmPositive(roll_id=roll_id, inversion=Inversion(kind, base=base).to_json()))
    session.flush()


def _waiting(session: Session):  # type: ignore[no-untyped-def]
    from catalogue.bench.waiting import waiting_film

    return waiting_film(session)


def test_the_base_of_a_baths_rolls_is_told_by_date(session: Session, bench: Bench) -> None:
    """Density is -log10 of the transmittance (ISO 5-1, from memory)."""
    assert bath_evidence(session, bottle_view(session, bench.developer)) is None
    for n, number in enumerate(bench.rolls):
        put_rolls_through(session, bench.developer, (number,), TODAY)
        measured(session, number, tuple(value * 10 ** (-0.025 * n) for value in (0.6, 0.3, 0.2)))  # type: ignore[arg-type]
    found = bath_evidence(session, bottle_view(session, bench.developer))
    assert found is not None
    assert [one.roll for one in found.bases] == list(bench.rolls)
    assert found.bases[0].density == pytest.approx(tuple(-log10(value) for value in (0.6, 0.3, 0.2)))
    (said,) = found.sentences
    assert "rose by 0.05" in said and "bare table" in said and "Status M" not in said
    assert bath_evidence(session, bottle_view(session, bench.fixer)) is None


def test_a_rise_needs_three_sessions_of_one_stock() -> None:
    def base(roll: str, entry: int, level: float, stock: str = "Tarn 100") -> BaseMeasured:
        return BaseMeasured(roll, TODAY, entry, stock, "colour negative", (level, level, level))

    up = [base("1", 2, 0.30), base("2", 3, 0.31), base("3", 4, 0.33)]
    assert "rose by 0.03" in risen(up)[0]
    assert risen(up[:2]) == ()
    assert risen([*up[:2], base("3", 4, 0.33, "Mere 400")]) == ()
    assert risen([*up, base("4", 5, 0.32)]) == ()  # it has fallen again
    assert risen([base("1", 2, 0.30), base("2", 3, 0.305), base("3", 4, 0.31)]) == ()  # within the scanner's unrest
    assert risen([base("1", 2, 0.30), base("2", 2, 0.50), base("3", 3, 0.41), base("4", 4, 0.43)])  # a session is a mean: 0.40
