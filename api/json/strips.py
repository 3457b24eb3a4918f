"""Strips: moving, turning, going out and coming back."""

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere, RowId
from api.errors import documented
from api.json.models import StripOut
from catalogue.errors import InvalidInput
from catalogue.moving import move_strip, put_back, take_out, turn_strip

router = APIRouter(tags=["strips"])


class _Why(BaseModel):
    model_config = ConfigDict(extra="forbid")
    why: str = Field(default="", max_length=500)


class Move(_Why):
    """Where the strip goes."""

    page_id: int = Field(ge=1, le=2**53, examples=[3])
    slot: int = Field(ge=1, le=400, examples=[2])


class TakeOut(BaseModel):
    """Why the strip leaves its slot, and by when it is to be back."""

    model_config = ConfigDict(extra="forbid")
    reason: str = Field(max_length=500, examples=["printing"])
    due: str = Field(default="", max_length=60)


class PutBack(_Why):
    """A word about the return, if any."""


class Turn(_Why):
    """How the strip now lies."""

    upside_down: bool | None = None
    turned_over: bool | None = None


@router.post("/strips/{strip_id}/move", responses=documented(404, 409, 422))
def move(archive: ArchiveHere, strip_id: RowId, given: Move) -> StripOut:
    """Files the strip in another slot."""
    with archive.session() as session:
        moved = move_strip(session, strip_id, page_id=given.page_id, slot=given.slot, why=given.why)
        return StripOut.model_validate(moved)


@router.post("/strips/{strip_id}/out", responses=documented(404, 422))
def out(archive: ArchiveHere, strip_id: RowId, given: TakeOut) -> StripOut:
    """Says that the strip is out; its slot stays its own."""
    with archive.session() as session:
        return StripOut.model_validate(take_out(session, strip_id, given.reason, given.due))


@router.post("/strips/{strip_id}/back", responses=documented(404, 422))
def back(archive: ArchiveHere, strip_id: RowId, given: PutBack | None = None) -> StripOut:
    """Says that the strip is in its slot again."""
    with archive.session() as session:
        return StripOut.model_validate(put_back(session, strip_id, given.why if given else ""))


@router.post("/strips/{strip_id}/turn", responses=documented(404, 422))
def turn(archive: ArchiveHere, strip_id: RowId, given: Turn) -> StripOut:
    """Says how the strip now lies."""
    if given.upside_down is None and given.turned_over is None:
        raise InvalidInput("Nothing to turn. Give “upside_down” or “turned_over”.")
    with archive.session() as session:
        turned = turn_strip(
            session, strip_id, upside_down=given.upside_down, turned_over=given.turned_over, why=given.why
        )
        return StripOut.model_validate(turned)
