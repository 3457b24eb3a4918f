"""The counting along one strip, from the edge codes read on it, and the frame numbers it gives the pictures.

Arithmetic alone: places are pixels along the film in the scan's own picture. A
number belongs to the place of its code's centre: the printed figure stands
beside its code (common practice, no published source).
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from catalogue.errors import InvalidInput
from catalogue.film.edge_code import HALF_FRAME_MM, EdgeCode, label_at
from catalogue.film.frame_numbers import FrameNumber

Span = tuple[float, float]

_LENGTHS_PER_STEP = (0.9, 2.6)
"""Codes don't overlap, and no code is shorter than two fifths of its half frame: steps beyond are misread frames."""
_OFF_LINE = 0.25
"""How far, in half frames, a code may lie from where its neighbours put it."""
_SLIP = 0.3
"""A picture further than this, in half frames, from the strip's common offset is taken to have slipped."""


@dataclass(frozen=True)
class FoundCode:
    """One code found in a picture.

    `position_px` is the code's centre along the film, from the picture's left
    (film along the width) or top (along the height); `across_px` the other way;
    `length_px` the code's length. `turn` says by how many degrees clockwise (0,
    90, 180, 270) to turn the picture so that the edge stands upright; `mirrored`
    says that it must then be mirrored left to right, as it was scanned from the
    emulsion side.
    """

    code: EdgeCode
    position_px: float
    across_px: float
    length_px: float
    turn: int = 0
    mirrored: bool = False

    @property
    def rises(self) -> bool:
        """Whether the frame numbers rise with `position_px`."""
        return (self.turn in (0, 270)) != self.mirrored


@dataclass(frozen=True)
class EdgeLine:
    """The counting along one strip: where half step 0 (frame 0) would lie, and the signed pixels for each half frame."""

    zero_px: float
    step_px: float

    def steps_at(self, px: float) -> float:
        """Half frames from frame 0 to a place along the picture."""
        return (px - self.zero_px) / self.step_px


def _numbered(codes: Sequence[FoundCode]) -> list[tuple[int, FoundCode]]:
    return [(r.code.half_steps, r) for r in codes if r.code.half_steps is not None]


def _on_line(line: EdgeLine, codes: Sequence[FoundCode]) -> list[FoundCode]:
    return [r for step, r in _numbered(codes) if abs(line.steps_at(r.position_px) - step) <= _OFF_LINE]


def edge_line(codes: Sequence[FoundCode], px_per_mm: float | None = None) -> EdgeLine | None:
    """The evenly spaced counting that most codes lie on.

    A single numbered code does only with `px_per_mm`, as a code lies every
    19 mm. None where there is too little, or where two codes contradict each other.
    """
    numbered = _numbered(codes)
    if len(numbered) == 1 and px_per_mm is not None:
        step, only = numbered[0]
        step_px = HALF_FRAME_MM * px_per_mm * (1 if only.rises else -1)
        return EdgeLine(only.position_px - step * step_px, step_px)
    best: tuple[int, float, EdgeLine] | None = None
    for i, (step_a, a) in enumerate(numbered):
        for step_b, b in numbered[i + 1 :]:
            if step_a == step_b or a.code.stock != b.code.stock:
                continue
            step_px = (b.position_px - a.position_px) / (step_b - step_a)
            lengths = abs(step_px) / ((a.length_px + b.length_px) / 2)
            if not _LENGTHS_PER_STEP[0] <= lengths <= _LENGTHS_PER_STEP[1]:
                continue
            line = EdgeLine(a.position_px - step_a * step_px, step_px)
            lying = _on_line(line, codes)
            off = sum(abs(line.steps_at(r.position_px) - step) for step, r in _numbered(lying))
            if best is None or (len(lying), -off) > best[:2]:
                best = (len(lying), -off, line)
    return None if best is None else _through(_numbered(_on_line(best[2], codes)))


def _through(numbered: Sequence[tuple[int, FoundCode]]) -> EdgeLine:
    """Least squares: place over half steps."""
    mean_step = sum(step for step, _ in numbered) / len(numbered)
    mean_px = sum(r.position_px for _, r in numbered) / len(numbered)
    step_px = sum((step - mean_step) * (r.position_px - mean_px) for step, r in numbered) / sum(
        (step - mean_step) ** 2 for step, _ in numbered
    )
    return EdgeLine(mean_px - mean_step * step_px, step_px)


