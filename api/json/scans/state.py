"""The state of the scans: what is scanned and how finely, and whether the files are still as they were linked."""

from fastapi import APIRouter, Query
from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from api.json.scans.scans import CountOut
from catalogue.scans.check.coverage import AT_ONCE, Coverage, aim, covered_pages, covered_rolls, set_aim
from catalogue.scans.check.fixity import accept_change, accept_moves, check_files, troubles
from catalogue.store.apart import carry_out

router = APIRouter(responses=PROBLEMS, tags=["scans"])


class CoverageOut(BaseModel):
    """How the frames of a roll or a page are covered."""

    name: str
    frames: int
    counts: dict[str, int]
    worst: str
    least_ppi: int
    stars: int

    @classmethod
    def of(cls, c: Coverage) -> "CoverageOut":
        """From the domain's coverage."""
        return cls(name=c.name, frames=c.frames, counts=dict(c.counts), worst=c.worst, least_ppi=c.least_ppi, stars=c.stars)


class CoverageMap(BaseModel):
    """By roll and by page, against the person's aim in pixels per inch on film."""

    aim_ppi: int
    rolls: list[CoverageOut]
    pages: list[CoverageOut]


class Aim(BaseModel):
    """The resolution aimed at, pixels per inch on film."""

    ppi: int


class CheckIn(BaseModel):
    """How much is re-checked; None checks every file."""

    model_config = ConfigDict(extra="forbid")
    megabytes: int | None = Field(default=None, ge=1, le=10_000_000)


class TroubleOut(BaseModel):
    """A file that isn't as it was linked."""

    model_config = ConfigDict(from_attributes=True)
    file_id: int
    path: str
    state: str
    moved_to: str
    master_of: list[str]
    words: str


class CheckOut(BaseModel):
    """What a re-check found."""

    words: str
    files: int
    left: int
    troubles: list[TroubleOut]
    new: list[str]


@router.get("/scans/coverage")
def covered(
    archive: ArchiveHere, first: int = Query(default=1, ge=1), limit: int = Query(default=AT_ONCE, ge=1, le=1000)
) -> CoverageMap:
    """What is scanned, and how finely: so many rolls by number, and pages as the binders stand, from the first asked for on."""
    with archive.session(reading=True) as session:
        rolls, pages = covered_rolls(session, first, limit), covered_pages(session, first, limit)
        return CoverageMap(
            aim_ppi=aim(session), rolls=[CoverageOut.of(c) for c in rolls.lines], pages=[CoverageOut.of(c) for c in pages.lines]
        )


@router.put("/scans/aim")
def aimed(given: Aim, archive: ArchiveHere) -> Aim:
    """Sets the resolution aimed at."""
    with archive.session() as session:
        set_aim(session, given.ppi)
    return given


@router.post("/scans/check")
def check(given: CheckIn, archive: ArchiveHere) -> CheckOut:
    """Re-checks files, least recently checked first, and answers when it is done."""
    report = check_files(archive, most_bytes=given.megabytes * 1_000_000 if given.megabytes else None)
    found = [TroubleOut.model_validate(t) for t in report.troubles]
    return CheckOut(words=report.words, files=report.files, left=report.left, troubles=found, new=list(report.new))


@router.get("/scans/troubles")
def not_as_linked(archive: ArchiveHere) -> list[TroubleOut]:
    """Files that aren't as they were linked, changed masters first."""
    with archive.session(reading=True) as session:
        return [TroubleOut.model_validate(t) for t in troubles(session)]


@router.post("/scans/moves/accept")
def moves(archive: ArchiveHere) -> CountOut:
    """Takes all moves that were found as meant."""
    with archive.session() as session:
        return CountOut(count=accept_moves(session))


@router.post("/scans/files/{file_id}/accept")
def change_accepted(file_id: int, archive: ArchiveHere) -> TroubleOut:
    """Takes a changed file as meant."""

    def accepted(session: Session) -> TroubleOut:
        row = accept_change(session, file_id)
        words = "Taken as it is now."
        return TroubleOut(file_id=file_id, path=row.path, state=row.state, moved_to="", master_of=[], words=words)

    return carry_out(archive, accepted)
