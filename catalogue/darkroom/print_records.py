"""Print records: how a frame was printed under the enlarger, every print kept, and times reckoned from them."""

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session, col, select

from catalogue.clock import now
from catalogue.darkroom.print_views import PrintMarkView, PrintRecordView, TimeElsewhere
from catalogue.errors import InvalidInput, NotFound
from catalogue.film import enlargement
from catalogue.film.enlargement import checked_height, checked_size, checked_time, time_words
from catalogue.rolls.choices import choice_of_frame
from catalogue.rolls.register import dates_for
from catalogue.rolls.rows import film_of, frame_row, roll_row
from catalogue.settings import get_units
from catalogue.store.tables.darkroom import PrintMarkRow, PrintRow
from catalogue.store.tables.rolls import Frame, Roll
from catalogue.units import Units

MOST_MARKS = 12
"""As many as a print card has room for."""
Area = tuple[float, float, float, float]


class MarkInput(BaseModel):
    """A burn or a dodge; the area is left, top, width, height in parts of the print, 0 to 1, from its top left."""

    model_config = ConfigDict(extra="forbid")
    kind: Literal["burn", "dodge"]
    where: str = Field(default="", max_length=200, examples=["sky, upper third"])
    change: str = Field(default="", max_length=80, examples=["+1/2 stop"])
    area: Area | None = None


class PrintInput(BaseModel):
    """How a print was made; any of it may be left out, but not all. Lengths in mm, time in s, the date is EDTF."""

    model_config = ConfigDict(extra="forbid")
    enlarger: str = Field(default="", max_length=120)
    lens: str = Field(default="", max_length=120)
    height_mm: float | None = Field(default=None, description="As the enlarger's scale has it.", examples=[412])
    aperture: str = Field(default="", max_length=40, examples=["f/8"])
    paper: str = Field(default="", max_length=120)
    grade: str = Field(default="", max_length=120, description="Paper grade or filtration.", examples=["grade 3"])
    base_time_s: float | None = Field(default=None, examples=[18.5])
    developer: str = Field(default="", max_length=120)
    size_mm: tuple[float, float] | None = Field(
        default=None, description="Width and height of the picture on the paper.", examples=[(180, 240)]
    )
    printed: str = Field(default="", max_length=60, examples=["2031-05-14"])
    marks: list[MarkInput] = Field(default=[], max_length=100)
    notes: str = Field(default="", max_length=4000)


def _checked_area(mark: MarkInput) -> Area | None:
    if mark.area is None:
        return None
    x, y, wide, high = mark.area
    # nan fails every comparison
    if not (min(x, y) >= 0 and min(wide, high) > 0 and x + wide <= 1.0001 and y + high <= 1.0001):
        raise InvalidInput(
            f"The {mark.kind} at {100 * x:g} %, {100 * y:g} % measuring {100 * wide:g} × {100 * high:g} % reaches beyond "
            "the print or has no size. Give parts of the print, from 0 to 100 %."
        )
    return mark.area


def record_print(session: Session, number: str, label: str, given: PrintInput) -> PrintRecordView:
    """Keeps one more print of a frame; those recorded before stay. Raises `NotFound` and `InvalidInput`."""
    frame = frame_row(session, roll_row(session, number), label)
    if given.height_mm is not None:
        checked_height(given.height_mm)
    if given.base_time_s is not None:
        checked_time(given.base_time_s)
    if given.size_mm is not None:
        checked_size(given.size_mm)
    if len(given.marks) > MOST_MARKS:
        raise InvalidInput(f"{len(given.marks)} burns and dodges are more than {MOST_MARKS}. Write the others into the notes.")
    areas = [_checked_area(mark) for mark in given.marks]
    dates: dict[str, Any] = {**dates_for({"printed": given.printed})}
    texts = {
        name: getattr(given, name).strip()
        for name in ("enlarger", "lens", "aperture", "paper", "grade", "developer", "notes")
    }  # fmt: skip
    if not (any(texts.values()) or dates["printed"] or given.marks or given.height_mm or given.base_time_s or given.size_mm):
        raise InvalidInput("Nothing is written about this print. Give at least one of its facts, for example the base time.")
    row = PrintRow(
        frame_id=frame.id or 0, recorded_at=now(), height_mm=given.height_mm, base_time_s=given.base_time_s,
        print_width_mm=given.size_mm[0] if given.size_mm else None, print_height_mm=given.size_mm[1] if given.size_mm else None,
        **texts, **dates,
    )  # fmt: skip
    session.add(row)
    session.flush()
    for position, (mark, area) in enumerate(zip(given.marks, areas, strict=True), 1):
        x, y, w, h = area or (None, None, None, None)
        session.add(
            PrintMarkRow(
                print_id=row.id or 0, position=position, kind=mark.kind, place=mark.where.strip(), change=mark.change.strip(),
                area_x=x, area_y=y, area_w=w, area_h=h,
            )
        )  # fmt: skip
    session.flush()
    return get_print(session, row.id or 0)


def _print_row(session: Session, print_id: int) -> PrintRow:
    row = session.get(PrintRow, print_id)
    if row is None:
        raise NotFound(f"There is no print record {print_id}. Look at the prints of its frame.")
    return row


def get_print(session: Session, print_id: int) -> PrintRecordView:
    """One print; raises `NotFound`."""
    row = _print_row(session, print_id)
    frame = session.get_one(Frame, row.frame_id)
    return _views(session, [row], frame, session.get_one(Roll, frame.roll_id).number)[0]


