"""Negative to positive in density space: the numbers a roll is inverted with, and the tables they make.

The steps, channel by channel: the scan's sRGB value becomes linear light, which is the film's transmittance T
against clear light; density is D = -log10 T; the film base is taken off; what is left is divided by the slope of
the film's curve, and 10 to that power is the light that fell on the film. It is scaled to white and coded as sRGB.
The whole of it lives in lookup tables, so a picture costs one lookup for each value and is never altered itself.

Densities from a scan are the scanner's own, not ISO 5-3 Status M or A, and are never to be called so. Values are
taken as coded in sRGB; a picture with another colour profile has to be brought to sRGB first.
Numbers belong to one roll, with strips apart where needed, never to a page: a page may hold several stocks.

numpy is loaded inside the functions that make or use tables; Pillow only by whoever hands a picture in.
"""

import json
import math
import re
from dataclasses import asdict, dataclass, fields
from enum import StrEnum
from functools import lru_cache
from itertools import chain
from typing import TYPE_CHECKING, Any

from catalogue.errors import InvalidInput, UnreadablePicture

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray
    from PIL import Image

    Floats = NDArray[np.float64]

Channels = tuple[float, float, float]
"""Red, green and blue."""
LEAST_LIGHT = 1 / 65535
"""The lowest step of a 16-bit scan, density 4.82, stands for no light at all, which has no density."""
SLOPE = 0.6
"""Straight-line slope of a colour negative, 0.18 density for a stop (common practice, from film makers' guides);
for black-and-white 0.56 to 0.65 is aimed at (common practice, no published source). Both can be set."""
WHITE = 0.95
"""Density above the base that becomes white where nothing was measured: the lightest step of a paper scale on
colour negative, 1.10 to 1.30, less a base of 0.25 (red; a film maker's exposure guide)."""


class FilmKind(StrEnum):
    """What a piece of developed film is."""

    BLACK_AND_WHITE = "black-and-white negative"
    COLOUR_NEGATIVE = "colour negative"
    SLIDE = "slide"


_SLIDE = re.compile(r"\b(e-?6|k-?14|reversal|slides?|transparency|transparencies|diapositives?)\b")
_COLOUR = re.compile(r"\b(c-?41|ecn-?2|colou?r)\b")
_GREY = re.compile(r"\b(black-(and|&)-white|b-?&-?w|b/w|bw|monochrome|panchromatic|orthochromatic)\b")


def kind_for(process: str, stock_kind: str = "") -> FilmKind | None:
    """The kind of film that a process leaves behind; None where neither text says it.

    The process decides, for it makes the picture: slide film in C-41 comes out a negative. The stock is asked where
    the process says nothing, and for black-and-white film that is developed in C-41.
    """
    how, what = (re.sub(r"[\s‐‑–-]+", "-", text.strip().casefold()) for text in (process, stock_kind))
    if _SLIDE.search(how):
        return None if "41" in how else FilmKind.SLIDE  # slide film in C-41, or the other way round: somebody has to say
    if _GREY.search(how) or (_COLOUR.search(how) and _GREY.search(what)):
        return FilmKind.BLACK_AND_WHITE
    if _COLOUR.search(how):
        return FilmKind.COLOUR_NEGATIVE
    found = ((_SLIDE, FilmKind.SLIDE), (_GREY, FilmKind.BLACK_AND_WHITE), (_COLOUR, FilmKind.COLOUR_NEGATIVE))
    return next((kind for pattern, kind in found if pattern.search(what)), None)


def density(transmittance: float) -> float:
    """D = -log10 T; no light at all counts as the lowest step of 16 bits."""
    return -math.log10(max(transmittance, LEAST_LIGHT)) + 0.0


def light_over_base(density_above_base: float, slope: float) -> float:
    """How many times the light of the film's first trace fell here: 10 to the power of D / slope."""
    return float(10 ** (max(0.0, density_above_base) / slope))


def decode_srgb(values: "ArrayLike") -> "Floats":
    """Linear light for sRGB values, both 0 to 1 (IEC 61966-2-1)."""
    import numpy as np

    coded = np.asarray(values, dtype=np.float64)
    return np.where(coded <= 0.04045, coded / 12.92, ((np.maximum(coded, 0.0) + 0.055) / 1.055) ** 2.4)


