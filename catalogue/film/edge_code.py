"""The bar code along the edge of 135 film: which stock, which frame or half frame.

Two parallel tracks of equal modules are exposed on the rebate at every half
frame (19.0 mm): a clock track beside the perforations and the data track beside
the edge of the film. A 1 is an exposed module, dark on a negative. Seen from the
base side with the code along the lower edge it reads left to right, and the
frame numbers rise the same way.

The layout follows public descriptions and two public implementations that agree
bit by bit; ISO 1007, which lays it down, was not read:

- long form, 31 modules: start 101010, product (7 bits), 0, generation (4 bits),
  frame (6 bits), half (1 bit), 0, parity, stop 0101;
- short form of older film, 23 modules: without frame, half and the 0 behind it;
- parity is even: the 1s between start and stop, parity included, are even in number.
"""

import re
from dataclasses import dataclass

from catalogue.errors import InvalidInput
from catalogue.film.frame_numbers import FrameNumber

HALF_FRAME_MM = 19.0
"""From one code to the next along the film: four perforations of 4.75 mm."""

CLOCK_LONG = "1111101010101010101010101010111"
CLOCK_SHORT = "11111010101010101010111"

_START, _STOP = "101010", "0101"
_LEADER, _DOUBLE_ZERO = 62, 63
_FRAMES_BY_LETTER = {"S": _LEADER, "X": _LEADER, "K": _DOUBLE_ZERO, "F": 0}
_WRITTEN = re.compile(r"(?:([0-9]{1,4})-([0-9]{1,4})|([0-9]{4}))(?:/(?:([0-9]{1,3})(A?)|([SXKF])))?")


def clock(long: bool) -> str:
    """The clock track as a text of 1 and 0: 31 modules with a frame number, 23 without."""
    return CLOCK_LONG if long else CLOCK_SHORT


def _shown(text: str) -> str:
    return text if len(text) <= 40 else text[:40] + "…"


@dataclass(frozen=True)
class EdgeCode:
    """What one edge code says. Raises `InvalidInput` for values the code can't carry.

    `product` (1 to 127) and `generation` (0 to 15) name the stock: 79-7. `frame`
    is the value as exposed, 0 to 63 (62 stands for S or X, 63 for 00), or None in
    the short form; `half` is true on nA, half a frame behind n.
    """

    product: int
    generation: int
    frame: int | None = None
    half: bool = False

    def __post_init__(self) -> None:
        if not 1 <= self.product <= 127:
            raise InvalidInput(f"The first part of an edge code lies between 1 and 127, not {self.product}.")
        if not 0 <= self.generation <= 15:
            raise InvalidInput(f"The second part of an edge code lies between 0 and 15, not {self.generation}.")
        if self.frame is None:
            if self.half:
                raise InvalidInput("An edge code without a frame number has no half frame. Name the frame, for example 12A.")
        elif not 0 <= self.frame <= 63:
            raise InvalidInput(f"The frame in an edge code lies between 0 and 63, not {self.frame}.")

    @classmethod
    def parse(cls, text: str) -> "EdgeCode":
        """Reads "79-7/1A", "79-7" or the DX number "1271/1A"; raises `InvalidInput`.

        62, S and X are one frame, so are 63, 00 and K, and 0 and F. 00 and 0 are two.
        """
        plain = text.strip().upper()
        found = _WRITTEN.fullmatch(plain) if plain.isascii() else None
        if not found:
            raise InvalidInput(f"“{_shown(text.strip())}” is not an edge code. Write for example 79-7/12A, 79-7/00 or 79-7.")
        first, second, dx_number, digits, half, letter = found.groups()
        product, generation = divmod(int(dx_number), 16) if dx_number else (int(first), int(second))
        frame = None
        if letter:
            frame = _FRAMES_BY_LETTER[letter]
        elif digits:
            frame = _DOUBLE_ZERO if digits == "00" else int(digits)
        return cls(product, generation, frame, half == "A")

    @classmethod
    def from_modules(cls, text: str) -> "EdgeCode":
        """Decodes a data track of 23 or 31 modules, "1010101001111…"; raises `InvalidInput` where it contradicts itself."""
        if len(text) not in (23, 31) or not set(text) <= {"0", "1"}:
            raise InvalidInput(
                f"“{_shown(text)}” has {len(text)} modules; an edge code is 31 or 23 ones and zeros. Read the edge again."
            )
        if not (text.startswith(_START) and text.endswith(_STOP)):
            raise InvalidInput(f"An edge code begins with {_START} and ends with {_STOP}; {text} does not. Read the edge again.")
        body = text[len(_START) : -len(_STOP)]
        if body.count("1") % 2:
            raise InvalidInput(f"The parity of the edge code {text} is wrong: a module was misread. Read the edge again.")
        if body[7] != "0" or (len(text) == 31 and body[19] != "0"):
            raise InvalidInput(f"The edge code {text} has a 1 where a 0 separates its parts. Read the edge again.")
        product, generation = int(body[:7], 2), int(body[8:12], 2)
        if len(text) == 23:
            return cls(product, generation)
        return cls(product, generation, int(body[12:18], 2), body[18] == "1")

    def modules(self) -> str:
        """The data track as a text of 1 and 0, in the order in which it reads."""
        payload = f"{self.product:07b}0{self.generation:04b}"
        if self.frame is not None:
            payload += f"{self.frame:06b}{self.half:d}0"
        return f"{_START}{payload}{payload.count('1') % 2}{_STOP}"

    @property
    def stock(self) -> str:
        """Product and generation as they are written: "79-7"."""
        return f"{self.product}-{self.generation}"

    @property
    def dx_number(self) -> str:
        """16 × product + generation, as in the middle of the cassette's code: "1271" for 79-7."""
        return f"{16 * self.product + self.generation:04d}"

    @property
    def half_steps(self) -> int | None:
        """Place along the film in half frames from 0: 1A is 3, 00 is -2, X is -4; None without a frame number."""
        if self.frame is None:
            return None
        # S or X stands before 00 at the head of a roll: common practice, no published source.
        number = {_DOUBLE_ZERO: -1, _LEADER: -2}.get(self.frame, self.frame)
        return 2 * number + self.half

    @property
    def frame_number(self) -> FrameNumber | None:
        """The frame's label; None in the short form and for the half frame behind X, which has no label."""
        return None if self.half_steps is None else label_at(self.half_steps)

    def __str__(self) -> str:
        if self.frame is None:
            return self.stock
        frame = {_DOUBLE_ZERO: "00", _LEADER: "X"}.get(self.frame, str(self.frame))
        # No letter takes an A behind it: that half frame is written with its number.
        return f"{self.stock}/62A" if self.half and self.frame == _LEADER else f"{self.stock}/{frame}{'A' * self.half}"


def label_at(half_steps: int) -> FrameNumber | None:
    """The label so many half frames behind 0: -2 is "00", 3 is "1A"; None where no code can lie."""
    if half_steps == -4:
        return FrameNumber("X")
    if not -2 <= half_steps <= 123:
        return None
    number, half = divmod(half_steps, 2)
    return FrameNumber(("00" if number == -1 else str(number)) + "A" * half)
