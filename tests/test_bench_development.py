"""Time and temperature, drift, push and pull, and a bath used again."""

from math import log

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from catalogue.bench.rules.figures import format_time, temperature_words
from catalogue.bench.rules.times.development import COMMON_BLACK_AND_WHITE, TemperatureRule, time_at, warnings
from catalogue.bench.rules.times.drift import TemperatureReading, drift, effective_seconds, start_and_end
from catalogue.bench.rules.times.push_pull import PushFactor, PushTable, stops_words
from catalogue.bench.rules.times.use_table import UseTable
from catalogue.errors import InvalidInput
from catalogue.film.film_speed import degrees, stops_from

few = settings(max_examples=30, deadline=None)
RULE = COMMON_BLACK_AND_WHITE
within = st.floats(18, 26)

# t(T) = t20 · exp(−k · (T − 20)) with k = 0.081 fits the usual chart: common practice, no published source.
CHART = {18: 1.176, 19: 1.084, 20: 1.000, 21: 0.922, 22: 0.850, 23: 0.784, 24: 0.723, 25: 0.667, 26: 0.615}


@pytest.mark.parametrize("celsius", CHART)
def test_the_usual_chart(celsius: int) -> None:
    assert RULE.factor(20, celsius) == pytest.approx(CHART[celsius], abs=5.1e-4)


def test_ten_degrees_doubling() -> None:
    # Rule of thumb Q10 = 2 (k = 0.0693); 1.5 to 4 are seen: an article, not a standard.
    rule = TemperatureRule(log(2) / 10, 18, 30)
    assert rule.coefficient == pytest.approx(0.0693, abs=5e-5)
    for celsius, factor in ((18, 1.149), (22, 0.871), (24, 0.758), (30, 0.5)):
        assert rule.factor(20, celsius) == pytest.approx(factor, abs=5e-4)


def test_nine_and_a_half_minutes_elsewhere() -> None:
    # Worked with the chart's k: 9:30 at 20 °C is 6:52 at 24 °C and 8:05 at 22 °C.
    assert format_time(time_at(570, 20, 24).seconds) == "6:52" and format_time(time_at(570, 20, 22).seconds) == "8:05"
    assert time_at(570, 20, 24).words() == "6:52 at 24 °C instead of 9:30 at 20 °C"
    assert time_at(570, 20, 24).words("°F") == "6:52 at 75.2 °F instead of 9:30 at 68 °F"


@few
@given(within, within, st.floats(60, 3000))
def test_there_and_back_and_warmer_is_quicker(one: float, other: float, seconds: float) -> None:
    there = time_at(seconds, one, other).seconds
    assert time_at(there, other, one).seconds == pytest.approx(seconds)
    assert (there < seconds) == (other > one) or there == pytest.approx(seconds)


@few
@given(st.floats(0.02, 0.2), st.floats(16, 22), st.floats(1, 8), st.floats(120, 1200))
def test_two_points_give_the_rule_back(k: float, cold: float, apart: float, seconds: float) -> None:
    rule = TemperatureRule(k, 10, 40)
    warm = cold + apart
    found = TemperatureRule.from_two_points((warm, time_at(seconds, cold, warm, rule).seconds), (cold, seconds))
    assert found.coefficient == pytest.approx(k) and (found.low, found.high) == (cold, warm)


