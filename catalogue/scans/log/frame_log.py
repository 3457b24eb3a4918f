"""The frame log: notes on single frames, read from a CSV file; `catalogue.scans.log.typed_log` reads them as typed.

CSV is RFC 4180, with comma, semicolon or tab between the fields, and UTF-8. The first line names the columns in plain
English; `COLUMNS` lists the names that are known, and the result shows which column was taken for what.

A bare number is never taken for a shutter time: 250 may be 1/250 s or 250 s, so it is written 1/250 or 250s. A time
of day without a date needs the day given beside. Every fault is told with its line number; if one of them is fatal
the result has no lines. Cells are data: a formula stays the text it is.
"""

import csv
import io
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from math import isfinite
from typing import Any, cast

from catalogue.errors import InvalidInput
from catalogue.film.dates import parse_date
from catalogue.scans.log.log_values import (
    MOMENT,
    parse_aperture,
    parse_focal_length,
    parse_labels,
    parse_shutter,
    parse_taken,
    shortened,
)

MAX_BYTES = 2_000_000
MAX_LINES = 5000
MAX_TEXT = 4000
LONGEST_S = 366 * 86_400

COLUMNS: dict[str, tuple[str, ...]] = {
    "frames": ("frame", "frames", "frame no", "frame number", "frame numbers", "no", "nr", "number", "neg", "negative", "range"),
    "taken": ("taken", "time of taking", "date taken", "time taken", "date and time", "date time", "exposed", "when"),
    "day": ("date", "day"),
    "time": ("time", "time of day", "hour"),
    "shutter": ("shutter", "shutter time", "shutter speed", "exposure time", "exposure", "speed"),
    "aperture": ("aperture", "f", "f stop", "fstop", "f number", "stop"),
    "lens": ("lens", "objective"),
    "focal_length": ("focal length", "focal"),
    "caption": ("caption", "title", "subject", "description", "what"),
    "place": ("place", "location", "where", "site"),
    "notes": ("notes", "note", "remarks", "remark", "comment", "comments", "memo"),
}  # fmt: skip
"""What a column may be called; case, signs and a unit in brackets don't matter."""

_KNOWN = {name: field for field, names in COLUMNS.items() for name in names}


@dataclass(frozen=True)
class LogLine:
    """What was noted of one or several frames; an empty text or None where nothing was.

    `taken` is EDTF as written; `moment` the date and time in it, without a zone unless one was written. `shutter_s` in
    s, None for a bulb exposure of unknown length (`bulb`); `focal_length_mm` in mm. `line` counts from 1.
    """

    line: int
    frames: tuple[str, ...]
    taken: str = ""
    moment: datetime | None = None
    shutter_s: Fraction | None = None
    bulb: bool = False
    aperture: float | None = None
    focal_length_mm: float | None = None
    lens: str = ""
    caption: str = ""
    place: str = ""
    notes: str = ""

    def __post_init__(self) -> None:
        if not self.frames:
            raise InvalidInput(f"Line {self.line} names no frame. Name at least one.")
        if self.taken:
            parse_date(self.taken)
        if self.shutter_s is not None and not 0 < self.shutter_s <= LONGEST_S:
            raise InvalidInput(f"A shutter time of {float(self.shutter_s):g} s lies outside 0 to {LONGEST_S} s. Check it.")
        for what, value, least, most in (
            ("An aperture", self.aperture, 0.5, 1024),
            ("A focal length in mm", self.focal_length_mm, 1, 10_000),
        ):
            if value is not None and not (isfinite(value) and least <= value <= most):
                raise InvalidInput(f"{what} lies between {least:g} and {most:g}, not {value:g}. Check it.")
        for text in (self.lens, self.caption, self.place, self.notes):
            if len(text) > MAX_TEXT:
                raise InvalidInput(f"A text has {len(text)} characters; up to {MAX_TEXT} fit. Shorten it.")


@dataclass(frozen=True)
class Fault:
    """What is wrong in a line, or (not `fatal`) what to look at."""

    line: int
    sentence: str
    fatal: bool = True


@dataclass(frozen=True)
class LogReading:
    """The lines in the order written, none if a fault is fatal; all faults; and (column, field) pairs, "" if unused."""

    lines: tuple[LogLine, ...]
    faults: tuple[Fault, ...]
    columns: tuple[tuple[str, str], ...] = ()

    @property
    def usable(self) -> bool:
        """Whether no fault is fatal."""
        return not any(fault.fatal for fault in self.faults)


