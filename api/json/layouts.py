"""Sleeve pages: the built-in ones and those a person measured."""

from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere
from api.errors import documented
from api.json.formats import key_from
from api.json.models import LayoutOut
from catalogue.own_shapes import add_layout, all_layouts
from catalogue.sleeves.geometry import Rect, Size
from catalogue.sleeves.layouts import SleeveLayout

router = APIRouter(tags=["layouts"])


class SizeIn(BaseModel):
    """Width and height in mm."""

    model_config = ConfigDict(extra="forbid")
    width: float
    height: float


class RectIn(SizeIn):
    """A rectangle in mm from the page's top left corner, y downwards."""

    x: float
    y: float


class NewLayout(BaseModel):
    """A sleeve page as measured, front towards you, in mm from its top left corner."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={
            "example": {
                "name": "Wide page, 5 slots",
                "page": {"width": 260, "height": 300},
                "rows": 5,
                "slot_length_mm": 230,
                "slot_width_mm": 40,
                "row_pitch_mm": 48,
                "first_x_mm": 20,
                "first_y_mm": 40,
                "index_area": {"x": 20, "y": 5, "width": 230, "height": 25},
                "gauges": ["135"],
            }
        },
    )
    key: str = Field(default="", max_length=40, description="Empty: made from the name.")
    name: str = Field(min_length=1, max_length=60)
    page: SizeIn
    ring_side: Literal["left", "right"] = "left"
    rows: int
    columns: int = 1
    slot_length_mm: float
    slot_width_mm: float
    row_pitch_mm: float | None = Field(default=None, description="None: slots touch.")
    column_pitch_mm: float | None = Field(default=None, description="None: columns touch.")
    first_x_mm: float
    first_y_mm: float
    first_frame_at: Literal["ring", "open"] = "ring"
    index_area: RectIn
    material: str = Field(default="polypropylene", max_length=60)
    gauges: list[str] = Field(min_length=1, max_length=10)


@router.get("/layouts", responses=documented(503))
def layouts(archive: ArchiveHere) -> list[LayoutOut]:
    """Every kind of sleeve page known, built in and own."""
    with archive.session() as session:
        return [LayoutOut.model_validate(layout) for layout in all_layouts(session)]


@router.post("/layouts", status_code=201, responses=documented(409, 422))
def new_layout(archive: ArchiveHere, given: NewLayout) -> LayoutOut:
    """Keeps an own sleeve page; measures that contradict one another are refused with the numbers."""
    values = given.model_dump() | {
        "key": key_from(given.key or given.name),
        "page": Size(given.page.width, given.page.height),
        "index_area": Rect(**given.index_area.model_dump()),
        "row_pitch_mm": given.slot_width_mm if given.row_pitch_mm is None else given.row_pitch_mm,
        "column_pitch_mm": given.slot_length_mm if given.column_pitch_mm is None else given.column_pitch_mm,
        "gauges": tuple(given.gauges),
    }
    with archive.session() as session:
        return LayoutOut.model_validate(add_layout(session, SleeveLayout(**values)))
