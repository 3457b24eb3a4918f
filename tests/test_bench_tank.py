"""Tanks and reels: heights and volumes are common practice, no published source; the arithmetic is checked."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.bench.rules.dilution import Dilution, parse
from catalogue.bench.rules.tank import REELS, Loading, Reel, TankSize, check_volume, volume_needed
from catalogue.errors import DoesNotFit, InvalidInput

SMALL, MEDIUM, ROLL = REELS["35 mm"], REELS["120"], parse("1+9")
TWO = TankSize.for_reels("the two-reel tank", 2)
few = settings(max_examples=30, deadline=None)


@pytest.mark.parametrize(("reels", "in_120"), [(1, 0), (2, 1), (3, 2), (5, 3), (8, 5)])
def test_one_120_reel_for_two_of_35_mm(reels: int, in_120: int) -> None:
    # Common practice, no published source: what is printed on plastic tanks.
    tank = TankSize.for_reels("tank", reels)
    assert (tank.most(SMALL), tank.most(MEDIUM)) == (reels, in_120)


def test_the_usual_volumes_of_a_reel() -> None:
    # Common practice, no published source: 250–300, 450–600, 375–430 ml; about 1 l for six 4x5 inch sheets.
    assert 250 <= SMALL.ml <= 300 and 450 <= MEDIUM.ml <= 600 and 375 <= REELS["127"].ml <= 430 and REELS["sheet"].ml == 1000


def test_more_reels_than_the_tank_is_high_are_refused() -> None:
    Loading(TWO, (MEDIUM,))
    with pytest.raises(
        DoesNotFit, match=r"The 2 reels stand 132 mm high, but the two-reel tank has room for 90 mm, at most 1 of 120"
    ):
        Loading(TWO, (MEDIUM, MEDIUM))
    with pytest.raises(DoesNotFit, match=r"The 2 reels stand 111 mm.*at most 2 of 35 mm or 1 of 120"):
        Loading(TWO, (SMALL, MEDIUM))
    with pytest.raises(DoesNotFit, match=r"takes 600 ml to cover these reels, but shallow holds 500 ml"):
        Loading(TankSize("shallow", 90, 500, 300), (SMALL, SMALL))


def test_empty_reels_go_on_top() -> None:
    # US Navy training manual 14209: empty reels on top where loaded ones do not fill the tank.
    three = TankSize.for_reels("tank", 3)
    assert Loading(three, (SMALL,)).empty_on_top() == 2 and "2 empty reels on top" in Loading(three, (SMALL,)).words()
    assert Loading(TWO, (SMALL, SMALL)).empty_on_top() == 0 and "fill the tank" in Loading(TWO, (SMALL, SMALL)).words()
    blank = replace(SMALL, rolls=0)
    assert Loading(three, (SMALL, blank, blank)).covering_ml == 300
    with pytest.raises(InvalidInput, match="No film"):
        Loading(three, (blank,))


def test_a_volume_must_cover_the_reels_and_go_in() -> None:
    check_volume(TWO, (SMALL, SMALL), 600)
    with pytest.raises(DoesNotFit, match=r"500 ml is too little: it takes 600 ml to cover"):
        check_volume(TWO, (SMALL, SMALL), 500)
    with pytest.raises(DoesNotFit, match=r"350 ml is too little: it takes 400 ml in tall"):
        check_volume(TankSize("tall", 90, 660, 400), (SMALL,), 350)
    with pytest.raises(DoesNotFit, match=r"700 ml doesn't go into the two-reel tank, which holds 660 ml"):
        check_volume(TWO, (SMALL,), 700)
    with pytest.raises(InvalidInput, match="nan ml"):
        check_volume(TWO, (SMALL,), float("nan"))


def test_the_greatest_need_decides() -> None:
    by_reels = volume_needed(TWO, (SMALL, SMALL), ROLL, 10)
    assert (by_reels.ml, by_reels.explanation) == (
        600,
        "Mix 600 ml, which covers the reels. It holds enough concentrate for 6 rolls.",
    )
    by_tank = volume_needed(TankSize("tall", 90, 660, 400), (SMALL,), ROLL)
    assert (by_tank.ml, by_tank.explanation) == (400, "Mix 400 ml, the least that tall works with.")
    # 2 rolls × 6 ml × 51 parts ÷ 1 part = 612 ml.
    fed = volume_needed(TWO, (SMALL, SMALL), parse("1+50"), 6)
    assert (fed.ml, fed.fits) == (612, True)
    assert fed.explanation == (
        "Mix 612 ml: 2 rolls at 6 ml of concentrate each take 12 ml, and at 1+50 that makes 612 ml. "
        "It holds enough concentrate for 2 rolls."
    )


def test_too_weak_a_mix_says_how_many_rolls_instead() -> None:
    one = volume_needed(TWO, (SMALL, SMALL), parse("1+100"), 5)
    assert (one.ml, one.fits) == (1010, False)
    assert "It would take 1010 ml" in one.explanation and "enough for 1 roll at 1+100" in one.explanation
    none = volume_needed(TWO, (SMALL,), parse("1+200"), 5)
    assert not none.fits and "not enough for one roll" in none.explanation


@few
@given(st.floats(0.5, 50), st.floats(0, 100), st.integers(1, 5), st.floats(0.25, 2))
def test_the_floor_is_kept_whatever_decides(least: float, water: float, count: int, rolls: float) -> None:
    tank = TankSize.for_reels("tank", 5)
    dilution = Dilution((1,), water)
    needed = volume_needed(tank, [replace(SMALL, rolls=rolls)] * count, dilution, least)
    concentrate = dilution.amounts(needed.ml).concentrates[0]
    assert concentrate >= least * rolls * count * (1 - 1e-9) and needed.ml >= max(tank.minimum_ml, 300 * count)
    assert needed.fits == (needed.ml <= tank.capacity_ml)
    weaker = volume_needed(tank, [replace(SMALL, rolls=rolls)] * count, Dilution((1,), water + 10), least)
    assert weaker.ml >= needed.ml


def test_film_is_counted_by_area() -> None:
    # 80 square inches a roll (common practice, many data sheets): 8x10 inch = 4 × 4x5 inch = 80 square inches.
    six_sheets = REELS["sheet"].rolls
    assert six_sheets == 6 * (4 * 5) / (8 * 10)
    four = TankSize.for_reels("tank", 3, capacity_ml=1200)
    assert volume_needed(four, (REELS["sheet"],), ROLL, 80).ml == pytest.approx(1200)


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (lambda: Reel("110", 300, 45), "“110” is not a kind of reel"),
        (lambda: Reel("120", 0, 45), "not 0 ml"),
        (lambda: Reel("120", 500, float("inf")), "not inf mm"),
        (lambda: Reel("120", 500, 66, -1), "not -1"),
        (lambda: TankSize("", 90, 600, 300), "needs a name"),
        (lambda: TankSize("t", 5, 600, 300), "not 5 mm"),
        (lambda: TankSize("t", 90, 1, 1), "not 1 ml"),
        (lambda: TankSize("t", 90, 600, 700), "600 ml, not 700 ml"),
        (lambda: TankSize.for_reels("t", 0), "not 0"),
        (lambda: volume_needed(TWO, (SMALL,), ROLL, -1), "not -1 ml"),
        (lambda: volume_needed(TWO, (), ROLL), "No film"),
    ],
)  # fmt: skip
def test_impossible_tanks_are_refused(made: object, said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        made()  # type: ignore[operator]
