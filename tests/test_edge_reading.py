"""Edge codes read from painted scans of strips, and the frame numbers they give the pictures."""

from dataclasses import replace

import numpy as np
import pytest
from edge_painter import Strip, paint_edge, run_of_codes
from hypothesis import given
from hypothesis import strategies as st

from catalogue.errors import InvalidInput
from catalogue.film.edge_code import EdgeCode
from catalogue.film.frame_numbers import FrameNumber
from catalogue.scans.edge.bars import read_edge_codes
from catalogue.scans.edge.frames import FoundCode, agreeing, confirm, edge_line, frame_numbers_on, offset_of

# Three pictures, five codes; as a scan mostly is: a little noise, a little blur.
SHORT = Strip(codes=run_of_codes("79-7/3A", 5), pictures=(1, 39, 77), length_mm=114, noise=3, blur_mm=0.04)


def texts(readings: tuple[FoundCode, ...]) -> list[str]:
    return [str(reading.code) for reading in readings]


def labels(*names: str) -> list[FrameNumber]:
    return [FrameNumber.parse(name) for name in names]


def spans(strip: Strip, px_per_mm: float) -> list[tuple[float, float]]:
    return [(left * px_per_mm, (left + 36) * px_per_mm) for left in strip.pictures]


@pytest.mark.parametrize("px_per_mm", [5, 8, 11.8, 16, 24, 40])
def test_all_codes_are_read_at_their_places(px_per_mm: float) -> None:
    readings = read_edge_codes(paint_edge(SHORT, px_per_mm))
    assert texts(readings) == ["79-7/3A", "79-7/4", "79-7/4A", "79-7/5", "79-7/5A"]
    for reading, centre in zip(readings, SHORT.centres_mm(), strict=True):
        assert reading.position_px / px_per_mm == pytest.approx(centre, abs=0.3)
        assert reading.length_px / px_per_mm == pytest.approx(SHORT.code_mm, abs=0.6)
        # The data track lies within the last 2 mm of the film, with 1.5 mm of holder behind.
        assert 34.4 < reading.across_px / px_per_mm < 36.5
        assert (reading.turn, reading.mirrored, reading.rises) == (0, False, True)


@pytest.mark.parametrize("mirrored", [False, True])
@pytest.mark.parametrize(("turned", "turn"), [(0, 0), (1, 90), (2, 180), (3, 270)])
def test_either_side_and_every_way_up(turned: int, turn: int, mirrored: bool) -> None:
    strip = replace(SHORT, turned=turned, mirrored=mirrored, positive=turned == 1)
    readings = read_edge_codes(paint_edge(strip, 9))
    assert {(reading.turn, reading.mirrored) for reading in readings} == {(turn, mirrored)}
    rises = (turn in (0, 270)) != mirrored
    in_order = ["79-7/3A", "79-7/4", "79-7/4A", "79-7/5", "79-7/5A"]
    assert texts(readings) == (in_order if rises else in_order[::-1])
    assert {reading.rises for reading in readings} == {rises}
    centres = [centre if rises else 114 - centre for centre in SHORT.centres_mm()]
    assert [r.position_px / 9 for r in readings] == pytest.approx(sorted(centres), abs=0.3)


@pytest.mark.parametrize(
    "change",
    [
        {"positive": True},
        {"slope": 0.4},
        {"rotation_deg": 0.5},
        {"rotation_deg": -1.5},
        {"code_mm": 11},
        {"code_mm": 18.5},
        {"code_density": 0.3},
        {"holder": 1.0},
        {"holder_mm": 0},
        {"holder_mm": 8},
        {"blur_mm": 0.1},
        {"noise": 15},
        {"track_mm": 0.5, "clock_to_edge_mm": 1.3},
        {"fence": True},
        {"film_base": (0.8, 0.8, 0.8)},
    ],
    ids=str,
)
def test_scans_that_are_less_than_ideal(change: dict[str, object]) -> None:
    readings = read_edge_codes(paint_edge(replace(SHORT, **change), 12))
    assert texts(readings) == ["79-7/3A", "79-7/4", "79-7/4A", "79-7/5", "79-7/5A"]


