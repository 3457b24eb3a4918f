"""Film formats against published sizes, the forgiving search, and refusal of impossible measures."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.errors import InvalidInput, UnknownFormat
from catalogue.film.formats import BUILT_IN_FORMATS, FilmFormat, find_format


def own_format(**changes: object) -> FilmFormat:
    values: dict[str, object] = {
        "key": "own-1",
        "name": "my panorama",
        "gauge": "70",
        "kind": "strip",
        "gauge_width_mm": 70.0,
        "frame_along_mm": 100.0,
        "frame_across_mm": 56.0,
        "pitch_mm": 104.0,
        "usual_exposures": (5,),
        "source": "measured by its owner",
    }
    return FilmFormat(**(values | changes))  # type: ignore[arg-type]


# Picture sizes and counts: a public encyclopaedia's tables of 135 and 120/220 frame sizes.
PICTURES = [
    ("135-24x36", 36, 24),
    ("135-18x24", 18, 24),
    ("135-24x24", 24, 24),
    ("135-24x65", 65, 24),
    ("120-6x4.5", 41.5, 56),
    ("120-6x6", 56, 56),
    ("120-6x7", 70, 56),
    ("120-6x8", 77, 56),
    ("120-6x9", 84, 56),
    ("120-6x12", 118, 56),
    ("120-6x17", 168, 56),
    # 127: a public collectors' table.
    ("127-4x6.5", 65, 40),
    ("127-4x4", 40, 40),
    ("127-4x3", 30, 40),
    # 110: from memory.
    ("110-13x17", 17, 13),
]


@pytest.mark.parametrize(("key", "along", "across"), PICTURES)
def test_picture_sizes_are_the_published_ones(key: str, along: float, across: float) -> None:
    film = BUILT_IN_FORMATS[key]
    assert (film.frame_along_mm, film.frame_across_mm) == (along, across)


def test_135_pitch_is_counted_in_perforations() -> None:
    # 4.750 mm a perforation, 8 to a full frame: encyclopaedia's list of perforation pitches; the products
    # are arithmetic.
    assert find_format("24x36").pitch_mm == pytest.approx(8 * 4.750)
    assert find_format("24x36").gap_mm == pytest.approx(2.0)
    assert find_format("18x24").pitch_mm == pytest.approx(4 * 4.750)
    assert find_format("18x24").gap_mm == pytest.approx(1.0)
    # Common practice, no published source: 14 perforations for the panorama.
    assert find_format("24x65").pitch_mm == pytest.approx(14 * 4.750)
    # The width is from memory; the margin beside a centred picture is arithmetic from it.
    film = find_format("135")
    assert (film.gauge_width_mm - film.frame_across_mm) / 2 == pytest.approx(5.4875)


@pytest.mark.parametrize(
    ("key", "count"),
    # Exposures on a 120 and a 220 roll: the same public frame-size table.
    [
        ("120-6x4.5", 16),
        ("120-6x6", 12),
        ("120-6x7", 10),
        ("120-6x8", 9),
        ("120-6x9", 8),
        ("120-6x12", 6),
        ("120-6x17", 4),
        ("220-6x4.5", 32),
        ("220-6x6", 24),
        ("220-6x7", 20),
        ("220-6x8", 18),
        ("220-6x9", 16),
        ("220-6x12", 12),
        ("220-6x17", 8),
    ],
)
def test_usual_exposures_fit_the_length_of_film(key: str, count: int) -> None:
    film = BUILT_IN_FORMATS[key]
    assert count in film.usual_exposures
    # 120 film is 760 to 840 mm long, 220 about double (the same source). Pictures without gaps must fit.
    longest = 840 if film.gauge == "120" else 1680
    assert max(film.usual_exposures) * film.frame_along_mm <= longest


def test_120_width_lies_between_the_published_descriptions() -> None:
    # Sources say 61, 61.5 (ISO 732, from memory) and 62 mm.
    assert all(61 <= f.gauge_width_mm <= 62 for f in BUILT_IN_FORMATS.values() if f.gauge in ("120", "220"))


@pytest.mark.parametrize(
    ("key", "sheet"),
    # ISO 1012 and the holder standard, from memory.
    [("sheet-4x5", (100.0, 125.4)), ("sheet-5x7", (125.4, 176.2)), ("sheet-8x10", (201.6, 252.4))],
)
def test_sheet_sizes(key: str, sheet: tuple[float, float]) -> None:
    film = BUILT_IN_FORMATS[key]
    assert (film.gauge_width_mm, film.pitch_mm) == sheet
    assert film.usual_exposures == (1,)


def test_mounts_are_close_to_two_inches_and_mask_the_frame() -> None:
    # Mount of 2 × 2 in (metric 50 × 50 mm), opening 22-23 × 34-35 mm: a university laboratory's page.
    mount = BUILT_IN_FORMATS["slide-50x50"]
    assert (mount.gauge_width_mm, mount.pitch_mm) == (50, 50)
    assert 34 <= mount.frame_along_mm <= 35
    assert 22 <= mount.frame_across_mm <= 23


@pytest.mark.parametrize("film", BUILT_IN_FORMATS.values(), ids=lambda f: f.key)
def test_every_format_is_whole_and_names_its_source(film: FilmFormat) -> None:
    assert len(film.source) > 10
    assert film.usual_exposures
    assert film.gap_mm > 0
    assert film.frame_across_mm < film.gauge_width_mm
    assert find_format(film.key) is film
    assert find_format(film.name) is film


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("135", "135-24x36"),
        ("35mm", "135-24x36"),
        ("35 mm", "135-24x36"),
        ("24×36 mm", "135-24x36"),
        ("36x24", "135-24x36"),
        ("half frame", "135-18x24"),
        ("18 x 24", "135-18x24"),
        ("6x6", "120-6x6"),
        ("645", "120-6x4.5"),
        ("6×4,5", "120-6x4.5"),
        ("6×7", "120-6x7"),
        ("120 6x9", "120-6x9"),
        ("120/6X9", "120-6x9"),
        ("220 6x7", "220-6x7"),
        ("6 x 17", "120-6x17"),
        ("4x5 in", "sheet-4x5"),
        ("SHEET-8x10", "sheet-8x10"),
        ("slides", "slide-50x50"),
        ("110", "110-13x17"),
    ],
)
def test_usual_ways_of_writing_a_format(text: str, key: str) -> None:
    assert find_format(text).key == key


@pytest.mark.parametrize("text", ["", "   ", "x", "-", "7x9", "9999", "🎞", "135; drop table"])
def test_unknown_format_lists_what_is_known(text: str) -> None:
    with pytest.raises(UnknownFormat, match=r"135-24x36.*slide-50x50"):
        find_format(text)


def test_a_long_unknown_text_is_shortened_in_the_message() -> None:
    with pytest.raises(UnknownFormat) as caught:
        find_format("z" * 5000)
    assert len(str(caught.value)) < 700


def test_own_formats_are_found_before_built_in_ones() -> None:
    mine = own_format(key="own-6x6", name="6x6")
    assert find_format("6x6", [mine]) is mine
    assert find_format("120-6x6", [mine]).key == "120-6x6"
    assert find_format("MY panorama", [own_format()]).key == "own-1"


def test_measured_values_replace_the_nominal_ones() -> None:
    film = find_format("6x7").measured(frame_along_mm=67, pitch_mm=73.5)
    assert (film.frame_along_mm, film.frame_across_mm, film.pitch_mm) == (67, 56, 73.5)
    assert film.gap_mm == pytest.approx(6.5)
    assert find_format("6x7").frame_along_mm == 70
    assert find_format("135").measured(pitch_mm=34).gap_mm == -2  # overlapping pictures can be said


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"pitch_mm": 0.0}, "between 0 and 2000"),
        ({"frame_along_mm": -1.0}, "between 0 and 2000"),
        ({"gauge_width_mm": float("nan")}, "between 0 and 2000"),
        ({"pitch_mm": float("inf")}, "between 0 and"),
        ({"frame_across_mm": 71.0}, "71 mm across.*70 mm wide"),
        ({"key": ""}, "a key and a name"),
        ({"kind": "sheet", "frame_along_mm": 105.0}, "105 mm long.*104 mm"),
        ({"usual_exposures": (0,)}, "count from 1"),
    ],
)
def test_impossible_formats_are_refused_with_the_numbers(changes: dict[str, object], said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        own_format(**changes)


def test_impossible_measured_values_are_refused() -> None:
    with pytest.raises(InvalidInput, match="60 mm across"):
        find_format("135").measured(frame_across_mm=60)


@given(st.text(max_size=60))
def test_any_text_is_found_or_refused_in_words(text: str) -> None:
    try:
        found = find_format(text)
    except UnknownFormat:
        return  # any other error fails
    assert found.key in BUILT_IN_FORMATS
