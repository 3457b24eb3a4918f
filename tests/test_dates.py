"""Uncertain dates against the published EDTF examples (ISO 8601-2:2019, levels 0 and 1)."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from catalogue.errors import InvalidInput
from catalogue.film.dates import parse_date


def words_of(text: str) -> list[str]:
    return text.split()


# Examples of the specification (Library of Congress, EDTF) as quoted in public test suites.
LEVEL_0 = words_of("""
    1985-04-12 1985-04 1985 0000 1985-04-12T23:20:30 1985-04-12T23:20:30Z 1985-04-12T23:20:30-04
    1985-04-12T23:20:30+04:30 1964/2008 2004-06/2006-08 2004-02-01/2005-02-08 2004-02-01/2005-02
    2004-02-01/2005 2005/2006-02
""")
LEVEL_1 = words_of("""
    Y170000002 Y-170000002 2001-21 1984? 2004-06~ 2004-06-11% 201X 20XX 2004-XX 1985-04-XX 1985-XX-XX
    1985-04-12/.. 1985-04/.. 1985/.. ../1985-04-12 ../1985-04 ../1985 1985-04-12/ 1985-04/ 1985/
    /1985-04-12 /1985-04 /1985 -1985
""")
LEVEL_1_INTERVALS = words_of("""
    1984~/2004-06 1984/2004-06~ 1984~/2004~ -1984?/2004% 1984-06?/2004-08? 1984-06-02?/2004-08-08~
    1984-06-02?/ 2019-12/2020% 1923-21/1924 -1000/-0999
""")
LEVEL_2 = words_of("""
    2004-06~-11 2004?-06-11 ?2004-06-~11 156X-12-25 15XX-12-25 XXXX-12-XX 1XXX-12 1984-1X 1950S2 Y-17E7
    2001-34 [1667,1668,1670..1672] {1960,1961-12} [..1984] 2004-06-XX/2004-07-03
