"""What a picture looks like in 1.3 kilobytes, so that a frame is found again by any copy of it.

A copy may be negative or positive, mirrored, turned, cropped and printed harder or softer. So only
the order of the tones counts: every picture is brought to a square and each tone is replaced by its
rank, which no rising tone curve changes and which inverting merely turns over. Of the whole picture
and of a family of windows in it, the signs of the low frequencies are kept as one word of 64 bits;
mirroring or turning changes signs or places in a way known beforehand, so one stored word serves all
standings. A small picture of ranks goes with them, for looking closely at the few best.

numpy is loaded with this module and Pillow inside `grey_of`, so load the module where pictures are read.
"""

import struct
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from catalogue.errors import InvalidInput

if TYPE_CHECKING:
    from PIL import Image

Floats = NDArray[np.float64]
Window = tuple[float, float, float, float]
"""Left, right, top, bottom as parts of the frame's width and height; origin top left, y downwards."""

VERSION = 1
SMALL = 32
"""Cells along each side of the small picture of ranks."""
CANVAS = 64
"""Cells along each side of the square that windows are cut from: twice SMALL, so that means of whole cells are taken there."""
WINDOW_CELLS = 32
KEPT = 8
"""The signs of the lowest 8 × 8 frequencies are kept, without the mean: 63 bits and one that is always 0."""
LARGEST_PX = 512
"""Longest side that is looked at; finer detail is grain."""
STEPS = 1024
"""Tones closer than a quarter of an 8-bit grey count as equal, or rounding would make a picture of a flat area."""
FLAT_RANGE = 4 / 255
ENOUGH_STRUCTURE = 0.04
"""Part of the variance that must be structure, shared by cells near each other and no smooth gradient: the geometric mean of
that of the tones and that of the ranks, since a tone curve may hide it in one of them.

Measured, no published source: of 400 flat fields with grain one in a hundred reaches 0.020 and the highest 0.025, skies, glows
and gradients 0.005; the poorest photographs tried lie at 0.056 (a dark sky over a launch site, cropped) and 0.08 (a lawn).
"""

_HEAD = struct.Struct("<2sBB")
_MARK = b"SF"


_WINDOWS = """
    0/100/0/100 4/100/4/100 0/92/0/100 0/96/0/92 0/96/8/100 8/100/0/96 0/84/4/96 4/96/0/84
    4/96/16/100 8/100/12/96 16/100/4/96 0/88/12/96 12/96/0/88 4/96/8/88 8/88/4/96 24/100/4/96
    0/72/0/96 0/84/0/80 16/100/0/80 20/100/16/100 0/76/12/100 12/100/24/100 4/96/0/72 4/96/8/80
    4/96/20/92 4/96/28/100 12/80/4/100 20/88/0/96 0/100/36/100 0/84/24/100 32/100/4/96 0/64/4/100
"""


@cache
def windows() -> tuple[Window, ...]:
    """The windows that are kept of every frame, the whole first.

    Chosen one by one, then exchanged, among windows whose edges lie at multiples of 4 %, so that 3,000 crops drawn at
    random are covered best; the crops keep 60 % of the area and more, in any place and of any proportion, half of them
    flush with an edge. Half of such crops have no edge further than 0.04 of the frame from a window's, nine in ten none
    further than 0.06; from there the look-up moves the edges to their place.
    """
    found = []
    for text in _WINDOWS.split():
        left, right, top, bottom = (int(part) / 100 for part in text.split("/"))
        found.append((left, right, top, bottom))
    return tuple(found)


BYTES = _HEAD.size + SMALL * SMALL + 8 * len(windows())


@dataclass(frozen=True)
class Fingerprint:
    """One picture's fingerprint.

    `small` is SMALL × SMALL ranks from 0 (darkest) to 255, rows from the top; `words` has one 64-bit word for each of
    `windows()`. `enough` says whether the picture holds enough to be told from others.
    """

    small: NDArray[np.uint8]
    words: NDArray[np.uint64]
    enough: bool

    def __post_init__(self) -> None:
        if self.small.shape != (SMALL, SMALL) or self.words.shape != (len(windows()),):
            raise InvalidInput(
                f"A fingerprint has {SMALL} × {SMALL} ranks and {len(windows())} words, not {self.small.shape} and "
                f"{self.words.shape}. Make it again from the picture."
            )

    def to_bytes(self) -> bytes:
        """The fingerprint as it is stored, always of the same length."""
        head = _HEAD.pack(_MARK, VERSION, int(self.enough))
        return head + self.words.astype("<u8").tobytes() + self.small.tobytes()

    @classmethod
    def from_bytes(cls, stored: bytes) -> "Fingerprint":
        """The fingerprint from its bytes. Raises `InvalidInput` for another length, version or kind of bytes."""
        check_bytes(stored)
        words = np.frombuffer(words_in(stored), "<u8").astype(np.uint64)
        small = np.frombuffer(small_in(stored), np.uint8).reshape(SMALL, SMALL)
        return cls(small, words, holds_enough(stored))


