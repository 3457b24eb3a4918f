"""The leaves of a book: text in lines, blocks down a leaf, a name and check letters on every leaf.

Pure layout, mm, origin top left. A leaf's check letters come from what is
printed on it, without the printing date and without its number in the whole,
so that a leaf whose letters are unchanged need not be printed again.
"""

import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from pathlib import PurePath

from catalogue.errors import InvalidInput
from catalogue.paper.sizes import Paper, find_paper
from catalogue.sleeves.geometry import Rect
from printing.canvas.items import Box, Code, Item, Jump, Line, Mark, Measure, Picture, Text, fitted, moved

TEXT_MM, LEADING = 2.9, 1.42
BOOK_PAPERS = ("A4", "Letter")
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
"""What check letters are made of: 32 signs, without I, O, 0 and 1, which a hand confuses."""


@dataclass(frozen=True)
class LeafShape:
    """The paper and the area for text on it, in mm; the left margin leaves room for punched holes."""

    width: float
    height: float
    body: Rect

    @classmethod
    def on(cls, paper: str | Paper) -> "LeafShape":
        """The shape on A4 or Letter; raises `InvalidInput` for any other paper.

        Holes lie 12 mm from the edge and measure 6 mm (ISO 838, from memory), so 20 mm are left free.
        """
        size = find_paper(paper)
        if size.key not in BOOK_PAPERS:
            raise InvalidInput(f"A book is printed on A4 or Letter, not on {size.name}. Choose one of the two.")
        body = Rect(20, 19, size.width_mm - 20 - 11, size.height_mm - 19 - 17)
        return cls(size.width_mm, size.height_mm, body)


@dataclass(frozen=True)
class Block:
    """Items that stay together, placed from their own top left corner; `keep` holds them to the next block.

    `holds` names what is found here ("2031-014/12"), so that an index can lead to the leaf.
    """

    height: float
    items: tuple[Item, ...] = ()
    keep: bool = False
    holds: tuple[str, ...] = ()


@dataclass(frozen=True)
class Leaf:
    """One side of paper without its number and printing date. `name` never changes while its matter is the same.

    `section` is set on the first leaf of a part of the book, `outline` where a leaf has an entry of its own.
    """

    name: str
    title: str
    items: tuple[Item, ...]
    checksum: str
    holds: tuple[str, ...] = ()
    section: str = ""
    outline: str = ""


def _canonical(item: Item) -> str:
    """What of an item shows on paper, to 0.01 mm; a picture by its file's name, wherever the archive lies."""
    if isinstance(item, Text):
        return f"T {item.x:.2f} {item.y:.2f} {item.size:.2f} {item.bold} {item.align} {item.grey:.2f} {item.text}"
    if isinstance(item, Line):
        return f"L {item.x1:.2f} {item.y1:.2f} {item.x2:.2f} {item.y2:.2f} {item.width:.2f} {item.grey:.2f} {item.dashed}"
    if isinstance(item, Mark | Jump):
        return ""
    r = item.rect
    place = f"{r.x:.2f} {r.y:.2f} {r.width:.2f} {r.height:.2f}"
    if isinstance(item, Picture):
        return f"P {place} {item.rotated} {item.mirrored} {PurePath(item.path).name}"
    if isinstance(item, Code):
        return f"C {place} {item.text}"
    return f"B {place} {item.width:.2f} {item.grey:.2f} {item.dashed}" if isinstance(item, Box) else f"? {place} {item!r}"


def check_letters(heads: Iterable[str], items: Iterable[Item]) -> str:
    """Six letters and figures from the SHA-256 of what is printed: 30 bits, enough to tell old leaves from new."""
    lines = [*heads, *(text for item in items if (text := _canonical(item)))]
    number = int.from_bytes(sha256("\n".join(lines).encode()).digest()[:4], "big")
    return "".join(LETTERS[number >> shift & 31] for shift in range(25, -1, -5))


def remembered(measure: Measure) -> Measure:
    """The same with the widths kept: in a book the same words come again and again, and a width takes long to add up."""
    known = lru_cache(maxsize=30_000)(measure)
    return lambda text, size, bold: known(text, 1.0, bold) * size


def _joins_back(char: str) -> bool:
    """Whether a line must not begin with this: a mark on the letter before it, or a joiner."""
    return unicodedata.category(char) in ("Mn", "Mc", "Me", "Cf")


def _broken(word: str, room: float, width: float, size: float, measure: Measure) -> list[str]:
    """A word longer than a line, in pieces; the first fits `room`."""
    pieces: list[str] = []
    piece = ""
    for char in word:
        limit = width if pieces else room
        if piece and not _joins_back(char) and measure(piece + char, size, False) > limit:
            pieces.append(piece)
            piece = char
        else:
            piece += char
    return [*pieces, piece]


