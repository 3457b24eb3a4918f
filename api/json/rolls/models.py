"""Answers of the JSON service, with examples; lengths in mm."""

from typing import Any, Self

from pydantic import BaseModel, ConfigDict, Field

from catalogue.views import PageView, RollView


class _Shown(BaseModel):
    """An answer whose fields are those of a domain view of the same names."""

    model_config = ConfigDict(from_attributes=True)

    @classmethod
    def of(cls, view: object) -> Self:
        """From the domain's view."""
        return cls.model_validate(view)


class AddressOut(_Shown):
    """Where a frame lies: slot from the top, place from the ring side, and in words."""

    binder: str = Field(examples=["Binder 2"])
    page: int = Field(examples=[14])
    slot: int = Field(examples=[3])
    place: int = Field(examples=[4])
    upside_down: bool
    emulsion_towards_you: bool
    out: bool
    words: str = Field(examples=["Binder 2, page 14, third strip from the top, fourth frame from the ring side"])


class HitOut(_Shown):
    """One thing found."""

    kind: str = Field(examples=["frame"])
    roll: str = Field(examples=["2031-014"])
    frame: str | None = Field(examples=["23A"])
    title: str
    detail: str
    exact: bool
    page_id: int | None
    address: AddressOut | None


class FoundOut(BaseModel):
    """What a search gave."""

    hits: list[HitOut]
    more: bool


class ScanOut(_Shown):
    """An image file tied to a frame; the path is relative to the scan folder."""

    id: int
    path: str
    sha256: str
    width_px: int
    height_px: int
    role: str
    state: str
    mirrored: bool
    quarter_turns: int
    polarity: str
    bits: int
    captured: str
    stand_camera: str
    ppi: int


class FrameOut(_Shown):
    """A frame: what it is, and where."""

    label: str
    position: int
    state: str
    caption: str
    subject: str
    place: str
    keywords: str
    lens: str
    exposed: str
    notes: str
    address: AddressOut | None
    page_id: int | None
    scans: list[ScanOut]


class StripOut(_Shown):
    """A strip and where it lies."""

    id: int
    labels: list[str]
    length_mm: float
    page_id: int | None
    binder: str | None
    page_number: int | None
    slot: int | None
    offset_mm: float
    upside_down: bool
    turned_over: bool
    out: bool
    out_reason: str
    due: str


class RollOut(BaseModel):
    """A roll with frames, strips and process record; dates are EDTF."""

    number: str
    format: str
    stock: str
    camera: str
    lens: str
    exposed: str
    processed: str
    sleeved: str
    subject: str
    place: str
    keywords: str
    notes: str
    frame_range: str
    former_numbers: list[str]
    page_ids: list[int]
    frames: list[FrameOut]
    strips: list[StripOut]
    process: dict[str, Any] | None

    @classmethod
    def of(cls, r: RollView) -> "RollOut":
        """From the domain's roll."""
        return cls.model_validate({**vars(r), "format": r.format.key, "process": vars(r.process) if r.process else None})


class PlacedFrameOut(BaseModel):
    """A frame on its page, in mm from the page's top left corner."""

    roll: str
    frame: str
    slot: int
    place: int
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    state: str
    out: bool


class PageOut(BaseModel):
    """A sleeve page and what lies on it."""

    id: int
    binder: str
    binder_id: int
    number: int
    layout: str
    ring_side: str
    turned: bool
    notes: str
    width_mm: float
    height_mm: float
    rolls: list[str]
    free_slots: list[int]
    frames: list[PlacedFrameOut]

    @classmethod
    def of(cls, p: PageView) -> "PageOut":
        """From the domain's page."""
        return cls(
            id=p.id,
            binder=p.binder,
            binder_id=p.binder_id,
            number=p.number,
            layout=p.layout.key,
            ring_side=p.ring_side,
            turned=p.turned,
            notes=p.notes,
            width_mm=p.plan.size.width,
            height_mm=p.plan.size.height,
            rolls=[r.number for r in p.rolls],
            free_slots=list(p.free_slots),
            frames=[
                PlacedFrameOut(
                    roll=f.roll,
                    frame=f.label,
                    slot=f.slot_from_top,
                    place=f.place,
                    x_mm=f.rect.x,
                    y_mm=f.rect.y,
                    width_mm=f.rect.width,
                    height_mm=f.rect.height,
                    state=f.state,
                    out=f.out,
                )
                for f in p.plan.frames
            ],
        )