def check_bytes(stored: bytes) -> None:
    """Raises `InvalidInput` unless these bytes are a fingerprint of this version."""
    if len(stored) < _HEAD.size or stored[:2] != _MARK:
        raise InvalidInput("These bytes are no fingerprint. Make it again from the picture.")
    if stored[2] != VERSION:
        raise InvalidInput(
            f"The fingerprint is of version {stored[2]} and this is version {VERSION}. Make it again from the picture."
        )
    if len(stored) != BYTES or stored[3] > 1:
        raise InvalidInput(f"The fingerprint has {len(stored)} bytes and should have {BYTES}. Make it again from the picture.")


def holds_enough(stored: bytes) -> bool:
    """Whether stored bytes, already checked, are of a picture that holds enough."""
    return stored[3] == 1


def words_in(stored: bytes) -> bytes:
    """The part of stored bytes, already checked, that is the words."""
    return stored[_HEAD.size : -SMALL * SMALL]


def small_in(stored: bytes) -> bytes:
    """The part of stored bytes, already checked, that is the small picture."""
    return stored[-SMALL * SMALL :]


def grey_of(image: "Image.Image") -> NDArray[Any]:
    """The grey tones of a picture, upright, no side longer than LARGEST_PX; 16 bits stay 16 bits."""
    from PIL import Image, ImageOps

    upright = ImageOps.exif_transpose(image)
    tones: NDArray[Any]
    if upright.mode.startswith("I") or upright.mode == "F":
        deep = np.asarray(upright)
        if upright.mode == "F":
            # Nothing in such a file says what white is; parts of 1 and 8-bit tones are common practice.
            white = max(255.0, float(deep.max())) if deep.max() > 1 else 1.0
            tones = np.clip(deep / white, 0, 1)
            return tones
        tones = np.clip(deep, 0, 65535).astype(np.uint16)
        return tones
    grey = upright.convert("L")
    longest = max(grey.size)
    if longest > LARGEST_PX:
        size = (max(1, round(grey.width * LARGEST_PX / longest)), max(1, round(grey.height * LARGEST_PX / longest)))
        grey = grey.resize(size, Image.Resampling.BOX)
    tones = np.asarray(grey)
    return tones


def _canvas(grey: NDArray[Any]) -> Floats:
    """The picture as CANVAS × CANVAS mean tones from 0 to 1, in steps too fine to see."""
    if grey.ndim != 2 or 0 in grey.shape:
        raise InvalidInput(f"A fingerprint is made of rows and columns of grey tones, not of the shape {grey.shape}.")
    if not (np.issubdtype(grey.dtype, np.unsignedinteger) or np.issubdtype(grey.dtype, np.floating)):
        raise InvalidInput(f"Grey tones are whole numbers from 0 or parts of 1, not {grey.dtype}.")
    full = float(np.iinfo(grey.dtype).max) if np.issubdtype(grey.dtype, np.unsignedinteger) else 1.0
    height, width = grey.shape
    tones = grey.astype(np.float32) / np.float32(full)
    if not np.isfinite(tones).all():
        raise InvalidInput("The picture holds tones that are no numbers. Read it again from the file.")
    small = means(height, CANVAS).astype(np.float32) @ tones @ means(width, CANVAS).astype(np.float32).T
    return np.round(small.astype(np.float64) * STEPS) / STEPS


def means(cells: int, into: int, low: float = 0.0, high: float = 1.0) -> Floats:
    """A matrix (into × cells) that takes the mean of a row of cells over equal parts of the span from low to high."""
    edges = np.linspace(low, high, into + 1) * cells
    at = np.arange(cells)
    shared = np.minimum(edges[1:, None], at + 1) - np.maximum(edges[:-1, None], at)
    mean: Floats = np.maximum(shared, 0) / np.diff(edges)[:, None]
    return mean


def waves(low: NDArray[Any], high: NDArray[Any], cells: int, kept: int) -> NDArray[Any]:
    """Matrices (… × kept × cells) that take cosine waves over the spans from low to high of a row of cells.

    Wave k makes k half turns over its span; a cell counts by the wave's integral over it, so that a span may begin and
    end within cells. The waves of one span have equal length, the steady one too. As exact as the numbers given: single
    precision serves a look-up, which makes thousands of them.
    """
    kind = low.dtype
    edges = np.linspace(0, 1, cells + 1, dtype=kind)
    at = np.clip((edges - low[..., None]) / (high - low)[..., None], 0, 1)
    turns = (np.arange(1, kept) * np.pi).astype(kind)
    rising = np.sin(at[..., None, :] * turns[:, None]) * (np.sqrt(2).astype(kind) / turns[:, None])
    rising = np.concatenate([at[..., None, :], rising], axis=-2)
    found: NDArray[Any] = rising[..., 1:] - rising[..., :-1]
    return found


