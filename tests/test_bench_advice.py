"""Cautions, costs and supply, and which waiting rolls share a tank."""

from datetime import date, timedelta
from decimal import Decimal
from fractions import Fraction
from typing import get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.bench.rules.baths.costs import Chemistry, Money, Supply, roll_cost, supply, total
from catalogue.bench.rules.cautions import ALL_CAUTIONS, LAST, StepKind, cautions_for
from catalogue.bench.rules.tank_groups import RollForTank, TankRoom, tank_groups
from catalogue.errors import InvalidInput, UnknownFormat
from catalogue.film.dates import parse_date

DAY = date(2031, 3, 1)


@given(st.lists(st.sampled_from(get_args(StepKind))))
def test_cautions_stand_in_order_without_doubles_and_end_with_the_data_sheet(kinds: list[str]) -> None:
    said = cautions_for(kinds)
    order = [one.sentence for one in ALL_CAUTIONS]
    assert said[-1] == LAST == "The maker's data sheet and local rules come first; this is no professional advice."
    assert [order.index(one) for one in said[:-1]] == sorted({order.index(one) for one in said[:-1]})
    assert said == cautions_for(reversed(kinds))


# A metropolitan waste authority's public guide and a state environment office's guidance, read for these.
@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("mixing", "acid into water"), ("mixing", "goggles"), ("fixer", "gloves"), ("developer", "bathroom fan"),
        ("storing", "children"), ("storing", "Label every bottle"), ("storing", "food or drink"),
        ("fixer", "silver"), ("disposal", "septic"), ("disposal", "leftover baths"), ("bleach", "household bleach"),
        ("warm water", "leads dry"), ("cutting", "blade"), ("colour developer", "sensitive"), ("powder", "dust"),
    ],
)  # fmt: skip
def test_each_hazard_has_its_caution(kind: str, words: str) -> None:
    assert any(words in sentence for sentence in cautions_for([kind]))


def test_every_kind_has_a_caution_and_unknown_ones_are_refused() -> None:
    assert all(len(cautions_for([kind])) > 1 for kind in get_args(StepKind))
    assert cautions_for([]) == (LAST,)
    with pytest.raises(InvalidInput, match="“juggling” is no kind of step"):
        cautions_for(["juggling"])


def test_the_cost_of_a_roll_and_of_a_frame() -> None:
    developer = Chemistry("developer", Money("12.80", "crowns"), 16)
    fixer = Chemistry("fixer", Money(9, "crowns"), 20)
    cost = roll_cost(
        film=Money("8.20", "crowns"), chemistry=(developer, fixer), units="2/3", page=Money(Decimal("0.55"), "crowns"), frames=24
    )
    # 8.20 + 12.80 × 2/48 + 9 × 2/60 + 0.55 = 9.58333…, by hand
    assert [line.cost.text() for line in cost.lines] == ["8.20 crowns", "0.53 crowns", "0.30 crowns", "0.55 crowns"]
    assert cost.total.amount == Fraction("8.20") + Fraction("12.80") / 24 + Fraction(9) / 30 + Fraction("0.55")
    assert cost.total.text() == "9.58 crowns" and cost.per_frame is not None and cost.per_frame.text(3) == "0.399 crowns"
    assert roll_cost(film=Money(5, "€")).per_frame is None


def test_money_rounds_half_to_even_as_the_decimal_module_does() -> None:
    for amount in ("0.125", "0.135", "2.5", "3.5", "0.005"):
        expected = Decimal(amount).quantize(Decimal("0.01"))  # ROUND_HALF_EVEN is the default of the General Decimal Arithmetic
        assert Money(amount, "€").rounded() == expected
    assert Money("2.5", "yen").text(0) == "2 yen" and Money("3.5", "yen").text(0) == "4 yen"


def test_nothing_is_converted() -> None:
    with pytest.raises(InvalidInput, match="crowns and pence can't be added"):
        total([Money(1, "crowns"), Money(1, "pence")])
    with pytest.raises(InvalidInput, match="no price"):
        roll_cost()
    with pytest.raises(InvalidInput, match="0 parts"):
        Money(1, "€").shared(0)
    with pytest.raises(InvalidInput, match="0 frames"):
        roll_cost(film=Money(1, "€"), frames=0)
    with pytest.raises(InvalidInput, match="1 to 12 characters"):
        Money(1, " ")


def test_supply_says_how_long_it_lasts_and_what_to_buy() -> None:
    pages, fixer = Supply("Sleeve pages", 5, 1, 25, "pages"), Supply("Fixer", "12.5", 1, 10, "units")
    first, second = supply([fixer, pages], "1/4", DAY, ahead_days=100)
    assert first.supply is pages and (first.rolls, first.days, first.buy_packs) == (5, 20, 1)  # 25 wanted, 20 short
    assert first.lasts_until == DAY + timedelta(20)
    assert first.sentence == (
        "Sleeve pages: 5 pages left, enough for 5 rolls, until 2031-03-21 at the present pace. Buy 1 × 25 pages to last 100 days."
    )
    assert (second.days, second.buy_packs) == (50, 2)  # 12.5 short, by tens
    (still,) = supply([pages], 0, DAY)
    assert still.days is None and still.buy_packs == 0 and still.sentence == "Sleeve pages: 5 pages left, enough for 5 rolls."
    for wrong in (lambda: Supply("Pages", 1, 0), lambda: supply([pages], 1, DAY, 0), lambda: Supply("Pages", "x", 1)):
        with pytest.raises(InvalidInput):
            wrong()


