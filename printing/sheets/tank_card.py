"""The tank card: what is done at the sink, on paper and in very large type, with boxes to tick.

Pure layout, A4 portrait by default, as many sheets as it takes. It prints what
is recorded and nothing else: a time or temperature not recorded is a line to
write on. Black on white without greys, for wet hands and poor light.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from catalogue.errors import InvalidInput
from catalogue.paper.sizes import PAPERS, Paper
from catalogue.sleeves.geometry import Rect
from printing.canvas.items import Box, Code, Item, Line, Mark, Measure, Sheet, Text, first_fitting, fitted, moved

HEAD_MM = 18.0
"""Height of a card's head: three lines, and a QR code where there is a link."""
POINT_MM = 25.4 / 72
STEP_MM = 26 * POINT_MM
"""Type size of the steps, 26 point: read at arm's length."""
_PITCH = STEP_MM * 1.16
_TICK = 8.6
_FOOT = 20.0
CAUTIONS = (
    "Gloves, eye protection, fresh air.",
    "The maker's data sheet and the local disposal rules come first.",
)


@dataclass(frozen=True)
class TankStep:
    """One step at the sink, as recorded; `seconds` 1 to 86 400 or None.

    Temperature and volume are worded in the person's units already ("20 °C",
    "68 °F", "600 ml"). Empty texts print nothing; no time and no temperature
    print a line to write on. Raises `InvalidInput` for a time out of range and
    texts too long to be read at the sink.
    """

    name: str
    seconds: int | None = None
    temperature: str = ""
    agitation: str = ""
    volume: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        if not self.name.strip():
            raise InvalidInput("A step at the sink needs a name, such as developer, stop or wash.")
        if self.seconds is not None and not 0 < self.seconds <= 86_400:
            raise InvalidInput(f"{self.name[:40]}: {self.seconds} s is out of range. Give 1 second to 24 hours.")
        for what, text, most in (
            ("name", self.name, 60),
            ("temperature", self.temperature, 20),
            ("volume", self.volume, 30),
            ("agitation", self.agitation, 120),
            ("note", self.note, 120),
        ):
            if len(text) > most:
                raise InvalidInput(
                    f"{self.name[:40]}: the {what} is {len(text)} characters long; in type read at arm's length "
                    f"{most} have room. Shorten it."
                )

    @property
    def time_words(self) -> str:
        """Minutes and seconds, "3:15"; empty where no time is recorded."""
        return "" if self.seconds is None else f"{self.seconds // 60}:{self.seconds % 60:02d}"


@dataclass(frozen=True)
class TankReel:
    """A reel in the tank: the numbers of the rolls on it (none: an empty reel) and what film they are."""

    rolls: tuple[str, ...]
    film: str = ""


@dataclass(frozen=True)
class TankWork:
    """One tank's work as recorded: `reels` from the bottom up, `steps` in order. Refuses one without steps."""

    archive_name: str
    steps: tuple[TankStep, ...]
    reels: tuple[TankReel, ...] = ()
    title: str = ""
    """The process as recorded, such as "C-41"."""
    tank: str = ""
    cautions: tuple[str, ...] = ()
    """Sentences printed below the steps, beside those that every card has at its foot."""

    def __post_init__(self) -> None:
        if not 1 <= len(self.steps) <= 40:
            raise InvalidInput(f"A tank card has 1 to 40 steps, not {len(self.steps)}. Record the steps first.")
        if len(self.reels) > 20:
            raise InvalidInput(f"{len(self.reels)} reels in one tank are more than 20. Make a card for each tank.")


def roll_words(number: str) -> list[str]:
    """A roll number, fullest first; of a long one the end is kept, which tells rolls apart."""
    return [number, *(f"…{number[-kept:]}" for kept in (24, 16, 9) if len(number) > kept + 3)]


def wrapped(text: str, width: float, size: float, measure: Measure, bold: bool = False) -> list[str]:
    """The text in lines that fit the width, broken between words and, where a word is too long, inside it."""
    lines: list[str] = []
    line = ""
    for word in re.split(r"[ \t\r\n]+", text.strip(" \t\r\n")):  # a no-break space keeps a figure with its unit
        if line and measure(f"{line} {word}", size, bold) <= width:
            line = f"{line} {word}"
            continue
        if line:
            lines.append(line)
        line = ""
        for char in word:
            if line and measure(line + char, size, bold) > width:
                lines.append(line)
                line = ""
            line += char
    return [*lines, line] if line else lines


