"""The six digits of the bar code on a 135 cassette: the stock's DX number and the number of exposures.

Read as P HHHH E (Interleaved 2 of 5): a prefix that the maker is free in, 16 ×
product + generation, and a digit for the exposures. From public descriptions;
ISO 1007 was not read.
"""

import re
from dataclasses import dataclass
from typing import ClassVar

from catalogue.errors import InvalidInput
from catalogue.film.edge_code import EdgeCode


@dataclass(frozen=True)
class CassetteCode:
    """What a cassette's code says; `length_digit` 0 to 7, `stock` without a frame. Raises `InvalidInput`."""

    prefix: int
    stock: EdgeCode
    length_digit: int

    EXPOSURES: ClassVar[dict[int, int | None]] = {1: 12, 2: 20, 3: 24, 4: 36, 5: 48, 6: 60, 0: 72, 7: None}

    def __post_init__(self) -> None:
        if not 0 <= self.prefix <= 9:
            raise InvalidInput(f"The first digit of a cassette code lies between 0 and 9, not {self.prefix}.")
        if self.length_digit not in self.EXPOSURES:
            raise InvalidInput(f"The last digit of a cassette code is 0 to 7, not {self.length_digit}. Check it on the cassette.")
        if self.stock.frame is not None:
            raise InvalidInput(f"A cassette names no frame, but {self.stock} does. Write it without the frame.")

    @classmethod
    def parse(cls, text: str) -> "CassetteCode":
        """Reads six digits, "010804"; raises `InvalidInput`."""
        plain = text.strip()
        if not re.fullmatch(r"[0-9]{6}", plain):
            shown = plain if len(plain) <= 40 else plain[:40] + "…"
            raise InvalidInput(f"“{shown}” is not a cassette code: it has six digits, for example 012714.")
        product, generation = divmod(int(plain[1:5]), 16)
        if not 1 <= product <= 127:
            raise InvalidInput(f"The middle of a cassette code lies between 0016 and 2047, not {plain[1:5]}. Check the digits.")
        return cls(int(plain[0]), EdgeCode(product, generation), int(plain[5]))

    @property
    def exposures(self) -> int | None:
        """Number of exposures; None where the digit says only that it is none of the usual ones."""
        return self.EXPOSURES[self.length_digit]

    def __str__(self) -> str:
        return f"{self.prefix}{self.stock.dx_number}{self.length_digit}"
