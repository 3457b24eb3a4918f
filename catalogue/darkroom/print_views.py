"""Frozen read models of prints made under the enlarger."""

from dataclasses import dataclass


@dataclass(frozen=True)
class PrintMarkView:
    """A burn (more light) or a dodge (less): where and by how much, as worded.

    `area` is left, top, width, height in parts of the print, origin at its top left, or None.
    """

    kind: str
    """"burn" or "dodge"."""
    where: str = ""
    change: str = ""
    area: tuple[float, float, float, float] | None = None


@dataclass(frozen=True)
class PrintRecordView:
    """One print of a frame: lengths in mm, time in s, the date as EDTF text; texts are as typed."""

    id: int
    frame_id: int
    roll: str
    frame: str
    enlarger: str = ""
    lens: str = ""
    height_mm: float | None = None
    aperture: str = ""
    paper: str = ""
    grade: str = ""
    """Paper grade or filtration."""
    base_time_s: float | None = None
    developer: str = ""
    size_mm: tuple[float, float] | None = None
    """Width and height of the picture on the paper."""
    printed: str = ""
    marks: tuple[PrintMarkView, ...] = ()
    notes: str = ""
    recorded_at: str = ""


@dataclass(frozen=True)
class TimeElsewhere:
    """The time reckoned for another size or height: a starting point for a test strip."""

    seconds: float
    stops: float
    """How many stops more than the recorded base time."""
    words: str
