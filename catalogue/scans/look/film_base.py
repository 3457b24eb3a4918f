"""Finding the film base in a scan: in the rebate, in the gap between pictures, where it is pointed at, or from a roll.

The base is the thinnest part of a strip: film that got no light. It lies along the edges (the rebate) and between the
pictures (the gap), always in straight bands; a shadow within a picture may be as even, but not as straight. So a
band is what makes sure, and a picture that fills its scan gives an answer marked as unsure.
Positions are pixels of the picture as given, origin at the top left. Pictures are only read.

numpy is loaded at the top: import this module where scans are measured.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from catalogue.errors import InvalidInput, UnreadablePicture
from catalogue.scans.look.exposures import FrameStatistics
from catalogue.scans.look.positives import Channels, decode_srgb, density, encode_srgb

if TYPE_CHECKING:
    from PIL import Image

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Rect = tuple[int, int, int, int]
"""Left, top, right, bottom; right and bottom lie just outside."""

MEASURED_PX = 1000
"""Pictures are averaged down to about this long a side: grain goes, and a gap of 2 mm in a strip of six keeps 8 pixels."""
# All of these are this project's own choices, set with pictures whose base was known.
CLEAR = 0.955  # in every channel: empty light, or a base that was scanned too bright
OPAQUE = 0.002  # in every channel: the holder, not film
EVEN_D = 0.02  # spread of density among neighbours within the base
SAME_D = 0.05  # base and base differ by less, in every channel
LEAST_PART = 0.003  # of the picture, or it is a speck and no base
BAND_SHARE = 0.85  # of a line across the film: the rest may be edge print and rims of perforations
BEYOND_SHARE = 0.65  # just beyond a band; a shadow that fades is no band


class Sureness(StrEnum):
    """How far a found base can be trusted."""

    SURE = "sure"
    LIKELY = "likely"
    UNSURE = "unsure"


@dataclass(frozen=True)
class FilmBase:
    """A base found: transmittance of red, green and blue against clear light (0 to 1, linear), and why to trust it."""

    transmittance: Channels
    sureness: Sureness
    reason: str


def _coded(image: "Image.Image", longest: int) -> Floats:
    """Coded values 0 to 1, height × width × 3, averaged down so that the long side is about `longest` pixels."""
    from PIL import Image

    if image.mode not in ("L", "LA", "RGB", "RGBA") and not image.mode.startswith("I"):
        raise UnreadablePicture(
            f"A picture of mode {image.mode} holds no scan of film. Save it as RGB or grey, 8 or 16 bits, and link that."
        )
    if not image.width or not image.height:
        raise UnreadablePicture(f"The picture has {image.width} × {image.height} pixels. Scan the film again.")
    factor = max(1, max(image.size) // longest)
    if image.mode.startswith("I"):
        grey = np.clip(np.asarray(image), 0, 65535).astype(np.float32) / 65535
        small = Image.fromarray(grey).reduce(factor) if factor > 1 else Image.fromarray(grey)
        values = np.asarray(small, dtype=np.float64)
    else:
        flat = image if image.mode in ("L", "RGB") else image.convert(image.mode[:-1])
        values = np.asarray(flat.reduce(factor) if factor > 1 else flat, dtype=np.float64) / 255
    return values if values.ndim == 3 else np.repeat(values[..., None], 3, axis=2)


def _densities(coded: Floats) -> Floats:
    return -np.log10(np.maximum(decode_srgb(coded), 1e-4))


def _three(values: Floats) -> Channels:
    red, green, blue = (float(min(1.0, max(0.001, value))) for value in values)
    return (red, green, blue)


def find_base(image: "Image.Image", where: tuple[int, int] | Rect | None = None) -> FilmBase:
    """The film base of one strip's or frame's scan, found by itself, at a spot pointed at, or within a rectangle.

    Raises `InvalidInput` for a spot outside the picture or a picture without film in it, `UnreadablePicture` for a
    kind of picture that holds no scan. A picture that shows neither rebate nor gap gives an unsure answer: take
    `base_of_roll` then, or have somebody point at the base.
    """
    if where is not None:
        return _base_at(image, where)
    coded = _coded(image, MEASURED_PX)
    dense = _densities(coded)
    light = decode_srgb(coded)
    film: Flags = np.asarray(~(light >= CLEAR).all(axis=2) & ~(light <= OPAQUE).all(axis=2))
    if film.mean() < LEAST_PART:
        raise InvalidInput("The picture shows empty light or darkness, and no film to speak of. Choose a scan with film in it.")
    first, level = _thinnest(dense, film)
    found = _bands(first, film)
    around = bool(found) and not any(found)
    if around:
        # Light beside the film that doesn't clip is thin, even and straight too; the film's own bands lie within it.
        second, level_within = _thinnest(dense, film & ~_grown(first))
        within = _bands(second, film & ~_grown(first))
        if len(within) >= 2:
            return FilmBase(
                _three(decode_srgb(level_within)),
                Sureness.LIKELY,
                "Something thinner lies around the film and was taken for empty light; the base is from the bands within.",
            )
    base = _three(decode_srgb(level))
    if len(found) >= 2:
        return FilmBase(
            base, Sureness.SURE, f"{len(found)} straight bands of even, thin film, along the edges or between pictures."
        )
    if found:
        return FilmBase(base, Sureness.LIKELY, "One straight band of even, thin film; a second would make it sure.")
    clear = float((light >= CLEAR).all(axis=2).mean())
    if clear >= LEAST_PART:
        more = f"{clear:.0%} of it is as bright as a scan gets: empty light, or a base scanned too bright. "
    else:
        more = ""
    return FilmBase(
        base,
        Sureness.UNSURE,
        f"The scan shows neither rebate nor gap. {more}This is its thinnest even part, which may be a shadow in the picture: "
        "point at the film base, or take the base of the whole roll.",
    )


def _spread(plane: Floats) -> Floats:
    """Standard deviation among the 3 × 3 neighbours of every pixel."""
    mean, mean_of_squares = _box_mean(plane), _box_mean(plane * plane)
    return np.asarray(np.sqrt(np.maximum(0.0, mean_of_squares - mean * mean)))


def _box_mean(plane: Floats) -> Floats:
    padded = np.pad(plane, 1, mode="edge")
    rows = padded[:-2] + padded[1:-1] + padded[2:]
    return np.asarray((rows[:, :-2] + rows[:, 1:-1] + rows[:, 2:]) / 9)


def _grown(flags: Flags) -> Flags:
    """With a rim of two pixels, which are half this and half that after averaging."""
    padded = np.pad(flags, 2)
    return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, (5, 5)).any(axis=(2, 3)))


def _thinnest(dense: Floats, film: Flags) -> tuple[Flags, Floats]:
    """The thinnest even part of the film: where it lies, and its middle coded value in each channel."""
    mean = dense.mean(axis=2)
    even = film & (_spread(mean) < EVEN_D)
    taken = mean[even] if even.sum() >= LEAST_PART * film.size else mean[film]
    bins, edges = np.histogram(taken, bins=np.arange(0.0, 4.2, 0.01))
    counts = np.convolve(bins, np.ones(5), mode="same")
    enough = np.flatnonzero(counts >= LEAST_PART * film.size)
    at = int(enough[0]) if enough.size else int(np.argmax(counts))
    while at + 1 < counts.size and counts[at + 1] >= counts[at]:
        at += 1
    core = film & (np.abs(mean - edges[at]) < 0.03)
    middle = np.median(dense[core], axis=0) if core.any() else np.full(3, float(np.median(taken)))
    same = film & (np.abs(dense - middle) < SAME_D).all(axis=2)
    inner = same & even
    chosen = dense[inner] if inner.any() else dense[same] if same.any() else middle[None]
    return same, encode_srgb(10 ** -np.median(chosen, axis=0))


def _bands(same: Flags, film: Flags) -> list[bool]:
    """Straight bands of base from one side of the film to the other; for each, whether film lies on both sides of it."""
    found: list[bool] = []
    for axis in (1, 0):
        of_film = film.sum(axis=axis)
        lines = np.flatnonzero(of_film >= 0.25 * film.shape[axis])
        if lines.size < 8:
            continue
        share = same.sum(axis=axis)[lines] / of_film[lines]
        flags = np.concatenate(([False], share >= BAND_SHARE, [False]))
        starts = np.flatnonzero(flags[1:] & ~flags[:-1])
        ends = np.flatnonzero(~flags[1:] & flags[:-1])
        step = max(3, round(0.01 * lines.size))
        for start, end in zip(starts, ends, strict=True):
            sides = [side for side in (share[max(0, start - step) : start], share[end : end + step]) if side.size]
            if end - start >= 2 and sides and all(side.min() <= BEYOND_SHARE for side in sides):
                found.append(bool(start > 0 and end < lines.size))
    return found


def _base_at(image: "Image.Image", where: tuple[int, int] | Rect) -> FilmBase:
    """The middle value of a small square about a spot, or of a rectangle."""
    width, height = image.size
    if len(where) == 2:
        x, y = where
        if not (0 <= x < width and 0 <= y < height):
            raise InvalidInput(
                f"The spot {x}, {y} lies outside the picture of {width} × {height} pixels. Point at the film base in it."
            )
        reach = max(2, min(width, height) // 200)
        box = (max(0, x - reach), max(0, y - reach), min(width, x + reach + 1), min(height, y + reach + 1))
    else:
        box = where
        left, top, right, bottom = box
        if not (0 <= left < right <= width and 0 <= top < bottom <= height):
            raise InvalidInput(
                f"The rectangle {left}, {top}, {right}, {bottom} doesn't lie in the picture of {width} × {height} pixels. "
                "Give left, top, right and bottom within it."
            )
    patch = _coded(image.crop(box), MEASURED_PX).reshape(-1, 3)
    base = _three(decode_srgb(np.median(patch, axis=0)))
    light = decode_srgb(_coded(image, MEASURED_PX // 4))
    thinner = (light > np.asarray(base) * 10**0.1).all(axis=2) & ~(light >= CLEAR).all(axis=2)
    part = float(thinner.mean())
    low, high = np.quantile(_densities(patch).mean(axis=1), (0.1, 0.9))
    if min(base) >= CLEAR:
        return FilmBase(
            base, Sureness.UNSURE, "This spot is as bright as a scan gets: empty light, or a base scanned too bright."
        )
    if part > 0.05:
        return FilmBase(
            base,
            Sureness.UNSURE,
            f"{part:.0%} of the picture is clearly thinner than this spot, and the base is the thinnest film.",
        )
    if high - low > 0.15:
        return FilmBase(
            base, Sureness.LIKELY, f"The spot is uneven: its density runs over {high - low:.2f}. Point at a plainer place."
        )
    return FilmBase(base, Sureness.SURE, "Pointed at.")


def base_of_roll(thinnest: Sequence[Channels]) -> FilmBase:
    """The base guessed from every frame's thinnest part (red, green, blue transmittances), where no rebate was scanned.

    Some deep shadow on a roll has got next to no light; frames that agree on how thin that is make it likely, never sure.
    Empty light beside the film (bright in every channel) is left out. Raises `InvalidInput` for no frames.
    """
    if not thinnest:
        raise InvalidInput("The base of a roll needs at least one frame. Link a scan of the roll, or point at the film base.")
    frames = [frame for frame in thinnest if min(frame) < CLEAR] or list(thinnest)
    levels = sorted((math.fsum(density(part) for part in frame) / 3, frame) for frame in frames)
    # One frame may hold a light leak or a scratch down to the clear support: of many frames the second counts.
    best = levels[1 if len(levels) >= 5 else 0][1]
    near = [frame for _, frame in levels if all(abs(density(a) - density(b)) < SAME_D for a, b in zip(frame, best, strict=True))]
    base = _three(np.median(np.asarray(near), axis=0))
    if len(near) >= 3:
        return FilmBase(base, Sureness.LIKELY, f"{len(near)} of {len(frames)} frames are equally thin in their deepest shadows.")
    return FilmBase(
        base,
        Sureness.UNSURE,
        f"Only {len(near)} of {len(frames)} frames get this thin; it may be a shadow. Point at the film base if a scan shows it.",
    )


def statistics_of(image: "Image.Image", inset: float = 0.08) -> FrameStatistics:
    """The thinnest and the densest part of one frame's scan, leaving out a rim (part of each side) of rebate or holder.

    The thinnest is the 99.5th percentile of light in each channel and the densest the 0.5th, after averaging grain away.
    """
    if not 0 <= inset < 0.4:
        raise InvalidInput(f"A rim of {inset:g} leaves too little of the picture. Give 0 to 0.39 of each side.")
    dx, dy = int(image.width * inset), int(image.height * inset)
    inner = image.crop((dx, dy, image.width - dx, image.height - dy))
    light = decode_srgb(_coded(inner, MEASURED_PX // 2)).reshape(-1, 3)
    low, high = np.quantile(light, (0.005, 0.995), axis=0)
    (r, g, b), (red, green, blue) = (float(v) for v in high), (float(v) for v in low)
    return FrameStatistics((r, g, b), (red, green, blue))
