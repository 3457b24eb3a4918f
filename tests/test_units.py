"""Inch sizes against pint, an independent library of units."""

import pint
import pytest

from catalogue.film.formats import find_format
from catalogue.paper.sizes import find_paper

UNITS = pint.UnitRegistry()


def mm(inches: float) -> float:
    return float((inches * UNITS.inch).to("mm").magnitude)


@pytest.mark.parametrize(
    ("name", "width_in", "height_in"),
    # ANSI/ASME Y14.1 for Letter; photographic papers by their names in inches.
    [("Letter", 8.5, 11), ("8x10in", 8, 10), ("9.5x12in", 9.5, 12), ("11x14in", 11, 14)],
)
def test_papers_named_in_inches(name: str, width_in: float, height_in: float) -> None:
    paper = find_paper(name)
    assert paper.width_mm == pytest.approx(mm(width_in), abs=0.05)
    assert paper.height_mm == pytest.approx(mm(height_in), abs=0.05)


@pytest.mark.parametrize(("key", "short_in", "long_in"), [("sheet-4x5", 4, 5), ("sheet-5x7", 5, 7), ("sheet-8x10", 8, 10)])
def test_sheet_film_is_a_sixteenth_of_an_inch_under_its_name(key: str, short_in: float, long_in: float) -> None:
    # ISO 1012 / film holder standard, from memory: the sheet is about 1/16 in smaller than named.
    sheet = find_format(key)
    assert sorted((sheet.gauge_width_mm, sheet.pitch_mm)) == pytest.approx([mm(short_in - 1 / 16), mm(long_in - 1 / 16)], abs=0.3)
