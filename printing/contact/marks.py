"""Selects and crops drawn on a contact sheet as by hand: told apart by their shape, never by colour.

Where paper is free round a picture a select's heavy line runs outside it; else it runs inside, on a white line wider
than itself, so that it shows on a dark picture too. Crop lines always lie on white ones.
"""

from collections.abc import Sequence

from catalogue.sleeves.geometry import Rect
from catalogue.views import FrameChoice
from printing.canvas.items import Box, Item, Line

HEAVY_MM, GAP_MM = 0.7, 0.12
CORNER_MM, CORNER_WIDTH_MM, THIN_MM, HALO_MM = 3.0, 0.55, 0.15, 0.25
MARK_WORDS = "Heavy frame: select. Corner marks: crop."

Crop = tuple[float, float, float, float]


def crop_as_seen(crop: Crop, *, rotated: bool, mirrored: bool, part: str = "whole") -> Crop | None:
    """The crop in fractions of what is drawn, as the film lies; None where a piece of a frame cut in two holds none of it.

    `rotated` by 180 degrees first, then `mirrored` left to right, as pictures are. Of a frame cut in two the head
    is its left half and the tail its right half, so an edge may come to lie beyond 0 or 1.
    """
    left, top, right, bottom = crop
    if part == "head":
        left, right = left * 2, right * 2
    elif part == "tail":
        left, right = left * 2 - 1, right * 2 - 1
    if right <= 0 or left >= 1:
        return None
    if rotated:
        left, top, right, bottom = 1 - right, 1 - bottom, 1 - left, 1 - top
    if mirrored:
        left, right = 1 - right, 1 - left
    return left, top, right, bottom


def select_items(picture: Rect, inside: Rect, taken: Sequence[Rect]) -> list[Item]:
    """The heavy line of a select: outside the picture where `inside` (what may be printed on) and `taken` leave room."""
    by = GAP_MM + HEAVY_MM
    outer = Rect(picture.x - by, picture.y - by, picture.width + 2 * by, picture.height + 2 * by)
    if inside.contains(outer) and not any(outer.overlaps(other) for other in taken):
        return [Box(outer.inset(HEAVY_MM / 2), HEAVY_MM, 0.0)]
    line = picture.inset(HALO_MM + HEAVY_MM / 2)
    return [Box(line, HEAVY_MM + 2 * HALO_MM, 1.0), Box(line, HEAVY_MM, 0.0)]


def crop_items(picture: Rect, crop: Crop) -> list[Item]:
    """Thin lines along the crop and heavy marks at its corners, all within the picture."""
    left, top, right, bottom = crop
    half = CORNER_WIDTH_MM / 2 + HALO_MM  # what a corner mark needs on both sides of its line
    x0, x1 = (picture.x + min(1.0, max(0.0, part)) * picture.width for part in (left, right))
    y0, y1 = picture.y + top * picture.height, picture.y + bottom * picture.height
    x0, y0 = max(x0, picture.x + half), max(y0, picture.y + half)
    x1, y1 = min(x1, picture.right - half), min(y1, picture.bottom - half)
    leg = min(CORNER_MM, max(0.0, x1 - x0) / 3, max(0.0, y1 - y0) / 3)
    thin: list[Line] = []
    heavy: list[Line] = []
    for x, real, inward in ((x0, left >= 0, leg), (x1, right <= 1, -leg)):
        if not real:
            continue  # the crop goes on upon the other piece of the frame
        thin.append(Line(x, y0, x, y1, THIN_MM))
        cap = CORNER_WIDTH_MM / 2 * (1 if inward > 0 else -1)  # lines end square at their end point: this fills the corner
        for y, down in ((y0, leg), (y1, -leg)):
            heavy.append(Line(x, y, x, y + down, CORNER_WIDTH_MM))
            heavy.append(Line(x - cap, y, x + inward, y, CORNER_WIDTH_MM))
    thin += [Line(x0, y, x1, y, THIN_MM) for y in (y0, y1)]
    lines = [*thin, *heavy]
    halos = [Line(i.x1, i.y1, i.x2, i.y2, i.width + 2 * HALO_MM, 1.0) for i in lines]
    return [*halos, *lines]


def mark_items(
    choice: FrameChoice, picture: Rect, *, rotated: bool, mirrored: bool, part: str, inside: Rect, taken: Sequence[Rect]
) -> list[Item]:
    """What a person's choice looks like on the picture; nothing where nothing was chosen."""
    items: list[Item] = []
    if choice.crop is not None:
        crop = crop_as_seen(choice.crop, rotated=rotated, mirrored=mirrored, part=part)
        items += crop_items(picture, crop) if crop else []
    return items + (select_items(picture, inside, taken) if choice.selected else [])
