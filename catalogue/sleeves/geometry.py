"""Sizes and rectangles in millimetres.

One unit (mm) and one origin: the top left corner of the page as it lies before
you, x to the right, y downwards.
"""

from dataclasses import dataclass
from math import isfinite

from catalogue.errors import InvalidInput

TOLERANCE_MM = 1e-6
"""Slack for comparing lengths: far below anything scissors or film can show."""


@dataclass(frozen=True)
class Size:
    """Width and height in mm, both above zero."""

    width: float
    height: float

    def __post_init__(self) -> None:
        if not (isfinite(self.width) and isfinite(self.height)) or min(self.width, self.height) <= 0:
            raise InvalidInput(f"A size needs width and height above 0 mm, not {self.width:g} × {self.height:g} mm.")


@dataclass(frozen=True)
class Rect:
    """A rectangle in mm: left and top edge, width and height."""

    x: float
    y: float
    width: float
    height: float

    def __post_init__(self) -> None:
        if not all(isfinite(v) for v in (self.x, self.y, self.width, self.height)):
            raise InvalidInput("A rectangle needs finite measures in mm.")
        if min(self.width, self.height) < 0:
            raise InvalidInput(f"A rectangle can't measure {self.width:g} × {self.height:g} mm.")

    @property
    def right(self) -> float:
        """x of the right edge."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """y of the bottom edge."""
        return self.y + self.height

    def contains(self, other: "Rect") -> bool:
        """Whether the other lies inside this one, edges included."""
        return (
            other.x >= self.x - TOLERANCE_MM
            and other.y >= self.y - TOLERANCE_MM
            and other.right <= self.right + TOLERANCE_MM
            and other.bottom <= self.bottom + TOLERANCE_MM
        )

    def overlaps(self, other: "Rect") -> bool:
        """Whether the two share any area; a shared edge is none."""
        return (
            self.x < other.right - TOLERANCE_MM
            and other.x < self.right - TOLERANCE_MM
            and self.y < other.bottom - TOLERANCE_MM
            and other.y < self.bottom - TOLERANCE_MM
        )

    def moved(self, dx: float, dy: float) -> "Rect":
        """The same rectangle shifted."""
        return Rect(self.x + dx, self.y + dy, self.width, self.height)

    def inset(self, by: float) -> "Rect":
        """The rectangle smaller by this much on each edge."""
        return Rect(self.x + by, self.y + by, self.width - 2 * by, self.height - 2 * by)
