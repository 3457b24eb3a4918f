"""Negatives to positives: published values, photographs turned into negatives and back, and finding the film base."""

import json
from dataclasses import replace
from functools import cache
from importlib.resources import files
from itertools import pairwise
from pathlib import Path
from typing import Any

import film_model as film
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw
from scipy.stats import spearmanr
from skimage.color import deltaE_ciede2000, rgb2lab, rgb2xyz

from catalogue.errors import InvalidInput, UnreadablePicture
from catalogue.scans.look.exposures import FrameStatistics, balance, common_exposure
from catalogue.scans.look.film_base import FilmBase, Sureness, base_of_roll, find_base, statistics_of
from catalogue.scans.look.positives import (
    FilmKind,
    Inversion,
    decode_srgb,
    density,
    encode_srgb,
    kind_for,
    light_over_base,
    of_strip,
    positive_of,
    positive_pixels,
    tables_for,
)

# Photographs inside the packages scikit-image (public domain or CC0) and scikit-learn (CC BY 2.0, named in the README
# beside them); both are read where they lie, and halved in size.
PHOTOGRAPHS = {
    "astronaut": ("skimage.data", "astronaut.png"),
    "coffee": ("skimage.data", "coffee.png"),
    "chelsea": ("skimage.data", "chelsea.png"),
    "rocket": ("skimage.data", "rocket.jpg"),
    "camera": ("skimage.data", "camera.png"),
    "china": ("sklearn.datasets.images", "china.jpg"),
    "flower": ("sklearn.datasets.images", "flower.jpg"),
}
MASKED, CLEAR = film.BASES["masked"], film.BASES["clear"]
SLOPES = (0.53, 0.55, 0.57)
REBATE = 16
EVERY = pytest.mark.parametrize("name", PHOTOGRAPHS)


@cache
def photograph(name: str, mode: str = "RGB") -> Any:
    package, file = PHOTOGRAPHS[name]
    with (files(package) / file).open("rb") as opened, Image.open(opened) as image:
        return np.asarray(image.convert(mode).reduce(2))


@cache
def negative(name: str, bits: int = 8, dyes: bool = False) -> Any:
    return film.negative_of(photograph(name), MASKED, SLOPES, rebate=REBATE, bits=bits, dyes=dyes)


def picture(pixels: Any) -> Image.Image:
    """As a file of 8 bits would be opened."""
    return Image.fromarray(pixels if pixels.dtype == np.uint8 else np.rint(pixels / 257).astype(np.uint8))


def inner(pixels: Any) -> Any:
    return pixels[REBATE:-REBATE, REBATE:-REBATE]


def coded(pixels: Any) -> Any:
    return pixels / np.iinfo(pixels.dtype).max


def luminance(pixels: Any) -> Any:
    """CIE Y, by scikit-image."""
    return rgb2xyz(coded(pixels))[..., 1]


def rank_correlation(one: Any, two: Any) -> float:
    return float(spearmanr(luminance(one).ravel(), luminance(two).ravel()).statistic)


def colour_error(one: Any, two: Any) -> float:
    """The mean CIEDE2000 difference, by scikit-image."""
    return float(deltaE_ciede2000(rgb2lab(coded(one)), rgb2lab(coded(two))).mean())


def off_base(found: FilmBase, true: tuple[float, float, float]) -> float:
    """By how much density the worst channel misses the base the negative was made with."""
    return max(abs(density(t) - d) for t, d in zip(found.transmittance, true, strict=True))


# Densities and light


@pytest.mark.parametrize(
    ("light", "dense"),
    # Arithmetic: -log₁₀ T.
    [(1, 0), (0.5, 0.3010), (0.25, 0.6021), (0.18, 0.7447), (0.1, 1), (0.01, 2), (0.001, 3), (0, 4.8165), (-1, 4.8165)],
)
def test_density(light: float, dense: float) -> None:
    assert density(light) == pytest.approx(dense, abs=5e-5)


@pytest.mark.parametrize(("dense", "base"), [(0.85, 0.25), (1.25, 0.65), (1.45, 0.85)])
def test_the_worked_example_is_neutral(dense: float, base: float) -> None:
    # Arithmetic: 0.60 above the base at a slope of 0.6 is ten times the light, 3.32 stops, in all three channels.
    assert light_over_base(dense - base, 0.6) == pytest.approx(10.0)
    assert np.log2(light_over_base(dense - base, 0.6)) == pytest.approx(3.32, abs=0.005)


