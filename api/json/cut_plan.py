"""Where to cut a roll, before the scissors; nothing is stored."""

from typing import Annotated

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field, StrictInt, StrictStr

from api.dependencies import ArchiveHere
from api.errors import documented
from api.json.models import CutPlanOut
from catalogue.registering import NewRoll, preview_cuts

router = APIRouter(tags=["cut plan"])

Label = Annotated[str, Field(max_length=40)]


class CutRequest(BaseModel):
    """A roll to cut: a number is a count of frames, a text is a range ("36" is frame 36 alone)."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "example": {"format": "120-6x6", "layout": "120-6x6", "frames": 12, "kept_together": [["3", "4"]]}
        },
    )
    format: str = Field(max_length=60)
    layout: str = Field(max_length=60)
    frames: StrictInt | StrictStr | list[Label]
    kept_together: list[list[Label]] = Field(default=[], max_length=400)
    first_slot: int | None = Field(default=None, ge=1, le=400, description="Slots before it count as taken.")
    one_page: bool = Field(default=False, description="Don't go on to a second page.")


@router.post("/cut-plan", responses=documented(422))
def cut_plan(archive: ArchiveHere, given: CutRequest) -> CutPlanOut:
    """The cut plan with its explanation. What finds no place is in `left_over`, with the choices there are."""
    new = NewRoll(
        format=given.format,
        layout=given.layout,
        frames=given.frames,
        kept_together=given.kept_together,
        first_slot=given.first_slot,
        go_on=not given.one_page,
    )
    with archive.session() as session:
        return CutPlanOut.model_validate(preview_cuts(session, new))