def agreeing(codes: Sequence[FoundCode]) -> list[FoundCode]:
    """The codes without those that most others contradict: another stock, another way up, or out of count.

    Nothing is left where codes contradict one another and none has a majority.
    """
    kinds: defaultdict[object, list[FoundCode]] = defaultdict(list)
    for found in codes:
        kinds[(found.code.stock, found.turn, found.mirrored)].append(found)
    most = max(kinds.values(), key=len, default=[])
    if 2 * len(most) <= len(codes):
        return []
    numbered = _numbered(most)
    if len(numbered) < 2:
        return most
    line = edge_line(most)
    lying = _on_line(line, most) if line else []
    if 2 * len(lying) <= len(numbered):
        return []
    return [r for r in most if r.code.half_steps is None or r in lying]


def _centres_in_steps(codes: Sequence[FoundCode], pictures: Sequence[Span], px_per_mm: float | None) -> list[float] | None:
    for start, end in pictures:
        if not start < end:
            raise InvalidInput(f"A picture begins before it ends along the strip, not at {start:g} and ends at {end:g} pixels.")
    line = edge_line(codes, px_per_mm)
    return None if line is None else [line.steps_at((start + end) / 2) for start, end in pictures]


def offset_of(codes: Sequence[FoundCode], pictures: Sequence[Span], px_per_mm: float | None = None) -> float | None:
    """How far the pictures' centres lie behind the nearest code, in half frames from -0.5 to 0.5.

    It is the same along a roll unless the transport slips, so it's worth keeping
    with the roll. None without pictures or without enough codes.
    """
    places = _centres_in_steps(codes, pictures, px_per_mm)
    if not places:
        return None
    # The mean of angles: -0.49 and 0.49 lie side by side, not at opposite ends.
    turn = sum(complex(math.cos(math.tau * at), math.sin(math.tau * at)) for at in places)
    return math.atan2(turn.imag, turn.real) / math.tau


def frame_numbers_on(
    codes: Sequence[FoundCode],
    pictures: Sequence[Span],
    *,
    offset: float | None = None,
    px_per_mm: float | None = None,
) -> list[FrameNumber | None]:
    """The edge number that each picture bears: the code nearest to its centre.

    `pictures` are start and end along the film in the pixels of the scan. All
    pictures of a strip keep one offset from their codes, so that pictures midway
    between n and nA don't fall now to one, now to the other; `offset` is the
    roll's, from `offset_of` on another strip, else the strip's own is used. A
    picture that slipped goes by its own nearest code. None where the edge tells
    nothing: too few codes, or no such label.
    """
    if offset is not None and not -0.5 <= offset <= 0.5:
        raise InvalidInput(f"A roll's offset lies between -0.5 and 0.5 half frames, not {offset:g}. Measure it again.")
    places = _centres_in_steps(codes, pictures, px_per_mm)
    common = offset if offset is not None else offset_of(codes, pictures, px_per_mm)
    if places is None or common is None:
        return [None] * len(pictures)
    steps = [round(at - common) for at in places]
    for i, at in enumerate(places):
        if abs(at - common - steps[i]) > _SLIP:
            steps[i] = round(at)
    return [label_at(step) for step in steps]


@dataclass(frozen=True)
class EdgeAgreement:
    """One picture's assumed number beside the edge's; `agrees` is None where the edge tells nothing."""

    assumed: FrameNumber
    edge: FrameNumber | None

    @property
    def agrees(self) -> bool | None:
        """Whether both are the same label."""
        return None if self.edge is None else self.edge == self.assumed

    def __str__(self) -> str:
        if self.edge is None:
            return f"Frame {self.assumed}: the edge isn't readable there."
        if self.agrees:
            return f"Frame {self.assumed}: the edge says the same."
        return f"Frame {self.assumed}: the edge says {self.edge}. Correct the number, or keep your own count."


def confirm(
    codes: Sequence[FoundCode],
    pictures: Sequence[Span],
    labels: Sequence[FrameNumber],
    *,
    offset: float | None = None,
    px_per_mm: float | None = None,
) -> list[EdgeAgreement]:
    """Sets the assumed label of each picture beside what the edge says; each result reads as a sentence.

    Raises `InvalidInput` where there isn't one label for each picture.
    """
    if len(labels) != len(pictures):
        raise InvalidInput(
            f"There are {len(pictures)} pictures and {len(labels)} frame numbers. Give one number for each picture."
        )
    edge = frame_numbers_on(codes, pictures, offset=offset, px_per_mm=px_per_mm)
    return [EdgeAgreement(assumed, found) for assumed, found in zip(labels, edge, strict=True)]
