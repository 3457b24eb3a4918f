"""Film area as units of capacity, against published sizes and the count of many data sheets."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.bench.rules.baths.film_area import (
    UNIT_MM2,
    checked_weight,
    exact,
    film_units,
    number_text,
    units_by_area,
)
from catalogue.errors import InvalidInput
from catalogue.film.formats import BUILT_IN_FORMATS as FORMATS

# One 135-36 = one 120 = four 4 × 5 = one 8 × 10 = 80 square inches, 135-24 = 2/3, 135-12 = 1/3, 220 = 2,
# 5 × 7 = 35/80: as many data sheets count (common practice, no published source).
AS_COUNTED = [
    ("135-24x36", 36, Fraction(1)), ("135-24x36", 24, Fraction(2, 3)), ("135-24x36", 12, Fraction(1, 3)),
    ("135-24x36", None, Fraction(1)), ("135-18x24", 72, Fraction(1)), ("135-18x24", 48, Fraction(2, 3)),
    ("135-24x65", 20, Fraction(1)), ("135-24x24", 54, Fraction(1)),
    ("120-6x6", None, Fraction(1)), ("120-6x4.5", 16, Fraction(1)), ("220-6x7", None, Fraction(2)),
    ("sheet-4x5", 4, Fraction(1)), ("sheet-4x5", None, Fraction(1, 4)), ("sheet-5x7", None, Fraction(7, 16)),
    ("sheet-8x10", None, Fraction(1)),
]  # fmt: skip


@pytest.mark.parametrize(("key", "pieces", "units"), AS_COUNTED)
def test_units_as_data_sheets_count(key: str, pieces: int | None, units: Fraction) -> None:
    assert film_units(FORMATS[key], pieces) == units


def test_the_unit_is_eighty_square_inches() -> None:
    # pint knows the inch (25.4 mm, international yard and pound agreement of 1959).
    inches = pint.UnitRegistry(non_int_type=Fraction)(" 80 inch**2")
    assert inches.to("mm**2").magnitude == UNIT_MM2
    assert round(float(UNIT_MM2) / 1e6, 4) == 0.0516


def test_real_areas_lie_close_to_the_unit() -> None:
    # Worked from published lengths: 135-36 of 1.60 m × 35 mm is 86.8 sq in, 120 of 820 × 61.5 mm is 78.2 sq in.
    assert round(float(units_by_area(35, 1600) * 80), 1) == 86.8
    assert round(float(units_by_area("61.5", 820) * 80), 1) == 78.2
    assert units_by_area(Decimal("203.2"), 254.0) == 1  # 8 × 10 in exactly


@pytest.mark.parametrize(
    ("frames", "units"), [(37, Fraction(1)), (39, Fraction(1)), (40, Fraction(40, 36)), (30, Fraction(5, 6))]
)
def test_a_few_frames_more_make_no_longer_roll(frames: int, units: Fraction) -> None:
    assert film_units(FORMATS["135-24x36"], frames) == units


def test_more_frames_never_count_less() -> None:
    for key in ("135-24x36", "135-18x24", "135-24x24", "135-24x65"):
        counted = [film_units(FORMATS[key], n) for n in range(1, 120)]
        assert counted == sorted(counted)


def test_own_formats_count_by_their_real_area() -> None:
    own = replace(FORMATS["127-4x4"], key="own", gauge="own", gauge_width_mm=100, pitch_mm=258.064)
    assert film_units(own, 2) == 1  # 100 × 516.128 mm
    plate = replace(FORMATS["sheet-4x5"], key="plate", gauge_width_mm=101.6, pitch_mm=127, frame_along_mm=120)
    assert film_units(plate, 4) == 1  # 4 × 5 in exactly
    assert film_units(FORMATS["127-4x4"]) == units_by_area(46, 12 * 44)


def test_long_sums_do_not_drift() -> None:
    assert sum((film_units(FORMATS["135-24x36"], 12) for _ in range(3000)), Fraction(0)) == 1000


def test_a_mounted_slide_takes_nothing_more() -> None:
    with pytest.raises(InvalidInput, match="developed already"):
        film_units(FORMATS["slide-50x50"])


@pytest.mark.parametrize("pieces", [0, -3, 10_001])
def test_impossible_counts_are_refused(pieces: int) -> None:
    with pytest.raises(InvalidInput, match=str(pieces)):
        film_units(FORMATS["135-24x36"], pieces)


def test_weights_lie_between_a_quarter_and_four() -> None:
    assert checked_weight("0,25") == Fraction(1, 4) and checked_weight(4) == 4
    for wrong in ("0.24", 4.01, 0):
        with pytest.raises(InvalidInput, match=r"0\.25 and 4"):
            checked_weight(wrong)


@pytest.mark.parametrize(
    "wrong", ["", "x", "-1", "1/0", "1/00", "1e999999999", float("nan"), float("inf"), Decimal("1e999999"), "٣"]
)
def test_what_is_no_number_is_refused(wrong: str | float | Decimal) -> None:
    with pytest.raises(InvalidInput, match="Write for example"):
        exact(wrong)


def test_below_zero_is_refused() -> None:
    with pytest.raises(InvalidInput, match="below 0"):
        exact(Fraction(-1, 2))


@given(st.floats(0, 1e9, allow_nan=False))
def test_a_float_is_read_as_it_is_written(value: float) -> None:
    if value == 0 or value > 1e-12:
        assert exact(value) == Fraction(repr(value))


def test_numbers_are_spoken_without_needless_zeros() -> None:
    assert [number_text(Fraction(n)) for n in ("16", "0.5", "0")] == ["16", "0.5", "0"]
    assert (
        number_text(Fraction(2, 3)) == "0.67" and number_text(Fraction(-1, 1000)) == "0" and number_text(Fraction(100)) == "100"
    )
