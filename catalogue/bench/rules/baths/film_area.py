"""Film area as units of capacity: what a roll or sheet takes out of a bath.

One unit is about 80 square inches (0.0516 m²): one 135 roll of 36, one 120
roll, four sheets 4 × 5 in or one sheet 8 × 10 in. That is the way many makers'
data sheets count (common practice, no published source). Units are `Fraction`s,
so that three rolls of 12 are one unit exactly and a long sum never drifts.
"""

import re
from decimal import Decimal
from fractions import Fraction

from catalogue.errors import InvalidInput
from catalogue.film.formats import FilmFormat

UNIT_MM2 = 80 * Fraction("25.4") ** 2
"""80 square inches in mm²: 51 612.8, that is 0.0516 m²."""

LEAST_WEIGHT, MOST_WEIGHT = Fraction(1, 4), Fraction(4)
"""How much more or less than a usual stock one may tire a bath."""

_PLAIN = re.compile(r"[0-9]{1,12}(?:[.,][0-9]{1,30}|/[0-9]{1,9})?", re.ASCII)
_FULL_FRAME_MM = 38  # 8 perforations of 4.75 mm: published descriptions of ISO 1007
_EXTRA_FRAMES = 3  # cameras give one to three frames more than a roll is sold as: published descriptions

# Exposures of the lengths 135 film is sold in, by picture pitch in mm.
_SOLD_135 = {
    Fraction(38): {12: Fraction(1, 3), 24: Fraction(2, 3), 36: Fraction(1)},
    Fraction(19): {24: Fraction(1, 3), 48: Fraction(2, 3), 72: Fraction(1)},
    Fraction(51, 2): {18: Fraction(1, 3), 36: Fraction(2, 3), 54: Fraction(1)},
    Fraction(133, 2): {13: Fraction(2, 3), 20: Fraction(1)},
}
# By shorter and longer side in inches: 20, 35 and 80 of 80 square inches.
_SHEETS = {"sheet-4x5": Fraction(1, 4), "sheet-5x7": Fraction(7, 16), "sheet-8x10": Fraction(1)}

Amount = Fraction | Decimal | int | float | str
"""A number as it comes from a form or a file; a text may be "2/3", "0.5" or "0,5"."""


def exact(value: Amount, what: str = "A number") -> Fraction:
    """The value as an exact fraction, a float by its written form; never below 0.

    Raises `InvalidInput`, with `what` as the subject of the sentence.
    """
    if isinstance(value, Fraction):
        found = value
    else:
        written = _written(value)
        if not _PLAIN.fullmatch(written) or re.search("/0+$", written):
            raise InvalidInput(f"{what} can't be “{written[:30]}”. Write for example 2, 0.5 or 2/3.")
        found = Fraction(written.replace(",", "."))
    if found < 0:
        raise InvalidInput(f"{what} can't be below 0, and it is {number_text(found)}.")
    return found


def _written(value: Decimal | int | float | str) -> str:
    """The number in plain digits; one with an exponent out of all reason stays as it is, and is refused."""
    if isinstance(value, float):
        value = Decimal(str(value))
    if isinstance(value, Decimal) and value.is_finite() and abs(value.adjusted()) <= 30:
        return format(value, "f")
    return str(value).strip()


def number_text(value: Fraction, places: int = 2) -> str:
    """A fraction as it is spoken of: "16", "0.67", rounded half to even and without needless zeros."""
    text = f"{Decimal(round(value * 10**places)).scaleb(-places):f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def rolls_text(value: Fraction) -> str:
    """Units as a person counts them: "1 roll", "1.5 rolls" (of 36 frames of 35 mm, or as much film)."""
    return f"{number_text(value)} {'roll' if value == 1 else 'rolls'}"


def units_by_area(width_mm: Amount, length_mm: Amount) -> Fraction:
    """Units of a piece of film by its real area, both sides in mm."""
    return exact(width_mm, "A width in mm") * exact(length_mm, "A length in mm") / UNIT_MM2


def film_units(film: FilmFormat, pieces: int | None = None) -> Fraction:
    """Units of capacity of one roll, or of some sheets.

    `pieces` is the number of exposures of a roll, or of sheets; without it a
    whole roll (the longest usual one) or one sheet is meant. 135 film counts
    by length (36 = 1, 24 = 2/3, 12 = 1/3, half frame 72 = 1), and up to three
    frames more than a roll is sold as don't make it longer; 120 is 1 and 220
    is 2 whatever the pictures; other film counts by its real area, width ×
    exposures × pitch. Raises `InvalidInput`.
    """
    if film.kind == "mount":
        raise InvalidInput(f"{film.name} has been developed already, so it takes nothing out of a bath. Give the film's format.")
    if pieces is not None and not 1 <= pieces <= 10_000:
        raise InvalidInput(f"{pieces} can't be a number of exposures or sheets. Give 1 to 10000.")
    if film.kind == "sheet":
        one = _SHEETS.get(film.key) or units_by_area(film.gauge_width_mm, film.pitch_mm)
        return one * (pieces or 1)
    if film.gauge in ("120", "220"):
        return Fraction(film.gauge == "220") + 1
    pitch = exact(film.pitch_mm)
    if film.gauge == "135":
        return Fraction(1) if pieces is None else _units_of_135(pitch, pieces)
    return units_by_area(film.gauge_width_mm, pitch * (pieces or max(film.usual_exposures, default=1)))


def _units_of_135(pitch: Fraction, exposures: int) -> Fraction:
    """By the length sold that holds so many, or else by length itself."""
    for sold, units in _SOLD_135.get(pitch, {}).items():
        if 0 <= (exposures - sold) * pitch <= _EXTRA_FRAMES * _FULL_FRAME_MM:
            return units
    return exposures * pitch / (36 * _FULL_FRAME_MM)


def checked_weight(weight: Amount) -> Fraction:
    """How much a stock tires a bath, as a factor on its units: 0.25 to 4, by the person's or the maker's word.

    Some stocks with flat crystals are said to take up to twice as much out of
    a fixer (common practice, no published source), so the factor is never
    guessed here. Raises `InvalidInput`.
    """
    factor = exact(weight, "A stock's weight")
    if not LEAST_WEIGHT <= factor <= MOST_WEIGHT:
        raise InvalidInput(f"A stock's weight lies between 0.25 and 4, not at {number_text(factor)}. Give 1 for a usual stock.")
    return factor
