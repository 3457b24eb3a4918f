"""Edge codes read from the scan of one strip of 135 film.

Pictures are looked at in memory and never altered. NumPy, Pillow and zxing-cpp
are loaded only where a picture is read. What the codes say about the pictures on
the strip is in `frames.py`.
"""

import math
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, Literal, TypeAlias

from catalogue.errors import InvalidInput
from catalogue.film.edge_code import EdgeCode
from catalogue.scans.edge.frames import FoundCode, agreeing

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray
    from PIL import Image

    Grey: TypeAlias = NDArray[np.uint8]

Along = Literal["horizontal", "vertical", "auto"]

FILM_MM = 35.0
_PX_PER_MM = (24.0, 36.0)
"""Resolutions the scan is brought to: a module is then 10 to 22 pixels wide, and thin ones survive the threshold."""
_MAX_PX = 60_000_000


def _eight_bits(values: "NDArray[Any]") -> "Grey":
    """Grey values of any depth stretched over 0 to 255, a block of rows at a time so that large scans need little memory."""
    import numpy as np

    sample = values[:: max(1, values.shape[0] // 1000), :: max(1, values.shape[1] // 1000)].astype(np.float64)
    if not np.isfinite(sample).all():
        raise InvalidInput("The grey values of the scan are not all numbers. Read the scan again.")
    low, high = np.percentile(sample, (0.5, 99.5))
    scale = 255 / (high - low) if high > low else 0.0
    grey = np.empty(values.shape, np.uint8)
    for top in range(0, len(values), 256):
        block = (values[top : top + 256].astype(np.float32) - low) * scale
        grey[top : top + 256] = np.clip(np.nan_to_num(block), 0, 255)
    return grey


def _planes(image: "Image.Image | NDArray[Any]") -> "Iterator[Grey]":
    """The picture in grey, then colour by colour: one dye may carry the code alone."""
    import numpy as np

    if isinstance(image, np.ndarray):
        if image.ndim != 2:
            raise InvalidInput(f"A grey picture has 2 dimensions, height and width, not {image.ndim}. Turn it into grey first.")
        yield _eight_bits(image)
    elif image.mode in ("1", "L", "F") or image.mode.startswith("I"):
        yield _eight_bits(np.asarray(image))
    else:
        yield _eight_bits(np.asarray(image.convert("L")))
        colour = image if image.mode == "RGB" else image.convert("RGB")
        for band in colour.split():
            yield _eight_bits(np.asarray(band))


def _versions(grey: "Grey", px_per_mm: float) -> "Iterator[tuple[float, Grey]]":
    """The picture at each reading resolution, with the factor it was enlarged by."""
    import numpy as np
    from PIL import Image

    picture = Image.fromarray(grey)
    for wanted in _PX_PER_MM:
        factor = min(wanted / px_per_mm, math.sqrt(_MAX_PX / grey.size))
        size = (max(1, round(picture.width * factor)), max(1, round(picture.height * factor)))
        yield factor, np.asarray(picture.resize(size, Image.Resampling.LANCZOS))


def _found_in(lying: "Grey", px_per_mm: float, upright_turn: int) -> tuple[list[FoundCode], list[FoundCode]]:
    """Everything read from a picture in which the film lies along the width, with repeats: bars dark, and bars light.

    Rows are tried from the middle outwards and a data track is only looked for
    once its clock is known, so each version is put below an empty half: a code is
    then met clock first, and only that way round. That tells film standing upright
    from film on its head, and reading backwards tells which side was scanned.
    """
    import numpy as np
    import zxingcpp

    formats = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.DXFilmEdge)
    dark: list[FoundCode] = []
    light: list[FoundCode] = []
    for factor, grey in _versions(lying, px_per_mm):
        height, width = grey.shape
        for found, bars_dark in ((dark, grey), (light, 255 - grey)):
            for half_turn in (False, True):
                shown = bars_dark[::-1, ::-1] if half_turn else bars_dark
                sheet = np.concatenate([np.full_like(shown, 255), shown])
                for barcode in zxingcpp.read_barcodes(sheet, formats):
                    try:
                        code = EdgeCode.parse(barcode.text)
                    except InvalidInput:
                        continue
                    corners = barcode.position
                    xs = (corners.top_left.x, corners.top_right.x)
                    x, y = (sum(xs) + 1) / 2, (corners.top_left.y + corners.bottom_left.y + 1) / 2 - height
                    if half_turn:
                        x, y = width - x, height - y
                    length = (abs(xs[1] - xs[0]) + 1) / factor
                    turn = (upright_turn + 180 * half_turn) % 360
                    mirrored = abs(barcode.orientation) > 90
                    found.append(FoundCode(code, x / factor, y / factor, length, turn, mirrored))
    return dark, light


def _mean(same: Sequence[FoundCode]) -> FoundCode:
    """One reading for several of the same code at the same place."""
    first, count = same[0], len(same)
    position, across, length = (
        sum(values) / count for values in zip(*((r.position_px, r.across_px, r.length_px) for r in same), strict=True)
    )
    return FoundCode(first.code, position, across, length, first.turn, first.mirrored)


def _one_for_each_place(found: Sequence[FoundCode], times: int) -> list[FoundCode]:
    """What most readings of a place agree on; nothing where two codes draw, or where it was read fewer than `times`."""
    places: list[list[FoundCode]] = []
    for reading in sorted(found, key=lambda r: r.position_px):
        last = places[-1][-1] if places else None
        if last and reading.position_px - last.position_px < 0.5 * min(reading.length_px, last.length_px):
            places[-1].append(reading)
        else:
            places.append([reading])
    chosen: list[FoundCode] = []
    for place in places:
        votes = Counter((r.code, r.turn, r.mirrored) for r in place).most_common(2)
        (said, most), others = votes[0], sum(count for _, count in votes[1:])
        if most > others and most >= times:
            chosen.append(_mean([r for r in place if (r.code, r.turn, r.mirrored) == said]))
    return chosen


def _trusted(found: Sequence[FoundCode]) -> list[FoundCode]:
    """What can be relied on.

    One parity bit lets any even number of misread modules pass, so codes must bear
    each other out: neighbours by stock and count, a code that stands alone by being
    read at both resolutions.
    """
    sure = agreeing(_one_for_each_place(found, 1))
    return sure if len(sure) > 1 else agreeing(_one_for_each_place(found, len(_PX_PER_MM)))


def read_edge_codes(
    image: "Image.Image | NDArray[Any]", along: Along = "auto", px_per_mm: float | None = None
) -> tuple[FoundCode, ...]:
    """The edge codes of one strip of 135 film, in order of their place along the picture; empty where none is readable.

    `image` is a Pillow picture or a grey array of height × width, negative or
    positive, from either side and either way up; it must show the film's edge.
    `along` is the film's direction; "auto" takes the longer side first. `px_per_mm`
    is the scan's resolution; without it the picture is taken to be one film's
    width across. Codes that contradict one another in stock or count are left out,
    all of them where there is no majority. Raises `InvalidInput` for an array that isn't grey.
    """
    if px_per_mm is not None and not (math.isfinite(px_per_mm) and px_per_mm > 0):
        raise InvalidInput(f"The resolution of a scan is more than 0 pixels a millimetre, not {px_per_mm:g}.")
    for grey in _planes(image):
        height, width = grey.shape
        if min(height, width) < 2:
            return ()
        directions: list[Along] = [along]
        if along == "auto":
            directions = ["vertical", "horizontal"] if height > width else ["horizontal", "vertical"]
            if max(height, width) > 2 * min(height, width):
                del directions[1]  # the film can't lie across a picture as long as that
        for direction in directions:
            lying, turn = (grey, 0) if direction == "horizontal" else (_rotated(grey), 270)
            # Bars are dark on a negative and light on a positive.
            both = _found_in(lying, px_per_mm or lying.shape[0] / FILM_MM, turn)
            best = max((_trusted(found) for found in both), key=len)
            if best:
                return tuple(best)
    return ()


def _rotated(grey: "Grey") -> "Grey":
    """A quarter turn anticlockwise: what was the top lies at the left."""
    import numpy as np

    return np.ascontiguousarray(np.rot90(grey))
