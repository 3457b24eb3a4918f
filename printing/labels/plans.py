"""Roll labels, numbered stickers for cassettes and binder spines: each a plan inside a given rectangle, in mm."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date

from catalogue.errors import InvalidInput
from catalogue.film.dates import date_words
from catalogue.paper.label_sheets import StockUse, plain_stock
from catalogue.paper.sizes import Paper
from catalogue.sleeves.geometry import Rect, Size
from catalogue.views import RollSummary
from printing.canvas.items import Code, Item, Line, Measure, Sheet, Text, counted, first_fitting, fitted
from printing.labels.filled_sheets import SheetCaption, plan_label_sheets
from printing.labels.text import code_side, flowed, flowed_first, height_of, number_lines

WAITING = {"": "", "develop": "to be developed", "cut": "to be cut"}
"""What a roll in a can or on a hook still waits for, as the label says it."""
MOST_COPIES = 100
SPINE_MM = ((8.0, 80.0), (120.0, 280.0))
"""Least and most width, then height, of a spine: a thin binder to a wide box, up to A4's height less what paper needs."""


@dataclass(frozen=True)
class RollLabel:
    """What a roll's label says; `link` leads to the roll and is printed as a QR code where there is room for one."""

    roll: RollSummary
    archive: str
    printed_on: date
    link: str = ""
    waiting: str = ""

    def __post_init__(self) -> None:
        if not self.roll.number.strip():
            raise InvalidInput("A roll label needs the roll's number.")
        if self.waiting not in WAITING:
            raise InvalidInput(f"“{self.waiting[:20]}” is nothing a roll waits for here. Choose “develop”, “cut” or nothing.")


@dataclass(frozen=True)
class BinderSpine:
    """What stands on a binder's back: its name, the range it holds (roll numbers), their dates (EDTF) and the pages."""

    binder: str
    archive: str
    printed_on: date
    first_roll: str = ""
    last_roll: str = ""
    first_date: str = ""
    last_date: str = ""
    pages: int = 0

    def __post_init__(self) -> None:
        if not self.binder.strip():
            raise InvalidInput("A binder's spine needs the binder's name.")
        if self.pages < 0:
            raise InvalidInput(f"A binder can't hold {self.pages} pages.")

    @property
    def rolls(self) -> str:
        """The range of rolls in words."""
        return _range(self.first_roll, self.last_roll)

    @property
    def dates(self) -> str:
        """The range of dates in words."""
        return _range(date_words(self.first_date), date_words(self.last_date))


def _range(first: str, last: str) -> str:
    ends = [t for t in dict.fromkeys((first, last)) if t]
    return " – ".join(ends)


def place_roll_label(label: RollLabel, area: Rect, measure: Measure) -> list[Item]:
    """The number large, then what the roll waits for, dates, stock and format, frames, camera, subject; QR at the right."""
    roll = label.roll
    items: list[Item] = []
    side = code_side(label.link, min(area.height, area.width - 22.0))
    room = area
    if side:
        items.append(Code(Rect(area.right - side, area.y + (area.height - side) / 2, side, side), label.link))
        room = Rect(area.x, area.y, area.width - side - 1.0, area.height)
    number = number_lines(roll.number, Rect(room.x, room.y, room.width, room.height * 0.45), measure, 9.0)
    items += number
    top = room.y + height_of(number, room.y)
    foot = 1.7 * 1.3 if room.height >= 14 else 0.0
    frames = f"frames {roll.frame_range}" if roll.frame_range else ""
    exposed, processed = date_words(roll.exposed), date_words(roll.processed)
    least = [WAITING[label.waiting], f"exposed {exposed}" if exposed else "", frames, roll.stock]
    film = [*least, roll.format_name, roll.process]
    developed = f"developed {processed}" if processed else ""
    full = [*film[:2], developed, *film[2:], roll.subject, roll.place, roll.camera]
    choices = [full, [*film[:2], developed, *film[2:], roll.subject], [*film, roll.subject], film, least]
    items += flowed_first(choices, Rect(room.x, top, room.width, room.bottom - foot - top), measure, 3.2, 1.6)
    if foot:
        when = label.printed_on.isoformat()
        shown, size = first_fitting([f"{label.archive} · printed {when}", f"printed {when}", when], room.width, 1.7, 1.4, measure)
        items.append(Text(room.x, room.bottom - 0.4, size, shown, grey=0.25))
    return items


def plan_roll_labels(labels: Sequence[RollLabel], use: StockUse, measure: Measure) -> tuple[Sheet, ...]:
    """Roll labels on sheets of a stock; raises `InvalidInput` where there are none."""
    if not labels:
        raise InvalidInput("No roll was chosen, so there is no label to print. Choose at least one roll.")
    fills = [lambda area, label=label: place_roll_label(label, area, measure) for label in labels]
    caption = SheetCaption(counted(len(labels), "roll label"), labels[0].archive, labels[0].printed_on)
    return plan_label_sheets(fills, use, caption, measure)