@cache
def whole_waves(cells: int, kept: int) -> Floats:
    """The waves (kept × cells) over a whole row of cells."""
    return waves(np.array(0.0), np.array(1.0), cells, kept)


def ranks(rows: Floats) -> Floats:
    """Each value's rank in its row, from -0.5 to 0.5 and 0 in the middle; equal values share their mean rank."""
    count, length = rows.shape
    order = np.argsort(rows, axis=1)
    in_order = np.take_along_axis(rows, order, axis=1)
    fresh = np.ones(rows.shape, dtype=bool)
    fresh[:, 1:] = in_order[:, 1:] != in_order[:, :-1]
    starts = np.flatnonzero(fresh)
    lengths = np.diff(np.append(starts, count * length))
    middle = starts % length + (lengths - 1) / 2
    out = np.empty_like(rows)
    np.put_along_axis(out, order, np.repeat(middle, lengths).reshape(rows.shape), axis=1)
    centred: Floats = out / max(1, length - 1) - 0.5
    return centred


@cache
def _cut(which: tuple[Window, ...]) -> tuple[Floats, Floats]:
    down = np.stack([means(CANVAS, WINDOW_CELLS, w[2], w[3]) for w in which])
    across = np.stack([means(CANVAS, WINDOW_CELLS, w[0], w[1]).T for w in which])
    return down, across


def sign_words(found: Floats) -> NDArray[np.uint64]:
    """One word for each n of n × KEPT × KEPT frequencies: a bit is set where the frequency is positive; the mean's is 0."""
    positive = found.reshape(-1, KEPT * KEPT) > 0
    positive[:, 0] = False
    return np.packbits(positive, axis=1).view(">u8").astype(np.uint64).ravel()


@cache
def _gradients(side: int) -> Floats:
    """All smooth surfaces up to the fourth power over a square of cells, as columns of length 1 at right angles."""
    at = np.linspace(-1, 1, side)
    surfaces = [np.outer(at**i, at**j).ravel() for i in range(5) for j in range(5 - i)]
    return np.linalg.qr(np.stack(surfaces, axis=1))[0]


def _structure(cells: Floats) -> float:
    """The part of the variance of these cells that cells one or two apart share once a smooth gradient is taken away."""
    variance = float(cells.var())
    if variance < 1e-12:
        return 0.0
    smooth = _gradients(len(cells))
    rest = cells - (smooth @ (smooth.T @ cells.ravel())).reshape(cells.shape)
    shared = []
    for down, across in ((0, 1), (1, 0), (1, 1), (0, 2), (2, 0), (1, 2), (2, 1)):
        high, wide = rest.shape[0] - down, rest.shape[1] - across
        shared.append(np.mean(rest[down:, across:] * rest[:high, :wide]))
        if down and across:
            shared.append(np.mean(rest[down:, :wide] * rest[:high, across:]))
    return max(0.0, float(np.mean(shared)) / variance)


def _holds_enough(canvas: Floats) -> bool:
    """Whether tones and ranks together hold more than nothing, grain or a gradient."""
    low, high = np.quantile(canvas, (0.01, 0.99))
    ranked = ranks(canvas.reshape(1, -1)).reshape(canvas.shape)
    return bool(high - low >= FLAT_RANGE and _structure(canvas) * _structure(ranked) >= ENOUGH_STRUCTURE**2)


def fingerprint_of(grey: NDArray[Any]) -> Fingerprint:
    """The fingerprint of a picture given as rows of grey tones from the top, of any size.

    Whole numbers run from 0 to the largest of their kind, floats from 0 to 1. Raises `InvalidInput` for another shape
    or kind of numbers.
    """
    canvas = _canvas(grey)
    down, across = _cut(windows())
    cells = np.round((down @ canvas @ across) * STEPS) / STEPS
    ranked = ranks(cells.reshape(len(cells), -1)).reshape(cells.shape)
    taken = whole_waves(WINDOW_CELLS, KEPT)
    # Rounded, so that what is nothing by symmetry is nothing and no accident of adding up.
    words = sign_words(np.round(taken @ ranked @ taken.T, 9))
    small = np.round((ranked[0] + 0.5) * 255).astype(np.uint8)
    return Fingerprint(small, words, _holds_enough(canvas))
