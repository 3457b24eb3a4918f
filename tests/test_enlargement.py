"""Times under the enlarger: held against the lens equation solved from scratch, and against standard series of numbers."""

from fractions import Fraction
from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.errors import InvalidInput
from catalogue.film.enlargement import (
    magnification,
    stepped,
    steps_of,
    stops_between,
    time_for_height,
    time_for_magnification,
    time_words,
)


def lens_to_paper(column_mm: float, focal_mm: float) -> float:
    """By 1/u + 1/v = 1/f for a negative u above and a paper v below the lens, u + v = column; the longer of the two is v."""
    return (column_mm + sqrt(column_mm**2 - 4 * column_mm * focal_mm)) / 2


@given(st.floats(25, 150), st.floats(4.1, 30), st.floats(4.1, 30), st.floats(0.5, 500))
def test_the_time_goes_with_the_square_of_the_distance_by_the_lens_equation(f: float, a: float, b: float, time: float) -> None:
    """Outside the project: Gauss's equation of the thin lens, and light that falls with the square of the distance."""
    v1, v2 = lens_to_paper(a * f, f), lens_to_paper(b * f, f)
    m1, m2 = v1 / (a * f - v1), v2 / (b * f - v2)
    assert time_for_magnification(time, m1, m2) == pytest.approx(time * v2**2 / v1**2, rel=1e-6)
    if max(v1, v2) <= 3000:
        assert time_for_height(time, v1, v2) == pytest.approx(time_for_magnification(time, m1, m2), rel=1e-6)


def test_plain_figures() -> None:
    assert time_for_magnification(10, 4, 9) == pytest.approx(40)  # (10/5)² = 4: reckoned by hand
    assert time_for_height(10, 300, 600) == pytest.approx(40)
    assert magnification((240, 160), (36, 24)) == magnification((160, 240), (36, 24)) == pytest.approx(6 + 2 / 3)
    # Paper of 240 × 300 filled by 36 × 24: it is the short side that is enlarged ten times.
    assert magnification((240, 300), (36, 24)) == pytest.approx(10)


def test_halves_of_a_stop_run_like_the_marks_of_apertures_and_thirds_like_film_speeds() -> None:
    """The f-number series 1, 1.4, 2, 2.8, 4 of ISO 517 goes in steps of √2, and speeds 100, 125, 160, 200 (ISO 5800)
    in thirds of a doubling, both rounded; from memory."""
    halves = [s.seconds for s in steps_of(2, 2, 2)][4:]
    assert halves == pytest.approx([2, 2.8, 4, 5.6, 8], rel=0.02)
    thirds = [s.seconds for s in steps_of(100, 3)][3:]
    assert thirds == pytest.approx([100, 125, 160, 200], rel=0.015)


def test_steps_say_what_is_added_or_held_back() -> None:
    steps = steps_of(16, 3)
    assert [s.words for s in steps] == ["−1", "−2/3", "−1/3", "0", "+1/3", "+2/3", "+1"]
    assert [s.stops for s in steps] == [Fraction(n, 3) for n in range(-3, 4)]
    assert (steps[0].seconds, steps[0].change_s) == (8, -8)
    assert (steps[-1].seconds, steps[-1].change_s) == (32, 16)
    assert [s.words for s in steps_of(16, 2, 2)] == ["−2", "−1 1/2", "−1", "−1/2", "0", "+1/2", "+1", "+1 1/2", "+2"]


@given(st.floats(0.1, 60), st.floats(-8, 8))
def test_stops_there_and_back(time: float, stops: float) -> None:
    assert stops_between(time, stepped(time, stops)) == pytest.approx(stops, abs=1e-9)


def test_times_are_said_as_a_timer_takes_them() -> None:
    assert [time_words(t) for t in (12.599, 22.6274, 99.94, 99.96, 181.02, 8)] == [
        "12.6 s",
        "22.6 s",
        "99.9 s",
        "100 s",
        "181 s",
        "8 s",
    ]


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: stepped(0, 1), "A time of 0 s"),
        (lambda: stepped(float("nan"), 1), "A time of nan s"),
        (lambda: stepped(10, 11), "11 stops"),
        (lambda: stepped(80_000, 1), "160000 s|1.6e\\+05 s"),
        (lambda: time_for_height(10, 0, 300), "height of 0 mm"),
        (lambda: time_for_height(10, 300, 3001), "height of 3001 mm"),
        (lambda: time_for_magnification(10, 0, 3), "magnification of 0"),
        (lambda: magnification((1, 1), (36, 24)), "0.0417 times"),
        (lambda: magnification((3000, 2000), (12, 8)), "250 times"),
        (lambda: magnification((0, 100), (36, 24)), "four numbers"),
        (lambda: steps_of(10, 4), "not 4"),
        (lambda: steps_of(10, 3, 0), "0 stops"),
    ],
)  # fmt: skip
def test_what_is_out_of_range_is_refused_with_its_number(call: object, words: str) -> None:
    with pytest.raises(InvalidInput, match=words):
        call()  # type: ignore[operator]
