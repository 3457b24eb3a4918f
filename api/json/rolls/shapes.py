"""Health, film formats, sleeve pages, and cut plans that store nothing."""

from typing import Any, Literal

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from catalogue.film.formats import FilmFormat
from catalogue.own_shapes import add_format, add_layout, all_formats, all_layouts, format_of, layout_of
from catalogue.rolls.plan import labels_of
from catalogue.sleeves.cut_plan import evenly_spaced, fresh_slots, new_pages, plan_cuts
from catalogue.sleeves.geometry import Rect, Size
from catalogue.sleeves.layouts import SleeveLayout

router = APIRouter(responses=PROBLEMS, tags=["shapes"])


class FormatIO(BaseModel):
    """A film format; lengths in mm."""

    model_config = ConfigDict(extra="forbid", from_attributes=True)
    key: str = Field(max_length=60, examples=["135-24x30"])
    name: str = Field(max_length=80)
    gauge: str = Field(max_length=20)
    kind: Literal["strip", "sheet", "mount"]
    gauge_width_mm: float
    frame_along_mm: float
    frame_across_mm: float
    pitch_mm: float
    usual_exposures: list[int] = [36]
    source: str = Field(default="measured by the owner", max_length=300)


class LayoutIO(BaseModel):
    """A sleeve page by measurement; mm from the page's top left corner."""

    model_config = ConfigDict(extra="forbid")
    key: str = Field(max_length=60, examples=["my-7x6"])
    name: str = Field(max_length=80)
    page_width_mm: float
    page_height_mm: float
    ring_side: str = "left"
    rows: int
    columns: int = 1
    slot_length_mm: float
    slot_width_mm: float
    row_pitch_mm: float
    column_pitch_mm: float | None = None
    first_x_mm: float
    first_y_mm: float
    first_frame_at: str = "ring"
    index_x_mm: float
    index_y_mm: float
    index_width_mm: float
    index_height_mm: float
    material: str = ""
    gauges: list[str] = ["135"]

    @classmethod
    def of(cls, x: SleeveLayout) -> "LayoutIO":
        """From the domain's layout."""
        same = (
            "key",
            "name",
            "ring_side",
            "rows",
            "columns",
            "slot_length_mm",
            "slot_width_mm",
            "row_pitch_mm",
            "column_pitch_mm",
            "first_x_mm",
            "first_y_mm",
            "first_frame_at",
            "material",
        )
        return cls(
            page_width_mm=x.page.width,
            page_height_mm=x.page.height,
            gauges=list(x.gauges),
            index_x_mm=x.index_area.x,
            index_y_mm=x.index_area.y,
            index_width_mm=x.index_area.width,
            index_height_mm=x.index_area.height,
            **{name: getattr(x, name) for name in same},
        )

    def layout(self) -> SleeveLayout:
        """The domain's layout; raises `ImpossibleLayout`."""
        return SleeveLayout(
            self.key,
            self.name,
            Size(self.page_width_mm, self.page_height_mm),
            self.ring_side,
            self.rows,
            self.columns,
            self.slot_length_mm,
            self.slot_width_mm,
            self.row_pitch_mm,
            self.column_pitch_mm or self.slot_length_mm,
            self.first_x_mm,
            self.first_y_mm,
            self.first_frame_at,
            Rect(self.index_x_mm, self.index_y_mm, self.index_width_mm, self.index_height_mm),
            self.material,
            tuple(self.gauges),
        )


class CutRequest(BaseModel):
    """Film to be cut, before the scissors."""

    model_config = ConfigDict(
        extra="forbid",
        json_schema_extra={"examples": [{"format": "135-24x36", "layout": "135-7x6", "frames": "1-36"}]},
    )
    format: str
    layout: str
    frames: str | int | list[str]
    kept_together: list[list[str]] = []
    first_slot: int = Field(default=1, ge=1)
    one_page: bool = False
    min_frames: int = Field(default=2, ge=1, le=12)
    min_gap_mm: float = Field(default=1.5, ge=0, le=20)


class CutStrip(BaseModel):
    """One strip of a cut plan; page counts from 1 within the plan."""

    frames: list[str]
    page: int
    slot: int
    length_mm: float


class CutAnswer(BaseModel):
    """A cut plan with its explanation."""

    strips: list[CutStrip]
    explanation: str
    fits: bool
    left_over: list[str]
    choices: list[str]


@router.get("/health")
def health() -> dict[str, str]:
    """Whether the service is up."""
    return {"status": "ok"}


@router.get("/formats")
def formats(archive: ArchiveHere) -> list[FormatIO]:
    """All film formats."""
    with archive.session(reading=True) as session:
        return [FormatIO.model_validate(f) for f in all_formats(session)]


@router.post("/formats", status_code=201)
def new_format(given: FormatIO, archive: ArchiveHere) -> FormatIO:
    """Defines an own format."""
    with archive.session() as session:
        values: dict[str, Any] = given.model_dump() | {"usual_exposures": tuple(given.usual_exposures)}
        return FormatIO.model_validate(add_format(session, FilmFormat(**values)))


@router.get("/layouts")
def layouts(archive: ArchiveHere) -> list[LayoutIO]:
    """All sleeve pages."""
    with archive.session(reading=True) as session:
        return [LayoutIO.of(x) for x in all_layouts(session)]


@router.post("/layouts", status_code=201)
def new_layout(given: LayoutIO, archive: ArchiveHere) -> LayoutIO:
    """Adds an own sleeve page by its measures."""
    with archive.session() as session:
        return LayoutIO.of(add_layout(session, given.layout()))


@router.post("/cut-plan")
def cut_plan(given: CutRequest, archive: ArchiveHere) -> CutAnswer:
    """Plans the cuts; nothing is stored."""
    with archive.session(reading=True) as session:
        film = format_of(session, given.format)
        layout = layout_of(session, given.layout, film)
    labels = labels_of(given.frames, film)
    layout.check_takes(film)
    layout.slot_rect(given.first_slot)
    pages = 1 if given.one_page else new_pages(film, layout, len(labels))
    slots = fresh_slots(layout, pages)[given.first_slot - 1 :]
    plan = plan_cuts(
        evenly_spaced(labels, film),
        film,
        layout,
        free_slots=slots,
        kept_together=given.kept_together,
        min_frames=given.min_frames,
        min_gap_mm=given.min_gap_mm,
    )
    return CutAnswer(
        strips=[CutStrip(frames=list(s.frames), page=s.page, slot=s.slot, length_mm=s.length_mm) for s in plan.strips],
        explanation=plan.explanation,
        fits=plan.fits,
        left_over=list(plan.left_over),
        choices=list(plan.choices),
    )
