"""Frozen read models: what operations hand outward to paper, pages and scripts."""

from dataclasses import dataclass, field

from catalogue.film.formats import FilmFormat
from catalogue.sleeves.address import Address
from catalogue.sleeves.layouts import SleeveLayout
from catalogue.sleeves.page_plan import PagePlan, StripInSlot


@dataclass(frozen=True)
class ScanView:
    """An image file tied to a frame; `path` is relative to the scan folder."""

    id: int
    path: str
    sha256: str
    width_px: int
    height_px: int
    file_date: str
    absolute_path: str
    role: str = "master"
    """"master", "working", "cropped" or "web"."""
    state: str = "there"
    """"there", "changed" or "missing", as last checked."""
    mirrored: bool = False
    quarter_turns: int = 0
    """Turning clockwise by so many quarters and then mirroring puts the picture right."""
    polarity: str = ""
    bits: int = 8
    kind: str = ""
    captured: str = ""
    """When the file says it was digitised; never the taking date."""
    stand_camera: str = ""
    ppi: int = 0
    """Pixels per inch on the film."""
    byte_size: int = 0


@dataclass(frozen=True)
class FrameChoice:
    """What a person marked of a frame on a proof: a select, and the crop for the print.

    `crop` is left, top, right, bottom in fractions of the picture, origin at the top left, as the frame lies
    in a strip that is neither turned nor turned over (base side to the viewer, head of the roll to the left).
    """

    selected: bool = False
    crop: tuple[float, float, float, float] | None = None


@dataclass(frozen=True)
class FrameView:
    """A frame: what it is, and where it is (`address`, None while not filed)."""

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
    address: Address | None
    scans: tuple[ScanView, ...] = ()
    page_id: int | None = None


@dataclass(frozen=True)
class ProcessView:
    """How a roll was processed; texts are as typed, temperature in °C, time in s."""

    process: str = ""
    developer: str = ""
    dilution: str = ""
    temperature_c: float | None = None
    time_s: int | None = None
    push_stops: float | None = None
    done_on: str = ""
    done_by: str = ""
    notes: str = ""


@dataclass(frozen=True)
class StripView:
    """A strip, its frame labels in film order, and where it lies."""

    id: int
    labels: tuple[str, ...]
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
    position: int
    due: str = ""
    """When a strip that is out is to be back (EDTF), or empty."""


@dataclass(frozen=True)
class StripAway:
    """A strip that has left its slot for a while: whose it is, where it belongs, why and since when it is out."""

    strip_id: int
    roll: str
    frame_range: str
    page_id: int | None
    address_words: str
    reason: str
    since: str
    due: str


@dataclass(frozen=True)
class RollView:
    """A roll as a person reads it; dates are EDTF texts as typed."""

    id: int
    number: str
    format: FilmFormat
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
    frames: tuple[FrameView, ...]
    strips: tuple[StripView, ...]
    process: ProcessView | None
    former_numbers: tuple[str, ...] = ()
    page_ids: tuple[int, ...] = ()


@dataclass(frozen=True)
class RollSummary:
    """One line about a roll, for lists and labels."""

    number: str
    format_name: str
    stock: str
    camera: str
    exposed: str
    subject: str
    frame_range: str
    process: str = ""
    processed: str = ""
    place: str = ""


@dataclass(frozen=True)
class PageView:
    """A sleeve page in its binder with everything on it."""

    id: int
    binder_id: int
    binder: str
    number: int
    layout: SleeveLayout
    ring_side: str
    turned: bool
    notes: str
    strips: tuple[StripInSlot, ...]
    plan: PagePlan
    rolls: tuple[RollSummary, ...]
    free_slots: tuple[int, ...]
    archive_name: str


@dataclass(frozen=True)
class PageSummary:
    """One line about a page, for a binder's list."""

    id: int
    number: int
    layout_name: str
    rolls: tuple[str, ...]
    free_slots: int
    slot_count: int


@dataclass(frozen=True)
class BinderView:
    """A binder and its pages."""

    id: int
    name: str
    notes: str
    pages: tuple[PageSummary, ...]


@dataclass(frozen=True)
class Hit:
    """One thing found: a roll, or a frame of it, and where it lies in words."""

    kind: str
    """"roll" or "frame"."""
    roll: str
    frame: str | None
    title: str
    detail: str
    address: Address | None
    page_id: int | None
    frame_id: int | None = None
    exact: bool = False
    """Reached by its number rather than by words."""


@dataclass(frozen=True)
class FoundView:
    """What a search gave, and the narrowing that is possible."""

    hits: tuple[Hit, ...]
    more: bool = False
    years: tuple[int, ...] = field(default=())
    formats: tuple[str, ...] = field(default=())
    stocks: tuple[str, ...] = field(default=())
    cameras: tuple[str, ...] = field(default=())
    binders: tuple[str, ...] = field(default=())
