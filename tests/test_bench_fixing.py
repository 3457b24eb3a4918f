"""Fixing by the clearing time (common practice, no published source) and the standard processes' starting values."""

from datetime import date

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.bench.rules.times.fixing import ClearingReading, clearing_trend, fix_time
from catalogue.bench.rules.times.standard_process import (
    BLACK_AND_WHITE,
    C41,
    E6,
    StandardStep,
    standard_process,
)
from catalogue.errors import InvalidInput, NotFound

few = settings(max_examples=30, deadline=None)


def taken(*pairs: tuple[float, float]) -> list[ClearingReading]:
    return [ClearingReading(*pair) for pair in pairs]


def test_twice_to_three_times_the_clearing_time() -> None:
    fix = fix_time(45)
    assert (fix.seconds, fix.at_most_seconds) == (90, 135)
    assert fix.words() == "Fix for 1:30 (up to 2:15): 2 times the 0:45 it takes to clear."
    assert fix_time(45, 3).words() == "Fix for 2:15: 3 times the 0:45 it takes to clear."
    for seconds, times, said in (
        (45, 1.5, "not 1.5 times"),
        (45, 4, "not 4 times"),
        (0, 2, "not in 0 s"),
        (9999, 2, "not in 9999 s"),
    ):
        with pytest.raises(InvalidInput, match=said):
            fix_time(seconds, times)


def test_a_rising_trend_says_when() -> None:
    trend = clearing_trend(taken((0, 30), (4, 36), (8, 42)))
    # 1.5 s a roll on 30 s: twice that after 20 rolls.
    assert trend.state == "rising" and trend.spent_at == pytest.approx(20)
    assert "reaches twice that at about 20 rolls, now 8" in trend.words and "hint" not in trend.words
    assert "only a hint" in clearing_trend(taken((0, 30), (1, 30.5), (2, 31))).words
    by_day = clearing_trend(taken((0, 30), (20, 36), (40, 42)), unit="days")
    assert by_day.spent_on(date(2024, 1, 1)) == date(2024, 4, 10) and trend.spent_on(date(2024, 1, 1)) is None


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        (((0, 30),), "1 of 3 readings"),
        (((0, 30), (4, 40)), "2 of 3 readings"),
        (((0, 30), (4, 29), (8, 28)), "doesn't rise"),
        (((0, 30), (4, 30), (8, 30)), "doesn't rise"),
        (((4, 30), (4, 35), (4, 33)), "from one use"),
    ],
)  # fmt: skip
def test_what_cant_be_said_yet(readings: tuple[tuple[float, float], ...], said: str) -> None:
    trend = clearing_trend(taken(*readings))
    assert trend.state == "can't say yet" and trend.spent_at is None and said in trend.words and "Can't say yet" in trend.words


def test_spent_now_whatever_the_line_says() -> None:
    assert clearing_trend(taken((5, 60)), fresh_seconds=30).state == "spent"
    assert clearing_trend(taken((0, 90), (5, 60)), fresh_seconds=30).state == "spent"
    assert clearing_trend(taken((5, 61), (0, 30), (5, 40))).state == "spent", "the longer of two at the last use"
    trend = clearing_trend(taken((0, 30), (5, 59.9)))
    assert trend.state == "can't say yet"
    due = clearing_trend(taken((0, 30), (5, 62), (10, 59)))
    assert due.state == "due" and due.spent_at is not None and due.spent_at <= 10 and "spent already" in due.words
    with pytest.raises(InvalidInput, match="no clearing time yet"):
        clearing_trend([])
    with pytest.raises(InvalidInput, match="not -1"):
        ClearingReading(-1, 30)


@few
@given(st.lists(st.tuples(st.integers(0, 60), st.floats(20, 100)), min_size=3, max_size=12, unique_by=lambda pair: pair[0]))
def test_the_line_is_that_of_least_squares(pairs: list[tuple[int, float]]) -> None:
    trend = clearing_trend(taken(*pairs))
    # numpy's polynomial fit, an independent way to the same line.
    slope, intercept = np.polyfit([use for use, _ in pairs], [seconds for _, seconds in pairs], 1)
    assert trend.spent_at is None or slope * trend.spent_at + intercept == pytest.approx(2 * trend.fresh_seconds, rel=1e-6)
    assert (trend.spent_at is not None) == (slope > 0) or trend.state == "spent" or abs(slope) < 1e-8
    if trend.spent_at is not None:
        assert (trend.spent_at > trend.last.use) == (trend.state == "rising")


def test_c41_starting_values() -> None:
    developer = C41.step("developer")
    # 3:15 at 37.8 °C (100 °F): an encyclopaedia and two darkroom guides; ± 0.15 °C and the later steps from memory.
    assert (developer.seconds, developer.celsius) == (195, 37.8) and developer.fahrenheit == pytest.approx(100, abs=0.25)
    assert (developer.low, developer.high) == pytest.approx((37.65, 37.95))
    assert [step.seconds for step in C41.steps] == [195, 390, 195, 390, 195, 90] and C41.seconds == 24 * 60 + 15
    assert all((step.low, step.high) == (24, 41) for step in C41.steps[1:])
    # Sources disagree: 38.0 °C lies 0.05 °C above the narrower range.
    assert "is 0.05 °C too warm: 37.65 to 37.95 °C" in (developer.warning(38.0) or "") and developer.warning(37.95) is None
    assert "too cold" in (developer.warning(37) or "") and any("38 ± 0.3 °C" in note for note in C41.notes)


def test_e6_starting_values() -> None:
    # Times and ± 0.3 °C from memory; room light and no wash after reversal: US Army course text.
    assert [step.seconds for step in E6.steps] == [360, 120, 120, 360, 120, 360, 240, 240, 60]
    first = E6.steps[0]
    assert first.fahrenheit == pytest.approx(100.4) and first.warning(37.8) is None and first.warning(37.6)
    names = [step.name for step in E6.steps]
    assert names.index("colour developer") == names.index("reversal bath") + 1 and "1 min" in E6.step("reversal bath").note
    assert any("37.8 °C" in note for note in E6.notes)


def test_black_and_white_has_a_temperature_only() -> None:
    # 68 °F: US Navy training manual 14209.
    (developer,) = BLACK_AND_WHITE.steps
    assert developer.fahrenheit == 68 and developer.seconds is None and BLACK_AND_WHITE.seconds == 0
    assert developer.warning(24) is None


def test_processes_are_found_by_their_trade_names() -> None:
    assert (
        standard_process(" c41 ") is C41
        and standard_process("E-6") is E6
        and standard_process("Black and white") is BLACK_AND_WHITE
    )
    assert all(step.source for process in (C41, E6, BLACK_AND_WHITE) for step in process.steps)
    with pytest.raises(NotFound, match="There are black-and-white, C-41, E-6"):
        standard_process("K-9")
    with pytest.raises(NotFound, match="no step “rinse”"):
        E6.step("rinse")
    for made, said in (
        (lambda: StandardStep("fix", 60, ""), "needs a source"),
        (lambda: StandardStep("fix", 60, "x", 30, 31, 32), "30 °C lies outside 31 to 32"),
        (lambda: StandardStep("fix", 60, "x", None, 24), "one end"),
        (lambda: StandardStep("fix", 60, "x", None, 41, 24), "41 °C lies outside"),
        (lambda: StandardStep("fix", 60, "x", 99), "not 99 °C"),
    ):
        with pytest.raises(InvalidInput, match=said):
            made()