def test_codes_without_frame_numbers_are_read() -> None:
    strip = replace(SHORT, codes=[EdgeCode(34, 13)] * 5)
    readings = read_edge_codes(paint_edge(strip, 12))
    assert texts(readings) == ["34-13"] * 5
    assert edge_line(readings) is None and frame_numbers_on(readings, spans(strip, 12)) == [None] * 3


def test_the_head_of_a_roll_counts_from_00() -> None:
    strip = replace(SHORT, codes=[EdgeCode.parse(f"79-7/{frame}") for frame in ("00", "00A", "0", "0A", "1")])
    readings = read_edge_codes(paint_edge(strip, 12))
    assert texts(readings) == ["79-7/00", "79-7/00A", "79-7/0", "79-7/0A", "79-7/1"]
    assert frame_numbers_on(readings, spans(strip, 12)) == labels("00", "0", "1")


@pytest.mark.parametrize("fence", [False, True])
@pytest.mark.parametrize("px_per_mm", [8, 16])
@pytest.mark.parametrize("seed", [1, 2])
def test_nothing_is_read_where_no_code_is(seed: int, px_per_mm: float, fence: bool) -> None:
    # With fences, the rebate bears a row of random bars and the pictures are full of upright ones as wide as modules.
    strip = replace(SHORT, codes=(), seed=seed, fence=fence)
    assert read_edge_codes(paint_edge(strip, px_per_mm)) == ()


def test_wrong_parity_isn_t_read() -> None:
    tracks = [code.modules() for code in SHORT.codes]
    spoilt = [track[:26] + ("0" if track[26] == "1" else "1") + track[27:] for track in tracks]
    assert [sum(a != b for a, b in zip(*pair, strict=True)) for pair in zip(tracks, spoilt, strict=True)] == [1] * 5
    assert read_edge_codes(paint_edge(replace(SHORT, spoilt=spoilt), 12)) == ()
    # One bad code among good ones costs that one only.
    assert texts(read_edge_codes(paint_edge(replace(SHORT, spoilt=[*tracks[:2], spoilt[2], *tracks[3:]]), 12))) == [
        "79-7/3A",
        "79-7/4",
        "79-7/5",
        "79-7/5A",
    ]


def test_a_code_out_of_count_is_left_out() -> None:
    tracks = [code.modules() for code in SHORT.codes]
    tracks[2] = EdgeCode.parse("79-7/23A").modules()
    assert texts(read_edge_codes(paint_edge(replace(SHORT, spoilt=tracks), 12))) == ["79-7/3A", "79-7/4", "79-7/5", "79-7/5A"]
    tracks[2] = EdgeCode.parse("15-7/4A").modules()
    assert texts(read_edge_codes(paint_edge(replace(SHORT, spoilt=tracks), 12))) == ["79-7/3A", "79-7/4", "79-7/5", "79-7/5A"]


def test_a_single_frame_nearly_square() -> None:
    strip = replace(SHORT, codes=run_of_codes("79-7/8", 2), first_mm=9.5, pictures=(1,), length_mm=38)
    for turned in (0, 1):
        readings = read_edge_codes(paint_edge(replace(strip, turned=turned), 12))
        assert sorted(texts(readings)) == ["79-7/8", "79-7/8A"]


def test_grey_arrays_of_any_depth() -> None:
    grey = np.asarray(paint_edge(SHORT, 9).convert("L"))
    eight = read_edge_codes(grey, "horizontal")
    assert len(eight) == 5
    before = grey.copy()
    for values in (grey.astype(np.uint16) * 64, grey / 255.0, grey.astype(np.float32)):
        assert texts(read_edge_codes(values, px_per_mm=9)) == texts(eight)
    assert (grey == before).all()
    assert read_edge_codes(grey, "vertical") == ()


