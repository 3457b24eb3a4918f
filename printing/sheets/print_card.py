"""The print card of a frame: how it was printed in the darkroom, or lines to write that on.

Pure layout, one frame a sheet, portrait. What isn't recorded is a line to write
on. The sketch has the picture's proportion; where there is a picture it lies in
it faintly, so that burning and dodging can be drawn over it with a pencil.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from math import isfinite
from typing import Literal

from catalogue.errors import DoesNotFit, InvalidInput
from catalogue.film.formats import FilmFormat
from catalogue.paper.sizes import PAPERS, Paper
from catalogue.sleeves.geometry import Rect
from printing.canvas.items import Box, Item, Line, Measure, Picture, Sheet, Text, first_fitting, fitted
from printing.sheets.tank_card import HEAD_MM, card_head, roll_words, wrapped

FAINT = 0.35
"""Opacity of the picture under the sketch: seen, and still drawn over with a pencil."""
_ROW = 11.0
_PITCH = 8.5
_TITLES = 11.0
_LEAST_SKETCH = 78.0


@dataclass(frozen=True)
class PrintMark:
    """A burn (more light) or a dodge (less). `change` is worded ("+1/2 stop", "-4 s"), `where` says the place.

    `area` in fractions of the print, origin at its top left: x, y, width, height, each 0 to 1.
    Raises `InvalidInput` for an area that reaches beyond the print.
    """

    kind: Literal["burn", "dodge"]
    where: str = ""
    change: str = ""
    area: tuple[float, float, float, float] | None = None

    def __post_init__(self) -> None:
        if self.kind not in ("burn", "dodge"):
            raise InvalidInput(f"“{self.kind[:20]}” is neither burn nor dodge.")
        if self.area is not None:
            x, y, wide, high = self.area
            if (
                not all(isfinite(v) for v in self.area)
                or min(x, y) < 0
                or min(wide, high) <= 0
                or max(x + wide, y + high) > 1.0001
            ):
                raise InvalidInput(
                    f"The {self.kind} at {x:g}, {y:g} measuring {wide:g} × {high:g} reaches beyond the print; "
                    "give fractions of it, 0 to 1."
                )


@dataclass(frozen=True)
class PrintRecord:
    """How a frame was printed; everything optional. Height in mm at the enlarger's scale, time in seconds.

    Raises `InvalidInput` for a height outside 0 to 3000 mm and a time outside 0 to 86 400 s.
    """

    enlarger: str = ""
    lens: str = ""
    height_mm: float | None = None
    aperture: str = ""
    paper: str = ""
    grade: str = ""
    """Paper grade or filtration, as the person writes it."""
    base_time_s: float | None = None
    developer: str = ""
    marks: tuple[PrintMark, ...] = ()
    notes: str = ""
    printed: str = ""
    """When the print was made, as worded."""
    size: str = ""
    """The print's size, as worded in the person's unit."""
    height_words: str = ""
    """The height in the person's unit; in mm where empty."""

    def __post_init__(self) -> None:
        if self.height_mm is not None and not 0 < self.height_mm <= 3000:
            raise InvalidInput(f"An enlarger height of {self.height_mm:g} mm is out of range. Give 1 to 3000 mm.")
        if self.base_time_s is not None and not 0 < self.base_time_s <= 86_400:
            raise InvalidInput(f"A base time of {self.base_time_s:g} s is out of range. Give up to 86 400 s.")
        if len(self.marks) > 12:
            raise InvalidInput(f"{len(self.marks)} burns and dodges are more than 12. Divide them over two cards.")


@dataclass(frozen=True)
class FrameToPrint:
    """The frame a card is for: what it is, where it lies, and a picture file if there is one."""

    roll: str
    label: str
    film: FilmFormat
    where: str = ""
    caption: str = ""
    picture: str | None = None
    upright: bool = False
    """Whether the picture stands: its long side, as it lies along the film, is the print's height."""


