"""The choice on a proof: selects and crops of a roll's frames."""

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from api.json.rolls.models import FrameOut
from catalogue.rolls.change import get_roll
from catalogue.rolls.choices import choices_of_roll, choose_frame, selects_of_roll
from catalogue.rolls.rows import frame_row, roll_row
from catalogue.views import FrameChoice

router = APIRouter(responses=PROBLEMS, tags=["choices"])


class ChoiceIn(BaseModel):
    """Whether the frame is a select, and its crop: left, top, right, bottom in parts of the picture, 0 to 1.

    The origin is the top left corner of the frame as it lies in a strip neither turned nor turned over:
    base side to the viewer, head of the roll to the left.
    """

    model_config = ConfigDict(extra="forbid")
    selected: bool = False
    crop: tuple[float, float, float, float] | None = Field(default=None, examples=[(0.1, 0.05, 0.9, 1)])


class ChoiceOut(ChoiceIn):
    """What is marked of a frame."""

    roll: str
    frame: str


@router.put("/rolls/{number}/frames/{label}/choice")
def choose(number: str, label: str, given: ChoiceIn, archive: ArchiveHere) -> ChoiceOut:
    """Keeps the choice about a frame in place of the former one."""
    with archive.session() as session:
        kept = choose_frame(session, number, label, FrameChoice(given.selected, given.crop))
        roll = roll_row(session, number)
        frame = frame_row(session, roll, label)
        return ChoiceOut(roll=roll.number, frame=frame.label, selected=kept.selected, crop=kept.crop)


@router.get("/rolls/{number}/choices")
def choices(number: str, archive: ArchiveHere) -> list[ChoiceOut]:
    """The frames of a roll about which something is marked, in film order."""
    with archive.session(reading=True) as session:
        found = choices_of_roll(session, number)
        roll = get_roll(session, number)
    return [
        ChoiceOut(roll=roll.number, frame=f.label, selected=found[f.id].selected, crop=found[f.id].crop)
        for f in roll.frames
        if f.id in found
    ]


@router.get("/rolls/{number}/selects")
def selects(number: str, archive: ArchiveHere) -> list[FrameOut]:
    """The selects of a roll in film order, each with where it lies."""
    with archive.session(reading=True) as session:
        return [FrameOut.of(frame) for frame in selects_of_roll(session, number)]
