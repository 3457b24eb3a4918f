"""Draws the example's pictures: the same seed gives the same bytes."""

import io
import random
import zlib
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter

Colour = tuple[int, int, int]
Floats = NDArray[np.float32]
LONG_SIDE_PX = 320


def tones(*values: float) -> Floats:
    """One value a channel, as numbers of the same kind as the pixels."""
    return np.array(values, dtype=np.float32)


def mix(one: Colour, two: Colour, part: float) -> Colour:
    """The colour `part` of the way from one to two."""
    r, g, b = (round(a + (c - a) * part) for a, c in zip(one, two, strict=True))
    return (r, g, b)


class Plate:
    """A picture being drawn; x and y run from 0 to 1, origin top left."""

    def __init__(self, seed: int, width: int, height: int) -> None:
        self.rng = random.Random(seed)
        self.numbers = np.random.default_rng(seed)
        self.w, self.h = width, height
        self.image = Image.new("RGB", (width, height))
        self.draw = ImageDraw.Draw(self.image)

    def _set(self, pixels: Floats) -> None:
        self.image = Image.fromarray(np.clip(pixels, 0, 255).astype(np.uint8))
        self.draw = ImageDraw.Draw(self.image)

    def pixels(self) -> Floats:
        """The picture as numbers from 0 to 255."""
        return np.asarray(self.image, dtype=np.float32)

    def u(self, low: float, high: float) -> float:
        """A number between the two."""
        return self.rng.uniform(low, high)

    def points(self, points: Sequence[tuple[float, float]]) -> list[tuple[float, float]]:
        """Pixels for points from 0 to 1."""
        return [(x * self.w, y * self.h) for x, y in points]

    def poly(self, points: Sequence[tuple[float, float]], colour: Colour) -> None:
        """A filled polygon."""
        self.draw.polygon(self.points(points), fill=colour)

    def box(self, x: float, y: float, w: float, h: float, colour: Colour) -> None:
        """A filled rectangle."""
        self.poly([(x, y), (x + w, y), (x + w, y + h), (x, y + h)], colour)

    def oval(self, x: float, y: float, rx: float, ry: float, colour: Colour) -> None:
        """An ellipse about x, y; both radii as parts of the height."""
        cx, cy, rx, ry = x * self.w, y * self.h, rx * self.h, ry * self.h
        self.draw.ellipse((cx - rx, cy - ry, cx + rx, cy + ry), fill=colour)

    def ring(self, x: float, y: float, r: float, colour: Colour, width: int = 5) -> None:
        """A circle's outline."""
        cx, cy, r = x * self.w, y * self.h, r * self.h
        self.draw.ellipse((cx - r, cy - r, cx + r, cy + r), outline=colour, width=width)

    def line(self, points: Sequence[tuple[float, float]], colour: Colour, width: int = 4) -> None:
        """A line through the points, its width in pixels."""
        self.draw.line(self.points(points), fill=colour, width=width, joint="curve")

    def ramp(self, top: Colour, bottom: Colour, y0: float = 0, y1: float = 1) -> None:
        """Colour running from top to bottom over part of the height."""
        a, b = round(y0 * self.h), round(y1 * self.h)
        steps = np.linspace(0, 1, max(b - a, 1), dtype=np.float32)[:, None, None]
        pixels = self.pixels().copy()
        pixels[a:b] = tones(*top) * (1 - steps) + tones(*bottom) * steps
        self._set(pixels)

    def clouds(self, amount: float, y1: float = 0.6) -> None:
        """Soft light patches in the sky."""
        field = self.numbers.random((7, 6)).astype(np.float32) * 0.65
        small = Image.fromarray((field * 255).astype(np.uint8)).resize((self.w, self.h), Image.Resampling.BICUBIC)
        fine = Image.fromarray((self.numbers.random((26, 16)) * 90).astype(np.uint8))
        fine = fine.resize((self.w, self.h), Image.Resampling.BICUBIC)
        cloud = np.asarray(small, dtype=np.float32) + np.asarray(fine, dtype=np.float32)
        fade = np.clip(1 - np.linspace(0, 1 / y1, self.h), 0, 1).astype(np.float32)[:, None]
        self._set(self.pixels() + ((cloud - 105) * fade * amount)[:, :, None])

    def glow(self, x: float, y: float, radius: float, colour: Colour, strength: float = 1) -> None:
        """Light about a point, added to what is there."""
        yy, xx = np.mgrid[0 : self.h, 0 : self.w].astype(np.float32)
        far: Floats = ((xx - x * self.w) ** 2 + (yy - y * self.h) ** 2) / (radius * self.h) ** 2
        self._set(self.pixels() + np.exp(-far)[:, :, None] * tones(*colour) * strength)

    def mist(self, y: float, depth: float, colour: Colour, amount: float) -> None:
        """A band of mist about height y."""
        rows = np.linspace(0, 1, self.h, dtype=np.float32)
        part = (np.exp(-(((rows - y) / depth) ** 2)) * amount)[:, None, None]
        self._set(self.pixels() * (1 - part) + tones(*colour) * part)

    def ridge(self, y: float, rough: float, colour: Colour, foot: float = 1) -> None:
        """A line of hills at height y, filled down to `foot`."""
        waves = [
            (self.u(0.5, 2), self.u(0, 6.3), 1.0),
            (self.u(2, 5), self.u(0, 6.3), 0.4),
            (self.u(7, 15), self.u(0, 6.3), 0.14),
        ]
        xs = [n / 60 for n in range(61)]
        top = [(x, y + rough * sum(s * np.sin(f * x * 6.3 + p) for f, p, s in waves)) for x in xs]
        self.poly([(0, foot), *top, (1, foot)], colour)

    def reflect(self, y: float, dark: float = 0.7) -> None:
        """Mirrors what lies above y into rippled water below."""
        pixels = self.pixels().copy()
        at = round(y * self.h)
        rows = np.arange(at, self.h)
        sway = np.sin(rows * 0.5 + self.u(0, 6)) * (1 + (rows - at) * 0.04) + self.numbers.normal(0, 1.6, len(rows))
        for row, shift in zip(rows.tolist(), sway, strict=True):
            pixels[row] = np.roll(pixels[max(0, 2 * at - row - 1)], int(shift), axis=0) * dark
        self._set(pixels)

    def texture(self, y0: float, amount: float) -> None:
        """Uneven ground from y0 down."""
        at = round(y0 * self.h)
        small = self.numbers.normal(0, amount, (max(2, (self.h - at) // 4), self.w // 12)).astype(np.float32)
        grown = Image.fromarray(small).resize((self.w, self.h - at), Image.Resampling.BILINEAR)
        pixels = self.pixels().copy()
        pixels[at:] += np.asarray(grown)[:, :, None]
        self._set(pixels)

    def soften(self, radius: float) -> None:
        """Blurs what is there, as a background out of focus."""
        self.image = self.image.filter(ImageFilter.GaussianBlur(radius))
        self.draw = ImageDraw.Draw(self.image)


def seed_of(text: str) -> int:
    """A seed from a text, the same on every machine and in every run."""
    return zlib.crc32(text.encode())


def size_for(along_mm: float, across_mm: float) -> tuple[int, int]:
    """Width and height in pixels for a frame of these measures."""
    scale = LONG_SIDE_PX / max(along_mm, across_mm)
    return max(8, round(along_mm * scale)), max(8, round(across_mm * scale))


def finish(pixels: Floats, seed: int, *, colour: bool, grain: float, contrast: float) -> Floats:
    """Lens fall-off, a film-like curve, grain and, for black and white, the tone."""
    numbers = np.random.default_rng(seed + 1)
    height, width = pixels.shape[:2]
    value = pixels / np.float32(255)
    if not colour:
        value = (value @ tones(0.34, 0.5, 0.16))[:, :, None]
    yy, xx = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j].astype(np.float32)
    value = value * (1 - numbers.uniform(0.12, 0.3) * (xx**2 + yy**2) / 2)[:, :, None]
    value = np.clip(value * numbers.uniform(0.92, 1.12), 0, 1)
    value = (1 - contrast) * value + contrast * value * value * (3 - 2 * value)
    # Grain shows most in the middle tones.
    noise = numbers.normal(0, grain, (height, width, 1)).astype(np.float32)
    value = value + noise * (0.4 + 2.2 * value * (1 - value))
    value = 0.035 + value * 0.945
    if colour:
        value = value * tones(1.02, 1.0, 0.96) + tones(0, 0.004, 0.015)
    else:
        value = np.repeat(value, 3, axis=2) * tones(1, 0.99, 0.965)
    toned: Floats = np.clip(value, 0, 1).astype(np.float32)
    return toned


def negative(positive: Floats, *, colour: bool) -> Floats:
    """The positive inverted in density on its film base; a colour base is orange."""
    base = tones(0.93, 0.56, 0.34) if colour else tones(0.80, 0.81, 0.83)
    # Density grows with exposure: light parts of the scene come out dark on the film.
    density = 0.08 + np.power(positive, 0.8) * (1.15 if colour else 1.25)
    return np.clip(base * np.power(10, -density), 0, 1)


def jpeg(value: Floats) -> bytes:
    """The picture as a JPEG file."""
    out = io.BytesIO()
    Image.fromarray((value * 255).round().astype(np.uint8)).save(out, "JPEG", quality=68, optimize=True)
    return out.getvalue()


def picture(
    subject: str,
    name: str,
    along_mm: float,
    across_mm: float,
    *,
    colour: bool,
    grain: float = 0.03,
    second: str = "",
) -> Floats:
    """Draws a subject as a positive; with `second`, both exposed on the one frame."""
    from example_archive.subjects import SUBJECTS

    width, height = size_for(along_mm, across_mm)
    seed = seed_of(name)

    def drawn(which: str, number: int) -> Floats:
        plate = Plate(number, width * 2, height * 2)  # drawn double, for smooth edges
        SUBJECTS[which](plate)
        return np.asarray(plate.image.resize((width, height), Image.Resampling.BOX), dtype=np.float32)

    pixels = drawn(subject, seed)
    if second:
        other = drawn(second, seed + 7)
        pixels = np.asarray(255 - (255 - pixels * 0.8) * (255 - other * 0.6) / 255, dtype=np.float32)
    contrast = 0.35 + (seed % 40) / 100
    return finish(pixels, seed, colour=colour, grain=grain, contrast=contrast)
