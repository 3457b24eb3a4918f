"""Label sheets by measurement: where every label lies, how a print corrects the printer, what is printed safely.

No public standard fixes a label sheet. The built-in ones are generic grids by their measures (common practice, no
published source) centred on the sheet; a person adds an own one by measuring it. All in mm from the sheet's top left
corner, y downwards; label 1 is at the top left and counting goes across first.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from math import floor, isfinite
from types import MappingProxyType

from catalogue.errors import DoesNotFit, InvalidInput
from catalogue.paper.sizes import PAPERS, Paper
from catalogue.sleeves.geometry import TOLERANCE_MM, Rect

SAFE_MM = 1.5
"""Kept free of text inside a label's edge: labels are cut, and fed, with about this much play (common practice)."""
MOST_OFFSET_MM = 5.0
"""The largest correction of a printer, as much as the scales of the test sheet show; more is a sheet put in wrongly."""
SMALLEST_TEXT_MM = (15.0, 6.0)
"""The least room for text, along and across its lines, in which a roll number stays readable."""
BAND_MM = 3.5
"""Above and below labels on plain paper: a line that says what the sheet is, and the 100 mm rule."""
PIECES_APART_MM = 4.0
"""Between pieces that plain paper is cut into."""
CUTS = ("none", "marks", "lines")


@dataclass(frozen=True)
class LabelStock:
    """A kind of label sheet. `left_mm` and `top_mm` lead to label 1; gaps are between labels, not pitches.

    Raises `InvalidInput` with the numbers where the measures contradict one another.
    """

    key: str
    name: str
    paper: Paper
    columns: int
    rows: int
    width_mm: float
    height_mm: float
    gap_x_mm: float
    gap_y_mm: float
    left_mm: float
    top_mm: float

    def __post_init__(self) -> None:
        measures = (
            self.width_mm, self.height_mm, self.gap_x_mm, self.gap_y_mm, self.left_mm, self.top_mm,
            self.paper.width_mm, self.paper.height_mm,
        )  # fmt: skip
        named = self.name or "This label sheet"
        if not all(isfinite(m) for m in measures):
            raise InvalidInput(f"{named}: every measure must be a number of mm. Measure the sheet again.")
        if not (1 <= self.columns <= 20 and 1 <= self.rows <= 60):
            raise InvalidInput(
                f"{named}: {self.columns} labels across and {self.rows} down; 1 to 20 across and 1 to 60 down are possible."
            )
        if min(self.width_mm, self.height_mm) <= 0 or min(self.gap_x_mm, self.gap_y_mm) < 0:
            raise InvalidInput(
                f"{named}: a label of {self.width_mm:g} × {self.height_mm:g} mm with gaps of {self.gap_x_mm:g} and "
                f"{self.gap_y_mm:g} mm is impossible. Labels are above 0 mm and gaps 0 mm or more."
            )
        for along, count, size, gap, first, sheet in (
            ("across", self.columns, self.width_mm, self.gap_x_mm, self.left_mm, self.paper.width_mm),
            ("down", self.rows, self.height_mm, self.gap_y_mm, self.top_mm, self.paper.height_mm),
        ):
            taken = count * size + (count - 1) * gap
            if first < -TOLERANCE_MM or first + taken > sheet + TOLERANCE_MM:
                labels = f"{count} label{'s' if count > 1 else ''} of {size:g} mm with gaps of {gap:g} mm"
                raise InvalidInput(
                    f"{named}: {labels} take {taken:g} mm {along} and begin at {first:g} mm, but the sheet measures "
                    f"{sheet:g} mm {along}. Measure label, gap and edge again."
                )

    @property
    def count(self) -> int:
        """Labels on a sheet."""
        return self.columns * self.rows

    def label(self, number: int) -> Rect:
        """Label `number`, from 1, as the sheet measures; raises `DoesNotFit` for one that isn't there."""
        if not 1 <= number <= self.count:
            raise DoesNotFit(f"{self.name} has labels 1 to {self.count}, no label {number}.")
        row, column = divmod(number - 1, self.columns)
        return Rect(
            self.left_mm + column * (self.width_mm + self.gap_x_mm),
            self.top_mm + row * (self.height_mm + self.gap_y_mm),
            self.width_mm,
            self.height_mm,
        )

    @property
    def grid(self) -> Rect:
        """All labels and the gaps between them."""
        first, last = self.label(1), self.label(self.count)
        return Rect(first.x, first.y, last.right - first.x, last.bottom - first.y)


