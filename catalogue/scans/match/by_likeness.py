"""Files laid to frames by their pictures alone, where neither names nor an order say anything."""

from collections.abc import Sequence
from dataclasses import dataclass

from catalogue.errors import InvalidInput
from catalogue.scans.match.evidence import share


@dataclass(frozen=True)
class Likely:
    """The frame a file shows by its picture alone; `instead` is the next likely one. `sure` False asks for a look."""

    frame: int | None
    sure: bool
    likeness: float | None
    instead: int | None


def assign_by_likeness(
    matrix: Sequence[Sequence[float | None]], threshold: float = 0.7, margin: float = 0.1
) -> tuple[Likely, ...]:
    """Each file's frame by picture alone, for shuffled names without dates. `matrix[file][frame]` is 0 to 1 or None.

    Below `threshold` a file shows none of the frames; it is sure where the next frame is `margin` less
    alike. Several files may show one frame. Where two frames are within the margin, the one no other file
    has yet is taken, alikest files first, and the file stays doubtful: both views of a
    twice-taken motif then get a file each. Raises `InvalidInput` for values outside 0 to 1.
    """
    share(threshold, "The threshold"), share(margin, "The margin")
    if any(len(row) != len(matrix[0]) for row in matrix):
        raise InvalidInput("The rows of the likeness differ in length. Give every file one value for each frame.")
    ranked: list[list[tuple[float, int]]] = []
    for row in matrix:
        known = [(-value, f) for f, value in enumerate(row) if value is not None and share(value, "Likeness") is not None]
        ranked.append(sorted(known))
    found: list[Likely] = [Likely(None, False, None, None)] * len(matrix)
    taken: set[int] = set()
    open_files: list[tuple[float, int]] = []
    for n, order in enumerate(ranked):
        if not order:
            continue
        value, frame = -order[0][0], order[0][1]
        second = order[1] if len(order) > 1 else None
        # Differences are rounded, so that 0.8 and 0.7 are 0.1 apart and not a hair less.
        clear = second is None or round(value + second[0], 9) >= margin
        if value < threshold:
            found[n] = Likely(None, round(threshold - value, 9) >= margin, value, frame)
        elif clear:
            found[n] = Likely(frame, True, value, second[1] if second else None)
            taken.add(frame)
        else:
            open_files.append((-value, n))
    for _, n in sorted(open_files):
        order = ranked[n]
        close = [(v, f) for v, f in order if round(v - order[0][0], 9) < margin and -v >= threshold]
        value, frame = next(((v, f) for v, f in close if f not in taken), close[0])
        found[n] = Likely(frame, False, -value, next(f for _, f in order if f != frame))
        taken.add(frame)
    return tuple(found)
