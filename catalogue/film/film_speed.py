"""Film speed: arithmetic and degree forms, and how far an exposure lay from the film's own speed.

ISO is the film's property, an exposure index (EI) what the meter was set to.
The arithmetic values are rounded for print and are not exact doublings (160,
320, 640, 1250), so steps are counted in degrees or logarithms.
"""

import re
from math import isfinite, log2, log10

from catalogue.errors import InvalidInput

_WRITTEN = re.compile(r"(?:iso|ei|asa)?\s*([0-9]+(?:\.[0-9]+)?)\s*(?:/\s*([0-9]{1,2})\s*°?)?", re.IGNORECASE)


def _checked(speed: float) -> float:
    if not (isfinite(speed) and 0.5 <= speed <= 1_000_000):
        raise InvalidInput(f"A film speed lies between 0.5 and 1000000, not {speed:g}. Write for example 400.")
    return speed


def degrees(speed: float) -> int:
    """Speed in degrees: 10 × log₁₀(S) + 1, rounded (ISO 5800 and ISO 6, from memory)."""
    return round(10 * log10(_checked(speed)) + 1)


def speed_text(speed: float) -> str:
    """Both forms as they are written: "ISO 100/21°"."""
    return f"ISO {speed:.10g}/{degrees(speed)}°"


def parse_speed(text: str) -> float:
    """The arithmetic speed in "400", "ISO 400/27°" or "EI 320"; raises `InvalidInput`."""
    found = _WRITTEN.fullmatch(text.strip()) if len(text) <= 40 else None
    if not found:
        raise InvalidInput(f"“{text.strip()[:40]}” is not a film speed. Write for example 400 or ISO 400/27°.")
    speed = _checked(float(found[1]))
    if found[2] and int(found[2]) != degrees(speed):
        raise InvalidInput(f"ISO {speed:g} is {degrees(speed)}°, not {int(found[2])}°. Check both numbers.")
    return speed


def stops_from(film_speed: float, exposed_at: float) -> float:
    """Stops between the film's speed and the index it was exposed at; positive where it was underexposed.

    400 exposed at 1600 is +2, 400 exposed at 200 is -1.
    """
    return log2(_checked(exposed_at) / _checked(film_speed))
