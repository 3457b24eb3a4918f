"""The values of a frame log as people write them: shutter times, apertures, focal lengths, moments and frame labels."""

import re
from datetime import date, datetime
from fractions import Fraction

from catalogue.errors import InvalidInput
from catalogue.film.dates import parse_date
from catalogue.film.frame_numbers import parse_frames

NUMBER = r"[0-9]{1,7}(?:[.,][0-9]{1,6})?"
"""A number as people type it, with point or comma: a regular expression."""
MOMENT = re.compile(
    r"(?:([0-9]{4}-[0-9]{2}-[0-9]{2})[T ])?([0-9]{1,2}:[0-9]{2})(:[0-9]{2})?\s*(Z|[+-][0-9]{2}(?::[0-9]{2})?)?", re.ASCII
)
"""Day or nothing, hours and minutes, seconds or nothing, zone or nothing."""


def shortened(text: str) -> str:
    """What was typed, as a sentence about it shows it: 40 characters at most."""
    return text if len(text) <= 40 else text[:40] + "…"


def _decimal(text: str) -> float:
    return float(text.replace(",", "."))


def parse_shutter(text: str) -> tuple[Fraction | None, bool]:
    """The time in s, and whether it is a bulb exposure: "1/250", "1/250 s", "2s", "0.5 s", "0.004", "2\\"", "B", "bulb".

    Raises `InvalidInput`; so for "250", which may mean 1/250 s.
    """
    plain = text.strip()
    if plain.casefold() in ("b", "bulb", "t"):
        return None, True
    if found := re.fullmatch(r"([0-9]{1,3})/([0-9]{1,5})\s*(?:s|sec|seconds?)?", plain, re.IGNORECASE | re.ASCII):
        if int(found[2]) == 0 or int(found[1]) == 0:
            raise InvalidInput(f"“{plain}” is not a shutter time. Write for example 1/250 or 2s.")
        return Fraction(int(found[1]), int(found[2])), False
    if found := re.fullmatch(rf"({NUMBER})\s*(s|sec|seconds?|\"|″|min|minutes?)?", plain, re.IGNORECASE | re.ASCII):
        value = Fraction(found[1].replace(",", "."))
        if value == 0:
            raise InvalidInput(f"“{plain}” is not a shutter time. Write for example 1/250 or 2s.")
        if found[2]:
            return value * (60 if found[2].casefold().startswith("m") else 1), False
        if value < 1:
            return value, False
        raise InvalidInput(f"“{plain}” may be 1/{plain} s or {plain} s. Write 1/{plain} or {plain}s.")
    raise InvalidInput(f"“{shortened(plain)}” is not a shutter time. Write for example 1/250 or 2s.")


def parse_aperture(text: str) -> float:
    """The f-number in "f/5.6", "F5,6" or "5.6"; raises `InvalidInput`."""
    found = re.fullmatch(rf"(?:[fƒ]\s*/?\s*)?({NUMBER})", text.strip(), re.IGNORECASE | re.ASCII)
    if not found:
        raise InvalidInput(f"“{shortened(text.strip())}” is not an aperture. Write for example f/5.6.")
    return _decimal(found[1])


def parse_focal_length(text: str) -> float:
    """The length in mm in "50 mm" or "50"; raises `InvalidInput`."""
    found = re.fullmatch(rf"({NUMBER})\s*(?:mm)?", text.strip(), re.IGNORECASE | re.ASCII)
    if not found:
        raise InvalidInput(f"“{shortened(text.strip())}” is not a focal length. Write for example 50mm.")
    return _decimal(found[1])


def parse_taken(text: str, day: date | None = None) -> tuple[str, datetime | None]:
    """A date or moment as EDTF, and the moment if there is a time of day: "2031-05-14 13:05", "13:05" with `day`.

    Seconds that weren't written are 0, because EDTF has no shorter time. Raises `InvalidInput`.
    """
    plain = text.strip()
    found = MOMENT.fullmatch(plain)
    if not found:
        return parse_date(plain).text, None
    if not found[1] and day is None:
        raise InvalidInput(f"“{plain}” is a time without a date. Write for example 2031-05-14 {found[2]}, or give the day.")
    written = f"{found[1] or day}T{found[2].zfill(5)}{found[3] or ':00'}{found[4] or ''}"
    try:
        moment = datetime.fromisoformat(written.replace("Z", "+00:00"))
    except ValueError as problem:
        raise InvalidInput(f"“{plain}” is not a time. Write for example 2031-05-14 13:05.") from problem
    return parse_date(written).text, moment


def parse_labels(text: str) -> tuple[str, ...]:
    """The frames of a label or a range; raises `InvalidInput`, also for what a spreadsheet makes of labels and ranges."""
    plain = text.strip()
    if re.fullmatch(r"[0-9]+([.,][0-9]+)?E[+-]?[0-9]+|[0-9]+[.,][0-9]+", plain, re.IGNORECASE | re.ASCII):
        raise InvalidInput(
            f"“{shortened(plain)}” is no frame; a spreadsheet may have taken the label for a number. "
            "Set the column to text, type the frame again and save anew."
        )
    if re.fullmatch(
        r"[0-9]{4}-[0-9]{2}-[0-9]{2}.*|[0-9]{1,2}[-. ]+[A-Za-zäé]{3,4}\.?|[A-Za-z]{3}-[0-9]{2}|[0-9]+/[0-9/]+", plain
    ):
        raise InvalidInput(
            f"“{shortened(plain)}” is no frame; a spreadsheet may have taken a range for a date. "
            "Set the column to text, type the range again and save anew."
        )
    return tuple(frame.text for frame in parse_frames(plain))