@pytest.mark.parametrize(("nominal", "actual"), [(20, 17.9), (20, 26.1), (27, 20), (20, float("nan"))])
def test_outside_the_range_is_refused_with_the_range(nominal: float, actual: float) -> None:
    with pytest.raises(InvalidInput, match=r"is outside 18 to 26 °C, where this rule holds"):
        time_at(570, nominal, actual)


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (lambda: TemperatureRule(0, 18, 24), "not 0"),
        (lambda: TemperatureRule(0.08, 24, 18), "not 24 to 18"),
        (lambda: TemperatureRule(0.08, 18, 99), "not 99 °C"),
        (lambda: TemperatureRule.from_two_points((20, 500), (20.1, 490)), "too close"),
        (lambda: TemperatureRule.from_two_points((20, 500), (24, 600)), "8:20 at 20 °C and 10:00 at 24 °C"),
        (lambda: time_at(0, 20, 22), "not 0 s"),
    ],
)  # fmt: skip
def test_impossible_rules_are_refused(made: object, said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        made()  # type: ignore[operator]


def test_warnings_are_words() -> None:
    # Under 5 minutes, outside 18–24 °C: common practice, no published source.
    assert warnings(570, 20) == () == warnings(300, 18) == warnings(195, 37.8, black_and_white=False)
    assert "4:59 is under 5:00" in warnings(299, 24)[0]
    assert [word in said for word, said in zip(("under", "25 °C is outside 18 to 24"), warnings(200, 25), strict=True)] == [
        True,
        True,
    ]
    assert "may not finish" in warnings(900, 17)[0]
    assert time_at(400, 20, 25).warnings == warnings(time_at(400, 20, 25).seconds, 25)


bath = st.lists(st.tuples(st.floats(5, 400), st.floats(18, 26)), min_size=1, max_size=5)


@few
@given(st.floats(18, 26), bath)
def test_drift_agrees_with_numerical_integration(start: float, later: list[tuple[float, float]]) -> None:
    readings = [TemperatureReading(0, start)]
    expected = 0.0
    for gap, celsius in later:
        last = readings[-1]
        slope = (celsius - last.celsius) / gap
        # scipy's adaptive quadrature, an independent way to the same integral.
        expected += quad(lambda s, a=last.celsius, b=slope: 2.718281828459045 ** (RULE.coefficient * (a + b * s - 20)), 0, gap)[0]
        readings.append(TemperatureReading(last.seconds + gap, celsius))
    assert effective_seconds(readings, 20, RULE) == pytest.approx(expected, rel=1e-7)


@few
@given(st.floats(18, 26), st.floats(18, 26), st.floats(30, 500))
def test_the_rest_makes_up_for_the_drift(start: float, end: float, so_far: float) -> None:
    found = drift(start_and_end(start, end, so_far), 20, 570, RULE)
    assert min(start, end) - 1e-6 <= found.mean_celsius <= max(start, end) + 1e-6
    if found.remaining_seconds > 1:
        whole = (*start_and_end(start, end, so_far), TemperatureReading(so_far + found.remaining_seconds, end))
        assert effective_seconds(whole, 20, RULE) == pytest.approx(570)
        assert found.longer_by == pytest.approx(so_far + found.remaining_seconds - 570) and found.overdone_seconds == 0
    else:
        assert found.effective_seconds >= 570 - 2


def test_a_steady_bath_is_not_corrected() -> None:
    found = drift(start_and_end(20, 20, 300), 20, 570, RULE)
    assert (found.effective_seconds, found.longer_by) == (300, 0) and found.remaining_seconds == 270
    assert "another 4:30, as planned" in found.words()


def test_a_cooling_bath_takes_longer_and_says_so() -> None:
    found = drift(start_and_end(20, 18, 300), 20, 600, RULE)
    # ∫ exp(−0.081 · 2s/300) ds over 300 s = 300 · (1 − exp(−0.162)) / 0.162 = 276.96 s, worked by hand.
    assert found.effective_seconds == pytest.approx(276.96, abs=0.01)
    assert found.remaining_seconds == pytest.approx((600 - 276.96) * 1.17586, abs=0.02) and found.longer_by > 60
    assert "5:00 so far count as 4:37 at 20 °C" in found.words() and "longer than planned" in found.words()
    warmed = drift(start_and_end(20, 24, 600), 20, 600, RULE)
    assert warmed.remaining_seconds == 0 and warmed.overdone_seconds > 100 and "Pour out now" in warmed.words()
    assert "more than 10:00" in warmed.words()
    shorter = drift(start_and_end(20, 22, 300), 20, 600, RULE)
    assert shorter.longer_by < 0 and "shorter than planned" in shorter.words()
    planned = drift(start_and_end(22, 22, 60), 20, 600, RULE, planned_seconds=600 * RULE.factor(20, 22))
    assert planned.longer_by == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("readings", "said"),
    [
        ([], "not 0"),
        ([(0, 20)], "two readings or more"),
        ([(10, 20), (60, 20)], "not 10 s"),
        ([(0, 20), (60, 20), (60, 21)], "60 s follows 60 s"),
        ([(0, 20), (60, 17)], "17 °C is outside 18 to 26 °C"),
        ([(0, 20), (-5, 20)], "not at -5 s"),
    ],
)  # fmt: skip
def test_impossible_readings_are_refused(readings: list[tuple[float, float]], said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        drift([TemperatureReading(*each) for each in readings], 20, 570, RULE)


# Pairs of ISO 5800's table as two published tables have it.
SPEEDS = [
    (25, 15),
    (32, 16),
    (64, 19),
    (100, 21),
    (125, 22),
    (160, 23),
    (320, 26),
    (400, 27),
    (640, 29),
    (1250, 32),
    (1600, 33),
    (6400, 39),
]


@pytest.mark.parametrize(("film", "in_degrees"), SPEEDS)
def test_degrees_count_thirds_of_a_stop(film: int, in_degrees: int) -> None:
    assert degrees(film) == in_degrees
    for index, other in SPEEDS:
        if abs(other - in_degrees) <= 15:
            thirds = (other - in_degrees) / 3
            assert stops_words(stops_from(film, index)) == stops_words(thirds), "never by doubling: 640 to 1250 is a stop"


@pytest.mark.parametrize(
    ("stops", "said"), [(0, "normal"), (1, "+1"), (-1.5, "−1 1/2"), (4 / 3, "+1 1/3"), (-2 / 3, "−2/3"), (0.05, "normal")]
)
def test_stops_in_words(stops: float, said: str) -> None:
    assert stops_words(stops) == said


TABLE = PushTable(((-1, 240), (0, 360), (1, 480), (2, 660)))


def test_a_recipes_own_table() -> None:
    assert [TABLE.time_for(stops).seconds for stops, _ in TABLE.points] == [seconds for _, seconds in TABLE.points]
    # Half way in logarithms is the geometric mean.
    assert TABLE.time_for(0.5).seconds == pytest.approx((360 * 480) ** 0.5)
    assert PushTable.parse("0: 6:00\n+1: 8:00; -1 = 4:00\n2 stops: 11 min") == TABLE
    assert "starting point" in TABLE.time_for(1).words() and "8:00 for +1 instead of 6:00" in TABLE.time_for(1).words()
    assert TABLE.time_for(0).words() == "6:00, the normal time."
    for outside in (-1.01, 2.5):
        with pytest.raises(InvalidInput, match=r"from -1 to \+2 stops"):
            TABLE.time_for(outside)


@few
@given(st.floats(-1, 2), st.floats(-1, 2))
def test_more_push_takes_longer(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert TABLE.time_for(low).seconds <= TABLE.time_for(high).seconds * (1 + 1e-12)
    factor = PushFactor(1.4)
    assert factor.time_for(360, low).seconds <= factor.time_for(360, high).seconds
    assert log(factor.time_for(360, one).seconds / 360) == pytest.approx(one * log(1.4))


@pytest.mark.parametrize(
    ("made", "said"),
    [
        (lambda: PushTable(((0, 360),)), "not 1"),
        (lambda: PushTable(((0, 360), (0, 400))), "0 follows 0"),
        (lambda: PushTable(((0, 360), (1, 300))), "5:00 for 1 follows 6:00 for 0"),
        (lambda: PushTable(((1, 360), (2, 400))), "no normal time"),
        (lambda: PushTable(((0, 360), (9, 400))), "not 9"),
        (lambda: PushTable.parse("normal 6:00"), "“normal 6:00” is not a line"),
        (lambda: PushFactor(1), "not 1"),
        (lambda: PushFactor(1.4, 1, 2), "not 1 to 2"),
        (lambda: PushFactor(1.4).time_for(360, 3), r"-1 to \+2 stops, and \+3"),
    ],
)  # fmt: skip
def test_impossible_pushes_are_refused(made: object, said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        made()  # type: ignore[operator]


USES = UseTable(((2, 195), (4, 205), (6, 215)))


@pytest.mark.parametrize(
    ("done", "now", "seconds"), [(0, 1, 195), (1, 1, 195), (2, 1, 205), (3, 1, 205), (4, 2, 215), (2.67, 1, 205)]
)
def test_a_bath_used_again(done: float, now: float, seconds: float) -> None:
    assert USES.time_for(done, now).seconds == seconds


def test_the_table_of_uses_reads_and_ends() -> None:
    assert UseTable.parse("1-2: 3:15\nrolls 3–4: 205 s\n5-6: 3 min 35 s") == USES == UseTable.parse(USES.text)
    assert USES.text == "1-2: 3:15\n3-4: 3:25\n5-6: 3:35"
    across = USES.time_for(1, 2)
    assert across.seconds == 195 and "next row (3:25)" in across.words
    assert USES.time_for(5).words.endswith("The sheet's table ends after that.")
    with pytest.raises(
        InvalidInput, match=r"The sheet's table ends at 6 rolls. 5 are done and 2 more make 7. Develop at most 1 now"
    ):
        USES.time_for(5, 2)
    with pytest.raises(InvalidInput, match=r"more make 7. Mix a fresh bath"):
        USES.time_for(6)
    thirds = sum([2 / 3] * 9)  # nine 135-24 are six rolls, whatever floating point makes of them
    assert USES.time_for(thirds - 2 / 3, 2 / 3).seconds == 215


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "no rows"), ("2-3: 3:15", "roll 1 is next"), ("1-2: 3:15\n4: 3:20", "roll 3 is next"), ("1: soon", "not a time"),
        ("3:15", "roll 1 is next"), ("1-0: 3:15", "backwards"), ("first: 3:15", "not a row"), ("1-2000: 3:15", "2000 follows 0"),
    ],
)  # fmt: skip
def test_impossible_tables_of_uses_are_refused(text: str, said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        UseTable.parse(text)


def test_impossible_counts_are_refused() -> None:
    for done, now, said in ((-1, 1, "not -1"), (0, 0, "0 rolls can't"), (float("nan"), 1, "not nan")):
        with pytest.raises(InvalidInput, match=said):
            USES.time_for(done, now)


def test_rules_speak() -> None:
    assert RULE.words() == "7.8 % shorter for each degree warmer, from 18 °C to 26 °C"
    assert temperature_words(20, "°F") == "68 °F" and "no published source" in RULE.source
