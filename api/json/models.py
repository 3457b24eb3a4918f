"""Answers of the JSON service, with examples; lengths in mm."""

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from catalogue.sleeves.address import Address
from catalogue.views import FrameView, Hit, PageView, RollView, StripView


class AddressOut(BaseModel):
    """Where a frame lies: slot from the top, place from the ring side, and in words."""

    binder: str = Field(examples=["Binder 2"])
    page: int = Field(examples=[14])
    slot: int = Field(examples=[3])
    place: int = Field(examples=[4])
    upside_down: bool
    emulsion_towards_you: bool
    out: bool
    words: str = Field(examples=["Binder 2, page 14, third strip from the top, fourth frame from the ring side"])

    @classmethod
    def of(cls, address: Address | None) -> "AddressOut | None":
        """From the domain's address."""
        if address is None:
            return None
        return cls(
            binder=address.binder,
            page=address.page,
            slot=address.slot,
            place=address.place,
            upside_down=address.upside_down,
            emulsion_towards_you=address.emulsion_towards_you,
            out=address.out,
            words=address.words,
        )


class HitOut(BaseModel):
    """One thing found."""

    kind: str = Field(examples=["frame"])
    roll: str = Field(examples=["2031-014"])
    frame: str | None = Field(examples=["23A"])
    title: str
    detail: str
    exact: bool
    page_id: int | None
    address: AddressOut | None

    @classmethod
    def of(cls, hit: Hit) -> "HitOut":
        """From the domain's hit."""
        return cls(
            kind=hit.kind,
            roll=hit.roll,
            frame=hit.frame,
            title=hit.title,
            detail=hit.detail,
            exact=hit.exact,
            page_id=hit.page_id,
            address=AddressOut.of(hit.address),
        )


class FoundOut(BaseModel):
    """What a search gave."""

    hits: list[HitOut]
    more: bool


class FrameOut(BaseModel):
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
    scans: list[dict[str, Any]]

    @classmethod
    def of(cls, f: FrameView) -> "FrameOut":
        """From the domain's frame."""
        return cls(
            label=f.label,
            position=f.position,
            state=f.state,
            caption=f.caption,
            subject=f.subject,
            place=f.place,
            keywords=f.keywords,
            lens=f.lens,
            exposed=f.exposed,
            notes=f.notes,
            address=AddressOut.of(f.address),
            page_id=f.page_id,
            scans=[{"path": s.path, "sha256": s.sha256, "width_px": s.width_px, "height_px": s.height_px} for s in f.scans],
        )


class StripOut(BaseModel):
    """A strip and where it lies."""

    model_config = ConfigDict(from_attributes=True)
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

    @classmethod
    def of(cls, strip: StripView) -> "StripOut":
        """From the domain's strip."""
        return cls.model_validate(strip)


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
        return cls(
            number=r.number,
            format=r.format.key,
            stock=r.stock,
            camera=r.camera,
            lens=r.lens,
            exposed=r.exposed,
            processed=r.processed,
            sleeved=r.sleeved,
            subject=r.subject,
            place=r.place,
            keywords=r.keywords,
            notes=r.notes,
            frame_range=r.frame_range,
            former_numbers=list(r.former_numbers),
            page_ids=list(r.page_ids),
            frames=[FrameOut.of(f) for f in r.frames],
            strips=[StripOut.of(s) for s in r.strips],
            process=vars(r.process) if r.process else None,
        )


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