def bw(number: str, when: str = "", format_key: str = "135-24x36", **changed: object) -> RollForTank:
    known: dict[str, object] = {
        "process": "B&W", "developer": "Grauwasser", "dilution": "1+9", "temperature_c": 20, "time_s": 570,
        "stock": "Lindenhof 400",
    }  # fmt: skip
    return RollForTank(number, format_key, exposed=parse_date(when) if when else None, **{**known, **changed})  # type: ignore[arg-type]


TANK = TankRoom("Tank of two", 90, {"135": 45, "120": 66})


def test_the_oldest_goes_first_by_its_bounds() -> None:
    (group,) = tank_groups([bw("D"), bw("C", "2031-05-14"), bw("B", "2031"), bw("A", "2030-22"), bw("E", "../2029")])
    assert group.numbers == ("E", "A", "B", "C", "D") and group.ready and group.why_not_others == ()


def test_every_difference_is_said() -> None:
    one, two = tank_groups(
        [bw("A", "2030"), bw("B", "2031", developer="Sonnwend", dilution="1+25", temperature_c=24, time_s=300)]
    )
    assert one.why_not_others == (
        "Roll B can't join: developer Sonnwend, not Grauwasser; dilution 1+25, not 1+9; "
        "temperature 24 °C, not 20 °C; time 5:00 min, not 9:30 min.",
    )
    assert two.why_not_others[0].startswith("Roll A can't join: developer Grauwasser, not Sonnwend")


def test_written_forms_of_one_development_are_one() -> None:
    (group,) = tank_groups([bw("A"), bw("B", developer=" grauwasser", dilution="1 + 9", stock="another")])
    assert group.numbers == ("A", "B")


def test_without_a_time_the_stock_decides_but_not_in_the_colour_processes() -> None:
    apart = tank_groups([bw("A", time_s=None), bw("B", time_s=None, stock="Rotbuche 100"), bw("C", time_s=None)])
    assert [group.numbers for group in apart] == [("A", "C"), ("B",)]
    assert "no time given for Rotbuche 100, not no time given for Lindenhof 400" in apart[0].why_not_others[0]
    colour = [bw(n, process="C-41", time_s=None, stock=n, push_stops=push) for n, push in (("A", 0), ("B", 0), ("C", 1))]
    assert [group.numbers for group in tank_groups(colour)] == [("A", "B"), ("C",)]


def test_reels_fill_a_tank_by_height() -> None:
    full = tank_groups([bw("A", "2028"), bw("B", "2029", "120-6x6"), bw("C", "2030"), bw("D", "2031")], TANK)
    assert [group.numbers for group in full] == [("A", "C"), ("B",), ("D",)]
    assert (
        "Roll B can't join: Tank of two has 0 mm left beside these, and a reel for 120 is 66 mm high." in full[0].why_not_others
    )
    mixed = tank_groups([bw("A"), bw("B", format_key="120-6x6")], TankRoom("Tall tank", "111.5", {"135": 45, "120": 66}))
    assert [group.numbers for group in mixed] == [("A", "B")]
    apart = tank_groups([bw("A"), bw("B", format_key="120-6x6")], mixed_formats=False)
    assert apart[0].why_not_others == ("Roll B can't join: 120 film is not to be mixed with 135 film in one tank.",)


def test_what_no_tank_takes_and_what_is_not_settled_wait_apart() -> None:
    rolls = [bw("A", "2029"), bw("S", "2030", "sheet-4x5"), RollForTank("U", "135-24x36")]
    groups = tank_groups(rolls, TANK)
    assert [(group.numbers, group.ready) for group in groups] == [(("A",), True), (("S",), False), (("U",), False)]
    assert groups[0].why_not_others == (
        "Roll S can't join: Tank of two takes no sheet film.",
        "Roll U can't join: how to develop is not settled yet. Give a process or a developer.",
    )


def test_impossible_lists_are_refused() -> None:
    with pytest.raises(InvalidInput, match="Roll a waits twice"):
        tank_groups([bw("A", "2030"), bw("a", "2031")])
    with pytest.raises(UnknownFormat):
        tank_groups([bw("A", format_key="banana")])
    for changed in ({"temperature_c": 70}, {"time_s": 0}, {"push_stops": 6}):
        with pytest.raises(InvalidInput, match="Roll A"):
            bw("A", **changed)
    with pytest.raises(InvalidInput, match="above 0 mm"):
        TankRoom("T", 0, {})


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.sampled_from(["135-24x36", "120-6x7", "sheet-4x5"]), st.sampled_from(["G", "S", ""])), max_size=9),
    st.booleans(),
)
def test_every_roll_is_in_one_tankful_that_fits(given_rolls: list[tuple[str, str]], mixed: bool) -> None:
    waiting = [RollForTank(f"R{n}", key, developer=dev) for n, (key, dev) in enumerate(given_rolls)]
    groups = tank_groups(waiting, TANK, mixed_formats=mixed)
    assert sorted(n for group in groups for n in group.numbers) == sorted(roll.number for roll in waiting)
    heights = {"135-24x36": 45, "120-6x7": 66}
    for group in groups:
        assert len(group.why_not_others) == len(groups) - 1
        assert len({roll.developer for roll in group.rolls}) == 1
        if group.ready:
            assert sum(heights[roll.format_key] for roll in group.rolls) <= 90