def prints_of_frame(session: Session, number: str, label: str) -> tuple[PrintRecordView, ...]:
    """The prints of a frame, the latest first. Raises `NotFound`.

    By the date of the print; where none is given, or its beginning is open, the day it was written down stands in.
    """
    roll = roll_row(session, number)
    frame = frame_row(session, roll, label)
    rows = list(session.exec(select(PrintRow).where(PrintRow.frame_id == frame.id)).all())

    def when(row: PrintRow) -> tuple[str, str, int]:
        day = row.printed_from or row.recorded_at[:10]
        return day, row.printed_to or day, row.id or 0

    return _views(session, sorted(rows, key=when, reverse=True), frame, roll.number)


def take_back_print(session: Session, print_id: int) -> PrintRecordView:
    """Takes a print record away with its marks; everything else stays. Returns what it was. Raises `NotFound`."""
    was = get_print(session, print_id)
    for mark in session.exec(select(PrintMarkRow).where(PrintMarkRow.print_id == print_id)):
        session.delete(mark)
    session.flush()
    session.delete(_print_row(session, print_id))
    session.flush()
    return was


def known_in_darkroom(session: Session) -> dict[str, tuple[str, ...]]:
    """What was written before, to be offered again: enlargers, lenses, papers, grades and developers, each in order."""
    found = {}
    for name in ("enlarger", "lens", "paper", "grade", "developer"):
        column = getattr(PrintRow, name)
        found[name] = tuple(sorted(v for v in session.exec(select(column).distinct()) if v))
    return found


def film_part_mm(session: Session, frame_id: int) -> tuple[float, float]:
    """What of a frame is printed, along and across the film in mm: its crop where one is marked, else all of it."""
    frame = session.get_one(Frame, frame_id)
    film = film_of(session, session.get_one(Roll, frame.roll_id))
    left, top, right, bottom = choice_of_frame(session, frame_id).crop or (0, 0, 1, 1)
    return (frame.length_mm or film.frame_along_mm) * (right - left), film.frame_across_mm * (bottom - top)


def time_for(
    session: Session, print_id: int, *, size_mm: tuple[float, float] | None = None, height_mm: float | None = None
) -> TimeElsewhere:
    """The time for another size or another height (lens to paper), from a recorded print, with the same lens and paper.

    A starting point for a test strip: optics, see `catalogue.film.enlargement`.
    Raises `InvalidInput` where the record has no base time, or no size (or height) to reckon from.
    """
    record = get_print(session, print_id)
    units = get_units(session)
    if record.base_time_s is None:
        raise InvalidInput("This print has no base time, so there is nothing to reckon from.")
    if (size_mm is None) == (height_mm is None):
        raise InvalidInput("Give either another size or another height.")
    if size_mm is not None:
        if record.size_mm is None:
            raise InvalidInput("This print has no size, so a time for another size can't be reckoned. Give a height instead.")
        part = film_part_mm(session, record.frame_id)
        m1 = enlargement.magnification(record.size_mm, part)
        m2 = enlargement.magnification(checked_size(size_mm), part)
        seconds = enlargement.time_for_magnification(record.base_time_s, m1, m2)
        what = f"At {size_words(size_mm, units)}, {m2:.1f} times instead of {m1:.1f}"
    else:
        if record.height_mm is None:
            raise InvalidInput("This print has no height, so a time for another height can't be reckoned. Give a size instead.")
        seconds = enlargement.time_for_height(record.base_time_s, record.height_mm, height_mm or 0.0)
        what = f"At a height of {length_words(height_mm or 0.0, units)} instead of {length_words(record.height_mm, units)}"
    stops = enlargement.stops_between(record.base_time_s, seconds)
    words = (
        f"{what}: {time_words(seconds)} instead of {time_words(record.base_time_s)} ({stops:+.1f} stops), "
        "with the same lens, aperture and paper. Start a test strip from there."
    ).replace("(-", "(−")
    return TimeElsewhere(seconds, stops, words)


def length_words(mm: float, units: Units) -> str:
    """A length in the person's unit, as exactly as it was typed."""
    return f"{units.length_figure(mm)} {'mm' if units.length == 'mm' else 'in'}"


def size_words(size_mm: tuple[float, float], units: Units) -> str:
    """Width × height in the person's unit."""
    return f"{units.length_figure(size_mm[0])} × {length_words(size_mm[1], units)}"


def _views(session: Session, rows: list[PrintRow], frame: Frame, number: str) -> tuple[PrintRecordView, ...]:
    marks: dict[int, list[PrintMarkView]] = {row.id or 0: [] for row in rows}
    query = select(PrintMarkRow).where(col(PrintMarkRow.print_id).in_(marks)).order_by(col(PrintMarkRow.position))
    for mark in session.exec(query):
        whole = (mark.area_x, mark.area_y, mark.area_w, mark.area_h)
        area = tuple(v for v in whole if v is not None)
        marks[mark.print_id].append(PrintMarkView(mark.kind, mark.place, mark.change, area if len(area) == 4 else None))
    return tuple(
        PrintRecordView(
            id=row.id or 0, frame_id=row.frame_id, roll=number, frame=frame.label, enlarger=row.enlarger, lens=row.lens,
            height_mm=row.height_mm, aperture=row.aperture, paper=row.paper, grade=row.grade, base_time_s=row.base_time_s,
            developer=row.developer, printed=row.printed, notes=row.notes, recorded_at=row.recorded_at,
            size_mm=(row.print_width_mm, row.print_height_mm) if row.print_width_mm and row.print_height_mm else None,
            marks=tuple(marks[row.id or 0]),
        )
        for row in rows
    )  # fmt: skip
