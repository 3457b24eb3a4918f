"""Finding."""

from fastapi import APIRouter, Query

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from api.json.rolls.models import FoundOut, HitOut
from catalogue.rolls.find import find as find_in

router = APIRouter(responses=PROBLEMS, tags=["find"])


@router.get("/find")
def find(
    archive: ArchiveHere,
    q: str = Query(default="", max_length=300, examples=["2031-014 23A"]),
    year: int | None = Query(default=None, ge=0, le=9999),
    format: str | None = None,
    stock: str | None = None,
    camera: str | None = None,
    binder: str | None = None,
    limit: int = Query(default=50, ge=1, le=500),
) -> FoundOut:
    """A reference goes straight to the frame; words find rolls and frames. Every hit has its address."""
    with archive.session(reading=True) as session:
        found = find_in(session, q, year=year, format=format, stock=stock, camera=camera, binder=binder, limit=limit)
        return FoundOut(hits=[HitOut.of(h) for h in found.hits], more=found.more)
