"""Rolls: registering, reading and changing them, their process record and scans."""

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from api.json.rolls.models import FrameOut, RollOut
from api.long.scan_jobs import tie_by_names
from catalogue.rolls.change import FrameChanges, RollChanges, get_roll, list_rolls, update_frame, update_roll
from catalogue.rolls.number import record_gap, renumber_roll
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.process import ProcessInput, record_process
from catalogue.rolls.register import register_roll

router = APIRouter(responses=PROBLEMS, tags=["rolls"])


class NumberChange(BaseModel):
    """A roll's new number."""

    model_config = ConfigDict(extra="forbid")
    number: str


class Gap(BaseModel):
    """A number with no roll, and why."""

    model_config = ConfigDict(extra="forbid")
    number: str
    reason: str = Field(max_length=300)


class FolderIn(BaseModel):
    """A folder under the scan folder."""

    model_config = ConfigDict(extra="forbid")
    folder: str = ""


class LinkOut(BaseModel):
    """What became of a folder of scans."""

    linked: list[tuple[str, str]]
    skipped: list[tuple[str, str]]


class RollLine(BaseModel):
    """One roll in a list."""

    number: str
    format: str
    stock: str
    camera: str
    exposed: str
    subject: str
    frame_range: str


@router.post("/rolls", status_code=201)
def new_roll(given: NewRoll, archive: ArchiveHere) -> RollOut:
    """Registers and files a roll in one transaction."""
    with archive.session() as session:
        return RollOut.of(get_roll(session, register_roll(session, given)))


@router.get("/rolls")
def rolls(
    archive: ArchiveHere, after: str = Query(default="", max_length=40), limit: int = Query(default=100, ge=1, le=1000)
) -> list[RollLine]:
    """Rolls by number: so many from the first on, or after the number given."""
    with archive.session(reading=True) as session:
        return [
            RollLine(
                number=r.number, format=r.format_name, stock=r.stock, camera=r.camera, exposed=r.exposed,
                subject=r.subject, frame_range=r.frame_range,
            )
            for r in list_rolls(session, after, limit)
        ]  # fmt: skip


@router.get("/rolls/{number}")
def roll(number: str, archive: ArchiveHere) -> RollOut:
    """One roll, by its number or a former one."""
    with archive.session(reading=True) as session:
        return RollOut.of(get_roll(session, number))


@router.patch("/rolls/{number}")
def change_roll(number: str, given: RollChanges, archive: ArchiveHere) -> RollOut:
    """Changes what is known of a roll."""
    with archive.session() as session:
        return RollOut.of(update_roll(session, number, given))


@router.patch("/rolls/{number}/frames/{label}")
def change_frame(number: str, label: str, given: FrameChanges, archive: ArchiveHere) -> FrameOut:
    """Changes what is known of a frame."""
    with archive.session() as session:
        return FrameOut.of(update_frame(session, number, label, given))


@router.put("/rolls/{number}/process")
def process(number: str, given: ProcessInput, archive: ArchiveHere) -> RollOut:
    """Writes the process record."""
    with archive.session() as session:
        record_process(session, number, given)
        return RollOut.of(get_roll(session, number))


@router.post("/rolls/{number}/renumber")
def renumber(number: str, given: NumberChange, archive: ArchiveHere) -> RollOut:
    """Gives a roll another number; the former one stays findable."""
    with archive.session() as session:
        return RollOut.of(renumber_roll(session, number, given.number))


@router.post("/gaps", status_code=201)
def gap(given: Gap, archive: ArchiveHere) -> Gap:
    """Keeps why a number has no roll."""
    with archive.session() as session:
        record_gap(session, given.number, given.reason)
    return given


@router.post("/rolls/{number}/scans")
def scans(number: str, given: FolderIn, archive: ArchiveHere) -> LinkOut:
    """Ties the pictures of one folder to the frames their names say."""
    report = tie_by_names(archive, given.folder, number)
    return LinkOut(linked=list(report.linked), skipped=list(report.skipped))