class LogBuilder:
    """Gathers lines and faults; what stands in both CSV cells and typed lines is read here."""

    def __init__(self, day: date | None) -> None:
        self.day = day
        self.lines: list[LogLine] = []
        self.faults: list[Fault] = []

    def fault(self, line: int, sentence: str, fatal: bool = True) -> None:
        """Tells what is wrong in a line, counted from 1."""
        self.faults.append(Fault(line, sentence, fatal))

    def add(self, line: int, cells: Mapping[str, str]) -> None:
        """Reads the cells of one line, every one of them, so that all its faults are told at once."""
        told = len(self.faults)
        values: dict[str, object] = {}

        def read(field: str, reader: Callable[[str], object]) -> object:
            if not cells.get(field):
                return None
            try:
                return reader(cells[field])
            except InvalidInput as problem:
                self.fault(line, str(problem))
                return None

        values["frames"] = read("frames", parse_labels)
        if not cells.get("frames"):
            self.fault(line, "No frame is named. Name one or a range, or take the line out.")
        taken = read("taken", lambda _: self._taken(cells))
        if shutter := read("shutter", parse_shutter):
            values["shutter_s"], values["bulb"] = cast(tuple[Fraction | None, bool], shutter)
        values["aperture"] = read("aperture", parse_aperture)
        values["focal_length_mm"] = read("focal_length", parse_focal_length)
        for field in ("lens", "caption", "place", "notes"):
            values[field] = cells.get(field, "")
        if taken:
            values["taken"], values["moment"] = cast(tuple[str, datetime | None], taken)
        if any(re.search(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]", cell) for cell in cells.values()):
            self.fault(line, "There is a control character in this line. Type the line again.")
        if len(self.faults) > told:
            return
        try:
            self.lines.append(LogLine(line=line, **cast(dict[str, Any], values)))
        except InvalidInput as problem:
            self.fault(line, str(problem))

    def _taken(self, cells: Mapping[str, str]) -> tuple[str, datetime | None]:
        """`taken` holds date, time or both, as do the columns day and time."""
        text = cells["taken"]
        if not cells.get("day"):
            return parse_taken(text, self.day)
        try:
            day = date.fromisoformat(cells["day"])
        except ValueError as problem:
            raise InvalidInput(
                f"“{shortened(cells['day'])}” can't go with the time {shortened(text)}. Write the date as 2031-05-14."
            ) from problem
        found = MOMENT.fullmatch(text)
        if not found or found[1]:
            raise InvalidInput(f"The line gives two dates, {shortened(cells['day'])} and {shortened(text)}. Leave one out.")
        return parse_taken(text, day)

    def reading(self, columns: tuple[tuple[str, str], ...] = ()) -> LogReading:
        """What was gathered; frames named twice and a log without lines are told here."""
        seen: dict[str, int] = {}
        for entry in self.lines:
            for label in entry.frames:
                if label in seen:
                    hint = " A spreadsheet turns 00 into 0; set the column to text." if label == "0" else ""
                    self.fault(entry.line, f"Frame {label} is named in line {seen[label]} already. Take one out.{hint}")
                seen.setdefault(label, entry.line)
        if not self.lines and not self.faults:
            self.fault(1, "There is no line with a frame. Write at least one.")
        faults = tuple(sorted(self.faults, key=lambda fault: fault.line))
        return LogReading(() if any(fault.fatal for fault in faults) else tuple(self.lines), faults, columns)


def _decoded(data: bytes) -> str:
    if len(data) > MAX_BYTES:
        raise InvalidInput(f"The file has {len(data)} bytes; up to {MAX_BYTES} are read. Split it.")
    if data.startswith((b"\xff\xfe", b"\xfe\xff")) or b"\x00" in data[:200]:
        raise InvalidInput("The file is UTF-16. Save it once more as CSV in UTF-8.")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as problem:
        line = data.count(b"\n", 0, problem.start) + 1
        raise InvalidInput(
            f"The file is not UTF-8; the first odd character is in line {line}. Save it as CSV in UTF-8."
        ) from problem


def _field_of(header: str) -> str:
    """The field a column's name means, or ""."""
    plain = re.sub(r"\(.*?\)|\[.*?\]", " ", header.casefold())
    plain = " ".join(re.sub(r"[\W_]+", " ", plain).split())
    return _KNOWN.get(plain, "")


def _records(text: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """The records with the line each begins in; empty ones left out."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    begins = 1
    for record in reader:
        if any(cell.strip() for cell in record):
            yield begins, [cell.strip() for cell in record]
        begins = reader.line_num + 1


def _header(text: str) -> tuple[str, list[str]]:
    """The delimiter under which most column names are known, and the header."""
    best: tuple[int, str, list[str]] = (0, ",", [])
    for delimiter in ",;\t":
        try:
            _, header = next(_records(text, delimiter), (1, []))
        except csv.Error:
            continue
        known = sum(bool(_field_of(name)) for name in header)
        # A header with names of the person's own still tells the delimiter by its number of columns.
        if (known, len(header)) > (best[0], len(best[2])):
            best = (known, delimiter, header)
    return best[1], best[2]


def _columns(header: list[str], given: Mapping[str, str]) -> tuple[str, ...]:
    """The field of each column; raises `InvalidInput` where that isn't clear."""
    fields = tuple(given[name] if name in given else _field_of(name) for name in header)
    unknown = [name for name in given if name not in header]
    if unknown:
        raise InvalidInput(f"There is no column “{shortened(unknown[0])}”; there are {', '.join(map(shortened, header))}.")
    odd = [field for field in fields if field and field not in COLUMNS]
    if odd:
        raise InvalidInput(f"“{shortened(odd[0])}” is nothing a column can mean; known are {', '.join(COLUMNS)}.")
    for field in COLUMNS:
        names = [shortened(name) for name, meant in zip(header, fields, strict=True) if meant == field]
        if len(names) > 1:
            raise InvalidInput(f"The columns {' and '.join(names)} both mean {field}. Say which one does, or rename one.")
    if "frames" not in fields:
        raise InvalidInput("No column names the frames. Call it “frame” in the first line, which holds the columns' names.")
    return fields


def read_log_csv(data: bytes, *, day: date | None = None, columns: Mapping[str, str] | None = None) -> LogReading:
    """Reads a CSV file whose first line names the columns.

    `day` is the date of times of day without one; `columns` says what a column means where its name doesn't, a field
    of `COLUMNS` or "" for nothing. Raises `InvalidInput` where the file as a whole can't be read; faults of lines are
    in the result.
    """
    text = _decoded(data)
    delimiter, header = _header(text)
    if not header:
        raise InvalidInput("The file is empty. Its first line names the columns, for example frame,time,aperture,caption.")
    fields = _columns(header, columns or {})
    builder = LogBuilder(day)
    records = _records(text, delimiter)
    next(records)
    try:
        for count, (line, record) in enumerate(records):
            if count >= MAX_LINES:
                builder.fault(line, f"There are more than {MAX_LINES} lines. Split the file.")
                break
            if len(record) != len(header):
                builder.fault(
                    line, f"The line has {len(record)} fields and the first line {len(header)}. Put quotes around commas."
                )
                continue
            _add_record(builder, line, {field: cell for field, cell in zip(fields, record, strict=True) if field})
    except csv.Error as problem:
        builder.fault(
            text.count("\n") + 1, f"The quotes don't match up from some line on ({problem}). Write quotes within quotes twice."
        )
    labels = {label for entry in builder.lines for label in entry.frames}
    for entry in builder.lines:
        if "0" in entry.frames and "00" not in labels:
            builder.fault(
                entry.line, "Frame 0 is named and 00 isn't; a spreadsheet turns 00 into 0. Check the film.", fatal=False
            )
    return builder.reading(tuple(zip(header, fields, strict=True)))


def _add_record(builder: LogBuilder, line: int, cells: dict[str, str]) -> None:
    for field, cell in cells.items():
        if len(cell) > 1 and cell[0] in "=+-@":
            sentence = f"The {field} begins with “{cell[0]}” and is kept as text; a spreadsheet may take it for a formula."
            builder.fault(line, sentence, fatal=False)
    cells["taken"] = cells.get("taken") or cells.get("time") or ""
    if not cells["taken"]:
        cells["taken"] = cells.pop("day", "")
    builder.add(line, cells)
