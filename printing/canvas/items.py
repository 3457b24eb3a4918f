"""What a layout places on a sheet: items in mm, origin at the top left, y downwards."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from catalogue.sleeves.geometry import Rect
from catalogue.sleeves.page_plan import PictureToMake

Measure = Callable[[str, float, bool], float]
"""Width in mm of a text at a type size in mm, bold or not."""


@dataclass(frozen=True)
class Text:
    """A line of text; x at the left (or right, or middle) end, y at the baseline; size in mm.

    `turn` is in quarters, clockwise about (x, y).
    """

    x: float
    y: float
    size: float
    text: str
    bold: bool = False
    align: str = "left"
    grey: float = 0.0
    turn: int = 0


@dataclass(frozen=True)
class Line:
    """A line of this width in mm."""

    x1: float
    y1: float
    x2: float
    y2: float
    width: float = 0.2
    grey: float = 0.0
    dashed: bool = False


@dataclass(frozen=True)
class Box:
    """An outlined rectangle; the outline lies centred on the edge."""

    rect: Rect
    width: float = 0.15
    grey: float = 0.0
    dashed: bool = False


@dataclass(frozen=True)
class Picture:
    """A picture filling a rectangle, cropped where the shapes differ; opacity 0 to 1, below 1 to be drawn over.

    `path` is a JPEG file's, or what makes the file when the sheet is painted.
    """

    rect: Rect
    path: str | PictureToMake
    rotated: bool = False
    mirrored: bool = False
    opacity: float = 1.0


@dataclass(frozen=True)
class Code:
    """A QR code filling a square, its quiet zone of four modules inside."""

    rect: Rect
    text: str


@dataclass(frozen=True)
class Mark:
    """A place that `Jump` leads to, at this height; with a title it stands in the outline, level 0 outermost."""

    name: str
    title: str = ""
    level: int = 0
    y: float = 0.0


@dataclass(frozen=True)
class Jump:
    """A rectangle that leads to the `Mark` of this name; nothing of it shows on paper."""

    rect: Rect
    name: str


Item = Text | Line | Box | Picture | Code | Mark | Jump


@dataclass(frozen=True)
class Sheet:
    """One sheet of paper and what is on it."""

    width_mm: float
    height_mm: float
    items: tuple[Item, ...]


def moved(item: Item, dx: float, dy: float) -> Item:
    """The same item shifted."""
    if isinstance(item, Text):
        return replace(item, x=item.x + dx, y=item.y + dy)
    if isinstance(item, Line):
        return replace(item, x1=item.x1 + dx, x2=item.x2 + dx, y1=item.y1 + dy, y2=item.y2 + dy)
    if isinstance(item, Mark):
        return replace(item, y=item.y + dy)
    return replace(item, rect=item.rect.moved(dx, dy))


def joined(*texts: str) -> str:
    """The texts there are, with dots between."""
    return " · ".join(text for text in texts if text)


def counted(number: int, thing: str) -> str:
    """A number and its thing: "1 roll", "3 rolls"."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


RULER_MM = 1.6
"""How high a ruler's highest ticks are."""


def ruler(x: float, y: float, length: int = 100) -> list[Item]:
    """A line of so many mm with a tick every 10 mm above it, higher at every 50; y is the line."""
    items: list[Item] = [Line(x, y, x + length, y, 0.2)]
    items += [Line(x + at, y, x + at, y - (RULER_MM if at % 50 == 0 else 0.9), 0.15) for at in range(0, length + 1, 10)]
    return items


def fitted(text: str, width: float, size: float, smallest: float, measure: Measure, bold: bool = False) -> tuple[str, float]:
    """The text and size that fit the width: shrunk first, then shortened with an ellipsis."""
    natural = measure(text, 1.0, bold)
    if natural * size <= width:
        return text, size
    if natural * smallest <= width:
        return text, width / natural * 0.999
    while text and measure(text + "…", smallest, bold) > width:
        text = text[:-1].rstrip()
    return (text + "…" if text else "…"), smallest


def first_fitting(
    texts: Sequence[str], width: float, size: float, smallest: float, measure: Measure, bold: bool = False
) -> tuple[str, float]:
    """The first of these texts, fullest first, that fits without being cut; the last one is cut where none does."""
    for text in texts[:-1]:
        if measure(text, smallest, bold) <= width:
            return fitted(text, width, size, smallest, measure, bold)
    return fitted(texts[-1], width, size, smallest, measure, bold)


def place_words(binder: str, page: int, archive: str, ends: str) -> list[str]:
    """Where a sheet belongs, fullest first; long names are shortened before the date, count and scale in `ends`."""

    def short(name: str, most: int) -> str:
        return name if len(name) <= most else name[: most - 1].rstrip() + "…"

    return [f"{short(binder, most)}, page {page} · {short(archive, most)} · {ends}" for most in (200, 60, 40, 24, 12)]
