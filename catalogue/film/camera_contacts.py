"""The contact squares on a 135 cassette, from which a camera reads speed, length and tolerance.

Two rows of six squares, bare metal or painted. With the spool post to the left the first square of each row is
ground and always bare; the upper row goes on with five squares of speed, the lower with three of length and two of
tolerance. The tables are from public descriptions and a public encoder's data; ISO 1007 itself was not read.
"""

import re
from dataclasses import dataclass
from types import MappingProxyType
from typing import ClassVar

from catalogue.errors import InvalidInput
from catalogue.film.film_speed import degrees

# Three squares give the lowest speed of an octave, two more which third of it.
_OCTAVE = MappingProxyType(
    {"000": 25, "100": 50, "010": 100, "110": 200, "001": 400, "101": 800, "011": 1600, "111": 3200}
)  # fmt: skip
_THIRDS = MappingProxyType({"10": 0, "01": 1, "11": 2})
_SPEEDS = (
    25, 32, 40, 50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000, 5000,
)  # fmt: skip
_LENGTHS = MappingProxyType(
    {"000": None, "100": 12, "010": 20, "110": 24, "001": 36, "101": 48, "011": 60, "111": 72}
)  # fmt: skip
_TOLERANCES = MappingProxyType({"00": "±1/2 stop", "10": "±1 stop", "01": "+2 to −1 stops", "11": "+3 to −1 stops"})


@dataclass(frozen=True)
class CameraContacts:
    """Both rows as read, twelve squares of "1" (bare) and "0" (painted). Raises `InvalidInput` where they can't be so."""

    speed_row: str
    length_row: str

    SQUARES: ClassVar[int] = 6

    def __post_init__(self) -> None:
        for name, row in (("upper", self.speed_row), ("lower", self.length_row)):
            if not re.fullmatch(r"[01]{6}", row):
                raise InvalidInput(f"The {name} row has six squares, each bare or painted, not “{row[:20]}”.")
            if row[0] != "1":
                raise InvalidInput(
                    f"The first square of the {name} row is painted, but it is always bare metal. "
                    "Hold the cassette with the spool post to the left and read again."
                )

    @classmethod
    def parse(cls, text: str) -> "CameraContacts":
        """Twelve squares as 1 and 0, "101001 111011", upper row first."""
        plain = re.sub(r"[\s:/,|]+", "", text)
        if not re.fullmatch(r"[01]{12}", plain):
            raise InvalidInput(
                f"“{text.strip()[:40]}” is no contact pattern: it has twelve squares, 1 for bare metal and 0 for paint, "
                "for example 101001 111011."
            )
        return cls(plain[:6], plain[6:])

    @property
    def speed(self) -> int | None:
        """ISO arithmetic speed; None where the maker uses one of the eight codes of his own."""
        third = _THIRDS.get(self.speed_row[4:])
        return None if third is None else _SPEEDS[_SPEEDS.index(_OCTAVE[self.speed_row[1:4]]) + third]

    @property
    def exposures(self) -> int | None:
        """Number of exposures; None where it is none of the usual ones."""
        return _LENGTHS[self.length_row[1:4]]

    @property
    def tolerance(self) -> str:
        """How far the exposure may lie off, in words."""
        return _TOLERANCES[self.length_row[4:]]

    @property
    def words(self) -> str:
        """The whole as a sentence."""
        speed = f"ISO {self.speed}/{degrees(self.speed)}°" if self.speed else "a speed code of the maker's own"
        length = f"{self.exposures} exposures" if self.exposures else "an unusual number of exposures"
        return f"{speed}, {length}, exposure may lie {self.tolerance} off."