def card_head(
    area: Rect, titles: Sequence[str], facts: Sequence[str], where: Sequence[str], measure: Measure, link: str = ""
) -> list[Item]:
    """What a card is, its facts, and where it belongs and when it was printed; texts fullest first, never lost."""
    items: list[Item] = []
    room = area.width
    if link:
        side = area.height - 1.5
        items.append(Code(Rect(area.right - side, area.y, side, side), link))
        room -= side + 2
    for texts, baseline, largest, bold in ((titles, 5.2, 6.2, True), (facts, 10.4, 3.6, False), (where, 15.0, 3.0, False)):
        if texts and texts[0]:
            text, size = first_fitting(texts, room, largest, max(1.9, largest * 0.6), measure, bold)
            items.append(Text(area.x, area.y + baseline, size, text, bold))
    return items


def plan_tank_card(
    work: TankWork, *, printed_on: date, measure: Measure, paper: Paper = PAPERS["A4"], link: str = ""
) -> tuple[Sheet, ...]:
    """The card's sheets, portrait. A step is never divided between two of them."""
    width, height = paper.turned(False)
    m = paper.margin_mm
    inner = Rect(m, m, width - 2 * m, height - 2 * m)
    blocks = [_reels(work, inner.width, measure)] if work.reels else []
    blocks += [_step(n, step, inner.width, measure) for n, step in enumerate(work.steps, 1)]
    blocks += [_cautions(work.cautions, inner.width, measure)] if work.cautions else []
    # Reels that don't fit below one another go on line by line, so that twenty still find room.
    pieces = [piece for block in blocks for piece in ([block] if block[0] <= 100 else _lines_apart(block))]
    top, floor = inner.y + HEAD_MM, inner.bottom - _FOOT
    pages: list[list[Item]] = [[]]
    y = top
    for tall, items in pieces:
        if y + tall > floor and pages[-1]:
            pages.append([])
            y = top
        pages[-1] += [moved(item, inner.x, y) for item in items]
        y += tall
    names = [name for reel in work.reels for name in reel.rolls]
    kinds = [f"Tank card: {work.title}" if work.title else "Tank card", "Tank card"]
    rolls = [", ".join(names)] + ([f"{len(names)} rolls: {names[0]} … {names[-1]}", f"{len(names)} rolls"] if names else [])
    facts = [" · ".join(t for t in (work.tank, text) if t) for text in rolls]
    sheets = []
    for number, items in enumerate(pages, 1):
        ends = f"printed {printed_on.isoformat()} · sheet {number} of {len(pages)}"
        head = card_head(
            Rect(inner.x, inner.y, inner.width, HEAD_MM), kinds, facts, [f"{work.archive_name} · {ends}", ends], measure, link
        )
        sheets.append(Sheet(width, height, (*head, *items, *_foot(inner, measure))))
    return tuple(sheets)


_Block = tuple[float, list[Item]]
"""Height in mm, and items from its own top left corner."""


def _foot(inner: Rect, measure: Measure) -> list[Item]:
    box = Rect(inner.x + 0.3, inner.bottom - _FOOT + 3, inner.width - 0.6, _FOOT - 3.3)
    items: list[Item] = [Box(box, 0.6)]
    for n, words in enumerate(CAUTIONS):
        text, size = fitted(words, box.width - 6, 5.4, 2.5, measure, True)
        items.append(Text(box.x + 3, box.y + 6.9 + 7 * n, size, text, True))
    return items