def wrapped(text: str, width: float, size: float, measure: Measure, *, most: int | None = None) -> list[str]:
    """The text in lines that fit the width; words longer than a line (or scripts without spaces) break between characters.

    With `most`, the last of so many lines ends in "…" where the text goes on.
    """
    lines: list[str] = []
    space = measure(" ", size, False)
    for paragraph in text.split("\n"):
        line, filled = "", 0.0
        for word in paragraph.split():
            wide = measure(word, size, False)
            if line and filled + space + wide <= width:
                line, filled = f"{line} {word}", filled + space + wide
            elif wide <= width:
                lines += [line] if line else []
                line, filled = word, wide
            else:
                room = width - filled - space if line else width
                pieces = _broken(word, max(room, 0.0), width, size, measure)
                if line and measure(pieces[0], size, False) <= room:
                    pieces[0] = f"{line} {pieces[0]}"
                elif line:
                    lines.append(line)
                lines += pieces[:-1]
                line, filled = pieces[-1], measure(pieces[-1], size, False)
        lines += [line] if line else []
    if most is not None and len(lines) > most:
        rest = " ".join(lines[most - 1 :])
        lines = [*lines[: most - 1], fitted(rest, width, size, size, measure)[0]]
    return lines


def prose(text: str, width: float, measure: Measure, *, size: float = TEXT_MM, after: float = 1.6) -> list[Block]:
    """A paragraph, a block a line, so that it may go on over the leaf's end; one line never stands alone at its head."""
    lines = wrapped(text, width, size, measure)
    step = size * LEADING
    blocks = [Block(step, (Text(0, size, size, line),), keep=n == 0 and len(lines) > 1) for n, line in enumerate(lines)]
    return [*blocks, Block(after)] if blocks else []


def heading(text: str, width: float, measure: Measure, *, size: float = 3.7) -> Block:
    """A heading that stays with what follows; long ones wrap."""
    lines = wrapped(text, width * 0.96, size, measure, most=3)
    items = tuple(Text(0, 1.8 + size * (1 + LEADING * n), size, line, True) for n, line in enumerate(lines))
    return Block(1.8 + size * LEADING * len(lines) + 0.6, items, keep=True)


def row(
    cells: Sequence[tuple[float, float, str]],
    measure: Measure,
    *,
    size: float = TEXT_MM,
    bold_first: bool = False,
    grey: float = 0.0,
    jump: str = "",
    ruled: bool = True,
    most: int = 12,
) -> Block:
    """A line of a table; a cell is (x, width, text) and wraps, to `most` lines. `jump` makes the row lead somewhere."""
    step = size * LEADING
    items: list[Item] = []
    deepest = 1
    for n, (x, width, text) in enumerate(cells):
        bold = bold_first and n == 0
        lines = wrapped(text, width * (0.96 if bold else 1), size, measure, most=most)
        deepest = max(deepest, len(lines))
        items += [Text(x, size + 0.4 + step * k, size, line, bold, grey=grey) for k, line in enumerate(lines)]
    height = step * deepest + 0.9
    right = max(x + width for x, width, _ in cells)
    if ruled:
        items.append(Line(0, height - 0.1, right, height - 0.1, 0.08, 0.7))
    if jump:
        items.append(Jump(Rect(0, 0, right, height), jump))
    return Block(height, tuple(items))


def flow(
    name: str,
    title: str,
    blocks: Sequence[Block],
    shape: LeafShape,
    measure: Measure,
    *,
    heads: Sequence[str] = (),
    section: str = "",
    outline: str = "",
    repeat: Block | None = None,
) -> list[Leaf]:
    """Fills leaves from top to bottom; `repeat` (the head of a table) comes again on every leaf.

    Leaves are named "name, 1", "name, 2"; `heads` are the archive and binder, part of the check letters.
    """
    body = shape.body
    leaves: list[Leaf] = []
    items: list[Item] = []
    holds: list[str] = []
    y = start = 0.0

    def begin() -> None:
        nonlocal y, start
        size = 5.2
        shown, fits = fitted(title if not leaves else f"{title} (goes on)", body.width * 0.96, size, size * 0.6, measure, True)
        items.append(Text(body.x, body.y + size, fits, shown, True))
        items.append(Line(body.x, body.y + size + 2.2, body.right, body.y + size + 2.2, 0.3))
        y = body.y + size + 4.4
        if repeat is not None:
            put(repeat)
        start = y

    def put(block: Block) -> None:
        nonlocal y
        items.extend(moved(item, body.x, y) for item in block.items)
        holds.extend(block.holds)
        y += block.height

    def end() -> None:
        leaf_name = f"{name}, {len(leaves) + 1}"
        first = not leaves
        letters = check_letters([*heads, leaf_name, title], items)
        leaf = Leaf(leaf_name, title, tuple(items), letters, tuple(holds), section * first, outline * first)
        leaves.append(leaf)
        items.clear()
        holds.clear()

    begin()
    n = 0
    while n < len(blocks):
        group = [blocks[n]]
        while group[-1].keep and n + len(group) < len(blocks):
            group.append(blocks[n + len(group)])
        need = sum(block.height for block in group)
        only_space = not any(block.items for block in group)
        if y + need > body.bottom and y > start and not only_space:
            end()
            begin()
        for block in group:
            if y + block.height > body.bottom and y > start and block.items:  # a group longer than a leaf
                end()
                begin()
            put(block)
        n += len(group)
    end()
    return leaves
