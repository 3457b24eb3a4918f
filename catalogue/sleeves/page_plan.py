"""Where everything on a sleeve page lies: the one plan behind screen and paper.

`plan_page` turns a layout and the strips in it into placed rectangles. The page
map in the browser and the printed contact sheet both draw this plan and nothing
else, so they agree by construction.
"""

from dataclasses import dataclass
from typing import Literal

from catalogue.sleeves.geometry import Rect, Size

Side = Literal["left", "right"]
FrameState = Literal["picture", "blank", "partial", "overlapped", "double", "cut in two"]


@dataclass(frozen=True)
class FrameOnStrip:
    """One frame as it lies on its strip.

    `start_mm` is measured from the strip's first (lowest-numbered) end to the
    picture's near edge; `along_mm` along the film, `across_mm` across it.
    """

    label: str
    start_mm: float
    along_mm: float
    across_mm: float
    state: FrameState = "picture"
    caption: str = ""
    picture: str | None = None
    """Path of a picture file to draw, absolute, or None."""
    part: Literal["whole", "head", "tail"] = "whole"
    """Of a frame cut in two: the piece on the earlier (head) or later (tail) strip."""


@dataclass(frozen=True)
class StripInSlot:
    """A strip and how it lies in its slot.

    `slot` counts as the layout does (1 is the top slot of the page unturned).
    `offset_mm` is measured from the slot's end where the layout has the first
    frame, to the near end of the strip. `upside_down`: turned by 180 degrees in
    the plane, so the order runs backwards. `turned_over`: flipped about the
    long axis, so the emulsion faces the other way and the order is kept.
    """

    strip_id: int
    roll: str
    slot: int
    offset_mm: float
    length_mm: float
    gauge_width_mm: float
    frames: tuple[FrameOnStrip, ...]
    upside_down: bool = False
    turned_over: bool = False
    out: bool = False


@dataclass(frozen=True)
class PlacedSlot:
    """A slot as seen: its number in the layout, from the top, and its inner rectangle."""

    number: int
    from_top: int
    rect: Rect


@dataclass(frozen=True)
class PlacedStrip:
    """A strip as seen."""

    strip_id: int
    roll: str
    slot: int
    rect: Rect
    out: bool


@dataclass(frozen=True)
class PlacedFrame:
    """A frame as seen: picture rectangle, place from the ring side, which way up.

    `place` counts frames in the slot from the ring side, from 1, over all
    strips of the slot. `rotated` is by 180 degrees; `mirrored` is left to right
    after any rotation, as seen by the viewer.
    """

    strip_id: int
    roll: str
    label: str
    slot: int
    slot_from_top: int
    place: int
    rect: Rect
    rotated: bool
    mirrored: bool
    state: FrameState
    caption: str
    picture: str | None
    out: bool


@dataclass(frozen=True)
class PagePlan:
    """Everything on one page as it lies in its binder, front towards you."""

    size: Size
    ring_side: Side
    ring_holes: tuple[tuple[float, float, float], ...]
    """Centre x, centre y, diameter; drawn for orientation only."""
    index_area: Rect
    slots: tuple[PlacedSlot, ...]
    strips: tuple[PlacedStrip, ...]
    frames: tuple[PlacedFrame, ...]
    turned: bool