def test_a_code_in_one_colour_only_is_read() -> None:
    # Blue weighs 0.114 in grey; noise of the other two drowns it there.
    values = np.asarray(paint_edge(SHORT, 12)).copy()
    values[:, :, :2] = np.random.default_rng(4).integers(0, 256, (*values.shape[:2], 2))
    from PIL import Image

    picture = Image.fromarray(values)
    assert read_edge_codes(np.asarray(picture.convert("L"))) == ()
    assert len(read_edge_codes(picture)) == 5


def test_pictures_that_can_t_be_strips() -> None:
    assert read_edge_codes(np.zeros((40, 40))) == ()
    assert read_edge_codes(np.zeros((1, 5000))) == ()
    with pytest.raises(InvalidInput, match="not 3"):
        read_edge_codes(np.zeros((20, 20, 3)))
    with pytest.raises(InvalidInput, match="not all numbers"):
        read_edge_codes(np.full((20, 20), np.nan))
    with pytest.raises(InvalidInput, match="more than 0"):
        read_edge_codes(np.zeros((20, 20)), px_per_mm=0)


def read(text: str, at: float, mirrored: bool = False) -> FoundCode:
    """A reading without a picture: 10 px a millimetre, a code 14 mm long."""
    return FoundCode(EdgeCode.parse(text), at, 350, 140, 0, mirrored)


EVEN = [read(str(code), 190 * i) for i, code in enumerate(run_of_codes("79-7/10", 12))]


@pytest.mark.parametrize(
    ("first_centre", "numbers", "offset"),
    [
        (380, ("11", "12", "13"), 0.0),
        (440, ("11", "12", "13"), 60 / 190),
        (570, ("11A", "12A", "13A"), 0.0),
        (520, ("11A", "12A", "13A"), -50 / 190),
    ],
)
def test_pictures_bear_the_nearest_number(first_centre: float, numbers: tuple[str, ...], offset: float) -> None:
    pictures = [(c - 180, c + 180) for c in (first_centre, first_centre + 380, first_centre + 760)]
    assert frame_numbers_on(EVEN, pictures) == labels(*numbers)
    assert offset_of(EVEN, pictures) == pytest.approx(offset)


def test_half_frames_take_n_and_na() -> None:
    pictures = [(c - 90, c + 90) for c in (200, 390, 580, 770)]
    assert frame_numbers_on(EVEN, pictures) == labels("10A", "11", "11A", "12")


def test_pictures_midway_keep_together() -> None:
    # Centres 0.48, 0.52, 0.49 and 0.51 half frames behind a code: each for itself would jump between 11 and 12A.
    centres = [380 + 190 * 0.48, 760 + 190 * 0.52, 1140 + 190 * 0.49, 1520 + 190 * 0.51]
    pictures = [(c - 180, c + 180) for c in centres]
    assert frame_numbers_on(EVEN, pictures) in (labels("11", "12", "13", "14"), labels("11A", "12A", "13A", "14A"))
    # The offset kept with the roll decides.
    assert frame_numbers_on(EVEN, pictures, offset=0.45) == labels("11", "12", "13", "14")
    assert frame_numbers_on(EVEN, pictures, offset=-0.45) == labels("11A", "12A", "13A", "14A")


def test_a_picture_behind_a_slip_goes_by_its_own_code() -> None:
    pictures = [(c - 180, c + 180) for c in (380, 760, 1140, 1520 + 200)]
    assert frame_numbers_on(EVEN, pictures) == labels("11", "12", "13", "14A")


