"""Frame numbers: labels, their order along the film, ranges and their round trip."""

import time
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.errors import InvalidInput
from catalogue.film.frame_numbers import MAX_FRAMES, FrameNumber, count_frames, frames_text, parse_frames


def texts(range_text: str) -> list[str]:
    return [str(f) for f in parse_frames(range_text)]


def frame_labels() -> st.SearchStrategy[FrameNumber]:
    numbers = st.sampled_from(["00", *(str(n) for n in range(60))])
    plain = st.builds(lambda n, a: FrameNumber.parse(n + a), numbers, st.sampled_from(["", "", "A", "B"]))
    return st.one_of(plain, plain, st.sampled_from(["?", "?1", "?12", "X", "S"]).map(FrameNumber.parse))


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("00", "00"),
        ("000", "00"),
        ("0", "0"),
        ("0A", "0A"),
        ("00a", "00A"),
        ("1", "1"),
        ("07", "7"),
        ("007", "7"),
        ("1a", "1A"),
        ("36A", "36A"),
        (" 37 ", "37"),
        ("38", "38"),
        ("?", "?"),
        ("?2", "?2"),
        ("x", "X"),
        ("12b", "12B"),
    ],
)
def test_labels_have_one_canonical_form(typed: str, kept: str) -> None:
    frame = FrameNumber.parse(typed)
    assert frame.text == str(frame) == kept
    assert FrameNumber.parse(kept) == frame


@pytest.mark.parametrize(
    "typed",
    ["", " ", "A1", "1AA", "12345", "1 A", "-1", "1.5", "📷", "٣", "１", "?٣", "½", "1\n2", "one", "9" * 500],
)
def test_what_is_no_frame_number_is_refused(typed: str) -> None:
    with pytest.raises(InvalidInput, match=r"is not a frame number\. Write for example"):
        FrameNumber.parse(typed)


def test_order_along_the_film() -> None:
    # 00 lies before 0 on the film: the published description of the edge code has them as two frames.
    along = ["X", "00", "00A", "0", "0A", "1", "1A", "2", "9", "10", "36", "36A", "37", "?", "?1", "?10"]
    frames = [FrameNumber.parse(t) for t in along]
    backwards = frames[::-1]
    assert sorted(backwards) == frames
    assert all(a < b and b > a and a != b for a, b in pairwise(frames))


def test_equal_labels_are_one_key() -> None:
    assert len({FrameNumber.parse("7"), FrameNumber.parse("07"), FrameNumber.parse("7a")}) == 2


@pytest.mark.parametrize(
    ("typed", "labels"),
    [
        ("36", ["36"]),
        ("1-4", ["1", "2", "3", "4"]),
        ("1 – 3", ["1", "2", "3"]),
        ("00-2", ["00", "0", "1", "2"]),
        ("00-0", ["00", "0"]),
        ("1-3, 5, 7A-9", ["1", "2", "3", "5", "7A", "8", "9"]),
        ("0A-2", ["0A", "1", "2"]),
        ("1-3 by halves", ["1", "1A", "2", "2A", "3"]),
        ("1-2A by half", ["1", "1A", "2", "2A"]),
        ("00-1 By Halves", ["00", "00A", "0", "0A", "1"]),
        ("3; 1; ?", ["3", "1", "?"]),
        ("36-36A", ["36", "36A"]),
        ("1,,2,", ["1", "2"]),
    ],
)
def test_ranges(typed: str, labels: list[str]) -> None:
    assert texts(typed) == labels


def test_the_whole_of_a_long_roll() -> None:
    labels = texts("00-36A")
    assert labels == ["00", "0", *(str(n) for n in range(1, 37)), "36A"]
    assert len(labels) == 39


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("", "at least one frame"),
        (" , ", "at least one frame"),
        ("by halves", "at least one frame"),
        ("5-1", "lower number to a higher"),
        ("3-3", "lower number to a higher"),
        ("0-00", "lower number"),
        ("?-5", "lower number"),
        ("1-2-3", "not a range"),
        ("1, 2, 1", "Frame 1 is named twice"),
        ("1-5, 3", "Frame 3 is named twice"),
        ("07, 7", "Frame 7 is named twice"),
        ("1-401", "more than 400"),
        ("1-9999", "^The range 1–9999 has more than 400"),  # before a frame of it is made
        ("1-9999999", "not a frame number"),
        ("1-300 by halves", "more than 400"),
        ("🎞", "not a frame number"),
    ],
)
def test_impossible_ranges_are_refused(typed: str, said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        parse_frames(typed)


@pytest.mark.parametrize(
    ("typed", "canonical"),
    [
        ("00-36A", "00-36A"),
        ("1,2,3,4", "1-4"),
        ("1, 2", "1, 2"),
        ("36", "36"),
        ("1-12, 14, 16A-18", "1-12, 14, 16A-18"),
        ("1, 1A, 2, 2A", "1-2A by halves"),
        ("1-72 by halves", "1-72 by halves"),
        ("3,2,1", "3, 2, 1"),
        ("00,0,1", "00-1"),
        ("?, 1-3", "?, 1-3"),
        ("1-3, 3A", "1-3A"),
    ],
)
def test_canonical_range_text(typed: str, canonical: str) -> None:
    assert frames_text(parse_frames(typed)) == canonical


def test_no_frames_give_no_text() -> None:
    assert frames_text(()) == ""


@given(st.lists(frame_labels(), min_size=1, max_size=60, unique=True))
def test_any_list_of_frames_survives_being_written_and_read(frames: list[FrameNumber]) -> None:
    assert parse_frames(frames_text(frames)) == tuple(frames)


@given(st.lists(frame_labels(), min_size=1, max_size=60, unique=True))
def test_any_film_in_order_survives_being_written_and_read(frames: list[FrameNumber]) -> None:
    assert parse_frames(frames_text(sorted(frames))) == tuple(sorted(frames))


@given(st.integers(0, 300), st.integers(1, 99), st.booleans(), st.booleans())
def test_runs_are_written_as_one_range(first: int, more: int, lettered: bool, halves: bool) -> None:
    typed = f"{first}-{first + more}{'A' if lettered else ''}{' by halves' if halves else ''}"
    frames = parse_frames(typed)
    assert parse_frames(frames_text(frames)) == frames
    if len(frames) > 3:
        assert frames_text(frames) == typed


@given(st.lists(frame_labels(), max_size=30))
def test_order_is_total(frames: list[FrameNumber]) -> None:
    backwards = frames[::-1]
    assert sorted(frames) == sorted(backwards)


@given(st.text(max_size=40))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    try:
        frames = parse_frames(text)
    except InvalidInput:
        return  # any other error fails
    assert 1 <= len(frames) <= MAX_FRAMES


def test_counting() -> None:
    assert [str(f) for f in count_frames(3)] == ["1", "2", "3"]
    assert len(count_frames(MAX_FRAMES)) == MAX_FRAMES


@pytest.mark.parametrize("count", [0, -1, 401, 10_000])
def test_impossible_counts_are_refused(count: int) -> None:
    with pytest.raises(InvalidInput, match=f"1 to 400 frames here, not {count}"):
        count_frames(count)


def test_the_longest_roll_of_half_frames_is_written_at_once() -> None:
    frames = parse_frames("1-200A by halves")
    shuffled = frames[1::2] + frames[::2]
    began = time.perf_counter()
    frames_text(frames)
    frames_text(shuffled)
    assert time.perf_counter() - began < 0.5