def test_the_worked_example_through_the_tables() -> None:
    # The same greys scanned at 16 bits: white set at ten times the light and black out of the way give white exactly,
    # and one stop less, 0.18 density (common practice), gives half the light.
    base = (0.25, 0.65, 0.85)
    low = (-2.0, -2.0, -2.0)
    params = Inversion(FilmKind.COLOUR_NEGATIVE, tuple(10**-d for d in base), white=(0.6, 0.6, 0.6), black=low)  # type: ignore[arg-type]
    for table, d in zip(tables_for(params, 16), base, strict=True):
        at, stop_less = (round(float(encode_srgb(10 ** -(d + above))) * 65535) for above in (0.6, 0.6 - 0.6 * np.log10(2)))
        assert table[at] == pytest.approx(65535, abs=25)
        assert float(decode_srgb(table[stop_less] / 65535)) == pytest.approx(0.5, abs=0.002)


def test_srgb_values() -> None:
    # IEC 61966-2-1 worked out: light, coded value, value in 8 bits.
    for light, value, byte in [
        (0.18, 0.46136, 118),
        (0.5, 0.73536, 188),
        (0.01, 0.09985, 25),
        (0.05, 0.24780, 63),
        (0.001, 0.01292, 3),
    ]:
        assert float(encode_srgb(light)) == pytest.approx(value, abs=5e-6)
        assert round(float(encode_srgb(light)) * 255) == byte
    assert float(decode_srgb(0.5)) == pytest.approx(0.21404, abs=5e-6)
    assert float(decode_srgb(128 / 255)) == pytest.approx(0.21586, abs=5e-6)


def test_srgb_decodes_as_in_another_library() -> None:
    greys = np.arange(256) / 255
    theirs = rgb2xyz(np.repeat(greys[None, :, None], 3, axis=2))[0, :, 1]
    assert decode_srgb(greys) == pytest.approx(theirs, abs=1e-5)
    assert encode_srgb(decode_srgb(greys)) == pytest.approx(greys, abs=1e-7)


# The film model, against the values it is built on


def test_the_film_model_is_the_published_film() -> None:
    # SMPTE ST 2065-3: 18 % grey lies 0.7 above the base; the eleven points of its toe; slope 0.55 above 0.6.
    assert float(film.density_above_base(np.array(0.18))) == pytest.approx(0.7, abs=1e-4)
    for above, log_light in film.POINTS[1:]:
        assert float(film.density_above_base(np.array(10**log_light))) == pytest.approx(above, abs=1e-4)
    two = film.density_above_base(np.array([0.2, 0.4]))
    assert float(two[1] - two[0]) == pytest.approx(0.55 * np.log10(2), abs=1e-3)
    far = film.density_above_base(np.array([1e3, 1e6]))
    assert 2.2 < far[0] < far[1] < film.SHOULDER_D
    assert film.SEEN.sum(axis=1) == pytest.approx(1)


# Tables

TRANSMITTANCES = st.floats(0.01, 1.0)
THREE_SLOPES = st.tuples(*[st.floats(0.3, 2.0)] * 3)
INVERSIONS = st.builds(
    Inversion,
    st.sampled_from([FilmKind.BLACK_AND_WHITE, FilmKind.COLOUR_NEGATIVE]),
    st.tuples(*[TRANSMITTANCES] * 3),
    THREE_SLOPES,
    st.tuples(*[st.floats(0.3, 3.0)] * 3),
    st.tuples(*[st.floats(-1.0, 0.2)] * 3),
    st.floats(-3, 3),
)


@given(INVERSIONS)
def test_denser_film_never_comes_out_darker(params: Inversion) -> None:
    for table in tables_for(params):
        assert len(table) == 256 and min(table) >= 0 and max(table) <= 255
        assert all(dark >= light for dark, light in pairwise(table))


@given(INVERSIONS)
@settings(max_examples=25, deadline=None)
def test_both_bit_depths_agree_and_16_bits_fall_too(params: Inversion) -> None:
    for small, large in zip(tables_for(params), tables_for(params, 16), strict=True):
        assert len(large) == 65536 and np.all(np.diff(large) <= 0)
        assert np.abs(np.array(large)[np.arange(256) * 257] / 257 - small).max() <= 0.5 + 1 / 257


