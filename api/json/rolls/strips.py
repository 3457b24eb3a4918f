"""Strips move, turn, go out and come back."""

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from api.json.rolls.models import StripOut
from catalogue.rolls.move import move_strip, put_back, take_out, turn_strip

router = APIRouter(prefix="/strips/{strip_id}", responses=PROBLEMS, tags=["strips"])


class Move(BaseModel):
    """Where the strip goes."""

    model_config = ConfigDict(extra="forbid")
    page_id: int
    slot: int
    why: str = Field(default="", max_length=300)


class Turn(BaseModel):
    """How the strip lies now."""

    model_config = ConfigDict(extra="forbid")
    upside_down: bool | None = None
    turned_over: bool | None = None
    why: str = Field(default="", max_length=300)


class Out(BaseModel):
    """Why the strip goes out."""

    model_config = ConfigDict(extra="forbid")
    reason: str = Field(max_length=300, examples=["printing"])
    due: str = Field(default="", max_length=60)


@router.post("/move")
def move(strip_id: int, given: Move, archive: ArchiveHere) -> StripOut:
    """Files a strip in another slot."""
    with archive.session() as session:
        return StripOut.of(move_strip(session, strip_id, page_id=given.page_id, slot=given.slot, why=given.why))


@router.post("/turn")
def turn(strip_id: int, given: Turn, archive: ArchiveHere) -> StripOut:
    """Turns a strip head to foot or over."""
    with archive.session() as session:
        return StripOut.of(
            turn_strip(session, strip_id, upside_down=given.upside_down, turned_over=given.turned_over, why=given.why)
        )


@router.post("/out")
def out(strip_id: int, given: Out, archive: ArchiveHere) -> StripOut:
    """Takes a strip out."""
    with archive.session() as session:
        return StripOut.of(take_out(session, strip_id, given.reason, given.due))


@router.post("/back")
def back(strip_id: int, archive: ArchiveHere) -> StripOut:
    """Puts a strip back."""
    with archive.session() as session:
        return StripOut.of(put_back(session, strip_id))
