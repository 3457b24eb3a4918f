"""Where everything on a sleeve page lies: the one plan behind screen and paper.

`plan_page` turns a layout and the strips in it into placed rectangles. The page
map in the browser and the printed contact sheet both draw this plan and nothing
else, so they agree by construction.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, Protocol, get_args

from catalogue.sleeves.geometry import Rect, Size
from catalogue.sleeves.layouts import SleeveLayout

Side = Literal["left", "right"]
FrameState = Literal["picture", "blank", "partial", "overlapped", "double", "cut in two"]
FRAME_STATES: tuple[str, ...] = get_args(FrameState)


class PictureToMake(Protocol):
    """A picture that whoever paints has made; as a path, where it lies or will lie."""

    def __fspath__(self) -> str: ...

    def made(self) -> str | None:
        """The picture's file, made where there is none; None where it can't be."""
        ...


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
    picture: str | PictureToMake | None = None
    """The picture to draw, or None: a file's absolute path, or what makes it when it is painted."""
    part: Literal["whole", "head", "tail"] = "whole"
    """Of a frame cut in two: the piece on the earlier (head) or later (tail) strip."""
    frame_id: int = 0
    """The frame's key in the catalogue, 0 where it has none."""
    scan_id: int | None = None
    """The key of the scan to show; whoever paints sees to the picture."""


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
    picture: str | PictureToMake | None
    out: bool
    part: str = "whole"
    frame_id: int = 0
    scan_id: int | None = None


@dataclass(frozen=True)
class PagePlan:
    """Everything on one page as it lies in its binder, front towards you."""

    size: Size
    ring_side: Side
    ring_holes: tuple[tuple[float, float, float], ...]
    """Centre x, centre y, diameter; drawn for orientation only. None where the slots leave no room for holes."""
    index_area: Rect
    slots: tuple[PlacedSlot, ...]
    strips: tuple[PlacedStrip, ...]
    frames: tuple[PlacedFrame, ...]
    turned: bool


def _ring_holes(size: Size, side: str) -> tuple[tuple[float, float, float], ...]:
    """Four holes 80 mm apart, 12 mm from the edge, 6 mm across (ISO 838, from memory), centred in height."""
    x = 12.0 if side == "left" else size.width - 12.0
    count = 4 if size.height >= 270 else 2
    first = size.height / 2 - (count - 1) * 40
    return tuple((x, first + n * 80, 6.0) for n in range(count))


def _clear_holes(size: Size, side: str, slots: Sequence[PlacedSlot]) -> tuple[tuple[float, float, float], ...]:
    """The holes, or none: through a slot nobody punches, so such a page hangs by a punched strip stuck to its edge."""
    holes = _ring_holes(size, side)
    places = [Rect(x - d / 2, y - d / 2, d, d) for x, y, d in holes]
    return () if any(hole.overlaps(slot.rect) for hole in places for slot in slots) else holes


def _flipped(rect: Rect, size: Size) -> Rect:
    """The rectangle after the page is turned head to foot about its horizontal middle."""
    return Rect(rect.x, size.height - rect.bottom, rect.width, rect.height)


def plan_page(
    layout: SleeveLayout,
    strips: Sequence[StripInSlot],
    *,
    ring_side: str | None = None,
    turned: bool = False,
) -> PagePlan:
    """Places slots, strips and frames as they lie in the binder.

    `ring_side` other than the layout's: re-punched on the other edge, so the
    strips stay and places count from the other end. `turned`: head to foot with
    the rings on the same side, so the last slot lies on top and the page is seen
    from its back: pictures are turned over about the long axis of the strip.
    """
    side: Side = "right" if (ring_side or layout.ring_side) == "right" else "left"
    slots = []
    for number in range(1, layout.slot_count + 1):
        rect = layout.slot_rect(number)
        row = layout.row_of(number)
        from_top = layout.rows + 1 - row if turned else row
        slots.append(PlacedSlot(number, from_top, _flipped(rect, layout.page) if turned else rect))
    rects = {slot.number: slot for slot in slots}
    first_at_left = (layout.first_frame_at == "ring") == (layout.ring_side == "left")

    placed: list[PlacedStrip] = []
    found: list[tuple[int, Rect, StripInSlot, FrameOnStrip]] = []
    for strip in strips:
        layout.slot_rect(strip.slot)  # refuses a slot that this page hasn't
        slot = rects[strip.slot]
        x = slot.rect.x + strip.offset_mm if first_at_left else slot.rect.right - strip.offset_mm - strip.length_mm
        y = slot.rect.y + (slot.rect.height - strip.gauge_width_mm) / 2
        whole = Rect(x, y, strip.length_mm, strip.gauge_width_mm)
        placed.append(PlacedStrip(strip.strip_id, strip.roll, strip.slot, whole, strip.out))
        runs_right = first_at_left != strip.upside_down
        for frame in strip.frames:
            start = max(0.0, frame.start_mm)
            along = min(frame.along_mm, strip.length_mm - start)
            fx = x + start if runs_right else whole.right - start - along
            fy = y + (strip.gauge_width_mm - frame.across_mm) / 2
            found.append((slot.from_top, Rect(fx, fy, along, frame.across_mm), strip, frame))

    frames: list[PlacedFrame] = []
    rows = {from_top for from_top, *_ in found}
    for row_number in sorted(rows):
        in_row = [item for item in found if item[0] == row_number]
        in_row.sort(key=lambda item: item[1].x if side == "left" else -item[1].right)
        for place, (from_top, rect, strip, frame) in enumerate(in_row, 1):
            # Turning a page and turning a strip over undo one another's mirroring;
            # each also stands the picture on its head.
            over = strip.turned_over != turned
            frames.append(
                PlacedFrame(
                    strip_id=strip.strip_id,
                    roll=strip.roll,
                    label=frame.label,
                    slot=strip.slot,
                    slot_from_top=from_top,
                    place=place,
                    rect=rect,
                    rotated=strip.upside_down != over,
                    mirrored=over,
                    state=frame.state,
                    caption=frame.caption,
                    picture=frame.picture,
                    out=strip.out,
                    part=frame.part,
                    frame_id=frame.frame_id,
                    scan_id=frame.scan_id,
                )
            )
    index = _flipped(layout.index_area, layout.page) if turned else layout.index_area
    return PagePlan(
        size=layout.page,
        ring_side=side,
        ring_holes=_clear_holes(layout.page, side, slots),
        index_area=index,
        slots=tuple(slots),
        strips=tuple(placed),
        frames=tuple(frames),
        turned=turned,
    )
