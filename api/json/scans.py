"""Ties image files to the frames of a roll."""

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere
from api.errors import documented
from catalogue.scans.linking import link_folder

router = APIRouter(tags=["scans"])


class ScanFolder(BaseModel):
    """A folder inside the scan folder; empty for the scan folder itself."""

    model_config = ConfigDict(extra="forbid")
    folder: str = Field(default="", max_length=1000, examples=["2031-014"])


class Linked(BaseModel):
    """A file and the frame it was tied to."""

    frame: str
    path: str


class Skipped(BaseModel):
    """A file left out, and why."""

    path: str
    reason: str


class LinkReportOut(BaseModel):
    """What became of each file of the folder."""

    linked: list[Linked]
    skipped: list[Skipped]


@router.post("/rolls/{number:path}/scans", responses=documented(404, 422))
def scans(archive: ArchiveHere, number: str, given: ScanFolder) -> LinkReportOut:
    """Ties every picture of a folder to the frame its name says; the files are only read."""
    with archive.session() as session:
        report = link_folder(session, number, given.folder)
    return LinkReportOut(
        linked=[Linked(frame=frame, path=path) for frame, path in report.linked],
        skipped=[Skipped(path=path, reason=reason) for path, reason in report.skipped],
    )
