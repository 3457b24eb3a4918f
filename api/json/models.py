"""The typed answers of the JSON service, read from the catalogue's views."""

from pydantic import BaseModel, ConfigDict


class Read(BaseModel):
    """Base of answers: filled from a view's attributes."""

    model_config = ConfigDict(from_attributes=True)


class SizeOut(Read):
    """Width and height in mm."""

    width: float
    height: float


class RectOut(Read):
    """A rectangle in mm; origin at the page's top left, y downwards."""

    x: float
    y: float
    width: float
    height: float


class FormatOut(Read):
    """A film format; lengths in mm."""

    key: str
    name: str
    gauge: str
    kind: str
    gauge_width_mm: float
    frame_along_mm: float
    frame_across_mm: float
    pitch_mm: float
    gap_mm: float
    usual_exposures: list[int]
    source: str


class LayoutOut(Read):
    """A kind of sleeve page; lengths in mm, slots counted from the top."""

    key: str
    name: str
    page: SizeOut
    ring_side: str
    rows: int
    columns: int
    slot_count: int
    slot_length_mm: float
    slot_width_mm: float
    row_pitch_mm: float
    column_pitch_mm: float
    first_x_mm: float
    first_y_mm: float
    first_frame_at: str
    index_area: RectOut
    material: str
    gauges: list[str]


class AddressOut(Read):
    """Where a frame lies: slot from the top, place from the ring side."""

    binder: str
    page: int
    slot: int
    place: int
    words: str
    upside_down: bool
    emulsion_towards_you: bool
    out: bool
    out_reason: str
    part: str
    piece: str


class ScanOut(Read):
    """An image file tied to a frame; `path` is relative to the scan folder."""

    id: int
    path: str
    sha256: str
    width_px: int
    height_px: int
    file_date: str


class FrameOut(Read):
    """A frame: what it is, and its address."""

    id: int
    roll: str
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
    start_mm: float | None
    length_mm: float | None
    page_id: int | None
    address: AddressOut | None
    scans: list[ScanOut]


class StripOut(Read):
    """A strip and where it lies."""

    id: int
    position: int
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
    address_words: str


class ProcessOut(Read):
    """How a roll was processed; temperature in °C, time in seconds."""

    process: str
    developer: str
    dilution: str
    temperature_c: float | None
    time_s: int | None
    push_stops: float | None
    done_on: str
    done_by: str
    notes: str


class RollOut(Read):
    """A roll with its frames and strips; dates in EDTF."""

    id: int
    number: str
    former_numbers: list[str]
    format: FormatOut
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
    frames: list[FrameOut]
    strips: list[StripOut]
    process: ProcessOut | None
    page_ids: list[int]


class RollLine(Read):
    """One line about a roll."""

    number: str
    format_name: str
    stock: str
    camera: str
    exposed: str
    subject: str
    frame_range: str
    process: str
    processed: str
    place: str


class PageLine(Read):
    """One line about a page of a binder."""

    id: int
    number: int
    layout_name: str
    rolls: list[str]
    free_slots: int
    slot_count: int


class BinderOut(Read):
    """A binder and its pages."""

    id: int
    name: str
    notes: str
    pages: list[PageLine]


class PlacedFrameOut(Read):
    """A frame as seen on the page: rectangle in mm, slot from the top, place from the ring side."""

    strip_id: int
    roll: str
    label: str
    slot: int
    slot_from_top: int
    place: int
    rect: RectOut
    rotated: bool
    mirrored: bool
    state: str
    caption: str
    out: bool
    part: str


class PlacedStripOut(Read):
    """A strip as seen on the page."""

    strip_id: int
    roll: str
    slot: int
    rect: RectOut
    out: bool


class PageOut(Read):
    """A sleeve page with everything on it as it lies in its binder."""

    id: int
    binder_id: int
    binder: str
    number: int
    layout: LayoutOut
    ring_side: str
    turned: bool
    notes: str
    rolls: list[RollLine]
    free_slots: list[int]
    strips: list[PlacedStripOut]
    frames: list[PlacedFrameOut]


class HitOut(Read):
    """One thing found; `kind` is "roll" or "frame", `exact` when reached by its number."""

    kind: str
    roll: str
    frame: str | None
    title: str
    detail: str
    address: AddressOut | None
    page_id: int | None
    exact: bool


class FoundOut(Read):
    """What a search gave, and the narrowing that is possible."""

    model_config = ConfigDict(
        from_attributes=True,
        json_schema_extra={
            "example": {
                "hits": [
                    {
                        "kind": "frame",
                        "roll": "2031-014",
                        "frame": "23A",
                        "title": "The ferry leaving",
                        "detail": "2031-05 · 35 mm, 24 × 36",
                        "address": {
                            "binder": "Binder 2",
                            "page": 14,
                            "slot": 3,
                            "place": 4,
                            "words": "Binder 2, page 14, third strip from the top, fourth frame from the ring side",
                            "upside_down": False,
                            "emulsion_towards_you": False,
                            "out": False,
                            "out_reason": "",
                            "part": "whole",
                            "piece": "strip",
                        },
                        "page_id": 32,
                        "exact": True,
                    }
                ],
                "more": False,
                "years": [2031],
                "formats": ["135-24x36"],
                "stocks": [],
                "cameras": [],
                "binders": ["Binder 2"],
            }
        },
    )
    hits: list[HitOut]
    more: bool
    years: list[int]
    formats: list[str]
    stocks: list[str]
    cameras: list[str]
    binders: list[str]


class PlannedStripOut(Read):
    """A strip to cut: its frames, the page (counted from 1) and the slot it goes into."""

    frames: list[str]
    page: int
    slot: int
    length_mm: float


class CutPlanOut(Read):
    """Where to cut, and why; `left_over` frames found no place."""

    model_config = ConfigDict(
        from_attributes=True,
        json_schema_extra={
            "example": {
                "strips": [{"frames": ["1", "2", "3"], "page": 1, "slot": 1, "length_mm": 183.0}],
                "explanation": "3 frames as 1 strip of 3 on one page.",
                "fits": True,
                "left_over": [],
                "choices": [],
            }
        },
    )
    strips: list[PlannedStripOut]
    explanation: str
    fits: bool
    left_over: list[str]
    choices: list[str]