@dataclass(frozen=True)
class PrintCard:
    """The sheet, and the sketch's rectangle on it."""

    sheet: Sheet
    sketch: Rect


def plan_print_card(
    frame: FrameToPrint,
    record: PrintRecord | None = None,
    *,
    archive_name: str,
    printed_on: date,
    measure: Measure,
    paper: Paper = PAPERS["A4"],
    link: str = "",
) -> PrintCard:
    """The card of one frame; without a record an empty one to fill in by hand. Raises `DoesNotFit` for paper too small."""
    done = record or PrintRecord()
    width, height = paper.turned(False)
    m = paper.margin_mm
    inner = Rect(m, m, width - 2 * m, height - 2 * m)
    titles = [f"Print card: roll {roll}, frame {frame.label}" for roll in roll_words(frame.roll)]
    texts = (frame.caption, frame.where, frame.film.name)
    facts = [" · ".join(t for t in texts[:kept] if t) for kept in (3, 2)] + [frame.where or frame.caption or frame.film.name]
    where = [f"{archive_name} · card printed {printed_on.isoformat()}", f"card printed {printed_on.isoformat()}"]
    items = card_head(Rect(inner.x, inner.y, inner.width, HEAD_MM), titles, facts, where, measure, link)
    y = inner.y + HEAD_MM + 1
    half = (inner.width - 8) / 2
    for n, (name, value) in enumerate(_fields(done)):
        row, column = divmod(n, 2)
        items += _field(Rect(inner.x + column * (half + 8), y + row * _ROW, half, _ROW), name, value, measure)
    y += (len(_fields(done)) + 1) // 2 * _ROW + 5
    rows = max(4, len(done.marks))
    noted = wrapped(done.notes, inner.width - 20, 4.4, measure)
    lines, pitch = min(max(2, len(noted)), 6), _PITCH
    room = inner.bottom - y - _LEAST_SKETCH
    if (rows + lines) * pitch + _TITLES > room:  # many marks on small paper: rows come closer, and notes are set smaller
        lines = 2
        pitch = min(_PITCH, (room - _TITLES) / (rows + lines))
    if pitch < 4.5:
        raise DoesNotFit(
            f"{paper.name}, {width:g} × {height:g} mm, leaves {max(0.0, room):.0f} mm for {rows} burns and dodges and the notes "
            "below the sketch. Choose a larger paper."
        )
    below = (rows + lines) * pitch + _TITLES
    sketch = _sketch_rect(frame, Rect(inner.x, y, inner.width, inner.bottom - below - y - 4))
    items += _sketch(frame, done.marks, sketch, measure)
    y = inner.bottom - below
    items += _marks(done.marks, rows, pitch, Rect(inner.x, y, inner.width, rows * pitch + 8), measure)
    items += _notes(noted, lines, pitch, Rect(inner.x, y + rows * pitch + 8, inner.width, lines * pitch + 3), measure)
    return PrintCard(Sheet(width, height, tuple(items)), sketch)


def _fields(done: PrintRecord) -> tuple[tuple[str, str], ...]:
    return (
        ("enlarger", done.enlarger),
        ("lens", done.lens),
        ("height", done.height_words or ("" if done.height_mm is None else f"{done.height_mm:g} mm")),
        ("aperture", done.aperture),
        ("paper", done.paper),
        ("grade or filtration", done.grade),
        ("base time", "" if done.base_time_s is None else f"{done.base_time_s:g} s"),
        ("paper developer", done.developer),
        ("date of the print", done.printed),
        ("print number, size", done.size),
    )


def _field(cell: Rect, name: str, value: str, measure: Measure) -> list[Item]:
    """Name, then its value or the line to write it on."""
    base = cell.bottom - 2.2
    items: list[Item] = [Text(cell.x, base, 3.8, name)]
    start = cell.x + max(measure(name, 3.8, False) + 3, 24.0)
    items.append(Line(start, base + 1.2, cell.right, base + 1.2, 0.2))
    if value:
        text, size = fitted(value, cell.right - start, 6.0, 2.4, measure, True)
        items.append(Text(start, base, size, text, True))
    return items


