"""A crop marked on a frame, and the same crop on a picture that was turned and mirrored.

A crop is left, top, right, bottom in parts of the picture, 0 to 1, origin at the
top left, y downwards. On film it is said of the frame as it lies in a strip that is
neither turned nor turned over: base side to the viewer, head of the roll to the left.
"""

from math import isfinite

from catalogue.errors import InvalidInput

Crop = tuple[float, float, float, float]


def checked_crop(crop: Crop) -> Crop:
    """The crop itself; raises `InvalidInput` for one that reaches beyond the picture or holds nothing."""
    left, top, right, bottom = crop
    shown = ", ".join(f"{100 * value:.5g} %" for value in crop)
    if not all(isfinite(value) for value in crop) or min(crop) < 0 or max(crop) > 1:
        raise InvalidInput(
            f"The crop {shown} (left, top, right, bottom) reaches beyond the picture. Give parts of it, from 0 to 100 %."
        )
    if left >= right or top >= bottom:
        raise InvalidInput(
            f"The crop {shown} (left, top, right, bottom) holds nothing: left must be less than right, and top less than bottom."
        )
    return crop


def turned_crop(crop: Crop, quarter_turns: int, mirrored: bool = False) -> Crop:
    """The crop after its picture was turned clockwise by so many quarters and then mirrored left to right."""
    for _ in range(quarter_turns % 4):
        left, top, right, bottom = crop
        crop = (1 - bottom, left, 1 - top, right)
    left, top, right, bottom = crop
    return (1 - right, top, 1 - left, bottom) if mirrored else crop


def turned_back(crop: Crop, quarter_turns: int, mirrored: bool = False) -> Crop:
    """The crop before its picture was turned and mirrored: undoes `turned_crop`."""
    if mirrored:
        crop = turned_crop(crop, 0, True)
    return turned_crop(crop, -quarter_turns)


def turns_to_stand(*, lies_across: bool, quarter_turns: int, mirrored: bool) -> int:
    """Quarters clockwise from the frame on the film to its picture as it is shown.

    A picture of the frame's own proportion is shown as it lies on the film: 0. One that
    is shown standing where the frame lies, or the other way round (`lies_across`), was
    taken with the camera turned. If its scan was turned by a quarter to be shown, it was
    scanned as the film lay, and that turn is the answer; a scan that stood already doesn't
    say which way, and one quarter clockwise is taken (our rule, no published source).
    """
    if not lies_across:
        return 0
    if quarter_turns % 2:
        # Turning and then mirroring is mirroring and then turning the other way.
        return (-quarter_turns if mirrored else quarter_turns) % 4
    return 1
