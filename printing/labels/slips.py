"""The slip that stays in a slot for a strip that is out, and the tag on a bottle: plans inside a rectangle, in mm."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from catalogue.errors import DoesNotFit, InvalidInput
from catalogue.film.dates import date_words
from catalogue.paper.label_sheets import StockUse, plain_stock
from catalogue.paper.sizes import Paper
from catalogue.sleeves.geometry import Rect, Size
from printing.canvas.items import Box, Code, Item, Line, Measure, Sheet, Text, counted, fitted
from printing.labels.filled_sheets import SheetCaption, hole_mark, plan_label_sheets
from printing.labels.text import PITCH, code_side, flowed, height_of, number_lines

SLIP_LENGTH_MM = 90.0
PLAY_MM = 1.0
"""A slip is narrower than its slot by this much and shorter by twice as much, so that it slides."""
SMALLEST_BOX_MM, LARGEST_BOX_MM = 2.6, 5.0
MOST_ROLLS = 400
CAUTION = "Caution: see the maker's data sheet and local disposal rules."
_HOLE_MM = 5.0


@dataclass(frozen=True)
class OutSlip:
    """A strip that is out of its slot; dates are EDTF texts, `address` its place in words."""

    roll: str
    frames: str
    archive: str
    printed_on: date
    address: str = ""
    why: str = ""
    gone_to: str = ""
    out_since: str = ""
    due: str = ""

    def __post_init__(self) -> None:
        if not self.roll.strip() or not self.frames.strip():
            raise InvalidInput("A slip for a strip that is out needs the roll's number and the frames on the strip.")


@dataclass(frozen=True)
class BottleTag:
    """A bottle of a bath. `capacity` is in roll-equivalents, one 135-36 or one 120 each; dates are EDTF texts.

    The first `done` boxes are ticked already. `link` leads to the bottle and is printed as a QR code where there is room.
    """

    name: str
    what: str
    archive: str
    printed_on: date
    mixed_on: str = ""
    opened_on: str = ""
    discard_after: str = ""
    capacity: int = 0
    done: int = 0
    link: str = ""

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise InvalidInput("A bottle tag needs the name of what is in the bottle.")
        if not 0 <= self.capacity <= MOST_ROLLS:
            raise InvalidInput(f"A capacity of {self.capacity} rolls can't be ticked off. Give 0 to {MOST_ROLLS}.")
        if not 0 <= self.done <= self.capacity:
            raise InvalidInput(f"{self.done} of {self.capacity} boxes can't be ticked already. Give 0 to {self.capacity}.")


def slip_size(slot: Size) -> Size:
    """A slip for a slot of this length (`width`) and width (`height`); raises `DoesNotFit` where text has no room."""
    length, width = min(SLIP_LENGTH_MM, slot.width - 2 * PLAY_MM), slot.height - PLAY_MM
    if length < 40 or width < 12:
        raise DoesNotFit(
            f"A slip of {length:g} × {width:g} mm is too small to read; at least 40 × 12 mm are needed. "
            "Lay a larger slip over the slot instead."
        )
    return Size(length, width)


def place_out_slip(slip: OutSlip, area: Rect, measure: Measure) -> list[Item]:
    """Roll and frames large; why, where to, since when and due back; its place; a line to write when it is back."""
    name = f"{slip.roll} / {slip.frames}"
    head = min(area.height * 0.32, 10.0)
    word, word_size = "OUT", min(head / PITCH, 6.0)
    wide = measure(word, word_size, True) + 3
    number = number_lines(name, Rect(area.x, area.y, area.width - wide, head), measure, 7.0)
    items: list[Item] = [*number, Text(area.right, area.y + 0.98 * word_size, word_size, word, True, "right")]
    top = area.y + max(height_of(number, area.y), word_size * PITCH)
    foot = 1.6 * PITCH
    back = area.bottom - foot - 1.2
    since, due = date_words(slip.out_since), date_words(slip.due)
    facts = [
        f"due back {due}" if due else "",
        f"to {slip.gone_to}" if slip.gone_to else "",
        f"for {slip.why}" if slip.why else "",
        f"out since {since}" if since else "",
        f"belongs in {slip.address}" if slip.address else "",
    ]
    line_room = 4.6 if area.height >= 20 else 3.2
    items += flowed(facts, Rect(area.x, top, area.width, back - line_room - top), measure, 3.6, 1.5)
    label, size = "back on", 2.4
    at = area.x + measure(label, size, False) + 1.5
    items += [Text(area.x, back, size, label), Line(at, back + 0.3, area.x + area.width * 0.7, back + 0.3, 0.15)]
    shown, fits = fitted(f"{slip.archive} · printed {slip.printed_on.isoformat()}", area.width, 1.6, 1.4, measure)
    items.append(Text(area.x, area.bottom - 0.4, fits, shown, grey=0.25))
    return items


def plan_out_slips(slips: Sequence[OutSlip], slot: Size, measure: Measure, *, paper: Paper) -> tuple[Sheet, ...]:
    """Slips for slots of this size on plain paper, with lines to cut along; raises as `slip_size` does."""
    if not slips:
        raise InvalidInput("No strip that is out was chosen, so there is no slip to print. Choose at least one strip.")
    size = slip_size(slot)
    use = StockUse(plain_stock(paper, size.width, size.height), cut="lines")
    fills = [lambda area, slip=slip: place_out_slip(slip, area, measure) for slip in slips]
    what = f"{counted(len(slips), 'slip')} for strips that are out"
    return plan_label_sheets(fills, use, SheetCaption(what, slips[0].archive, slips[0].printed_on), measure)


@dataclass(frozen=True)
class _Boxes:
    """Boxes to tick in groups of five: their side, how many groups go on a row, and the height of all rows."""

    side: float
    groups: int
    rows: int

    @property
    def height(self) -> float:
        return self.rows * self.side * 1.2 + 0.6


def _boxes(count: int, width: float, height: float) -> _Boxes | None:
    """The largest boxes that show so many; None where even the smallest don't."""
    for step in range(25):
        side = LARGEST_BOX_MM - step * (LARGEST_BOX_MM - SMALLEST_BOX_MM) / 24
        groups = int((width + 0.6 * side + 1e-6) / (5.6 * side))
        if groups:
            found = _Boxes(side, groups, -(-count // (5 * groups)))
            if found.height <= height + 1e-6:
                return found
    return None


def place_bottle_tag(tag: BottleTag, area: Rect, measure: Measure) -> list[Item]:
    """Name large, what it is, dates, a box a roll to tick, discard date, caution; the hole at the left or, if upright, on top.

    Raises `DoesNotFit` where the boxes have no room.
    """
    lying = area.width >= area.height
    room = area
    if lying:
        items = hole_mark(area.x + _HOLE_MM / 2, area.y + area.height / 2, _HOLE_MM)
        room = Rect(area.x + _HOLE_MM + 2, area.y, area.width - _HOLE_MM - 2, area.height)
    else:
        items = hole_mark(area.x + area.width / 2, area.y + _HOLE_MM / 2, _HOLE_MM)
        room = Rect(area.x, area.y + _HOLE_MM + 2, area.width, area.height - _HOLE_MM - 2)
    foot, wide = 2 * 1.6 * PITCH, room.width
    if tag.link and (side := code_side(tag.link, min(room.height, 0.28 * room.width))):
        items.append(Code(Rect(room.right - side, room.y, side, side), tag.link))
        room = Rect(room.x, room.y, room.width - side - 1.5, room.height)
        wide = wide if side <= room.height - foot else room.width
    facts_least = 2 * 1.7 * PITCH
    name = number_lines(tag.name, Rect(room.x, room.y, room.width, min(room.height * 0.26, 11.0)), measure, 8.0)
    top = room.y + height_of(name, room.y)
    items += name
    boxes = None
    if tag.capacity:
        left = room.bottom - foot - top - facts_least - 3.4
        boxes = _boxes(tag.capacity, room.width, min(left, room.height * 0.5))
        if boxes is None:
            raise DoesNotFit(
                f"{tag.capacity} boxes to tick, each at least {SMALLEST_BOX_MM:g} mm, don't fit on a tag with "
                f"{room.width:.0f} × {max(0.0, left):.0f} mm left for them. Take a larger tag or fewer rolls."
            )
    below = room.bottom - foot - (boxes.height + 3.2 if boxes else 0.0)
    discard, mixed, opened = (date_words(d) for d in (tag.discard_after, tag.mixed_on, tag.opened_on))
    blank = "________"
    facts = [tag.what, f"discard after {discard or blank}", f"mixed {mixed or blank}", f"opened {opened or blank}"]
    items += flowed(facts, Rect(room.x, top, room.width, below - top), measure, 3.4, 1.6)
    if boxes is not None:
        words = f"{counted(tag.capacity, 'roll')}: tick one for each 135-36 or 120"
        shown, size = fitted(words, room.width, 1.9, 1.4, measure)
        items.append(Text(room.x, below + 2.4, size, shown))
        items += _box_items(tag.capacity, boxes, room.x, below + 3.2, tag.done)
    for n, text in enumerate((CAUTION, f"{tag.archive} · printed {tag.printed_on.isoformat()}")):
        shown, size = fitted(text, wide, 1.6, 1.4, measure)
        items.append(Text(room.x, room.bottom - 0.4 - (1 - n) * 1.6 * PITCH, size, shown, grey=0.25 * n))
    return items


def _box_items(count: int, boxes: _Boxes, left: float, top: float, done: int) -> list[Item]:
    items: list[Item] = []
    side = boxes.side
    for n in range(count):
        row, at = divmod(n, 5 * boxes.groups)
        group, place = divmod(at, 5)
        rect = Rect(left + group * 5.6 * side + place * side, top + row * 1.2 * side, side, side)
        items.append(Box(rect, 0.15))
        if n < done:
            inner = rect.inset(side * 0.2)
            items.append(Line(inner.x, inner.y, inner.right, inner.bottom, 0.35))
            items.append(Line(inner.x, inner.bottom, inner.right, inner.y, 0.35))
        if (n + 1) % 5 == 0:
            size = side * 0.42
            items.append(Text(rect.x + side / 2, rect.y + side * 0.65, size, str(n + 1), grey=0.55, align="middle"))
    return items


def plan_bottle_tags(tags: Sequence[BottleTag], use: StockUse, measure: Measure) -> tuple[Sheet, ...]:
    """Bottle tags on a stock; `plain_stock` with cut lines gives tags of any size on plain paper."""
    if not tags:
        raise InvalidInput("No bottle was chosen, so there is no tag to print. Choose at least one bottle.")
    fills = [lambda area, tag=tag: place_bottle_tag(tag, area, measure) for tag in tags]
    caption = SheetCaption(counted(len(tags), "bottle tag"), tags[0].archive, tags[0].printed_on)
    return plan_label_sheets(fills, use, caption, measure)
