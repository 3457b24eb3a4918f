"""Text on small labels: facts flowed over lines, numbers as large as they go, codes only where a telephone reads them."""

from collections.abc import Sequence

from catalogue.sleeves.geometry import TOLERANCE_MM, Rect
from printing.canvas.items import Item, Measure, Text, fitted

PITCH = 1.3
"""From line to line, in type sizes: accents and tails of any script keep clear of one another."""
BASELINE = 0.98
"""From the top of a line to its baseline, in type sizes."""
CODE_MM, MODULE_MM = 12.0, 0.33
"""A QR code is at least this wide and its modules at least this large (common practice, no published source)."""
_BYTES = (14, 26, 42, 62, 84, 106, 122, 152, 180, 213)
"""Bytes that QR versions 1 to 10 hold at level M, ISO/IEC 18004 table 7, from memory."""


def code_side(text: str, room: float) -> float:
    """Side in mm of the QR code of this text within so much room, its quiet zone inside; 0 where it would be too small."""
    length = len(text.encode())
    version = next((v for v, most in enumerate(_BYTES, 1) if length <= most), 0)
    least = max(CODE_MM, MODULE_MM * (17 + 4 * version + 8))  # ISO/IEC 18004: 17 + 4 × version modules, 4 quiet each side
    return min(room, max(20.0, least)) if version and text and room >= least - TOLERANCE_MM else 0.0


def wrapped(
    parts: Sequence[str], width: float, measure: Measure, bold: bool = False, between: str = " · ", *, tight: bool = False
) -> list[str]:
    """The parts on lines of this width, in type sizes: a part goes whole on a line where it can, else by words.

    `tight` fills every line with words and breaks parts wherever that falls.
    """
    lines: list[str] = []
    line = ""

    def fits(text: str) -> bool:
        return measure(text, 1.0, bold) <= width

    for part in (p for p in parts if p.strip()):
        if line and fits(line + between + part):
            line += between + part
            continue
        if line and not tight and fits(part):
            lines.append(line)
            line = part
            continue
        glue = between
        for word in part.split():
            if line and fits(line + glue + word):
                line += glue + word
            else:
                if line:
                    lines.append(line)
                line = word
                while not fits(line):  # one word longer than the line: cut between letters
                    kept = next((n for n in range(len(line) - 1, 0, -1) if fits(line[:n])), 1)
                    if kept == len(line):
                        break
                    lines.append(line[:kept])
                    line = line[kept:]
            glue = " "
    return [*lines, line] if line else lines


def flowed(
    parts: Sequence[str], area: Rect, measure: Measure, largest: float, smallest: float, *, between: str = " · "
) -> list[Item]:
    """The parts, most important first, in the largest type that shows all; at the smallest the end is cut with an ellipsis."""
    if not any(p.strip() for p in parts) or area.width <= 0 or area.height <= 0:
        return []
    largest = min(largest, area.height / PITCH)
    smallest = min(smallest, largest)
    for step in range(9):
        size = largest * float((smallest / largest) ** (step / 8))
        lines = _whole(parts, area, size, measure, between)
        if lines is None:
            continue
        longest = area.width / max(measure(p, 1.0, False) for p in parts) * 0.999
        if max(smallest, 0.75 * size) <= longest < size:  # a little smaller, and no part is broken over two lines
            size = longest
            lines = _whole(parts, area, size, measure, between) or lines
        return _lines(lines, area, size)
    lines = wrapped(parts, area.width / smallest, measure, between=between, tight=True)
    most = max(1, int((area.height + TOLERANCE_MM) / (PITCH * smallest)))
    last, _ = fitted(" ".join(lines[most - 1 :]) + "…", area.width, smallest, smallest, measure)
    return _lines([*lines[: most - 1], last], area, smallest)


def flowed_first(choices: Sequence[Sequence[str]], area: Rect, measure: Measure, largest: float, smallest: float) -> list[Item]:
    """The first of these lists of parts, fullest first, that shows whole; the last one is cut where none does."""
    least = min(smallest, area.height / PITCH)
    for parts in choices[:-1]:
        if least > 0 and area.width > 0 and _whole(parts, area, least, measure, " · ") is not None:
            return flowed(parts, area, measure, largest, smallest)
    return flowed(choices[-1], area, measure, largest, smallest)


def _whole(parts: Sequence[str], area: Rect, size: float, measure: Measure, between: str) -> list[str] | None:
    """The lines that show all parts in type of this size, unbroken where they can be; None where the area is too low."""
    for tight in (False, True):
        lines = wrapped(parts, area.width / size, measure, between=between, tight=tight)
        if len(lines) * PITCH * size <= area.height + TOLERANCE_MM:
            return lines
    return None


def _lines(lines: Sequence[str], area: Rect, size: float, bold: bool = False) -> list[Item]:
    top = area.y + BASELINE * size
    return [Text(area.x, top + n * PITCH * size, size, text, bold) for n, text in enumerate(lines)]


def number_lines(number: str, area: Rect, measure: Measure, largest: float, *, middle: bool = False) -> list[Item]:
    """A number whole, as large as the area takes; a long one goes on several lines rather than being cut."""
    size = min(largest, area.height / PITCH, area.width / max(measure(number, 1.0, True), 1e-9) * 0.999)
    lines = [number]
    if size < 3.0:
        for smaller in (s / 10 for s in range(30, 9, -1)):
            broken = wrapped([number], area.width / smaller, measure, True)
            if smaller > size and len(broken) * PITCH * smaller <= area.height + TOLERANCE_MM:
                lines, size = broken, smaller
                break
    room = Rect(area.x, area.y + (area.height - len(lines) * PITCH * size) / 2, area.width, area.height) if middle else area
    placed = _lines(lines, room, size, True)
    if not middle:
        return placed
    centre = area.x + area.width / 2
    return [Text(centre, t.y, t.size, t.text, True, "middle") for t in placed if isinstance(t, Text)]


def height_of(items: Sequence[Item], top: float) -> float:
    """How far lines of text reach below `top`, in mm."""
    return max((i.y + (PITCH - BASELINE) * i.size - top for i in items if isinstance(i, Text)), default=0.0)