@given(INVERSIONS, st.floats(0.1, 2))
@settings(max_examples=25)
def test_more_exposure_never_darkens(params: Inversion, stops: float) -> None:
    lighter = replace(params, exposure=params.exposure + stops)
    for before, after in zip(tables_for(params), tables_for(lighter), strict=True):
        assert all(a >= b for b, a in zip(before, after, strict=True))


def test_base_is_black_and_white_is_white() -> None:
    params = Inversion(FilmKind.BLACK_AND_WHITE, (0.5, 0.5, 0.5), white=(1.0, 1.0, 1.0))
    table = tables_for(params, 16)[0]
    bare, dense = (round(float(encode_srgb(light)) * 65535) for light in (0.5, 0.05))
    assert table[bare + 1] == 0 == table[65535]
    assert table[dense - 3] == 65535 == table[0]
    assert 0 < table[(bare + dense) // 2] < 65535


def test_the_mask_is_taken_off_by_division_of_light() -> None:
    # Arithmetic: T / T of the mask in light is the same as taking density off; so a scan behind a filter of half the
    # light with a base of half the light gives the same positive.
    thin = Inversion(FilmKind.COLOUR_NEGATIVE, (0.8, 0.8, 0.8))
    behind = Inversion(FilmKind.COLOUR_NEGATIVE, (0.4, 0.4, 0.4))
    lights = np.linspace(0.02, 0.8, 50)
    at, at_half = (np.rint(encode_srgb(light) * 65535).astype(int) for light in (lights, lights / 2))
    assert np.array(tables_for(behind, 16)[0])[at_half] == pytest.approx(np.array(tables_for(thin, 16)[0])[at], abs=150)


def test_other_bit_depths_are_refused() -> None:
    with pytest.raises(InvalidInput, match="8 or 16 bits, not for 12"):
        tables_for(Inversion(FilmKind.BLACK_AND_WHITE), 12)


# Photographs, to film and back


def own_numbers(base: tuple[float, float, float]) -> Inversion:
    """What the film model itself was made with: its slopes, and white at the density of a perfect white."""
    white = tuple(slope / 0.55 * (film.GREY_18_D - 0.55 * np.log10(0.18)) for slope in SLOPES)
    return Inversion(FilmKind.COLOUR_NEGATIVE, base, SLOPES, white)  # type: ignore[arg-type]


@cache
def roll_numbers(dyes: bool) -> Inversion:
    """The seven photographs as one roll: base from one rebate, usual slopes, one common exposure."""
    base = find_base(picture(negative("coffee", dyes=dyes))).transmittance
    frames = [statistics_of(picture(negative(name, dyes=dyes))) for name in PHOTOGRAPHS]
    return common_exposure(frames, Inversion(FilmKind.COLOUR_NEGATIVE, base))


@EVERY
@pytest.mark.parametrize("bits", [8, 16])
def test_colour_negatives_come_back(name: str, bits: int) -> None:
    scan = negative(name, bits)
    found = find_base(picture(scan))
    assert found.sureness is Sureness.SURE and off_base(found, MASKED) < 0.01
    # Measured: 0.9979 to 0.9997, and a mean CIEDE2000 of 1.3 to 2.8. What is missing is grain, the shoulder, the
    # difference between the published toe and the one assumed, and steps of 8 bits under a mask.
    for params in (own_numbers(found.transmittance), roll_numbers(dyes=False)):
        positive = inner(positive_pixels(scan, params))
        assert positive.dtype == scan.dtype
        assert rank_correlation(positive, photograph(name)) > 0.99
        assert colour_error(positive, photograph(name)) < 3.0


@EVERY
def test_dyes_that_see_each_other_cost_colour_and_little_lightness(name: str) -> None:
    # Three tables can't undo it: measured 0.983 to 0.999 and a mean CIEDE2000 of 5.2 to 9.0.
    positive = inner(positive_pixels(negative(name, dyes=True), roll_numbers(dyes=True)))
    assert rank_correlation(positive, photograph(name)) > 0.98
    assert colour_error(positive, photograph(name)) < 10.0


@EVERY
def test_a_frame_balanced_by_itself_keeps_its_order_of_tones(name: str) -> None:
    # Its colours are another matter: a picture with no white in it gets one (a cat, mean CIEDE2000 17).
    scan = picture(negative(name))
    roll = roll_numbers(dyes=False)
    for params in (balance(statistics_of(scan), roll), balance(statistics_of(scan), roll, colours_of=roll)):
        assert rank_correlation(inner(np.asarray(positive_of(scan, params))), photograph(name)) > 0.98


@EVERY
@pytest.mark.parametrize("bits", [8, 16])
def test_black_and_white_negatives_come_back(name: str, bits: int) -> None:
    grey = photograph(name, "L")
    scan = film.negative_of(grey, CLEAR, (0.55, 0.55, 0.55), rebate=REBATE, bits=bits)
    found = find_base(picture(scan))
    assert found.sureness is Sureness.SURE and off_base(found, CLEAR) < 0.01
    white = film.GREY_18_D - 0.55 * np.log10(0.18)
    params = Inversion(FilmKind.BLACK_AND_WHITE, found.transmittance, (0.55,) * 3, (white,) * 3)
    positive = positive_of(Image.fromarray(scan[..., 1]), params)
    assert positive.mode == ("L" if bits == 8 else "I;16")
    pixels = np.repeat(inner(np.asarray(positive))[..., None], 3, axis=2)
    original = np.repeat(grey[..., None], 3, axis=2)
    # Measured: 0.9978 to 0.9998; mean difference in L* 0.9 to 2.0.
    assert rank_correlation(pixels, original) > 0.99
    assert float(np.abs(rgb2lab(coded(pixels)) - rgb2lab(coded(original)))[..., 0].mean()) < 2.3


def test_turning_values_round_would_not_do() -> None:
    # 255 - v on a masked negative keeps the order of tones and nothing else: measured, a mean CIEDE2000 of 32 against 1.8.
    scan = inner(negative("coffee"))
    assert colour_error(255 - scan, photograph("coffee")) > 5 * colour_error(
        positive_pixels(scan, roll_numbers(dyes=False)), photograph("coffee")
    )


def test_black_and_white_film_scanned_in_colour_comes_out_neutral() -> None:
    tinted = film.negative_of(photograph("camera"), (0.2, 0.25, 0.35), (0.55, 0.57, 0.6), rebate=REBATE)
    params = Inversion(FilmKind.BLACK_AND_WHITE, find_base(picture(tinted)).transmittance)
    positive = np.asarray(positive_of(picture(tinted), params))
    assert positive.shape == tinted.shape
    assert (positive == positive[..., :1]).all() and positive.std() > 20
    assert (positive == positive_pixels(tinted, params)).all()


def test_bit_depths_give_one_picture() -> None:
    eight, sixteen = (positive_pixels(negative("coffee", bits), roll_numbers(dyes=False)) for bits in (8, 16))
    # One step of 8 bits is more than one step of the positive where film is dense, so the middle is compared.
    assert float(np.median(np.abs(sixteen / 257 - eight))) < 1.5


# One exposure for the roll, or each frame by itself


@cache
def bracketed() -> tuple[dict[int, Any], dict[int, FrameStatistics]]:
    scans = {
        stops: film.negative_of(photograph("coffee"), MASKED, SLOPES, stops=stops, rebate=REBATE, bits=16)
        for stops in (-2, -1, 0, 1)
    }
    return scans, {stops: statistics_of(picture(scan)) for stops, scan in scans.items()}


def middle_light(positive: Any) -> float:
    return float(np.median(luminance(inner(positive))))


def test_a_common_exposure_keeps_what_the_camera_did() -> None:
    scans, measured = bracketed()
    start = own_numbers(find_base(picture(scans[0])).transmittance)
    roll = common_exposure(list(measured.values()), start)
    light = [middle_light(positive_pixels(scan, roll)) for scan in scans.values()]
    # Measured ratios 2.13, 2.08 and 2.04 for a stop each, which is 2.
    assert [b / a for a, b in pairwise(light)] == pytest.approx([2, 2, 2], rel=0.08)


@pytest.mark.parametrize("with_the_rolls_colours", [False, True])
def test_balancing_takes_it_away(with_the_rolls_colours: bool) -> None:
    scans, measured = bracketed()
    start = own_numbers(find_base(picture(scans[0])).transmittance)
    roll = common_exposure(list(measured.values()), start) if with_the_rolls_colours else None
    light = [middle_light(positive_pixels(scan, balance(measured[stops], start, roll))) for stops, scan in scans.items()]
    # Measured: within 11 % over three stops, which would be 8 times.
    assert max(light) / min(light) < 1.15


def test_an_almost_empty_frame_is_not_stretched() -> None:
    start = Inversion(FilmKind.BLACK_AND_WHITE, (0.6, 0.6, 0.6))
    params = balance(FrameStatistics((0.6, 0.6, 0.6), (0.58, 0.58, 0.58)), start)
    assert params.white == pytest.approx((0.4, 0.4, 0.4))


def test_one_sunset_does_not_tint_a_roll() -> None:
    start = Inversion(FilmKind.COLOUR_NEGATIVE, (0.5, 0.3, 0.2))
    plain = FrameStatistics((0.5, 0.3, 0.2), (0.05, 0.03, 0.02))
    sunset = FrameStatistics((0.5, 0.3, 0.2), (0.03, 0.06, 0.1))
    params = common_exposure([plain, plain, sunset], start)
    assert max(params.white) - min(params.white) < 1e-9
    assert balance(sunset, start).white[0] > balance(sunset, start).white[2] + 0.5
    with pytest.raises(InvalidInput, match="at least one frame"):
        common_exposure([], start)


# Slides, kinds of picture, and what is refused


@pytest.mark.parametrize("mode", ["L", "LA", "RGB", "RGBA", "I;16", "P", "CMYK"])
def test_a_slide_comes_back_byte_for_byte(mode: str) -> None:
    image = Image.fromarray(photograph("coffee"))
    image = Image.fromarray(negative("coffee", 16)[..., 0]) if mode == "I;16" else image.convert(mode)
    params = Inversion(FilmKind.SLIDE, exposure=2.0)
    slide = positive_of(image, params)
    assert slide is not image and slide.mode == mode and slide.tobytes() == image.tobytes()
    frame = FrameStatistics((0.9, 0.9, 0.9), (0.1, 0.1, 0.1))
    assert balance(frame, params) == params == common_exposure([frame], params)
    assert (positive_pixels(negative("coffee", 16), params) == negative("coffee", 16)).all()
    assert tables_for(params)[2] == list(range(256)) and tables_for(params, 16)[0] == list(range(65536))


@pytest.mark.parametrize("mode", ["L", "LA", "RGB", "RGBA", "I;16", "I"])
@pytest.mark.parametrize("kind", [FilmKind.BLACK_AND_WHITE, FilmKind.COLOUR_NEGATIVE])
def test_scans_are_not_altered(mode: str, kind: FilmKind) -> None:
    scan = negative("coffee", 16)[..., 1]
    image = Image.fromarray(scan) if mode.startswith("I") else picture(negative("coffee")).convert(mode)
    if mode == "I":
        image = Image.fromarray(scan.astype(np.int32))
    image.info["icc_profile"] = b"of the scanner"
    before = image.tobytes()
    positive = positive_of(image, Inversion(kind))
    assert image.tobytes() == before and image.info["icc_profile"]
    assert positive.size == image.size and positive.tobytes() != before and "icc_profile" not in positive.info
    assert positive.mode == ("I;16" if mode == "I" else mode)
    if mode.endswith("A"):
        assert positive.getchannel("A").tobytes() == image.getchannel("A").tobytes()
    find_base(image)
    find_base(image, (5, 5))
    statistics_of(image)
    assert image.tobytes() == before


@pytest.mark.parametrize("mode", ["1", "CMYK", "F", "LAB", "P"])
def test_pictures_that_hold_no_scan(mode: str) -> None:
    image = Image.new(mode, (40, 30))
    for action in (lambda: positive_of(image, Inversion(FilmKind.BLACK_AND_WHITE)), lambda: find_base(image)):
        with pytest.raises(UnreadablePicture, match=f"mode {mode} holds no scan of film"):
            action()


def test_arrays_that_hold_no_scan() -> None:
    for pixels in (np.zeros((4, 4)), np.zeros((4, 4, 2), np.uint8), np.zeros(4, np.uint16)):
        with pytest.raises(UnreadablePicture, match="are no scan"):
            positive_pixels(pixels, Inversion(FilmKind.BLACK_AND_WHITE))


@given(INVERSIONS)
@settings(max_examples=50)
def test_numbers_survive_storing(params: Inversion) -> None:
    assert Inversion.from_json(params.to_json()) == params


BAD_NUMBERS: list[tuple[dict[str, Any], str]] = [
    ({"kind": "wet plate"}, "'wet plate' is no kind of film"),
    ({"base": (0.5, 0.0, 0.5)}, "transmittance in green can't be 0"),
    ({"base": (0.5, 0.5, 1.2)}, "transmittance in blue can't be 1.2"),
    ({"base": (0.5, 0.5)}, "needs three numbers"),
    ({"base": "0.5"}, "needs three numbers"),
    ({"slope": (0.0, 0.6, 0.6)}, "slope in red can't be 0"),
    ({"slope": (True, 0.6, 0.6)}, "slope in red can't be True"),
    ({"white": (float("nan"), 1, 1)}, "white in red can't be nan"),
    ({"white": (float("inf"), 1, 1)}, "white in red can't be inf"),
    ({"white": (0.3, 1, 1), "black": (0.3, 0, 0)}, "white is at density 0.3 and black at 0.3"),
    ({"exposure": 11.0}, "exposure in stops can't be 11. Give a number from -10 to 10"),
    ({"exposure": None}, "exposure in stops can't be None"),
    ({"exposure": 10**400}, "exposure in stops can't be 1000"),
]


@pytest.mark.parametrize(("bad", "said"), BAD_NUMBERS)
def test_impossible_numbers_are_refused(bad: dict[str, Any], said: str) -> None:
    good: dict[str, Any] = json.loads(Inversion(FilmKind.COLOUR_NEGATIVE).to_json())
    with pytest.raises(InvalidInput, match=said):
        Inversion(**{**good, **bad})
    with pytest.raises(InvalidInput, match=said):
        Inversion.from_json(json.dumps({**good, **bad}))


@pytest.mark.parametrize("text", ["", "{", "[]", "7", "null", "{}", '{"kind": "slide"}', "[" * 100_000])
def test_stored_text_that_is_something_else(text: str) -> None:
    with pytest.raises(InvalidInput, match=r"no JSON|need exactly kind, base"):
        Inversion.from_json(text)
    more = json.dumps({**json.loads(Inversion(FilmKind.SLIDE).to_json()), "contrast": 3})
    with pytest.raises(InvalidInput, match="need exactly"):
        Inversion.from_json(more)


def test_a_strip_may_differ_from_its_roll_but_not_in_kind() -> None:
    roll = Inversion(FilmKind.COLOUR_NEGATIVE, (0.5, 0.3, 0.2))
    pale = replace(roll, exposure=1.0)
    assert of_strip(roll) is roll and of_strip(roll, pale) is pale
    with pytest.raises(InvalidInput, match="The strip is set to slide and its roll to colour negative"):
        of_strip(roll, Inversion(FilmKind.SLIDE))


@pytest.mark.parametrize(
    ("process", "stock", "kind"),
    # Common practice, no published source.
    [
        ("C-41", "", FilmKind.COLOUR_NEGATIVE),
        ("c41", "", FilmKind.COLOUR_NEGATIVE),
        ("C 41, pushed one stop", "", FilmKind.COLOUR_NEGATIVE),
        ("C-41", "black-and-white", FilmKind.BLACK_AND_WHITE),
        ("C-41", "slide", FilmKind.COLOUR_NEGATIVE),
        ("ECN-2", "", FilmKind.COLOUR_NEGATIVE),
        ("E-6", "", FilmKind.SLIDE),
        ("E6", "colour negative", FilmKind.SLIDE),
        ("black and white", "", FilmKind.BLACK_AND_WHITE),
        ("Black-and-white", "colour negative", FilmKind.BLACK_AND_WHITE),
        ("B&W", "", FilmKind.BLACK_AND_WHITE),
        ("b/w", "", FilmKind.BLACK_AND_WHITE),
        ("black and white reversal", "", FilmKind.SLIDE),
        ("", "slide film", FilmKind.SLIDE),
        ("own recipe", "black and white", FilmKind.BLACK_AND_WHITE),
        ("", "color negative", FilmKind.COLOUR_NEGATIVE),
        ("E-6 film in C-41", "", None),
        ("", "", None),
        ("🎞", "fast", None),
        ("EC-410", "", None),
    ],
)
def test_the_process_says_what_the_film_is(process: str, stock: str, kind: FilmKind | None) -> None:
    assert kind_for(process, stock) is kind


# The film base


@EVERY
@pytest.mark.parametrize("base", [MASKED, CLEAR])
def test_a_picture_that_fills_its_scan_is_unsure(name: str, base: tuple[float, float, float]) -> None:
    found = find_base(Image.fromarray(film.negative_of(photograph(name), base)))
    assert found.sureness is Sureness.UNSURE
    assert "neither rebate nor gap" in found.reason and "point at the film base" in found.reason


def test_an_even_dark_backdrop_is_no_rebate() -> None:
    # Even and thin along all four sides, yet 0.1 denser than the base; what stands before it comes in by and by.
    room = Image.new("L", (300, 300), 22)
    ImageDraw.Draw(room).polygon([(150, 5), (295, 150), (150, 295), (5, 150)], fill=200)
    found = find_base(Image.fromarray(film.negative_of(np.asarray(room), CLEAR)))
    assert off_base(found, CLEAR) > 0.05
    assert found.sureness is Sureness.UNSURE


@EVERY
def test_a_rebate_along_one_side_is_likely(name: str) -> None:
    scan = film.negative_of(np.pad(photograph(name), ((20, 0), (0, 0), (0, 0))), MASKED)
    found = find_base(Image.fromarray(scan))
    assert found.sureness is Sureness.LIKELY and off_base(found, MASKED) < 0.02


def test_the_gaps_between_pictures_are_enough() -> None:
    frames = [np.asarray(Image.fromarray(photograph(name)).resize((360, 240))) for name in ("coffee", "china", "flower")]
    strip = film.strip_of(frames, 20, MASKED)
    for scan in (strip, strip[30:-30, 25:-25]):
        found = find_base(Image.fromarray(scan))
        assert found.sureness is Sureness.SURE and off_base(found, MASKED) < 0.01


@cache
def bare_strip(base: tuple[float, float, float]) -> Any:
    """Six frames and edge print at 10 pixels a millimetre: film 35 mm wide, pictures 36 × 24 mm every 38 mm."""
    names = [name for name in PHOTOGRAPHS if name != "camera"]
    bare = Image.new("RGB", (380 * len(names) + 20, 350))
    drawing = ImageDraw.Draw(bare)
    for n, name in enumerate(names):
        bare.paste(Image.fromarray(photograph(name)).resize((360, 240)), (20 + 380 * n, 55))
        drawing.text((60 + 380 * n, 3), f"PANCHROMATIC  {n + 7}  {n + 7}A", fill="white")
    return film.negative_of(np.asarray(bare), base)


def strip_of_135(base: tuple[float, float, float], around: float, skew: float = 0.0) -> Image.Image:
    """That strip with perforations 2.0 mm long and 2.8 mm wide every 4.75 mm, on light or a holder that shows around and through.

    The measures are those of ISO 1007, from memory; `around` is a transmittance, `skew` in degrees.
    """
    scan = bare_strip(base).copy()
    level = int(film.scan_of(np.array(around)))
    for x in np.arange(10, scan.shape[1] - 20, 47.5).astype(int):
        for y in (20, 302):
            scan[y : y + 28, x : x + 20] = level
    lying = Image.fromarray(np.pad(scan, ((40, 40), (30, 30), (0, 0)), constant_values=level))
    return lying.rotate(skew, Image.Resampling.BICUBIC, fillcolor=(level,) * 3) if skew else lying


@pytest.mark.parametrize("base", [MASKED, CLEAR])
@pytest.mark.parametrize("skew", [0.0, 0.7])
@pytest.mark.parametrize(
    ("around", "sureness"), [(1.0, Sureness.SURE), (0.9, Sureness.LIKELY), (0.7, Sureness.LIKELY), (0.0, Sureness.SURE)]
)
def test_empty_light_and_holders_are_no_base(
    base: tuple[float, float, float], skew: float, around: float, sureness: Sureness
) -> None:
    found = find_base(strip_of_135(base, around, skew))
    assert off_base(found, base) < 0.02
    assert found.sureness is sureness


@EVERY
def test_pointing_gives_what_is_found(name: str) -> None:
    scan = picture(negative(name))
    alone, spot, box = find_base(scan), find_base(scan, (40, 7)), find_base(scan, (20, 2, 200, 14))
    assert spot.sureness is box.sureness is Sureness.SURE
    for pointed in (spot, box):
        # One step of 8 bits at the thinnest channel of the mask is 0.006 of density.
        differences = [density(a) - density(b) for a, b in zip(pointed.transmittance, alone.transmittance, strict=True)]
        assert max(abs(d) for d in differences) < 0.015


def test_pointing_at_something_else_is_noticed() -> None:
    scan = strip_of_135(MASKED, 1.0)
    assert find_base(scan, (400, 200)).sureness is Sureness.UNSURE
    assert "clearly thinner than this spot" in find_base(scan, (400, 200)).reason
    assert "as bright as a scan gets" in find_base(scan, (5, 5)).reason
    across_an_edge = find_base(scan, (430, 60, 445, 140))
    assert across_an_edge.sureness is not Sureness.SURE or off_base(across_an_edge, MASKED) < 0.02


@pytest.mark.parametrize(
    ("where", "said"),
    [
        ((-1, 5), "spot -1, 5 lies outside the picture of 60 × 40"),
        ((60, 5), "outside the picture"),
        ((10, 10, 10, 20), "doesn't lie in the picture of 60 × 40"),
        ((0, 0, 61, 40), "doesn't lie in"),
    ],
)
def test_spots_outside_are_refused(where: Any, said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        find_base(Image.new("RGB", (60, 40), (200, 150, 120)), where)


@pytest.mark.parametrize("value", [0, 255])
def test_no_film_is_refused(value: int) -> None:
    with pytest.raises(InvalidInput, match="no film to speak of"):
        find_base(Image.new("L", (60, 40), value))


@pytest.mark.parametrize("size", [(1, 1), (2, 3), (1, 400), (7, 7)])
def test_tiny_pictures_give_an_unsure_answer(size: tuple[int, int]) -> None:
    assert find_base(Image.new("RGB", size, (180, 130, 110))).sureness is Sureness.UNSURE


def test_the_base_of_a_roll_without_rebates() -> None:
    frames = [statistics_of(Image.fromarray(film.negative_of(photograph(name), MASKED))).thinnest for name in PHOTOGRAPHS]
    found = base_of_roll(frames)
    assert found.sureness is Sureness.LIKELY and off_base(found, MASKED) < 0.03
    assert off_base(base_of_roll([*frames, (1.0, 0.99, 0.98)]), MASKED) < 0.03  # a frame that shows empty light
    few = base_of_roll(frames[:1])
    assert few.sureness is Sureness.UNSURE and "Only 1 of 1" in few.reason
    with pytest.raises(InvalidInput, match="at least one frame"):
        base_of_roll([])


def test_statistics_leave_out_the_rim() -> None:
    pixels = np.full((100, 100), 90, dtype=np.uint8)
    pixels[:4] = 0
    pixels[:, -5:] = 255
    found = statistics_of(Image.fromarray(pixels))
    assert found.thinnest == found.densest == pytest.approx((float(decode_srgb(90 / 255)),) * 3)
    with pytest.raises(InvalidInput, match=r"A rim of 0\.5"):
        statistics_of(Image.fromarray(pixels), 0.5)
    with pytest.raises(InvalidInput, match="densest part in red can't be 2"):
        FrameStatistics((1, 1, 1), (2, 0, 0))


def test_a_file_is_only_read(tmp_path: Path) -> None:
    path = tmp_path / "strip.png"
    picture(negative("coffee")).save(path)
    before = path.read_bytes()
    with path.open("rb") as opened, Image.open(opened) as image:
        params = Inversion(FilmKind.COLOUR_NEGATIVE, find_base(image).transmittance)
        assert positive_of(image, balance(statistics_of(image), params)).size == image.size
    assert path.read_bytes() == before
