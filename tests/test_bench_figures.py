"""Times, volumes and temperatures as typed at the sink; units against pint, an independent library."""

from contextlib import suppress

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.bench.rules.figures import (
    format_time,
    parse_number,
    parse_temperature,
    parse_time,
    parse_volume,
    temperature_words,
    time_words,
    volume_words,
)
from catalogue.errors import InvalidInput

UNITS = pint.UnitRegistry()
few = settings(max_examples=30, deadline=None)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("3:15", 195), ("195 s", 195), ("3 min 15 s", 195), ("3'15\"", 195), ("3’15”", 195), ("3′15″", 195), ("3 m 15", None),
        ("6,5 min", 390), ("6.5 min", 390), ("1:02:30", 3750), ("1 h", 3600), ("1 h 30 min", 5400), ("90sec", 90),
        ("0:30", 30), ("90:00", 5400), (" 3 minutes 15 seconds ", 195), ("195", None), ("3.15", None), ("3:75", None),
        ("", None), ("soon", None), ("0:00", None), ("1:60:00", None), ("-3:15", None), ("99 h", None), ("min", None),
        ("3:15" * 20, None), ("٣:15", None),
    ],
)  # fmt: skip
def test_times_as_they_are_written(text: str, seconds: float | None) -> None:
    if seconds is None:
        with pytest.raises(InvalidInput, match=r"Write|Check"):
            parse_time(text)
    else:
        assert parse_time(text) == pytest.approx(seconds)


def test_a_bare_number_is_asked_about() -> None:
    with pytest.raises(InvalidInput, match=r"“195” may be minutes or seconds. Write 195 min or 195 s"):
        parse_time("195")
    with pytest.raises(InvalidInput, match=r"may be 1000 or 1\.000"):
        parse_volume("1,000 ml")
    with pytest.raises(InvalidInput, match="may be °C or °F"):
        parse_temperature("38")
    with pytest.raises(InvalidInput, match=r"may be a weight\. Write 16 fl oz"):
        parse_volume("16 oz")
    with pytest.raises(InvalidInput, match="has no unit"):
        parse_volume("600")


@few
@given(st.integers(1, 48 * 3600))
def test_what_is_shown_is_read_again(seconds: int) -> None:
    assert parse_time(format_time(seconds)) == seconds
    assert parse_time(time_words(seconds)) == seconds


@few
@given(st.floats(0.4, 100_000))
def test_a_shown_volume_is_read_again_to_what_can_be_told_apart(ml: float) -> None:
    assert parse_volume(volume_words(ml)) == pytest.approx(ml, abs=0.5 if ml >= 99 else 0.0501)
    assert parse_volume(volume_words(ml, "US quart")) == pytest.approx(ml, rel=0.006, abs=0.16)


@few
@given(st.integers(320, 1400))
def test_a_shown_temperature_is_read_again(tenths: int) -> None:
    typed = f"{tenths / 10:.1f} °F"
    assert float(temperature_words(parse_temperature(typed), "°F").split()[0]) == tenths / 10


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("gal", "gallon"), ("US gal", "gallon"), ("qt", "quart"), ("pt", "pint"), ("fl oz", "fluid_ounce"), ("l", "liter"),
        ("U.S. fl. oz.", "fluid_ounce"), ("imp gal", "imperial_gallon"), ("imp fl oz", "imperial_fluid_ounce"),
        ("imp. qt", "imperial_quart"), ("imp pt", "imperial_pint"), ("ml", "milliliter"), ("cl", "centiliter"), ("cc", "cc"),
    ],
)  # fmt: skip
@settings(max_examples=5, deadline=None)
@given(st.integers(1, 400))
def test_volumes_agree_with_pint(text: str, unit: str, tenths: int) -> None:
    assert parse_volume(f"{tenths / 10} {text}") == pytest.approx((tenths / 10 * UNITS(unit)).to("ml").magnitude, rel=1e-9)


def test_volumes_by_definition() -> None:
    # NIST Handbook 44, from memory; imperial measures by British law, from memory.
    for text, ml in (
        ("1 gal", 3785.411784), ("1 qt", 946.352946), ("1 pt", 473.176473), ("1 fl oz", 29.5735295625),
        ("1 imp gal", 4546.09), ("1 imp fl oz", 28.4130625), ("1/2 gal", 1892.705892), ("1 1/2 l", 1500), ("0,5 l", 500),
    ):  # fmt: skip
        assert parse_volume(text) == pytest.approx(ml, rel=1e-12)
    # A mix for one gallon is 3,785 ml, for one quart 946 ml: common practice on packets, no published source.
    assert volume_words(parse_volume("1 US gal")) == "3785 ml" and volume_words(parse_volume("1 qt")) == "946 ml"
    assert volume_words(3785.411784, "US quart") == "1 gal" and volume_words(473.176473, "US quart") == "16 fl oz"
    assert parse_volume("600", "ml") == 600 and parse_volume("2", "US quart") == pytest.approx(1892.705892)


def test_temperatures_by_definition() -> None:
    # °F = °C × 9/5 + 32.
    for celsius, fahrenheit in ((37.8, 100.04), (20, 68), (24, 75.2), (38, 100.4)):
        assert parse_temperature(f"{fahrenheit} °F") == pytest.approx(celsius, abs=1e-4)
    assert round(parse_temperature("102 °F"), 1) == 38.9 and temperature_words(parse_temperature("102F")) == "38.9 °C"
    assert parse_temperature("38 °C") == parse_temperature("38c") == parse_temperature("38", "°C") == 38
    assert parse_temperature("100 degrees Fahrenheit") == pytest.approx(
        UNITS.Quantity(100, "degF").to("degC").magnitude, abs=1e-4
    )


@pytest.mark.parametrize("text", ["", "warm", "100 °C", "38 K", "200 F", "9" * 50, "1e5 C"])
def test_impossible_temperatures_are_refused(text: str) -> None:
    with pytest.raises(InvalidInput, match=r"Write for example|60 °C"):
        parse_temperature(text)


@pytest.mark.parametrize("text", ["", "a cup", "0 ml", "600 kg", "1/0 l", "999999 l", "-5 ml", "1..5 l", "imp", "5 imp"])
def test_impossible_volumes_are_refused(text: str) -> None:
    with pytest.raises(InvalidInput, match=r"Write|Check"):
        parse_volume(text)


@few
@given(st.text("0123456789.,:/+ -°'\"½٣hminsCFlgaqtoz\n\0", max_size=50))
def test_no_text_breaks_the_reading(text: str) -> None:
    for read in (parse_time, parse_volume, parse_temperature, parse_number):
        with suppress(InvalidInput):
            assert read(text) >= 0