def encode_srgb(light: "ArrayLike") -> "Floats":
    """sRGB values for linear light, both 0 to 1 (IEC 61966-2-1)."""
    import numpy as np

    linear = np.asarray(light, dtype=np.float64)
    return np.where(linear <= 0.0031308, linear * 12.92, 1.055 * np.maximum(linear, 0.0) ** (1 / 2.4) - 0.055)


def _number(value: object, name: str, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        shown = f"{value:g}" if isinstance(value, float) else repr(value)[:40]
        raise InvalidInput(f"The {name} can't be {shown}. Give a number from {low:g} to {high:g}.")
    return float(value)


def channels(value: object, name: str, low: float, high: float) -> Channels:
    """Three numbers within the bounds; raises `InvalidInput` with what is wrong."""
    if not isinstance(value, list | tuple) or len(value) != 3:
        raise InvalidInput(f"The {name} needs three numbers, for red, green and blue, and got {repr(value)[:60]}.")
    red, green, blue = (_number(part, f"{name} in {of}", low, high) for part, of in zip(value, _NAMES, strict=True))
    return (red, green, blue)


_NAMES = ("red", "green", "blue")


@dataclass(frozen=True)
class Inversion:
    """The numbers one roll, strip or frame is made positive with; each three are red, green and blue.

    `base` is the transmittance of the film base against clear light (0 to 1, linear); `slope` the straight-line slope
    of the film, density over log exposure; `white` and `black` the densities above the base that become white and
    black; `exposure` is in stops, more is lighter. Black at 0 takes the light of the bare base off: a film's curve
    near its toe is close to D = slope × log10(1 + E), so what light added is E, and the base itself prints black.
    """

    kind: FilmKind
    base: Channels = (1.0, 1.0, 1.0)
    slope: Channels = (SLOPE, SLOPE, SLOPE)
    white: Channels = (WHITE, WHITE, WHITE)
    black: Channels = (0.0, 0.0, 0.0)
    exposure: float = 0.0

    def __post_init__(self) -> None:
        """Raises `InvalidInput` for numbers no film has."""
        try:
            object.__setattr__(self, "kind", FilmKind(self.kind))
        except ValueError:
            kinds = ", ".join(FilmKind)
            raise InvalidInput(f"{str(self.kind)[:60]!r} is no kind of film. Choose one of: {kinds}.") from None
        for name, what, low, high in (
            ("base", "film base's transmittance", 0.001, 1.0),
            ("slope", "slope", 0.1, 4.0),
            ("white", "white", 0.05, 5.0),
            ("black", "black", -2.0, 4.0),
        ):
            object.__setattr__(self, name, channels(getattr(self, name), what, low, high))
        object.__setattr__(self, "exposure", _number(self.exposure, "exposure in stops", -10, 10))
        for white, black, of in zip(self.white, self.black, _NAMES, strict=True):
            if white - black < 0.05 - 1e-9:
                raise InvalidInput(
                    f"In {of}, white is at density {white:g} and black at {black:g}. White has to lie at least 0.05 above black."
                )

    def to_json(self) -> str:
        """These numbers as one JSON object."""
        return json.dumps(asdict(self))

    @classmethod
    def from_json(cls, text: str) -> "Inversion":
        """Raises `InvalidInput` for anything but what `to_json` writes."""
        try:
            given = json.loads(text)
        except (ValueError, TypeError, RecursionError):
            raise InvalidInput("The stored numbers for the positive are no JSON. Set them again.") from None
        names = [field.name for field in fields(cls)]
        found = list(given) if isinstance(given, dict) else []
        if sorted(found) != sorted(names):
            has = ", ".join(found)[:80] or "none"
            raise InvalidInput(f"The numbers for the positive need exactly {', '.join(names)}, and have {has}. Set them again.")
        return cls(**given)


def of_strip(roll: Inversion, strip: Inversion | None = None) -> Inversion:
    """What a strip is made positive with: its own numbers where it has some, or its roll's.

    Raises `InvalidInput` for a strip of another kind than its roll, which is one stock throughout.
    """
    if strip is None:
        return roll
    if strip.kind is not roll.kind:
        raise InvalidInput(
            f"The strip is set to {strip.kind} and its roll to {roll.kind}. A roll is one stock: give both the same kind."
        )
    return strip


@lru_cache(maxsize=16)
def _table_arrays(params: Inversion, bits: int) -> "tuple[NDArray[Any], ...]":
    import numpy as np

    if bits not in (8, 16):
        raise InvalidInput(f"Tables are made for 8 or 16 bits, not for {bits}.")
    top = 2**bits - 1
    tables = []
    light = np.maximum(decode_srgb(np.arange(top + 1) / top), LEAST_LIGHT)
    for base, slope, white, black in zip(params.base, params.slope, params.white, params.black, strict=True):
        above = np.maximum(0.0, np.log10(base / light))
        floor = 10 ** ((black - white) / slope)
        part = (10 ** ((above - white) / slope) - floor) / (1 - floor) * 2**params.exposure
        table = np.rint(encode_srgb(np.clip(part, 0.0, 1.0)) * top)
        if params.kind is FilmKind.SLIDE:
            table = np.arange(top + 1)
        tables.append(table.astype(np.uint8 if bits == 8 else np.uint16))
        tables[-1].flags.writeable = False
    return tuple(tables)


def tables_for(params: Inversion, bits: int = 8) -> tuple[list[int], list[int], list[int]]:
    """What each scanned value becomes, in red, green and blue: 256 or 65 536 values; a slide's stay what they are."""
    red, green, blue = (table.tolist() for table in _table_arrays(params, bits))
    return red, green, blue


def positive_of(image: "Image.Image", params: Inversion) -> "Image.Image":
    """The positive of one roll's, strip's or frame's picture, as a new picture; the one given is not altered.

    Grey stays grey (made with the numbers for green), colour stays colour, an alpha channel is kept, 16 bits of grey
    stay 16 bits. Black-and-white film scanned in colour comes out neutral. A slide comes back as it is.
    Raises `UnreadablePicture` for a kind of picture that holds no scan.
    """
    if params.kind is FilmKind.SLIDE:
        return image.copy()
    if image.mode.startswith("I"):
        positive = _of_sixteen_bits(image, params)
    elif image.mode in ("L", "LA", "RGB", "RGBA"):
        red, green, blue = tables_for(params)
        colour = image.mode.startswith("RGB")
        tables = [red, green, blue] if colour else [green]
        if image.mode.endswith("A"):
            tables.append(list(range(256)))
        positive = image.point(list(chain.from_iterable(tables)))
        if colour and params.kind is FilmKind.BLACK_AND_WHITE:
            grey = positive.convert("LA" if image.mode == "RGBA" else "L")
            grey.info = positive.info
            positive = grey.convert(image.mode)
    else:
        raise UnreadablePicture(
            f"A picture of mode {image.mode} holds no scan of film. Save it as RGB or grey, 8 or 16 bits, and link that."
        )
    positive.info.pop("icc_profile", None)  # what comes out is sRGB, whatever the scan said of itself
    return positive


def _of_sixteen_bits(image: "Image.Image", params: Inversion) -> "Image.Image":
    import numpy as np
    from PIL import Image

    values = np.clip(np.asarray(image), 0, 65535).astype(np.uint16)
    positive = Image.fromarray(positive_pixels(values, params))
    positive.info = dict(image.info)
    return positive


def positive_pixels(pixels: "NDArray[Any]", params: Inversion) -> "NDArray[Any]":
    """The same for an array of 8- or 16-bit values, height × width or height × width × 3, as a new array.

    For scans in colour of 16 bits a channel, which Pillow has no mode for. Raises `UnreadablePicture` for other arrays.
    """
    import numpy as np

    colour = pixels.ndim == 3 and pixels.shape[2] == 3
    if pixels.dtype not in (np.uint8, np.uint16) or not (colour or pixels.ndim == 2):
        shape = " × ".join(str(n) for n in pixels.shape)
        raise UnreadablePicture(f"Pixels of {shape} {pixels.dtype} are no scan. Give 8 or 16 bits, grey or red, green and blue.")
    if params.kind is FilmKind.SLIDE:
        return pixels.copy()
    red, green, blue = _table_arrays(params, pixels.dtype.itemsize * 8)
    if not colour:
        return np.take(green, pixels)
    out = np.stack([np.take(table, pixels[..., n]) for n, table in enumerate((red, green, blue))], axis=-1)
    if params.kind is FilmKind.BLACK_AND_WHITE:
        # The weights of ITU-R BT.601 in 1/65536, as Pillow makes grey of colour.
        grey = (out.astype(np.uint64) @ np.array([19595, 38470, 7471], dtype=np.uint64) + 0x8000) >> 16
        out = np.repeat(grey.astype(pixels.dtype)[..., None], 3, axis=-1)
    return out