""")
# Bad in the 2012 draft and in 2019 alike, from a public test suite.
INVALID = [
    "2012/2011",
    "2012-10-10T10:10:1",
    "2012-10-10T1:10:10",
    "2012-10-10t10:10:10",
    "2012-10-10T10:10:10Z10",
    "1960-06-31",
    "2012///4444",
    "2000/12-12",
    " 1863-03-29",
    "1863-03-29 ",
    "18 63-03-29",
    "y2006",
    "-0000",
    "+2006?~",
]


@pytest.mark.parametrize("text", LEVEL_0 + LEVEL_1 + LEVEL_1_INTERVALS)
def test_published_examples_are_read(text: str) -> None:
    found = parse_date(text)
    assert found.text == text
    assert found.words
    if found.earliest and found.latest:
        assert found.earliest <= found.latest


@pytest.mark.parametrize("text", LEVEL_2)
def test_level_2_is_refused(text: str) -> None:
    with pytest.raises(InvalidInput, match="is not a date here"):
        parse_date(text)


@pytest.mark.parametrize("text", INVALID)
def test_published_invalid_examples_are_refused(text: str) -> None:
    with pytest.raises(InvalidInput):
        parse_date(text)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "/",
        "../..",
        "/..",
        "../",
        "2023-02-29",
        "2031-13",
        "2031-00",
        "2031-5-1",
        "2004-22-15",
        "2004-XX-12",
        "last summer",
        "14.05.2031",
        "２０３１-０５",
        "٢٠٣١",
        "🗓",
        "2031\n",
        "2031-05-14T25:00:00",
        "9" * 200,
        "X" * 5000,
    ],
)
def test_other_texts_are_refused_in_words(text: str) -> None:
    with pytest.raises(InvalidInput, match="Write for example 2031-05-14") as caught:
        parse_date(text)
    assert len(str(caught.value)) < 250


@pytest.mark.parametrize("text", ["2012/2011", "2004-06-15/2004-05", "1984?/1983~", "-0999/-1000"])
def test_an_end_before_its_start_is_refused(text: str) -> None:
    with pytest.raises(InvalidInput, match="ends before it begins"):
        parse_date(text)


@pytest.mark.parametrize(
    ("old", "modern"),
    # The changes from the 2012 draft to 2019: Library of Congress, EDTF.
    [
        ("199u", "199X"),
        ("1999-uu", "1999-XX"),
        ("1984?~", "1984%"),
        ("unknown/2006", "/2006"),
        ("2004-01-01/open", "2004-01-01/.."),
        ("y170000002", "Y170000002"),
        ("196x", "196X"),
    ],
)
def test_older_drafts_are_answered_with_the_modern_form(old: str, modern: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        parse_date(old)
    assert f"Write “{modern}” instead." in str(caught.value)
    assert parse_date(modern).text == modern


@pytest.mark.parametrize(
    ("text", "earliest", "latest"),
    [
        ("1985", (1985, 1, 1), (1985, 12, 31)),
        ("201X", (2010, 1, 1), (2019, 12, 31)),
        ("20XX", (2000, 1, 1), (2099, 12, 31)),
        ("1985-04-XX", (1985, 4, 1), (1985, 4, 30)),
        ("2004-XX", (2004, 1, 1), (2004, 12, 31)),
        ("2024-02", (2024, 2, 1), (2024, 2, 29)),
        ("2004-06-11%", (2004, 6, 11), (2004, 6, 11)),
        ("1984~", (1984, 1, 1), (1984, 12, 31)),
        ("2004-02-01/2005-02", (2004, 2, 1), (2005, 2, 28)),
        ("1985-04-12T23:20:30Z", (1985, 4, 12), (1985, 4, 12)),
        # An open or unknown end has no bound.
        ("1985-04/..", (1985, 4, 1), None),
        ("1985/", (1985, 1, 1), None),
        ("../1985", None, (1985, 12, 31)),
        ("/1985-04-12", None, (1985, 4, 12)),
        # Northern seasons; the standard leaves the months open. Of winter only the named year's December.
        ("2001-21", (2001, 3, 1), (2001, 5, 31)),
        ("2001-22", (2001, 6, 1), (2001, 8, 31)),
        ("2001-23", (2001, 9, 1), (2001, 11, 30)),
        ("2001-24", (2001, 12, 1), (2001, 12, 31)),
        # Outside the calendar of years 1 to 9999.
        ("0000", None, None),
        ("-1985", None, None),
        ("Y170000002", None, None),
        ("0001", (1, 1, 1), (1, 12, 31)),
        ("9999", (9999, 1, 1), (9999, 12, 31)),
    ],
)
def test_bounds(text: str, earliest: tuple[int, int, int] | None, latest: tuple[int, int, int] | None) -> None:
    found = parse_date(text)
    assert found.earliest == (date(*earliest) if earliest else None)
    assert found.latest == (date(*latest) if latest else None)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("1988-21", "spring 1988"),
        ("2004-06~", "about June 2004"),
        ("2031-05-14", "14 May 2031"),
        ("1985", "1985"),
        ("1984?", "probably 1984"),
        ("2004-06-11%", "perhaps about 11 June 2004"),
        ("201X", "the 2010s"),
        ("20XX", "between 2000 and 2099"),
        ("1985-04-XX", "April 1985"),
        ("1985-XX-XX", "1985"),
        ("2030/2031-02", "2030 to February 2031"),
        ("1985/..", "1985 or later"),
        ("../1985", "up to 1985"),
        ("/1985-04", "up to April 1985"),
        ("1984~/2004~", "about 1984 to about 2004"),
    ],
)
def test_words(text: str, words: str) -> None:
    assert parse_date(text).words == words


def test_dates_sort_by_earliest_then_latest() -> None:
    in_order = ["../1983", "1984", "1984/..", "1984-02", "1984-21", "1984-06-11", "198X"]
    by_bounds = ["../1983", "198X", "1984", "1984/..", "1984-02", "1984-21", "1984-06-11"]
    assert sorted(in_order, key=lambda t: parse_date(t).order) == by_bounds


@pytest.mark.parametrize(
    ("text", "year", "touched"),
    [
        ("1985", 1985, True),
        ("1985", 1986, False),
        ("198X", 1989, True),
        ("198X", 1990, False),
        ("1984-12/1986-01", 1985, True),
        ("1985/..", 2031, True),
        ("1985/", 1984, False),
        ("../1985", 1900, True),
        ("/1985", 1986, False),
        ("1985-24", 1986, False),
    ],
)
def test_years_that_may_be_meant(text: str, year: int, touched: bool) -> None:
    assert parse_date(text).touches(year) is touched


@given(st.dates(min_value=date(1, 1, 1)), st.sampled_from(["", "?", "~", "%"]))
def test_a_day_is_its_own_interval(day: date, mark: str) -> None:
    found = parse_date(day.isoformat() + mark)
    assert (found.earliest, found.latest) == (day, day)
    assert found.touches(day.year)


@given(st.dates(max_value=date(9000, 1, 1)), st.integers(-4000, 4000))
def test_two_days_are_an_interval_only_in_order(day: date, apart: int) -> None:
    other = max(day.toordinal() + apart, 1)
    other_day = date.min + timedelta(days=other - 1)
    text = f"{day.isoformat()}/{other_day.isoformat()}"
    if other_day < day:
        with pytest.raises(InvalidInput, match="ends before it begins"):
            parse_date(text)
    else:
        assert parse_date(text).order == (day, other_day)


@given(st.text(alphabet="0123456789-XuxTZ?~%/.Y[]{}, ", max_size=24))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    try:
        found = parse_date(text)
    except InvalidInput:
        return  # any other error fails
    assert found.words
