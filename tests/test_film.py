"""Formats, frame numbers, roll numbers and dates against tables and published examples."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.errors import InvalidInput, UnknownFormat
from catalogue.film.dates import parse_date
from catalogue.film.formats import BUILT_IN_FORMATS, find_format
from catalogue.film.frame_numbers import FrameNumber, frames_text, parse_frames
from catalogue.film.roll_numbers import RollPattern, match_reference, parse_roll_number, suffixed

# (key, along, across, source): published frame-size tables; encyclopaedia mirror for 135.
PUBLISHED = [
    ("135-24x36", 36, 24), ("135-18x24", 18, 24), ("135-24x24", 24, 24), ("135-24x65", 65, 24),
    ("120-6x4.5", 41.5, 56), ("120-6x6", 56, 56), ("120-6x7", 70, 56), ("120-6x8", 77, 56), ("120-6x9", 84, 56),
    ("120-6x12", 118, 56), ("120-6x17", 168, 56),
]  # fmt: skip


@pytest.mark.parametrize(("key", "along", "across"), PUBLISHED)
def test_picture_sizes_of_published_tables(key: str, along: float, across: float) -> None:
    assert (BUILT_IN_FORMATS[key].frame_along_mm, BUILT_IN_FORMATS[key].frame_across_mm) == (along, across)


def test_135_pitch_is_eight_perforations() -> None:
    # Long pitch 4.750 mm, 8 perforations a frame: encyclopaedia mirror.
    assert BUILT_IN_FORMATS["135-24x36"].pitch_mm == 8 * 4.750
    assert BUILT_IN_FORMATS["135-18x24"].pitch_mm == 4 * 4.750


@pytest.mark.parametrize("film", BUILT_IN_FORMATS.values(), ids=lambda f: f.key)
def test_a_usual_roll_fits_on_its_film(film) -> None:  # type: ignore[no-untyped-def]
    longest = {"120": 840, "220": 1680}.get(film.gauge)  # 760 to 840 mm and about double: encyclopaedia mirror
    if longest:
        assert all(n * film.pitch_mm - film.gap_mm <= longest for n in film.usual_exposures)
    assert film.source


@pytest.mark.parametrize(
    ("text", "key"),
    [("135", "135-24x36"), ("6×7", "120-6x7"), ("645", "120-6x4.5"), ("120 6x9", "120-6x9"), ("35 mm", "135-24x36")],
)
def test_formats_as_people_write_them(text: str, key: str) -> None:
    assert find_format(text).key == key


def test_an_unknown_format_names_the_known_ones() -> None:
    with pytest.raises(UnknownFormat, match="135-24x36"):
        find_format("8 mm ciné")


def test_frame_order_on_the_film() -> None:
    # DX edge numbers: 00 comes before 0 (published decoder); n, nA, n+1 follow.
    order = ["00", "00A", "0", "0A", "1", "1A", "2", "36", "36A", "37", "?"]
    assert [f.text for f in sorted(FrameNumber.parse(t) for t in reversed(order))] == order


@pytest.mark.parametrize(("text", "canonical"), [("07", "7"), ("00", "00"), ("1a", "1A"), (" 36A ", "36A"), ("000", "00")])
def test_equal_labels(text: str, canonical: str) -> None:
    assert FrameNumber.parse(text).text == canonical


@pytest.mark.parametrize("text", ["", "🎞", "1AB", "-1", "99999", "A1", "1.5"])
def test_labels_that_are_none(text: str) -> None:
    with pytest.raises(InvalidInput):
        FrameNumber.parse(text)


def test_ranges() -> None:
    frames = parse_frames("00-36A")
    assert [f.text for f in frames[:3]] == ["00", "0", "1"]
    assert len(frames) == 39  # 00, 0, 1 … 36, 36A
    assert frames_text(frames) == "00-36A"
    assert [f.text for f in parse_frames("1-2 by halves")] == ["1", "1A", "2"]
    for bad in ("3-1", "1,1", "", "1-2-3", "1-9999"):
        with pytest.raises(InvalidInput):
            parse_frames(bad)


@given(st.lists(st.sampled_from(["00", "0", *map(str, range(1, 40)), "1A", "16A", "36A", "?"]), min_size=1, unique=True))
def test_canonical_ranges_read_back(labels: list[str]) -> None:
    frames = [FrameNumber.parse(label) for label in labels]
    assert list(parse_frames(frames_text(frames))) == frames


def test_numbers_are_issued_once() -> None:
    pattern = RollPattern.parse("{year}-{number:03}")
    assert pattern.issue(2031, []) == "2031-001"
    assert pattern.issue(2031, ["2031-001", "2031-014", "2031-013b", "2030-099"]) == "2031-015"
    assert suffixed("2031-014", ["2031-014", "2031-014a"]) == "2031-014b"
    with pytest.raises(InvalidInput):
        RollPattern.parse("{year}")


@pytest.mark.parametrize("text", ["", "🎞️", "a" * 41, "//", "2031\u202e014"])
def test_roll_numbers_that_are_none(text: str) -> None:
    with pytest.raises(InvalidInput):
        parse_roll_number(text)


@pytest.mark.parametrize("typed", ["2031-014 23A", "2031-014/23A", "14 23a", "2031-14 23a", "2031-014 frame 23A"])
def test_references_as_typed(typed: str) -> None:
    assert match_reference(typed, ["2031-014", "2031-015"])[0] == ("2031-014", "23A")


# Published examples of EDTF levels 0 and 1 (Library of Congress, 4 Feb 2019; ISO 8601-2:2019), as quoted
# in two public test suites.
LEVEL_0 = (
    "1985-04-12 1985-04 1985 0000 1985-04-12T23:20:30 1985-04-12T23:20:30Z 1985-04-12T23:20:30-04 "
    "1985-04-12T23:20:30+04:30 1964/2008 2004-06/2006-08 2004-02-01/2005-02-08 2004-02-01/2005-02 2004-02-01/2005 2005/2006-02"
).split()  # fmt: skip
LEVEL_1 = (
    "Y170000002 Y-170000002 2001-21 1984? 2004-06~ 2004-06-11% 201X 20XX 2004-XX 1985-04-XX 1985-XX-XX 1985-04-12/.. "
    "1985-04/.. 1985/.. ../1985-04-12 ../1985-04 ../1985 1985-04-12/ 1985-04/ 1985/ /1985-04-12 /1985-04 /1985 -1985 "
    "1984~/2004-06 1984/2004-06~ 1984~/2004~ -1984?/2004% 1984-06?/2004-08? 1984-06-02?/2004-08-08~ 1984-06-02?/ "
    "2019-12/2020% 1923-21/1924 -1000/-0999"
).split()  # fmt: skip
REFUSED = (
    "2004-06~-11 2004?-06-11 ?2004-06-~11 156X-12-25 15XX-12-25 XXXX-12-XX 1XXX-12 1984-1X 1950S2 Y-17E7 2001-34 "
    "[1667,1668,1670..1672] {1960,1961-12} [..1984] 2004-06-XX/2004-07-03 2012/2011 2012-10-10T10:10:1 "
    "2012-10-10T1:10:10 2012-10-10t10:10:10 2012-10-10T10:10:10Z10 1960-06-31 2012///4444 2000/12-12 y2006 -0000 "
    "+2006?~ 199u 1999-uu 1984?~ unknown/2006 2004-01-01/open y170000002 196x"
).split()  # fmt: skip


@pytest.mark.parametrize("text", [*LEVEL_0, *LEVEL_1])
def test_published_dates_are_read(text: str) -> None:
    assert parse_date(text).text == text


@pytest.mark.parametrize("text", [*REFUSED, " 1863-03-29", "1863-03-29 ", "18 63-03-29"])
def test_level_2_and_invalid_dates_are_refused(text: str) -> None:
    with pytest.raises(InvalidInput):
        parse_date(text)


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("1985", "1985-01-01", "1985-12-31"),
        ("201X", "2010-01-01", "2019-12-31"),
        ("1985-04-XX", "1985-04-01", "1985-04-30"),
        ("2004-06~", "2004-06-01", "2004-06-30"),
        ("1985/..", "1985-01-01", None),
        ("/1985", None, "1985-12-31"),
    ],
)
def test_bounds(text: str, first: str | None, last: str | None) -> None:
    found = parse_date(text)
    assert (found.earliest and found.earliest.isoformat(), found.latest and found.latest.isoformat()) == (first, last)


def test_old_notations_are_told_in_the_modern_form() -> None:
    with pytest.raises(InvalidInput, match="Write 199X"):
        parse_date("199u")
    with pytest.raises(InvalidInput, match="Write 1984%"):
        parse_date("1984?~")
