"""Finding rolls and frames, by number or by words."""

from typing import Annotated

from fastapi import APIRouter, Query

from api.dependencies import ArchiveHere
from api.errors import documented
from api.json.models import FoundOut
from catalogue import finding

router = APIRouter(tags=["find"])


@router.get("/find", responses=documented(422))
def find(
    archive: ArchiveHere,
    q: Annotated[str, Query(max_length=2000, examples=["2031-014 23A"])] = "",
    year: Annotated[int | None, Query(ge=1, le=9999)] = None,
    format: Annotated[str | None, Query(max_length=60)] = None,
    stock: Annotated[str | None, Query(max_length=200)] = None,
    camera: Annotated[str | None, Query(max_length=200)] = None,
    binder: Annotated[str | None, Query(max_length=200)] = None,
    limit: Annotated[int, Query(ge=1, le=500)] = 50,
) -> FoundOut:
    """What the words or the frame reference mean, each with its address; empty words list the rolls."""
    with archive.session() as session:
        found = finding.find(
            session, q, year=year, format=format or None, stock=stock or None, camera=camera or None,
            binder=binder or None, limit=limit,
        )  # fmt: skip
        return FoundOut.model_validate(found)
