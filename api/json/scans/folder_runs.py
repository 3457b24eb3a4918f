"""Readings of scan folders: begun, watched, proposed, approved with one call and undone with one."""

from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere, BackgroundHere
from api.errors import PROBLEMS
from api.long.background import Background
from api.long.scan_jobs import begin_edges, begin_reading, go_on_reading, stop_reading, work_of
from catalogue.scans.match.approve import approve, undo
from catalogue.scans.match.propose import proposal, propose, settle
from catalogue.scans.read.folder_runs import RunProgress, run_progress, runs_of
from catalogue.store.apart import carry_out

router = APIRouter(responses=PROBLEMS, tags=["readings"])


class Folder(BaseModel):
    """A folder of this roll's scans, relative to the scan folder."""

    model_config = ConfigDict(extra="forbid")
    folder: str = Field(default="", max_length=1000, examples=["2031-014"])


class Matching(BaseModel):
    """How files are matched to frames; nothing takes what promises most."""

    model_config = ConfigDict(extra="forbid")
    by: Literal["", "names", "order", "pictures"] = ""
    pattern: str = Field(default="", max_length=200, examples=["{roll}_{frame}"])


class Settled(BaseModel):
    """The person's own word for one file: its frame, or None for none."""

    model_config = ConfigDict(extra="forbid")
    frame: str | None = Field(max_length=20, examples=["23A"])


class ProgressOut(BaseModel):
    """How far a reading is."""

    model_config = ConfigDict(from_attributes=True)
    id: int
    folder: str
    roll: str
    state: str = Field(description="reading, stopped, read, linked or undone")
    files: int
    done: int
    refused: int
    bytes_total: int
    bytes_done: int
    method: str
    pattern: str
    words: str
    at_work: bool = Field(default=False, description="Whether this service reads it now; what is cut off stays in its state.")
    said: str = Field(default="", description="Why the work ended before its time, where it did.")

    @classmethod
    def of(cls, progress: RunProgress, background: Background) -> "ProgressOut":
        """From the domain's progress and the work under way."""
        name = work_of(progress.id)
        told = {"at_work": background.running(name), "said": background.said(name)}
        return cls.model_validate(progress).model_copy(update=told)


class LineOut(BaseModel):
    """One file of a reading and the frame proposed for it."""

    model_config = ConfigDict(from_attributes=True)
    id: int
    path: str
    label: str | None
    role: str
    sureness: float
    doubt: str
    chosen: bool
    quarter_turns: int
    mirrored: bool
    refused: str


class Approval(BaseModel):
    """What the files are: negatives, positives, or as the roll is."""

    model_config = ConfigDict(extra="forbid")
    polarity: Literal["", "negative", "positive"] = ""


class TiesOut(BaseModel):
    """How many scans were tied or taken back."""

    scans: int


@router.post("/rolls/{number}/readings", status_code=202)
def begin(number: str, given: Folder, archive: ArchiveHere, background: BackgroundHere) -> ProgressOut:
    """Begins to read a folder; a run of it that was stopped is gone on with."""
    return ProgressOut.of(begin_reading(archive, background, given.folder, number), background)


@router.get("/rolls/{number}/readings")
def all_of_roll(number: str, archive: ArchiveHere, background: BackgroundHere) -> list[ProgressOut]:
    """The readings for a roll, newest first."""
    with archive.session(reading=True) as session:
        return [ProgressOut.of(r, background) for r in runs_of(session, number)]


@router.get("/readings/{run_id}")
def progress(run_id: int, archive: ArchiveHere, background: BackgroundHere) -> ProgressOut:
    """How far a reading is."""
    with archive.session(reading=True) as session:
        return ProgressOut.of(run_progress(session, run_id), background)


@router.post("/readings/{run_id}/stop")
def stop(run_id: int, archive: ArchiveHere, background: BackgroundHere) -> ProgressOut:
    """Stops a reading; what is read stays read."""
    return ProgressOut.of(stop_reading(archive, background, run_id), background)


@router.post("/readings/{run_id}/go-on", status_code=202)
def go_on(run_id: int, archive: ArchiveHere, background: BackgroundHere) -> ProgressOut:
    """Reads what still waits."""
    return ProgressOut.of(go_on_reading(archive, background, run_id), background)


@router.post("/readings/{run_id}/proposal")
def match(run_id: int, given: Matching, archive: ArchiveHere) -> list[LineOut]:
    """Works out which file shows which frame; nothing is tied yet. Doubts come first."""
    carry_out(archive, propose, run_id, given.by, given.pattern)
    with archive.session(reading=True) as session:
        return [LineOut.model_validate(line) for line in proposal(session, run_id)]


@router.get("/readings/{run_id}/proposal")
def shown(run_id: int, archive: ArchiveHere) -> list[LineOut]:
    """The proposal as it stands."""
    with archive.session(reading=True) as session:
        return [LineOut.model_validate(line) for line in proposal(session, run_id)]


@router.put("/readings/{run_id}/proposal/{line_id}")
def choose(run_id: int, line_id: int, given: Settled, archive: ArchiveHere) -> list[LineOut]:
    """Settles one file by hand."""
    carry_out(archive, settle, run_id, {line_id: given.frame})
    with archive.session(reading=True) as session:
        return [LineOut.model_validate(line) for line in proposal(session, run_id)]


@router.post("/readings/{run_id}/edges", status_code=202)
def edges(run_id: int, archive: ArchiveHere, background: BackgroundHere) -> ProgressOut:
    """Begins to hold the proposal against the edge numbers on the film."""
    with archive.session(reading=True) as session:
        found = run_progress(session, run_id)
    begin_edges(archive, background, run_id)
    return ProgressOut.of(found, background)


@router.post("/readings/{run_id}/approve")
def tie_all(run_id: int, archive: ArchiveHere, given: Approval | None = None) -> TiesOut:
    """Ties every proposed file to its frame, all at once."""
    return TiesOut(scans=carry_out(archive, approve, run_id, given.polarity if given else ""))


@router.post("/readings/{run_id}/undo")
def untie_all(run_id: int, archive: ArchiveHere) -> TiesOut:
    """Takes back everything that the reading tied."""
    with archive.session() as session:
        return TiesOut(scans=undo(session, run_id))