@given(st.sets(st.integers(0, 11), min_size=2), st.booleans(), st.floats(-0.4, 0.4))
def test_any_two_codes_number_the_whole_strip(chosen: set[int], mirrored: bool, offset: float) -> None:
    width = 190 * 12
    sign = -1 if mirrored else 1
    kept = [replace(EVEN[i], mirrored=mirrored) for i in sorted(chosen)]
    kept = [replace(r, position_px=width - r.position_px) if mirrored else r for r in kept]
    centres = [380 * i + 190 * offset for i in range(6)]
    pictures = [(c - 180, c + 180) for c in ((width - c if mirrored else c) for c in centres)]
    assert frame_numbers_on(kept, pictures) == labels("10", "11", "12", "13", "14", "15")
    line = edge_line(kept)
    assert line and line.step_px == pytest.approx(sign * 190)
    assert offset_of(kept, pictures) == pytest.approx(offset, abs=1e-6)


def test_one_code_does_with_the_resolution() -> None:
    pictures = [(c - 180, c + 180) for c in (380, 760)]
    assert frame_numbers_on(EVEN[2:3], pictures) == [None, None]
    assert frame_numbers_on(EVEN[2:3], pictures, px_per_mm=10) == labels("11", "12")
    mirrored = [replace(EVEN[2], mirrored=True)]
    assert frame_numbers_on(mirrored, pictures, px_per_mm=10) == labels("11", "10")
    # Ahead of X there is no number.
    assert frame_numbers_on(EVEN[2:3], [(-6000, -5600)], px_per_mm=10) == [None]
    assert frame_numbers_on([], pictures, px_per_mm=10) == [None, None]


def test_contradicting_readings_number_nothing() -> None:
    pictures = [(200.0, 560.0)]
    for other in (read("15-7/11", 380), read("79-7/40", 190), read("79-7/10", 190)):
        assert agreeing([EVEN[0], other]) == []
        assert frame_numbers_on([EVEN[0], other], pictures) == [None]
    assert agreeing([*EVEN[:3], read("79-7/40", 600)]) == EVEN[:3]
    assert agreeing([*EVEN[:3], replace(EVEN[3], turn=180)]) == EVEN[:3]
    assert agreeing([*EVEN[:3], read("79-7", 600)]) == [*EVEN[:3], read("79-7", 600)]
    assert agreeing(EVEN[:1]) == EVEN[:1] and agreeing([]) == []


def test_assumed_numbers_are_confirmed_or_corrected() -> None:
    pictures = [(c - 180, c + 180) for c in (380, 760, 1140)]
    found = confirm(EVEN, pictures, labels("11", "12A", "13"))
    assert [one.agrees for one in found] == [True, False, True]
    assert str(found[0]) == "Frame 11: the edge says the same."
    assert str(found[1]) == "Frame 12A: the edge says 12. Correct the number, or keep your own count."
    unread = confirm([], pictures, labels("1", "2", "3"))
    assert [one.agrees for one in unread] == [None] * 3
    assert str(unread[2]) == "Frame 3: the edge isn't readable there."


def test_impossible_questions_are_refused() -> None:
    with pytest.raises(InvalidInput, match="3 pictures and 2 frame numbers"):
        confirm(EVEN, [(0, 1), (2, 3), (4, 5)], labels("1", "2"))
    with pytest.raises(InvalidInput, match="not at 9 and ends at 3"):
        frame_numbers_on(EVEN, [(9, 3)])
    with pytest.raises(InvalidInput, match="half frames, not 0"):
        frame_numbers_on(EVEN, [(3, 9)], offset=0.7)
    assert frame_numbers_on(EVEN, []) == [] and offset_of(EVEN, []) is None


def test_a_whole_strip_from_scan_to_frame_numbers() -> None:
    # Six pictures whose centres lie 4 mm behind 3, 4 … 8, scanned from the emulsion side.
    strip = Strip(codes=run_of_codes("115-4/3", 11), first_mm=15, noise=3, blur_mm=0.05, mirrored=True)
    readings = read_edge_codes(paint_edge(strip, 10))
    pictures = [(2280 - end, 2280 - start) for start, end in spans(strip, 10)]
    assert frame_numbers_on(readings, pictures) == labels("3", "4", "5", "6", "7", "8")
    assert offset_of(readings, pictures) == pytest.approx(4 / 19, abs=0.03)
