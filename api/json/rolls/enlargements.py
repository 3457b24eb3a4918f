"""Print records of frames, and times reckoned from them."""

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from catalogue.darkroom.print_records import PrintInput, get_print, prints_of_frame, record_print, take_back_print, time_for
from catalogue.errors import InvalidInput
from catalogue.film.enlargement import steps_of

router = APIRouter(responses=PROBLEMS, tags=["print records"])
Area = tuple[float, float, float, float]


class MarkOut(BaseModel):
    """A burn or a dodge; the area is left, top, width, height in parts of the print."""

    model_config = ConfigDict(from_attributes=True)

    kind: str
    where: str
    change: str
    area: Area | None


class PrintOut(BaseModel):
    """One print of a frame: lengths in mm, time in s, the date is EDTF."""

    model_config = ConfigDict(from_attributes=True)

    id: int
    roll: str
    frame: str
    enlarger: str
    lens: str
    height_mm: float | None
    aperture: str
    paper: str
    grade: str
    base_time_s: float | None
    developer: str
    size_mm: tuple[float, float] | None
    printed: str
    marks: list[MarkOut]
    notes: str
    recorded_at: str


class StepOut(BaseModel):
    """A step of the base time: stops off, the whole time, and what is given more or held back, in s."""

    stops: float = Field(examples=[0.5])
    words: str = Field(examples=["+1/2"])
    seconds: float
    change_s: float


class TimeOut(BaseModel):
    """The time reckoned for another size or height: a starting point for a test strip."""

    model_config = ConfigDict(from_attributes=True)

    seconds: float
    stops: float
    words: str


@router.get("/rolls/{number}/frames/{label}/print-records")
def prints(number: str, label: str, archive: ArchiveHere) -> list[PrintOut]:
    """The prints of a frame, the latest first."""
    with archive.session(reading=True) as session:
        return [PrintOut.model_validate(view) for view in prints_of_frame(session, number, label)]


@router.post("/rolls/{number}/frames/{label}/print-records", status_code=201)
def new_print(number: str, label: str, given: PrintInput, archive: ArchiveHere) -> PrintOut:
    """Keeps one more print of a frame."""
    with archive.session() as session:
        return PrintOut.model_validate(record_print(session, number, label, given))


@router.get("/print-records/{print_id}")
def one_print(print_id: int, archive: ArchiveHere) -> PrintOut:
    """One print."""
    with archive.session(reading=True) as session:
        return PrintOut.model_validate(get_print(session, print_id))


@router.delete("/print-records/{print_id}")
def take_back(print_id: int, archive: ArchiveHere) -> PrintOut:
    """Takes a print record away with its marks, and answers with what it was."""
    with archive.session() as session:
        return PrintOut.model_validate(take_back_print(session, print_id))


@router.get("/print-records/{print_id}/steps")
def steps(print_id: int, archive: ArchiveHere, division: int = 3, reach: int = 1) -> list[StepOut]:
    """The base time in halves or thirds of a stop."""
    with archive.session(reading=True) as session:
        record = get_print(session, print_id)
    if record.base_time_s is None:
        raise InvalidInput("This print has no base time, so it has no steps.")
    return [
        StepOut(stops=float(s.stops), words=s.words, seconds=s.seconds, change_s=s.change_s)
        for s in steps_of(record.base_time_s, division, reach)
    ]


@router.get("/print-records/{print_id}/time")
def time(
    print_id: int,
    archive: ArchiveHere,
    width_mm: float | None = Query(default=None, description="Width of the other print; give its height too."),
    height_mm: float | None = Query(default=None, description="Height of the other print; give its width too."),
    enlarger_height_mm: float | None = Query(default=None, description="Or the other height of the enlarger, lens to paper."),
) -> TimeOut:
    """The time for another size of print or another height, with the same lens, aperture and paper."""
    if (width_mm is None) != (height_mm is None):
        raise InvalidInput("A size needs both its width and its height.")
    size = (width_mm, height_mm) if width_mm is not None and height_mm is not None else None
    with archive.session(reading=True) as session:
        return TimeOut.model_validate(time_for(session, print_id, size_mm=size, height_mm=enlarger_height_mm))
