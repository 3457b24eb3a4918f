"""Roll numbers: patterns, the next one to issue, written forms, order and references as typed."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.errors import InvalidInput
from catalogue.film.roll_numbers import (
    DEFAULT_PATTERN,
    RollPattern,
    parse_roll_number,
    references,
    sort_text,
    squeezed,
    tail,
)


@pytest.mark.parametrize(
    ("pattern", "taken", "number"),
    [
        (DEFAULT_PATTERN, [], "2031-001"),
        (DEFAULT_PATTERN, ["2031-001", "2031-002"], "2031-003"),
        (DEFAULT_PATTERN, ["2031-007"], "2031-008"),
        (DEFAULT_PATTERN, ["2030-090", "2032-004"], "2031-001"),
        (DEFAULT_PATTERN, ["2031-014a"], "2031-015"),
        (DEFAULT_PATTERN, ["2031-999"], "2031-1000"),
        (DEFAULT_PATTERN, ["2031-1000", "2031-999"], "2031-1001"),
        (DEFAULT_PATTERN, ["other", ""], "2031-001"),
        ("{number}", ["9", "10"], "11"),
        ("R{number:04}", ["R0009", "2031-050"], "R0010"),
        ("R{number}", ["r5"], "R6"),
        ("{year}.{number:2}", ["2031.07", "2031-50"], "2031.08"),
        ("{number:03}-{year}", ["012-2031"], "013-2031"),
    ],
)
def test_the_next_number(pattern: str, taken: list[str], number: str) -> None:
    """As the catalogue asks: the numbers that begin like the pattern, as they sort backwards, until one follows it."""
    shape = RollPattern.parse(pattern)
    head = sort_text(shape.head(2031))
    near = sorted((t for t in taken if sort_text(t).startswith(head)), key=sort_text, reverse=True)
    last = next((n for n in (shape.running(2031, text) for text in near) if n is not None), 0)
    assert shape.write(2031, last + 1) == number


@pytest.mark.parametrize(
    "pattern",
    [
        "",
        "roll",
        "{year}",
        "{number}{number}",
        "{year}{year}{number}",
        "{year}/{number}",
        "{name}-{number}",
        "{number:٣}",
        "{number!r}",
        "🎞{number}",
        "{number",
        "{number.__class__}",
    ],
)
def test_a_pattern_needs_one_running_number_and_plain_marks(pattern: str) -> None:
    with pytest.raises(InvalidInput, match="is not a pattern for roll numbers"):
        RollPattern.parse(pattern)


@pytest.mark.parametrize("pattern", ["-{number}", "{number}.", "a" * 60 + "{number}"])
def test_a_pattern_must_give_numbers_that_are_accepted(pattern: str) -> None:
    with pytest.raises(InvalidInput, match="can't be a roll number"):
        RollPattern.parse(pattern)


@given(
    st.sampled_from([DEFAULT_PATTERN, "{number}", "R{number:04}", "{year}{number}", "{number:2}.{year}"]),
    st.sets(st.integers(1, 2000), min_size=1, max_size=20),
    st.sampled_from(["", "a", "C"]),
)
def test_the_highest_number_sorts_last(pattern_text: str, used: set[int], suffix: str) -> None:
    pattern = RollPattern.parse(pattern_text)
    taken = [pattern.write(2031, n) + suffix for n in used]
    assert all(parse_roll_number(text) == text and sort_text(text) >= sort_text(pattern.head(2031)) for text in taken)
    assert pattern.running(2031, max(taken, key=sort_text)) == max(used)


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ("2031-014", "2031-014"),
        ("  2031-014 ", "2031-014"),
        ("box 3  no. 7", "box 3 no. 7"),
        ("14", "14"),
        ("Δ-7", "Δ-7"),
        ("巻12", "巻12"),
        ("a_b", "a_b"),
        ("x" * 40, "x" * 40),
    ],
)
def test_sensible_texts_are_roll_numbers(typed: str, kept: str) -> None:
    assert parse_roll_number(typed) == kept


@pytest.mark.parametrize(
    "typed",
    ["", "  ", "/", "2031/014", "-", "-1", "a-", "🎞12", "12🎞", "a\x00b", "..", "<b>", "a'b", "x" * 41],
)
def test_other_texts_are_refused(typed: str) -> None:
    with pytest.raises(InvalidInput, match=r"can't be a roll number\. Use up to 40"):
        parse_roll_number(typed)


def test_numbers_sort_as_a_person_counts() -> None:
    counted = [
        "9",
        "10",
        "100",
        "2030-120",
        "2031-9",
        "2031-010",
        "2031-014",
        "2031-014a",
        "2031-015",
        "R2",
        "r10",
    ]
    backwards = counted[::-1]
    assert sorted(backwards, key=sort_text) == counted


def match(typed: str, known: list[str]) -> tuple[tuple[str, str | None], ...]:
    """What the catalogue's two questions give: whole numbers, newest first, then those with this tail."""
    newest, meant = sorted(known, key=sort_text, reverse=True), references(typed)
    whole = [(number, one.frame) for one in meant for number in newest if squeezed(number) == one.squeezed]
    short = [(number, one.frame) for one in meant if one.short for number in newest if tail(number) == one.squeezed]
    return tuple(whole + short)


