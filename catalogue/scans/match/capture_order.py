"""The order in which files were taken: by their dates, else by their names, also where a camera's count starts anew."""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

from catalogue.scans.match.name_patterns import camera_count
from catalogue.scans.read.file_kinds import NaturalKey, natural_key


@dataclass(frozen=True)
class CapturedFile:
    """A file as far as its order needs it: date as the file tells it (Exif or ISO 8601), `mtime` in s since 1970."""

    name: str
    date: str | None = None
    mtime: float = 0.0


@dataclass(frozen=True)
class CaptureOrder:
    """The files in the order they were taken; `used` is "dates", "names" or "names over 9999", `reason` a sentence."""

    files: tuple[CapturedFile, ...]
    used: str
    reason: str


_DATE = re.compile(
    r"([0-9]{4})[:\-]([0-9]{2})[:\-]([0-9]{2})"
    r"(?:[T ]([0-9]{2}):([0-9]{2}):([0-9]{2})(?:\.([0-9]{1,9}))?\s*(Z|[+\-][0-9]{2}:?[0-9]{2})?)?"
)


def _moment(text: str | None) -> tuple[datetime, timedelta | None] | None:
    """Clock time and offset from UTC; None for no date, an impossible one or the all-zero one of an unset clock."""
    found = _DATE.fullmatch(text.strip().rstrip("\0")) if text else None
    if not found:
        return None
    try:
        year, month, day, hour, minute, second = (int(part or 0) for part in found.groups()[:6])
        when = datetime(year, month, day, hour, minute, second)
    except ValueError:
        return None
    when += timedelta(microseconds=int((found[7] or "0").ljust(6, "0")[:6]))
    if not found[8]:
        return when, None
    sign, digits = -1 if found[8][0] == "-" else 1, re.sub(r"\D", "", found[8]) or "0000"
    return when, sign * timedelta(hours=int(digits[:2]), minutes=int(digits[2:]))


def _wrapped(group: Sequence[tuple[int, CapturedFile]]) -> int:
    """Numbers below this one come after 9999; 0 where the count did not pass 9999.

    It passed where the numbers reach both ends of the count and a hole of half the count lies between: up to
    100 missing at the ends, or 1000 where the times of the files agree. No published rule; the
    standard only says that numbers end at 9999.
    """
    numbers = sorted({number for number, _ in group})
    if len(numbers) < 2:
        return 0
    missing = numbers[0] - 1 + 9999 - numbers[-1]
    hole, low = max((two - one, two) for one, two in pairwise(numbers))
    earlier = [file.mtime for number, file in group if number >= low]
    later = [file.mtime for number, file in group if number < low]
    agreed = max(earlier) < min(later)
    return low if hole > missing and missing <= (1000 if agreed else 100) and hole > 9999 // 2 else 0


def capture_order(files: Sequence[CapturedFile]) -> CaptureOrder:
    """Dates where every file has one and they differ; else names, counting on from 9999 to 0001 in a camera's names.

    Equal dates go by name, equal names by time of file, then as given.
    """
    groups: dict[str, list[tuple[int, CapturedFile]]] = {}
    for file in files:
        if count := camera_count(file.name):
            groups.setdefault(count[0], []).append((count[1], file))
    limits = {free: low for free, group in groups.items() if (low := _wrapped(group))}

    def by_name(file: CapturedFile) -> tuple[NaturalKey, float]:
        count = camera_count(file.name)
        if count and count[1] < limits.get(count[0], 0):
            # Four characters and four digits stand before the rest of the name.
            return natural_key(f"{file.name[:4]}{count[1] + 9999}{file.name[8:]}"), file.mtime
        return natural_key(file.name), file.mtime

    ordered = sorted(files, key=by_name)
    moments = [_moment(file.date) for file in ordered]
    dated = [moment for moment in moments if moment]
    if dated and len(dated) == len(files) and len(set(dated)) > 1:
        zones = all(offset is not None for _, offset in dated)
        times = [when - (offset or timedelta()) if zones else when for when, offset in dated]
        places = sorted(range(len(ordered)), key=lambda n: times[n])
        return CaptureOrder(tuple(ordered[n] for n in places), "dates", "Every file tells when it was taken; they go by that.")
    without = len(files) - len(dated)
    why = f"{without} of {len(files)} files tell no date" if without or not files else "All files tell the same date"
    if limits:
        return CaptureOrder(tuple(ordered), "names over 9999", f"{why}; they go by name, and the count runs over 9999 to 0001.")
    return CaptureOrder(tuple(ordered), "names", f"{why}; they go by name.")
