"""Units against pint, an independent library; what is typed is read again as typed."""

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlmodel import Session

from catalogue.errors import InvalidInput
from catalogue.settings import get_units, set_units
from catalogue.units import Units

UNITS = pint.UnitRegistry()
OTHER = Units("inch", "°F", "US quart")


@given(st.floats(0.1, 2000))
def test_lengths_agree_with_pint(figure: float) -> None:
    assert OTHER.mm(figure) == pytest.approx((figure * UNITS.inch).to("mm").magnitude)
    assert Units().mm(figure) == figure


@given(st.floats(32, 140))
def test_temperatures_agree_with_pint(figure: float) -> None:
    assert OTHER.celsius(figure) == pytest.approx(UNITS.Quantity(figure, "degF").to("degC").magnitude, abs=1e-4)


@given(st.floats(0.01, 100))
def test_volumes_agree_with_pint(figure: float) -> None:
    # NIST Handbook 44 has the US liquid quart; pint's "quart" is that one.
    assert OTHER.ml(figure) == pytest.approx((figure * UNITS.quart).to("ml").magnitude)


@given(st.integers(3200, 14000))
def test_a_bath_typed_in_fahrenheit_reads_the_same_again(hundredths: int) -> None:
    typed = hundredths / 100
    assert float(OTHER.temperature_figure(OTHER.celsius(typed))) == pytest.approx(typed, abs=0.005)


def test_figures_are_plain() -> None:
    assert Units().length_figure(38.0) == "38"
    assert Units().length_words(227.6) == "228 mm"
    # 228 / 25.4 = 8.976
    assert OTHER.length_figure(228) == "8.976"
    assert OTHER.length_words(228) == "9.0 in"
    # 37.8 °C, the C-41 developer, is 100.04 °F
    assert OTHER.temperature_figure(37.8) == "100.04"
    assert Units().temperature_figure(37.8) == "37.8"
    assert OTHER.volume_figure(946.352946) == "1"
    assert Units().volume_figure(600) == "600"


def test_units_are_kept_and_odd_ones_refused(session: Session) -> None:
    assert get_units(session) == Units()
    set_units(session, OTHER)
    assert get_units(session) == OTHER
    with pytest.raises(InvalidInput, match="furlong"):
        Units(length="furlong")
