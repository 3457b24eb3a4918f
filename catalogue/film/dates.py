"""Uncertain dates: EDTF (ISO 8601-2:2019) levels 0 and 1.

The `edtf` library reads the notation; this module keeps to levels 0 and 1,
refuses an end before its start, and gives the interval that sorting and
searching use. An open or unknown end has no bound. Seasons are the northern
ones as the library gives them: spring March to May, summer June to August,
autumn September to November, and of winter only the December of the year that
is named. The standard leaves the months open.
"""

import re
from calendar import monthrange
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from math import isinf
from typing import Any

from catalogue.errors import InvalidInput

# re.ASCII below: only 0-9 are digits in this notation.
_PART = r"-?\d{4}(-(0[1-9]|1[0-2]|2[1-4])(-\d{2})?)?"
_ONE = rf"({_PART}[?~%]?|\d{{3}}X|\d{{2}}XX|\d{{4}}-(XX|XX-XX|\d{{2}}-XX))"
_LEVEL_1 = re.compile(
    rf"{_ONE}|Y-?\d{{5,}}|{_PART}T\d{{2}}:\d{{2}}:\d{{2}}(Z|[+-]\d{{2}}(:\d{{2}})?)?"
    rf"|({_PART}[?~%]?|\.\.|)/({_PART}[?~%]?|\.\.|)",
    re.ASCII,
)
_CALENDAR = re.compile(r"(?!0000)(\d{4})(?:-(0[1-9]|1[0-2])(?:-(0[1-9]|[12]\d|3[01]))?)?[?~%]?", re.ASCII)
"""A year, a month or a day, certain or not: the same bounds as the library gives."""
_SEASONS = {"21": "spring", "22": "summer", "23": "autumn", "24": "winter"}
_MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


@dataclass(frozen=True)
class UncertainDate:
    """An EDTF text with its bounds; a bound is None where that end is open or out of the calendar."""

    text: str
    earliest: date | None
    latest: date | None

    @property
    def words(self) -> str:
        """The date as a person says it."""
        if "/" in self.text:
            start, end = self.text.split("/")
            if start in ("", "..") and end:
                return f"up to {_say(end)}"
            if end in ("", ".."):
                return f"{_say(start)} or later"
            return f"{_say(start)} to {_say(end)}"
        return _say(self.text)

    @property
    def order(self) -> tuple[date, date]:
        """Sort key: the earliest day, then the latest."""
        return (self.earliest or date.min, self.latest or date.max)

    def touches(self, year: int) -> bool:
        """Whether any day of the year may be meant."""
        return (self.earliest or date.min).year <= year <= (self.latest or date.max).year


def _say(text: str) -> str:
    mark = {"?": "probably ", "~": "about ", "%": "perhaps about "}.get(text[-1:], "")
    plain = text.rstrip("?~%")
    if re.fullmatch(r"\d{3}X", plain):
        return f"{mark}the {plain[:3]}0s"
    if re.fullmatch(r"\d{2}XX", plain):
        return f"{mark}between {plain[:2]}00 and {plain[:2]}99"
    found = re.fullmatch(r"(-?\d{4})(?:-(\d{2}|XX))?(?:-(\d{2}|XX))?", plain)
    if not found:
        return text
    year, month, day = found.groups()
    if month in _SEASONS:
        return f"{mark}{_SEASONS[month]} {year}"
    if month in (None, "XX"):
        return mark + year
    name = _MONTHS[int(month) - 1]
    return f"{mark}{name} {year}" if day in (None, "XX") else f"{mark}{int(day)} {name} {year}"


def _modern(text: str) -> str:
    """The 2019 form of a notation from the 2012 draft, or the text itself."""
    fixed = text.replace("unknown", "").replace("open", "..").replace("?~", "%").replace("~?", "%")
    fixed = re.sub(r"^y(?=-?\d)", "Y", fixed)
    return re.sub(r"(?<=[\d-])[ux]+", lambda m: "X" * len(m[0]), fixed)


def _bound(value: Any) -> date | None:
    """A day from the library's time tuple; None outside the years 1 to 9999 or where infinite."""
    if isinstance(value, float) and isinf(value):
        return None
    if not 1 <= value.tm_year <= 9999:
        return None
    return date(value.tm_year, value.tm_mon, value.tm_mday)


@lru_cache(maxsize=4096)  # the library takes about 10 ms a date, and lists show the same dates again
def parse_date(text: str) -> UncertainDate:
    """Reads an EDTF date or interval of level 0 or 1; raises `InvalidInput` with the way to write it."""
    plain = text.strip()
    shown = plain if len(plain) <= 40 else plain[:40] + "…"
    help_text = (
        f"“{shown}” is not a date here. Write for example 2031-05-14, 2031-05, 2031~ (about), 2031-22 (summer) or 2030/2031."
    )
    if plain != text or len(plain) > 60 or not _LEVEL_1.fullmatch(plain) or plain in ("/", "../..", "../", "/.."):
        modern = _modern(plain)
        if modern != plain and _LEVEL_1.fullmatch(modern):
            raise InvalidInput(f"“{shown}” is an older way of writing a date. Write “{modern}” instead.")
        raise InvalidInput(help_text)
    if any(part.startswith("-0000") for part in plain.split("/")):
        raise InvalidInput(help_text)
    if calendar := _CALENDAR.fullmatch(plain):  # nearly all dates; the library takes a third of a second to import
        year, month, day = (int(part) if part else 0 for part in calendar.groups())
        try:
            last = day or monthrange(year, month or 12)[1]
            return UncertainDate(plain, date(year, month or 1, day or 1), date(year, month or 12, last))
        except ValueError as problem:
            raise InvalidInput(help_text) from problem
    from edtf import parse_edtf

    try:
        parsed = parse_edtf(plain)
        start, end = plain.split("/") if "/" in plain else (plain, plain)
        earliest = None if start in ("", "..") else _bound(parsed.lower_strict())
        latest = None if end in ("", "..") else _bound(parsed.upper_strict())
        backwards = bool("/" in plain and {start, end}.isdisjoint({"", ".."}) and parsed.upper_strict() < parsed.lower_strict())
    except Exception as problem:  # the library raises many kinds for impossible days
        raise InvalidInput(help_text) from problem
    if backwards:
        raise InvalidInput(f"“{shown}” ends before it begins. Swap the two dates.")
    return UncertainDate(plain, earliest, latest)


def date_words(text: str) -> str:
    """A kept date as a person says it; the text itself where it isn't one."""
    try:
        return parse_date(text).words if text else ""
    except InvalidInput:
        return text
