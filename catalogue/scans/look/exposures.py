"""How light each frame's positive is: balanced by itself, or one common exposure for the whole roll.

What is measured in a frame is its thinnest and its densest part; `positives.py` makes the pictures.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from catalogue.errors import InvalidInput
from catalogue.scans.look.positives import Channels, FilmKind, Inversion, channels, density

LEAST_WHITE = 0.4
"""Balancing goes no lower, or an almost empty frame would be stretched until only grain is seen (own choice)."""
COMMON_PART = 0.9
"""This part of a roll's frames keep their highlights under a common exposure (own choice)."""


@dataclass(frozen=True)
class FrameStatistics:
    """What was measured in one frame: its thinnest and its densest parts, as transmittances of red, green and blue."""

    thinnest: Channels
    densest: Channels

    def __post_init__(self) -> None:
        """Raises `InvalidInput` for transmittances outside 0 to 1."""
        object.__setattr__(self, "thinnest", channels(self.thinnest, "thinnest part", 0.0, 1.0))
        object.__setattr__(self, "densest", channels(self.densest, "densest part", 0.0, 1.0))


def _whites(frame: FrameStatistics, base: Channels) -> Channels:
    red, green, blue = (density(dense) - density(bare) for dense, bare in zip(frame.densest, base, strict=True))
    return (red, green, blue)


def _with_white(level: float, tints: Channels, start: Inversion) -> Inversion:
    """White at this mean density, each channel off it by its tint; never so low that grain is stretched into a picture."""
    level = max(level, LEAST_WHITE)
    red, green, blue = (min(5.0, max(LEAST_WHITE / 2, level + tint)) for tint in tints)
    return replace(start, white=(red, green, blue))


def balance(frame: FrameStatistics, start: Inversion, colours_of: Inversion | None = None) -> Inversion:
    """One frame balanced by itself: its densest part becomes white; base, slope and the rest come from `start`.

    Each channel's own densest part does, unless the colours are to be those of another inversion (the roll's):
    then the lightness alone is balanced. A slide is left as it is.
    """
    if start.kind is FilmKind.SLIDE:
        return start
    whites = _whites(frame, start.base)
    level = math.fsum(whites) / 3
    kept = colours_of.white if colours_of else whites
    middle = math.fsum(kept) / 3
    return _with_white(level, (kept[0] - middle, kept[1] - middle, kept[2] - middle), start)


def common_exposure(frames: Sequence[FrameStatistics], start: Inversion) -> Inversion:
    """One inversion for the whole roll, "as shot": a frame that got less light stays darker than the others.

    White is where nine frames in ten keep their highlights; the colours are the middle of all frames, so that one
    sunset doesn't tint the roll. Raises `InvalidInput` for no frames.
    """
    from statistics import median

    if not frames:
        raise InvalidInput("A common exposure needs at least one frame. Link a scan of the roll first.")
    if start.kind is FilmKind.SLIDE:
        return start
    whites = [_whites(frame, start.base) for frame in frames]
    levels = sorted(math.fsum(three) / 3 for three in whites)
    at = (len(levels) - 1) * COMMON_PART
    low = math.floor(at)
    level = levels[low] + (levels[min(low + 1, len(levels) - 1)] - levels[low]) * (at - low)
    red, green, blue = (median(three[n] - math.fsum(three) / 3 for three in whites) for n in range(3))
    return _with_white(level, (red, green, blue), start)