KNOWN = ["2029-014", "2031-014", "2031-014a", "2031-140", "2031-001", "box 3", "R7"]


@pytest.mark.parametrize(
    ("typed", "first"),
    [
        ("2031-014", ("2031-014", None)),
        ("2031-014 23A", ("2031-014", "23A")),
        ("2031-014/23A", ("2031-014", "23A")),
        ("2031-014 / 23a", ("2031-014", "23A")),
        ("2031-14 07", ("2031-014", "7")),
        ("2031-014:00", ("2031-014", "00")),
        ("2031 014 23", ("2031-014", "23")),
        ("2031-014 frame 5", ("2031-014", "5")),
        ("14 23a", ("2031-014", "23A")),
        ("014/23", ("2031-014", "23")),
        ("14", ("2031-014", None)),
        ("14a 23", ("2031-014a", "23")),
        ("2031-014A 3", ("2031-014a", "3")),
        ("BOX 3 12", ("box 3", "12")),
        ("r7/0", ("R7", "0")),
        ("2031-014/?", ("2031-014", None)),
        ("２０３１-０１４ ２３", ("2031-014", "23")),
    ],
)
def test_references_as_typed(typed: str, first: tuple[str, str | None]) -> None:
    assert match(typed, KNOWN)[0] == first


def test_a_short_reference_gives_every_candidate_newest_first() -> None:
    assert match("14 23a", KNOWN) == (("2031-014", "23A"), ("2029-014", "23A"))


def test_a_whole_number_goes_before_a_short_one() -> None:
    assert match("14", ["2031-014", "14"]) == (("14", None), ("2031-014", None))


@pytest.mark.parametrize("typed", ["", "harbour", "2031-999", "999 3", "4 in the morning", "1" * 61, "?", "🎞"])
def test_other_texts_match_nothing(typed: str) -> None:
    assert match(typed, KNOWN) == ()


@given(st.text(max_size=70))
def test_no_typed_text_breaks_the_matching(typed: str) -> None:
    assert all(roll in KNOWN for roll, _ in match(typed, KNOWN))


@given(
    st.integers(1, 999),
    st.integers(0, 40),
    st.sampled_from(["", "A"]),
    st.sampled_from([" ", "/", " / ", ":"]),
)
def test_a_written_reference_leads_back(number: int, frame: int, letter: str, between: str) -> None:
    roll = RollPattern.parse(DEFAULT_PATTERN).write(2031, number)
    others = [f"2030-{number:03}", f"2031-{number:03}b", roll]
    assert match(f"{roll}{between}{frame}{letter}", others)[0] == (roll, f"{frame}{letter}")
