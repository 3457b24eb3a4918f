"""Paper sizes in mm with the margin that printers leave blank."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from catalogue.errors import InvalidInput


@dataclass(frozen=True)
class Paper:
    """A sheet of paper, portrait. `margin_mm` is left blank on every edge (common practice: 4.2 to 6.4 mm)."""

    key: str
    name: str
    width_mm: float
    height_mm: float
    margin_mm: float = 5.0

    def __post_init__(self) -> None:
        if not 0 < self.width_mm <= self.height_mm or not 0 <= self.margin_mm < self.width_mm / 2:
            raise InvalidInput(f"Paper {self.name}: {self.width_mm:g} × {self.height_mm:g} mm is not a portrait sheet.")

    def turned(self, landscape: bool) -> tuple[float, float]:
        """Width and height as the sheet lies."""
        return (self.height_mm, self.width_mm) if landscape else (self.width_mm, self.height_mm)


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


def find_paper(text: str) -> Paper:
    """The paper a person means; raises `InvalidInput` with the ones known."""
    plain = "".join(text.casefold().replace("×", "x").split())
    for paper in _ALL:
        if plain in (paper.key.casefold(), paper.key.casefold().removesuffix("in")):
            return paper
    raise InvalidInput(f"“{text[:40]}” is not a paper known here. Known are: {', '.join(PAPERS)}.")
