"""Film speed against the published table of arithmetic and degree values."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.errors import InvalidInput
from catalogue.film.film_speed import degrees, parse_speed, speed_text, stops_from


def words_of(text: str) -> list[str]:
    return text.split()


# Two published tables of ISO speeds; 4000/37 and 5000/38 from a published table of cassette codes.
TABLE = words_of("""
    3/6 4/7 5/8 6/9 8/10 10/11 12/12 16/13 20/14 25/15 32/16 40/17 50/18 64/19 80/20 100/21 125/22
    160/23 200/24 250/25 320/26 400/27 500/28 640/29 800/30 1000/31 1250/32 1600/33 2000/34 2500/35
    3200/36 4000/37 5000/38 6400/39 8000/40
""")


@pytest.mark.parametrize("pair", TABLE)
def test_degrees_are_the_published_ones(pair: str) -> None:
    arithmetic, in_degrees = (int(part) for part in pair.split("/"))
    assert degrees(arithmetic) == in_degrees
    assert speed_text(arithmetic) == f"ISO {arithmetic}/{in_degrees}°"
    assert parse_speed(pair) == parse_speed(f"iso {pair}°") == arithmetic


@pytest.mark.parametrize(("text", "speed"), [("400", 400), (" EI 320 ", 320), ("ISO 100", 100), ("1.6", 1.6)])
def test_usual_ways_of_writing_a_speed(text: str, speed: float) -> None:
    assert parse_speed(text) == speed


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "not a film speed"),
        ("fast", "not a film speed"),
        ("-100", "not a film speed"),
        ("٤٠٠", "not a film"),
        ("🎞", "not a film speed"),
        ("4" * 50, "not a film speed"),
        ("0", "between 0.5 and"),
        ("9999999", "between 0.5 and"),
        ("100/24", "ISO 100 is 21°, not 24°"),
    ],
)
def test_impossible_speeds_are_refused(text: str, said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        parse_speed(text)


@pytest.mark.parametrize("speed", [0, -1, float("nan"), float("inf")])
def test_degrees_of_nothing_are_refused(speed: float) -> None:
    with pytest.raises(InvalidInput):
        degrees(speed)


@pytest.mark.parametrize(
    ("film", "index", "stops"),
    # Arithmetic: log₂ of the ratio.
    [(400, 1600, 2), (400, 200, -1), (100, 125, 0.32), (400, 400, 0)],
)
def test_stops(film: float, index: float, stops: float) -> None:
    assert stops_from(film, index) == pytest.approx(stops, abs=0.005)


@given(st.floats(1, 400_000))
def test_doubling_the_speed_adds_three_degrees(speed: float) -> None:
    # The exact step is 3.0103 degrees, so rounding may give 4 now and then.
    assert degrees(2 * speed) - degrees(speed) in (3, 4)
    assert stops_from(speed, 2 * speed) == pytest.approx(1)