def _sketch_rect(frame: FrameToPrint, room: Rect) -> Rect:
    """The largest rectangle of the picture's proportion in the room, in the middle."""
    along, across = frame.film.frame_along_mm, frame.film.frame_across_mm
    # A format may lie either way on the film; upright is said of the scene's long side.
    wide, high = (min(along, across), max(along, across)) if frame.upright else (max(along, across), min(along, across))
    scale = min(room.width / wide, room.height / high)
    return Rect(room.x + (room.width - wide * scale) / 2, room.y, wide * scale, high * scale)


def _sketch(frame: FrameToPrint, marks: Sequence[PrintMark], sketch: Rect, measure: Measure) -> list[Item]:
    items: list[Item] = []
    if frame.picture:
        items.append(Picture(sketch, frame.picture, opacity=FAINT))
    items.append(Box(sketch, 0.4))
    for number, mark in enumerate(marks, 1):
        if mark.area is None:
            continue
        x, y, wide, high = mark.area
        wide, high = min(wide, 1 - x), min(high, 1 - y)
        area = Rect(sketch.x + x * sketch.width, sketch.y + y * sketch.height, wide * sketch.width, high * sketch.height)
        items.append(Box(area, 0.6, 0.0, mark.kind == "dodge"))
        sign = "+" if mark.kind == "burn" else "−"
        text, size = fitted(f"{number}{sign}", max(3.0, area.width - 1), 6.0, 2.0, measure, True)
        items.append(Text(area.x + area.width / 2, area.y + area.height / 2 + size * 0.36, size, text, True, "middle"))
    return items


def _marks(marks: Sequence[PrintMark], rows: int, pitch: float, area: Rect, measure: Measure) -> list[Item]:
    """The table of burns (+, solid on the sketch) and dodges (−, dashed), with empty rows to write in."""
    titles = ("", "burn + or dodge −", "where", "change")
    starts = (area.x, area.x + 9, area.x + 50, area.right - 42)
    ends = (area.x + 7, area.x + 47, area.right - 45, area.right)
    items: list[Item] = []
    for start, end, title in zip(starts, ends, titles, strict=True):
        text, size = fitted(title, end - start, 3.8, 2, measure) if title else ("", 3.8)
        if text:
            items.append(Text(start, area.y + 4.2, size, text))
    for row in range(rows):
        base = area.y + 6 + (row + 1) * pitch - 2
        items += [Line(start, base + 1.2, end, base + 1.2, 0.2) for start, end in zip(starts[1:], ends[1:], strict=True)]
        items.append(Text(area.x, base, min(4.4, pitch * 0.65), f"{row + 1}"))
        if row < len(marks):
            mark = marks[row]
            said = ("burn +" if mark.kind == "burn" else "dodge −", mark.where, mark.change)
            for start, end, value in zip(starts[1:], ends[1:], said, strict=True):
                if value:
                    text, size = fitted(value, end - start, min(5.0, pitch * 0.65), 2.4, measure, True)
                    items.append(Text(start, base, size, text, True))
    return items


def _notes(noted: list[str], lines: int, pitch: float, area: Rect, measure: Measure) -> list[Item]:
    items: list[Item] = [Text(area.x, area.y + pitch - 2, 3.4, "notes")]
    for n in range(lines):
        base = area.y + (n + 1) * pitch - 2
        items.append(Line(area.x + 15, base + 1.2, area.right, base + 1.2, 0.2))
        if n < len(noted):
            words = [noted[n] if n < lines - 1 else " ".join(noted[n:])]
            text, size = first_fitting(words, area.width - 16, min(4.4, pitch * 0.65), 2.4, measure)
            items.append(Text(area.x + 15, base, size, text))
    return items
