"""Paints synthetic scans of 135 strips with edge codes, so that reading them can be tested from end to end.

Everything is laid out in millimetres, x along the film from the strip's left end
and y across it from the top, seen from the base side with the codes along the
lower edge; only the last steps know pixels. Rectangles are painted by their
exact share of each pixel, so any resolution will do.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter, ImageFont

from catalogue.film.edge_code import HALF_FRAME_MM, EdgeCode, clock

FILM_MM = 34.975
PERFORATION_MM = (1.981, 2.794)
"""Along and across the film; pitch 4.75 mm, 2.01 mm from the edge (from memory of the perforation standards)."""
PITCH_MM = 4.75
PICTURE_MM = (36.0, 24.0)


@dataclass(frozen=True)
class Strip:
    """One strip and the way in which it was scanned.

    `codes` lie half a frame apart with the first one's centre `first_mm` from the
    left end; `pictures` are the left ends of the exposures in mm.
    """

    codes: Sequence[EdgeCode] = ()
    pictures: Sequence[float] = (1, 39, 77, 115, 153, 191)
    length_mm: float = 228.0
    first_mm: float = 19.0
    code_mm: float = 14.0  # the length of a code isn't in the sources: to be varied
    track_mm: float = 0.85
    clock_to_edge_mm: float = 1.85  # from the edge to the far side of the clock track
    film_base: tuple[float, float, float] = (0.85, 0.55, 0.35)  # transmission of the masked base
    code_density: float = 1.3
    holder_mm: float = 1.5  # what is seen beyond the film, above and below
    holder: float = 0.01
    slope: float = 0.0  # light falling off along the strip, as a share
    positive: bool = False
    gamma: float = 2.2
    blur_mm: float = 0.0
    noise: float = 0.0
    rotation_deg: float = 0.0
    mirrored: bool = False
    turned: int = 0  # quarter turns anticlockwise
    fence: bool = False  # pictures full of upright bars, and a row of bars on the rebate
    seed: int = 1
    spoilt: Sequence[str] = field(default=())  # data tracks painted instead of the codes' own

    def centres_mm(self) -> list[float]:
        return [self.first_mm + i * HALF_FRAME_MM for i in range(max(len(self.codes), len(self.spoilt)))]


def run_of_codes(first: str, count: int) -> list[EdgeCode]:
    """Codes of consecutive half frames from "79-7/3" on."""
    start = EdgeCode.parse(first)
    assert start.frame is not None
    at = 2 * start.frame + start.half
    return [EdgeCode(start.product, start.generation, (at + i) // 2, bool((at + i) % 2)) for i in range(count)]


def _share(size: int, start: float, end: float) -> NDArray[np.float64]:
    """How much of each of `size` pixels lies between two places given in pixels."""
    left = np.arange(size)
    return np.clip(np.minimum(left + 1, end) - np.maximum(left, start), 0, 1)


class _Canvas:
    """Transmission per pixel and colour; rectangles in millimetres are laid over it."""

    def __init__(self, width_mm: float, height_mm: float, px_per_mm: float, colour: tuple[float, ...]) -> None:
        self.scale = px_per_mm
        self.height, self.width = round(height_mm * px_per_mm), round(width_mm * px_per_mm)
        self.light = np.tile(np.array(colour), (self.height, self.width, 1))

    def fill(self, x: float, y: float, width: float, height: float, colour: object) -> None:
        s = self.scale
        x0, x1 = max(0, int(x * s)), min(self.width, int((x + width) * s) + 2)
        y0, y1 = max(0, int(y * s)), min(self.height, int((y + height) * s) + 2)
        if x1 <= x0 or y1 <= y0:
            return
        across = _share(y1 - y0, y * s - y0, (y + height) * s - y0)
        along = _share(x1 - x0, x * s - x0, (x + width) * s - x0)
        share = (across[:, None] * along[None, :])[:, :, None]
        part = self.light[y0:y1, x0:x1]
        self.light[y0:y1, x0:x1] = part * (1 - share) + np.asarray(colour) * share


def _picture(canvas: _Canvas, strip: Strip, rng: np.random.Generator, x: float, y: float) -> None:
    width, height = PICTURE_MM
    base = np.array(strip.film_base)
    canvas.fill(x, y, width, height, base * 10 ** -rng.uniform(0.3, 1.2))
    for _ in range(40):
        w, h = rng.uniform(0.5, 12), rng.uniform(0.5, 12)
        at = x + rng.uniform(0, width - w), y + rng.uniform(0, height - h)
        canvas.fill(*at, w, h, base * 10 ** -rng.uniform(0.1, 1.6, 3))
    if strip.fence:
        place, dark = x, True
        while place < x + width - 1.5:
            bar = float(rng.choice([0.45, 0.45, 0.45, 0.9, 1.35]))
            if dark:
                canvas.fill(place, y + 2, bar, height - 4, base * 0.05)
            place, dark = place + bar, not dark


def _row_of_bars(canvas: _Canvas, y: float, height: float, x: float, module: float, bits: str, colour: object) -> None:
    for i, bit in enumerate(bits):
        if bit == "1":
            canvas.fill(x + i * module, y, module, height, colour)


def _film(strip: Strip, scale: float) -> _Canvas:
    rng = np.random.default_rng(strip.seed)
    base = np.array(strip.film_base)
    exposed = base * 10**-strip.code_density
    top = strip.holder_mm
    canvas = _Canvas(strip.length_mm, FILM_MM + 2 * top, scale, (strip.holder,) * 3)
    canvas.fill(0, top, strip.length_mm, FILM_MM, base)
    bottom = top + FILM_MM
    for left in strip.pictures:
        _picture(canvas, strip, rng, left, top + (FILM_MM - PICTURE_MM[1]) / 2)
    along, across = PERFORATION_MM
    for i in range(int(strip.length_mm / PITCH_MM) + 1):
        x = i * PITCH_MM + PITCH_MM / 2 - along / 2
        canvas.fill(x, top + 2.01, along, across, (1, 1, 1))
        canvas.fill(x, bottom - 2.01 - across, along, across, (1, 1, 1))
    y_clock = bottom - strip.clock_to_edge_mm
    y_data = y_clock + strip.track_mm
    tracks = list(strip.spoilt) or [code.modules() for code in strip.codes]
    for centre, data in zip(strip.centres_mm(), tracks, strict=True):
        module = strip.code_mm / 31
        start = centre - module * len(data) / 2
        _row_of_bars(canvas, y_clock, strip.track_mm, start, module, clock(len(data) == 31), exposed)
        _row_of_bars(canvas, y_data, strip.track_mm, start, module, data, exposed)
    if strip.fence:
        bits = "".join(rng.choice(["0", "1"], int(strip.length_mm / 0.45)))
        _row_of_bars(canvas, top + 0.2, 1.6, 0, 0.45, bits, exposed)
    return canvas


def _lettering(strip: Strip, picture: Image.Image, scale: float) -> None:
    """Figures on both rebates, as a strip has them; upright, beside each code."""
    draw = ImageDraw.Draw(picture)
    font = ImageFont.load_default(max(6, 1.7 * scale))
    ink = tuple(int(255 * (part * 10**-strip.code_density) ** (1 / strip.gamma)) for part in strip.film_base)
    bottom = strip.holder_mm + FILM_MM
    for centre, code in zip(strip.centres_mm(), strip.codes, strict=False):
        text = "" if code.frame_number is None else str(code.frame_number)
        draw.text(((centre + strip.code_mm / 2 + 0.6) * scale, (bottom - 1.95) * scale), text, ink, font)
        draw.text((centre * scale, (strip.holder_mm + 0.05) * scale), text + " STOCK", ink, font)


def paint_edge(strip: Strip, px_per_mm: float) -> Image.Image:
    """The scan of a strip, RGB in 8 bits."""
    canvas = _film(strip, px_per_mm)
    light = canvas.light * (1 - strip.slope * np.linspace(0, 1, canvas.width))[None, :, None]
    values = np.clip(light, 0, 1) ** (1 / strip.gamma)
    picture = Image.fromarray((values * 255).round().astype(np.uint8))
    _lettering(strip, picture, px_per_mm)
    if strip.rotation_deg:
        fill = (int(255 * strip.holder ** (1 / strip.gamma)),) * 3
        picture = picture.rotate(strip.rotation_deg, Image.Resampling.BICUBIC, expand=True, fillcolor=fill)
    if strip.blur_mm:
        picture = picture.filter(ImageFilter.GaussianBlur(strip.blur_mm * px_per_mm))
    values = np.asarray(picture).astype(np.float64)
    if strip.noise:
        values += np.random.default_rng(strip.seed + 1).normal(0, strip.noise, values.shape)
    if strip.positive:
        values = 255 - values
    values = np.clip(values, 0, 255).round().astype(np.uint8)
    if strip.mirrored:
        values = values[:, ::-1]
    return Image.fromarray(np.ascontiguousarray(np.rot90(values, strip.turned)))