def _step(number: int, step: TankStep, width: float, measure: Measure) -> _Block:
    """Box, name and time; then temperature and volume; then agitation and note, all in the large type."""
    left = _TICK + 4
    time = step.time_words
    time_room = measure(time, STEP_MM, True) if time else 42.0
    items: list[Item] = [Line(0, 1.2, width, 1.2, 0.5), Box(Rect(0.4, 3.2, _TICK, _TICK), 0.6)]
    y = 3.2 + STEP_MM * 0.85
    names = wrapped(f"{number}  {step.name}", width - left - time_room - 4, STEP_MM, measure, True)
    if time:
        items.append(Text(width, y, STEP_MM, time, True, "right"))
    else:
        items += [Line(width - time_room, y, width, y, 0.3), Text(width, y + 5.2, 5.0, "minutes : seconds", align="right")]
    for line in names:
        items.append(Text(left, y, STEP_MM, line, True))
        y += _PITCH
    if step.temperature:
        for line in wrapped(" · ".join(t for t in (step.temperature, step.volume) if t), width - left, STEP_MM, measure):
            items.append(Text(left, y, STEP_MM, line))
            y += _PITCH
    else:
        items += [Line(left, y, left + 26, y, 0.3), Text(left + 27.5, y, 5.0, "temperature")]
        y += _PITCH
        for line in wrapped(step.volume, width - left, STEP_MM, measure):
            items.append(Text(left, y, STEP_MM, line))
            y += _PITCH
    for text in (step.agitation, step.note):
        for line in wrapped(text, width - left, STEP_MM, measure):
            items.append(Text(left, y, STEP_MM, line))
            y += _PITCH
    return y - STEP_MM * 0.85 + 1.2, items


def _cautions(sentences: Sequence[str], width: float, measure: Measure) -> _Block:
    """The cautions in reading type, for before the work begins; small beside the steps, as they are read with dry hands."""
    size, pitch = 3.4, 4.6
    y = 3.2 + size
    items: list[Item] = [Line(0, 1.2, width, 1.2, 0.5), Text(0, y, size, "Before you begin", True)]
    for sentence in sentences:
        for n, line in enumerate(wrapped(sentence, width - 5, size, measure)):
            y += pitch
            if n == 0:
                items.append(Text(0, y, size, "–"))
            items.append(Text(5, y, size, line))
    return y + 2, items


def _reels(work: TankWork, width: float, measure: Measure) -> _Block:
    """The reels as they stand, the bottom one lowest, each with a box to tick and a line for the clip it dries on."""
    left, clip = _TICK + 4, 44.0
    items: list[Item] = []
    y = 2.0
    named = any(reel.film for reel in work.reels)
    for place in range(len(work.reels), 0, -1):
        reel = work.reels[place - 1]
        end = "bottom" if place == 1 else "top" if place == len(work.reels) else ""
        words = f"{place} {end}".strip()
        held = ", ".join(reel.rolls) or "empty reel"
        shorter = [", ".join(roll_words(r)[-1] for r in reel.rolls)] if reel.rolls else [held]
        base = y + STEP_MM * 0.85
        items.append(Box(Rect(0.4, y, _TICK, _TICK), 0.6))
        items.append(Text(left, base, STEP_MM, words, True))
        start = left + measure("8 bottom", STEP_MM, True) + 4
        text, size = first_fitting([held, *shorter], width - clip - start - 2, STEP_MM, STEP_MM * 0.5, measure, True)
        items.append(Text(start, base, size, text, True))
        items.append(Text(width - clip, base, 5.0, "clip"))
        items.append(Line(width - clip + 11, base, width, base, 0.3))
        y += _PITCH
        if reel.film:
            text, size = fitted(reel.film, width - start, 5.0, 3.0, measure)
            items.append(Text(start, y + 3.0, size, text))
        y += 6.0 if named else 0.0
    return y + 1.5, items


def _lines_apart(block: _Block) -> list[_Block]:
    """A tall block as one block for each of its boxes to tick."""
    tall, items = block
    tops = [item.rect.y for item in items if isinstance(item, Box)]
    found = []
    for top, end in zip(tops, [*tops[1:], tall], strict=True):
        inside = [item for item in items if top - 0.01 <= _base(item) < end - 0.01]
        found.append((end - top, [moved(item, 0, -top) for item in inside]))
    return found


def _base(item: Item) -> float:
    if isinstance(item, Text | Mark):
        return item.y
    return item.y1 if isinstance(item, Line) else item.rect.y
