"""Crops turned and mirrored: held against Pillow's own turning of a picture, and there and back in all eight orientations."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from catalogue.errors import InvalidInput
from catalogue.film.crops import Crop, checked_crop, turned_back, turned_crop, turns_to_stand
from catalogue.scans.look.shown import Look, treated

ORIENTATIONS = [(turns, mirrored) for turns in range(4) for mirrored in (False, True)]


@st.composite
def crops(draw: st.DrawFn) -> Crop:
    """Any crop of whole thousandths."""
    left, top = draw(st.integers(0, 999)), draw(st.integers(0, 999))
    right, bottom = draw(st.integers(left + 1, 1000)), draw(st.integers(top + 1, 1000))
    return left / 1000, top / 1000, right / 1000, bottom / 1000


@pytest.mark.parametrize(("turns", "mirrored"), ORIENTATIONS)
@given(crop=crops())
def test_there_and_back(turns: int, mirrored: bool, crop: Crop) -> None:
    shown = turned_crop(crop, turns, mirrored)
    assert turned_back(shown, turns, mirrored) == pytest.approx(crop, abs=1e-12)
    assert turned_crop(turned_back(crop, turns, mirrored), turns, mirrored) == pytest.approx(crop, abs=1e-12)
    assert 0 <= shown[0] < shown[2] <= 1 and 0 <= shown[1] < shown[3] <= 1


@pytest.mark.parametrize(("turns", "mirrored"), ORIENTATIONS)
def test_the_crop_shows_the_same_of_a_picture_that_pillow_turned(turns: int, mirrored: bool) -> None:
    """Outside the project: Pillow turns and mirrors the pixels, as pictures are shown with."""
    image = Image.fromarray(
        np.arange(60 * 40, dtype=np.uint16).reshape(40, 60).astype(np.uint8)
    )  # every pixel its own value, mod 256
    crop = (0.1, 0.2, 0.5, 0.9)
    before = image.crop((6, 8, 30, 36))
    after = treated(image, Look(None, turns, mirrored))
    left, top, right, bottom = turned_crop(crop, turns, mirrored)
    edges = (left * after.width, top * after.height, right * after.width, bottom * after.height)
    found = after.crop(tuple(round(v) for v in edges))  # type: ignore[arg-type]
    assert np.array_equal(np.asarray(found), np.asarray(treated(before, Look(None, turns, mirrored))))


def test_the_eight_orientations_are_eight() -> None:
    assert len({tuple(round(v, 9) for v in turned_crop((0.1, 0.2, 0.5, 0.9), *o)) for o in ORIENTATIONS}) == 8


@pytest.mark.parametrize(
    ("crop", "words"),
    [
        ((-0.1, 0, 1, 1), "-10 %, 0 %, 100 %, 100 %"),
        ((0, 0, 1.5, 1), "150 %"),
        ((0, 0, float("nan"), 1), "beyond"),
        ((0.5, 0, 0.5, 1), "left must be less than right"),
        ((0, 0.9, 1, 0.2), "top less than bottom"),
    ],
)
def test_an_impossible_crop_is_refused_with_its_numbers(crop: Crop, words: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        checked_crop(crop)
    assert words in str(refused.value)


def test_a_picture_of_the_frames_own_proportion_is_shown_as_it_lies() -> None:
    assert {turns_to_stand(lies_across=False, quarter_turns=q, mirrored=m) for q, m in ORIENTATIONS} == {0}


@pytest.mark.parametrize(("quarter_turns", "mirrored"), [(1, False), (3, False), (1, True), (3, True)])
def test_a_standing_picture_goes_back_to_the_scan_as_the_film_lay(quarter_turns: int, mirrored: bool) -> None:
    """Pillow again: the film is the scan, seen from its base side; turned by the answer it is the picture as shown."""
    scan = Image.fromarray((np.arange(24 * 36) % 251).astype(np.uint8).reshape(24, 36))
    film = treated(scan, Look(None, 0, mirrored))
    turns = turns_to_stand(lies_across=True, quarter_turns=quarter_turns, mirrored=mirrored)
    shown = treated(scan, Look(None, quarter_turns, mirrored))
    assert np.array_equal(np.asarray(treated(film, Look(None, turns))), np.asarray(shown))