def place_sticker(number: str, area: Rect, measure: Measure) -> list[Item]:
    """A number ahead of its roll, as large as the sticker takes, and where it is high enough a line to write on."""
    line = area.height >= 16.0
    side = area.width * 0.02
    room = Rect(area.x + side, area.y, area.width - 2 * side, area.height - (6.0 if line else 0.0))
    items = number_lines(number, room, measure, 16.0, middle=True)
    if line:
        items.append(Line(area.x, area.bottom - 2.6, area.right, area.bottom - 2.6, 0.1, 0.4))
        shown, size = fitted("film, speed, dates", area.width, 1.6, 1.4, measure)
        items.append(Text(area.x, area.bottom - 0.5, size, shown, grey=0.3))
    return items


def plan_stickers(
    numbers: Sequence[str], use: StockUse, *, archive: str, printed_on: date, measure: Measure, copies: int = 1
) -> tuple[Sheet, ...]:
    """Stickers of these numbers, the copies of one number side by side; raises `InvalidInput` with what is wrong."""
    if not numbers:
        raise InvalidInput("No roll number was given, so there is no sticker to print. Ask for at least one.")
    if not 1 <= copies <= MOST_COPIES:
        raise InvalidInput(f"{copies} copies of each number can't be printed. Choose 1 to {MOST_COPIES}.")
    if any(not n.strip() for n in numbers):
        raise InvalidInput("One of the roll numbers is empty. Leave it out or write it.")
    twice = next((n for k, n in enumerate(numbers) if n in numbers[:k]), None)
    if twice is not None:
        raise InvalidInput(f"The number {twice} is given twice. A roll number is issued once; ask for copies instead.")
    fills = [lambda area, n=number: place_sticker(n, area, measure) for number in numbers for _ in range(copies)]
    each = f" × {copies}" if copies > 1 else ""
    what = f"Numbers for cassettes, {_range(numbers[0], numbers[-1])}{each}"
    return plan_label_sheets(fills, use, SheetCaption(what, archive, printed_on), measure)


def place_spine(spine: BinderSpine, area: Rect, measure: Measure) -> list[Item]:
    """The spine read turned clockwise by 90°, head to the right.

    The binder's name is large; beside or below it the rolls, dates and pages it holds, as the width allows.
    """
    flat = Rect(0, 0, area.height, area.width)  # as read, lying
    pages = counted(spine.pages, "page") if spine.pages else ""
    holds = [t for t in (f"rolls {spine.rolls}" if spine.rolls else "", spine.dates, pages) if t]
    made = f"{spine.archive} · printed {spine.printed_on.isoformat()}"
    items: list[Item] = []
    if flat.height >= 16:  # two lines: the name, and below it what it holds
        name = number_lines(spine.binder, Rect(0, 0, flat.width, flat.height * 0.55), measure, 22.0)
        top = height_of(name, 0)
        foot = min(2.4, flat.height * 0.09)
        items += name
        items += flowed(holds, Rect(0, top, flat.width, flat.height - top - foot * 1.3), measure, 9.0, 1.8)
        shown, size = fitted(made, flat.width, foot, 1.4, measure)
        items.append(Text(0, flat.height - 0.35 * foot, size, shown, grey=0.25))
    else:  # one line: the name at the head, the rest behind it
        name = number_lines(spine.binder, Rect(0, 0, flat.width * 0.5, flat.height), measure, 11.0, middle=True)
        lines = [replace(t, x=0.0, align="left") for t in name if isinstance(t, Text)]
        end = max(measure(t.text, t.size, True) for t in lines) + 5
        items += [*lines, *flowed([*holds, made], Rect(end, 0, flat.width - end, flat.height), measure, 4.0, 1.4)]
    return turned(items, area)


def turned(items: Iterable[Item], area: Rect) -> list[Item]:
    """Text laid out lying from (0, 0) as it comes to stand in `area`, turned clockwise by a quarter."""
    standing: list[Item] = []
    for item in items:
        if not isinstance(item, Text):
            raise InvalidInput("Only text can be turned.")
        standing.append(replace(item, x=area.right - item.y, y=area.y + item.x, turn=1))
    return standing


def plan_spines(spines: Sequence[BinderSpine], size: Size, measure: Measure, *, paper: Paper) -> tuple[Sheet, ...]:
    """Spines of this size side by side on plain paper with lines to cut along.

    Raises `InvalidInput` for a size that is no spine, `DoesNotFit` where the paper is too small for it.
    """
    if not spines:
        raise InvalidInput("No binder was chosen, so there is no spine to print. Choose at least one binder.")
    (narrow, wide), (low, high) = SPINE_MM
    if not (narrow <= size.width <= wide and low <= size.height <= high):
        raise InvalidInput(
            f"A spine of {size.width:g} × {size.height:g} mm can't be printed: the width is {narrow:g} to {wide:g} mm and "
            f"the height {low:g} to {high:g} mm."
        )
    use = StockUse(plain_stock(paper, size.width, size.height), cut="lines")
    fills = [lambda area, spine=spine: place_spine(spine, area, measure) for spine in spines]
    caption = SheetCaption(counted(len(spines), "binder spine"), spines[0].archive, spines[0].printed_on)
    return plan_label_sheets(fills, use, caption, measure)
