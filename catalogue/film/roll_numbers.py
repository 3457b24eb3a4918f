"""Roll numbers: the pattern they follow, the next one to issue, and references as typed.

A number is issued once. Written forms differ from person to person, so any
sensible text is a number; only new ones follow the pattern.
"""

import re
import unicodedata
from dataclasses import dataclass

from catalogue.errors import InvalidInput
from catalogue.film.frame_numbers import FrameNumber

DEFAULT_PATTERN = "{year}-{number:03}"
_FIELD = re.compile(r"\{(year|number)(?::0?([0-9]))?\}")
_ALLOWED = re.compile(r"[^\W_]([\w .\-]*[^\W_])?")


@dataclass(frozen=True)
class RollPattern:
    """A pattern such as "{year}-{number:03}"; the running number is padded with zeros."""

    text: str

    @classmethod
    def parse(cls, text: str) -> "RollPattern":
        """Checks the pattern; raises `InvalidInput` where it has no running number or can't give one."""
        fields = [m[1] for m in _FIELD.finditer(text)]
        rest = _FIELD.sub("", text)
        if fields.count("number") != 1 or fields.count("year") > 1 or not re.fullmatch(r"[\w .\-]*", rest):
            raise InvalidInput(f"“{text[:40]}” is not a pattern for roll numbers. Write for example {DEFAULT_PATTERN}.")
        pattern = cls(text)
        parse_roll_number(pattern.write(2031, 1))
        return pattern

    def write(self, year: int, number: int) -> str:
        """The roll number of this year and running number."""
        return _FIELD.sub(lambda m: str(year) if m[1] == "year" else str(number).zfill(int(m[2] or 1)), self.text)

    def head(self, year: int) -> str:
        """What stands before the running number in this year, but for digits that would run together with it."""
        before = self.text[: next(m.start() for m in _FIELD.finditer(self.text) if m[1] == "number")]
        return _FIELD.sub(str(year), before).rstrip("0123456789")

    def running(self, year: int, number: str) -> int | None:
        """The running number of a roll number that follows the pattern in this year, suffix or not, else None."""
        shape = re.escape(self.text)
        shape = re.sub(r"\\\{year(:0?\d)?\\\}", str(year), shape)
        shape = re.sub(r"\\\{number(:0?\d)?\\\}", r"([0-9]+)", shape)
        # Case is ignored, as it is where a number is claimed: r5 stands in the way of R5.
        found = re.fullmatch(shape + "[a-z]?", number, re.IGNORECASE)
        return int(found[1]) if found else None


def parse_roll_number(text: str) -> str:
    """The number as kept: letters, digits, spaces, dots, hyphens; at most 40 characters."""
    plain = " ".join(text.split())
    if len(plain) > 40 or not _ALLOWED.fullmatch(plain):
        shown = plain if len(plain) <= 40 else plain[:40] + "…"
        raise InvalidInput(
            f"“{shown}” can't be a roll number. Use up to 40 letters, digits, spaces, dots and hyphens, for example 2031-014."
        )
    return plain


def sort_text(number: str) -> str:
    """A text that sorts numbers naturally: 9 before 10, suffixes after their number."""
    return re.sub(r"\d+", lambda m: m[0].lstrip("0").zfill(12), number.casefold())


def squeezed(text: str) -> str:
    """Letters and digit groups only, without leading zeros: how numbers are compared."""
    return " ".join(p.lstrip("0") or "0" for p in re.findall(r"\d+|[^\W\d_]+", text.casefold()))


def tail(number: str) -> str:
    """The last part of a number, squeezed ("14" of 2031-014, "14 a" of 2031-014a); empty where it is all there is."""
    parts = squeezed(number).split()
    kept = 1 if parts and parts[-1].isdigit() else 2
    return " ".join(parts[-kept:]) if len(parts) > kept else ""


@dataclass(frozen=True)
class Reference:
    """One way to read a typed reference: a roll number squeezed, the frame named with it, and whether it may be a tail."""

    squeezed: str
    frame: str | None
    short: bool


def references(text: str) -> tuple[Reference, ...]:
    """What a typed reference may mean; none where it holds no digit.

    "2031-014 23A", "2031-014/23A" and "14 23a" are understood; padding and case
    don't count. The last part of a number ("14") may stand for the number.
    """
    typed = " ".join(unicodedata.normalize("NFKC", text).split())  # full-width digits are digits
    if not typed or len(typed) > 60 or not any(c.isdigit() for c in typed):
        return ()
    readings: list[tuple[str, str | None]] = [(typed, None)]
    split = re.fullmatch(r"(.+?)(?:\s*[/:#]\s*|\s+)(?:frame\s+|no\.?\s*|f\s*)?([0-9]{1,3}[A-Za-z]?|\?)", typed)
    if split:
        readings.append((split[1], FrameNumber.parse(split[2]).text))
    return tuple(Reference(squeezed(roll), frame, bool(re.fullmatch(r"\d+[a-z]?", roll.casefold()))) for roll, frame in readings)