def own_stock(
    paper: Paper,
    columns: int,
    rows: int,
    width_mm: float,
    height_mm: float,
    gap_x_mm: float = 0.0,
    gap_y_mm: float = 0.0,
    left_mm: float | None = None,
    top_mm: float | None = None,
    *,
    key: str = "own",
    name: str = "",
) -> LabelStock:
    """A sheet by its measures; without a left or top edge the labels lie in the middle of the sheet.

    The edge is (sheet - labels - gaps) / 2, plain arithmetic. Raises `InvalidInput` with what is missing.
    """
    named = name or f"{paper.name}, {columns} × {rows} labels of {width_mm:g} × {height_mm:g} mm"

    def edge(given: float | None, sheet: float, count: int, size: float, gap: float, along: str) -> float:
        if given is not None:
            return given
        taken = count * size + (count - 1) * gap
        if taken > sheet + TOLERANCE_MM:
            raise InvalidInput(
                f"{named}: they take {taken:g} mm {along} and the sheet measures {sheet:g} mm, {taken - sheet:.1f} mm too "
                "little. Take fewer or smaller labels."
            )
        return max(0.0, (sheet - taken) / 2)

    left = edge(left_mm, paper.width_mm, columns, width_mm, gap_x_mm, "across")
    top = edge(top_mm, paper.height_mm, rows, height_mm, gap_y_mm, "down")
    return LabelStock(key, named, paper, columns, rows, width_mm, height_mm, gap_x_mm, gap_y_mm, left, top)


def plain_stock(paper: Paper, width_mm: float, height_mm: float) -> LabelStock:
    """Plain paper cut into as many pieces of this size as it holds; raises `DoesNotFit` where it holds none."""
    across = paper.width_mm - 2 * paper.margin_mm
    down = paper.height_mm - 2 * (paper.margin_mm + BAND_MM)
    if not (isfinite(width_mm) and isfinite(height_mm)) or min(width_mm, height_mm) <= 0:
        raise InvalidInput(f"A piece of {width_mm:g} × {height_mm:g} mm is impossible. Give both measures above 0 mm.")
    gap_mm = PIECES_APART_MM
    columns = floor((across + gap_mm + TOLERANCE_MM) / (width_mm + gap_mm))
    rows = floor((down + gap_mm + TOLERANCE_MM) / (height_mm + gap_mm))
    if columns < 1 or rows < 1:
        raise DoesNotFit(
            f"A piece of {width_mm:g} × {height_mm:g} mm is larger than the {across:g} × {down:g} mm that {paper.name} "
            "leaves inside its edge. Make it smaller or take larger paper."
        )
    name = f"plain {paper.name}, pieces of {width_mm:g} × {height_mm:g} mm"
    return own_stock(paper, min(columns, 20), min(rows, 60), width_mm, height_mm, gap_mm, gap_mm, key="plain", name=name)


@dataclass(frozen=True)
class PrintOffset:
    """Correction of a printer in mm: `dx` moves what is printed to the right, `dy` down; read off the test sheet."""

    dx: float = 0.0
    dy: float = 0.0

    def __post_init__(self) -> None:
        if not all(isfinite(v) and abs(v) <= MOST_OFFSET_MM for v in (self.dx, self.dy)):
            raise InvalidInput(
                f"A correction of {self.dx:g} mm across and {self.dy:g} mm down is more than {MOST_OFFSET_MM:g} mm. "
                "Put the sheet in straight, print the test sheet again and read both numbers off it."
            )


