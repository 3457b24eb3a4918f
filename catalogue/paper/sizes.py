"""Paper sizes in mm, known and own, with the margin that printers leave blank."""

from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from math import isfinite
from types import MappingProxyType

from catalogue.errors import InvalidInput
from catalogue.sleeves.geometry import Rect

MOST_MARGIN_MM = 25.0
OWN_PAPER_MM = (90.0, 1200.0)
"""The shortest and longest edge of an own paper: with margins of 25 mm the smallest still has room for a line."""


@dataclass(frozen=True)
class Paper:
    """A sheet of paper, portrait. `margin_mm` is left blank on every edge (common practice: 4.2 to 6.4 mm).

    `edges` tells the four apart where they are known: top, right, bottom, left in mm; `margin_mm` is their largest.
    """

    key: str
    name: str
    width_mm: float
    height_mm: float
    margin_mm: float = 5.0
    edges: tuple[float, float, float, float] | None = None

    def __post_init__(self) -> None:
        if not 0 < self.width_mm <= self.height_mm or not 0 <= self.margin_mm < self.width_mm / 2:
            raise InvalidInput(f"Paper {self.name}: {self.width_mm:g} × {self.height_mm:g} mm is not a portrait sheet.")
        if self.edges is not None and (min(self.edges) < 0 or max(self.edges) != self.margin_mm):
            raise InvalidInput(f"Paper {self.name}: margins of {self.edges} mm don't go with {self.margin_mm:g} mm at the most.")

    def with_edges(self, top: float, right: float, bottom: float, left: float) -> "Paper":
        """The same paper in a printer that leaves so many mm blank along each edge."""
        return replace(self, margin_mm=max(top, right, bottom, left), edges=(top, right, bottom, left))

    @property
    def printable(self) -> Rect:
        """What the printer reaches of the upright sheet."""
        top, right, bottom, left = self.edges or (self.margin_mm,) * 4
        return Rect(left, top, self.width_mm - left - right, self.height_mm - top - bottom)

    def turned(self, landscape: bool) -> tuple[float, float]:
        """Width and height as the sheet lies."""
        return (self.height_mm, self.width_mm) if landscape else (self.width_mm, self.height_mm)


def own_paper(key: str, name: str, width_mm: float, height_mm: float) -> Paper:
    """A paper by its measures, whichever edge is named first; `InvalidInput` for a size that no printer for a desk takes."""
    short, long = sorted((width_mm, height_mm))
    low, high = OWN_PAPER_MM
    if not all(isfinite(edge) and low <= edge <= high for edge in (short, long)):
        raise InvalidInput(f"{name}: {short:g} × {long:g} mm can't be a paper here. Each edge measures {low:g} to {high:g} mm.")
    return Paper(key, name, short, long)


@dataclass(frozen=True)
class PrinterMargins:
    """What the printer leaves blank along each edge of an upright sheet, in mm, 0 to 25."""

    top: float = 5.0
    right: float = 5.0
    bottom: float = 5.0
    left: float = 5.0

    def __post_init__(self) -> None:
        for edge, value in asdict(self).items():
            if not (isfinite(value) and 0 <= value <= MOST_MARGIN_MM):
                raise InvalidInput(
                    f"A margin of {value:g} mm at the {edge} is not possible. Give 0 to {MOST_MARGIN_MM:g} mm; "
                    "the printer's data sheet names it, and a page printed black to the edge shows it."
                )


_INCH = 25.4
_ALL = (
    Paper("A4", "A4", 210, 297),  # ISO 216, from memory
    Paper("A3", "A3", 297, 420),  # ISO 216, from memory
    Paper("Letter", "Letter", 8.5 * _INCH, 11 * _INCH),  # ANSI/ASME Y14.1, from memory
    Paper("8x10in", "8 × 10 in", 8 * _INCH, 10 * _INCH),  # photographic paper, exact from inches
    Paper("9.5x12in", "9.5 × 12 in", 9.5 * _INCH, 12 * _INCH),
    Paper("11x14in", "11 × 14 in", 11 * _INCH, 14 * _INCH),
)
PAPERS: Mapping[str, Paper] = MappingProxyType({p.key: p for p in _ALL})


def find_paper(text: str | Paper, papers: Iterable[Paper] = _ALL) -> Paper:
    """The paper a person means by key or name, among these; raises `InvalidInput` with the ones known.

    A paper itself is handed back, so that whoever has one (an own one, or one with a printer's margins) can give it.
    """
    if isinstance(text, Paper):
        return text
    known = tuple(papers)
    plain = _plain(text)
    for paper in known:
        if plain in (paper.key.casefold(), paper.key.casefold().removesuffix("in"), _plain(paper.name)):
            return paper
    raise InvalidInput(f"“{text[:40]}” is not a paper known here. Known are: {', '.join(p.key for p in known)}.")


def _plain(text: str) -> str:
    return "".join(text.casefold().replace("×", "x").split())
