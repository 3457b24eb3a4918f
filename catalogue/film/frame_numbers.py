"""Frame numbers: a label with an order, never an integer.

Film carries latent numbers every half frame (n, nA, n+1 …); hand loading gives
00 and 0, the tail gives 36A, 37, 38. On the film 00 comes before 0.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import total_ordering

from catalogue.errors import InvalidInput

MAX_FRAMES = 400
"""More than any roll holds (a 220 or bulk length of half frames stays below it)."""

_SHAPE = re.compile(r"([0-9]{1,4})([A-Za-z]?)")


@total_ordering
@dataclass(frozen=True)
class FrameNumber:
    """A frame's label in canonical form: "00", "0", "1A", "36A", "?"."""

    text: str

    @classmethod
    def parse(cls, text: str) -> "FrameNumber":
        """Reads one label; "07" is "7", "1a" is "1A", "?" stands for unknown.

        Raises `InvalidInput` with what is expected.
        """
        plain = text.strip()
        if re.fullmatch(r"\?[0-9]{0,3}", plain):
            return cls(plain)
        if plain.upper() in ("S", "X", "E"):
            return cls(plain.upper())
        found = _SHAPE.fullmatch(plain) if plain.isascii() else None
        if not found:
            shown = plain if len(plain) <= 20 else plain[:20] + "…"
            raise InvalidInput(f"“{shown}” is not a frame number. Write for example 00, 0, 7, 12A or ?.")
        digits, letter = found.groups()
        # 00 is a frame of its own, before 0; other leading zeros are only padding.
        number = digits.lstrip("0") or ("00" if len(digits) > 1 else "0")
        return cls(number + letter.upper())

    @property
    def order(self) -> tuple[int, int, str]:
        """Sort key: position along the film, then the letter; unknown ones last."""
        if self.text.startswith("?"):
            return (2, int(self.text[1:] or 0), self.text)
        if self.text.isalpha():
            return (0, 0, self.text)
        digits = self.text.rstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
        return (1, -1 if digits == "00" else int(digits), self.text[len(digits) :])

    def __lt__(self, other: "FrameNumber") -> bool:
        return self.order < other.order

    def __str__(self) -> str:
        return self.text


def count_frames(count: int) -> tuple[FrameNumber, ...]:
    """Plain numbers from 1; refuses 0 and more than `MAX_FRAMES`."""
    if not 1 <= count <= MAX_FRAMES:
        raise InvalidInput(f"A roll holds 1 to {MAX_FRAMES} frames here, not {count}.")
    return tuple(FrameNumber(str(n)) for n in range(1, count + 1))


def _between(first: FrameNumber, last: FrameNumber, halves: bool) -> list[FrameNumber]:
    """The frames of a range, ends included; whole numbers between the ends unless by halves."""
    if first.order[0] != 1 or last.order[0] != 1 or first.order >= last.order:
        raise InvalidInput(f"The range {first}–{last} must run from a lower number to a higher one.")
    low, high = first.order[1], last.order[1]
    if high - low > MAX_FRAMES:
        raise InvalidInput(f"The range {first}–{last} has more than {MAX_FRAMES} frames. A roll holds fewer.")
    numbers = [FrameNumber("00" if n == -1 else str(n)) for n in range(low, high + 1)]
    if halves:
        numbers = [part for n in numbers for part in (n, FrameNumber(n.text + "A"))]
    inner = [n for n in numbers if first < n < last]
    return [first, *inner, last]


def parse_frames(text: str) -> tuple[FrameNumber, ...]:
    """Reads "00-36A", "1-12, 14, 16A" or "1-36 by halves" in the order written.

    A range steps by whole numbers between its ends: 00-36A is 00, 0, 1 … 36,
    36A. "by halves" puts nA after each n. Raises `InvalidInput` for nothing,
    repeats, and more than `MAX_FRAMES`.
    """
    body = text.strip()
    halves = bool(re.search(r"\bby hal(f|ves)$", body, re.IGNORECASE))
    body = re.sub(r"\bby hal(f|ves)$", "", body, flags=re.IGNORECASE)
    frames: list[FrameNumber] = []
    for part in re.split(r"[,;]", body):
        if not part.strip():
            continue
        ends = re.split(r"\s*[-–—]\s*", part.strip())
        if len(ends) == 1:
            frames.append(FrameNumber.parse(ends[0]))
        elif len(ends) == 2:
            frames += _between(FrameNumber.parse(ends[0]), FrameNumber.parse(ends[1]), halves)
        else:
            raise InvalidInput(f"“{part.strip()[:40]}” is not a range of frames. Write for example 1-36 or 00-36A.")
        if len(frames) > MAX_FRAMES:
            raise InvalidInput(f"That is more than {MAX_FRAMES} frames. A roll holds fewer.")
    if not frames:
        raise InvalidInput("Name at least one frame, for example 1-36.")
    twice = sorted({str(f) for f in frames if frames.count(f) > 1})
    if twice:
        raise InvalidInput(f"Frame {', '.join(twice[:5])} is named twice. Each frame has one label.")
    return tuple(frames)


def _reach(frames: Sequence[FrameNumber], start: int) -> int:
    """Index behind the longest range that begins at `start`: whole numbers, then perhaps one lettered end."""
    if frames[start].order[0] != 1:
        return start + 1
    number, end = frames[start].order[1], start + 1
    while end < len(frames) and frames[end].order == (1, number + 1, ""):
        number, end = number + 1, end + 1
    if end < len(frames) and frames[end].order[:2] == (1, number) and frames[end - 1] < frames[end]:
        end += 1
    return end


def frames_text(frames: Sequence[FrameNumber]) -> str:
    """The short range text that `parse_frames` reads back as the same frames in the same order."""
    given = list(frames)
    if len(given) > 3 and given[0].order[0] == given[-1].order[0] == 1 and given[0] < given[-1]:
        span = given[-1].order[1] - given[0].order[1]
        if span <= MAX_FRAMES and given == _between(given[0], given[-1], True):
            return f"{given[0]}-{given[-1]} by halves"
    parts: list[str] = []
    start = 0
    while start < len(given):
        end = _reach(given, start)
        if end - start > 2:
            parts.append(f"{given[start]}-{given[end - 1]}")
        else:  # two frames are as short side by side, and two that touch may not be a run
            end = start + 1
            parts.append(str(given[start]))
        start = end
    return ", ".join(parts)