@dataclass(frozen=True)
class StockUse:
    """How one print uses a stock: the first label that is still there, the correction, and how plain paper is cut.

    `cut` is "none" (label sheets), "marks" (at the corners) or "lines" (all round).
    Raises `DoesNotFit` for a start that isn't on the sheet or labels too small for text, `InvalidInput` for an odd cut.
    """

    stock: LabelStock
    start: int = 1
    offset: PrintOffset = field(default_factory=PrintOffset)
    cut: str = "none"

    def __post_init__(self) -> None:
        if self.cut not in CUTS:
            raise InvalidInput(f"“{self.cut[:20]}” is no way to mark a cut. Choose one of: {', '.join(CUTS)}.")
        self.stock.label(self.start)
        left, top, right, bottom = self.insets
        across, down = self.stock.width_mm - left - right, self.stock.height_mm - top - bottom
        if max(across, down) < SMALLEST_TEXT_MM[0] - TOLERANCE_MM or min(across, down) < SMALLEST_TEXT_MM[1] - TOLERANCE_MM:
            raise DoesNotFit(
                f"{self.stock.name}: {across:.1f} × {down:.1f} mm of a label can be printed safely and text needs "
                f"{SMALLEST_TEXT_MM[0]:g} × {SMALLEST_TEXT_MM[1]:g} mm. Take larger labels."
            )

    @property
    def printable(self) -> Rect:
        """What printers reach of the sheet."""
        return self.stock.paper.printable

    @property
    def insets(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of a label kept free of text; the same in every label of the sheet.

        Full-bleed sheets need more than `SAFE_MM`, or the outer labels would lose what lies in the printer's margin.
        """
        grid, area = self.stock.grid.moved(self.offset.dx, self.offset.dy), self.printable
        return (
            max(SAFE_MM, area.x - grid.x),
            max(SAFE_MM, area.y - grid.y),
            max(SAFE_MM, grid.right - area.right),
            max(SAFE_MM, grid.bottom - area.bottom),
        )

    def outline(self, number: int) -> Rect:
        """Where the printer is told that label `number` lies: its place moved by the correction."""
        return self.stock.label(number).moved(self.offset.dx, self.offset.dy)

    def text_area(self, number: int) -> Rect:
        """The safe inside of label `number`, as corrected."""
        left, top, right, bottom = self.insets
        rect = self.outline(number)
        return Rect(rect.x + left, rect.y + top, rect.width - left - right, rect.height - top - bottom)

    def sheets(self, count: int) -> tuple[tuple[int, ...], ...]:
        """The label numbers used on each sheet for so many labels: the first sheet from `start`, others from 1."""
        if count < 0:
            raise InvalidInput(f"{count} labels can't be printed. Ask for 0 or more.")
        found: list[tuple[int, ...]] = []
        first = self.start
        while count > 0:
            used = min(count, self.stock.count - first + 1)
            found.append(tuple(range(first, first + used)))
            count, first = count - used, 1
        return tuple(found)


_INCH = 25.4
_A4, _LETTER = PAPERS["A4"], PAPERS["Letter"]


def _preset(paper: Paper, columns: int, rows: int, width: float, height: float, gap_x: float, more: str = "") -> LabelStock:
    key = f"{paper.key.lower()}-{columns}x{rows}{more}"
    name = f"{paper.name}, {columns} × {rows} labels of {width:.4g} × {height:.4g} mm"
    return own_stock(paper, columns, rows, width, height, gap_x, 0.0, key=key, name=name)


# Grids as they are commonly sold, by their measures; common practice, no published source.
_ALL = (
    _preset(_A4, 3, 7, 63.5, 38.1, 2.54),
    _preset(_A4, 3, 8, 64, 33.9, 2.5),
    _preset(_A4, 3, 8, 70, 37, 0, "-edge"),  # to the edge of the paper: the outer labels lie in the printer's margin
    _preset(_A4, 2, 7, 99.1, 38.1, 2.54),
    _preset(_A4, 4, 10, 48.5, 25.4, 0),
    _preset(_A4, 4, 12, 45.7, 21.2, 2.54),
    _preset(_A4, 5, 13, 38.1, 21.2, 2.54),
    _preset(_LETTER, 3, 10, 2.625 * _INCH, 1 * _INCH, 0.125 * _INCH),
    _preset(_LETTER, 2, 5, 4 * _INCH, 2 * _INCH, 0.1875 * _INCH),
    _preset(_LETTER, 4, 20, 1.75 * _INCH, 0.5 * _INCH, 0.3 * _INCH),
)
LABEL_STOCKS: Mapping[str, LabelStock] = MappingProxyType({stock.key: stock for stock in _ALL})
"""By key, in the order they are offered."""


def find_stock(text: str, stocks: Iterable[LabelStock] = _ALL) -> LabelStock:
    """The label sheet a person means by its key or name, among these; raises `InvalidInput` with the ones known."""
    known = tuple(stocks)
    plain = "".join(text.casefold().replace("×", "x").split())
    for stock in known:
        if plain in (stock.key, "".join(stock.name.casefold().replace("×", "x").split())):
            return stock
    raise InvalidInput(f"“{text[:40]}” is not a label sheet known here. Known are: {', '.join(s.key for s in known)}.")
