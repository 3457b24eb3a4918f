"""Folding and quoting of text for the full-text index."""

import sqlite3

import pytest
from builders import filed
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import text
from sqlmodel import Session

from catalogue.rolls.plan import NewRoll
from catalogue.rolls.register import register_roll
from catalogue.store.index import MAX_WORDS, fold, index_roll, match_frames, match_rolls, phrases

EQUAL = [
    ("Crème brûlée", "creme brulee"),
    ("Ånes", "Anes"),
    ("Straße", "STRASSE"),
    ("Łęka", "leka"),
    ("Sørvik", "sorvik"),
    ("Æ", "ae"),
    ("Άνοιξη", "ανοιξη"),
    ("ΣΊΣΥΦΟΣ", "σισυφος"),  # the last letter of a Greek word has a form of its own
    ("Йод", "иод"),
    ("が", "か"),
    ("ﾎｯｶ", "ホッカ"),  # narrow and wide forms
    ("２０３１", "2031"),
    ("ﬁlm", "film"),
]


@pytest.mark.parametrize(("one", "other"), EQUAL)
def test_texts_that_are_one_when_looked_for(one: str, other: str) -> None:
    assert fold(one) == fold(other)


@pytest.mark.parametrize(("one", "other"), [("mole", "mule"), ("渡し", "渡る"), ("ανοιξη", "ανοιγη")])
def test_texts_that_stay_apart(one: str, other: str) -> None:
    assert fold(one) != fold(other)


def test_scripts_without_spaces_are_taken_character_by_character() -> None:
    assert fold("港2031の船") == "港 2031 の 船"


@pytest.mark.parametrize(
    ("raw", "quoted"),
    [
        ("mole", ['"mole"*']),
        ("mole dusk", ['"mole"', '"dusk"*']),
        ("mole ", ['"mole"']),  # a space behind it: the word is finished
        ("2031-014", ['"2031 014"*']),
        ("渡し船", ['"渡 し 船"*']),
        ('a" OR b*', ['"a"', '"or"', '"b"*']),
        ("NEAR(x) AND words : y", ['"near x"', '"and"', '"words"', '"y"*']),
        ('"-^*():{}', []),
        ("🙂", []),
        ("", []),
    ],
)
def test_the_quoting_function(raw: str, quoted: list[str]) -> None:
    assert phrases(raw) == quoted


def test_a_long_query_is_bounded() -> None:
    assert len(phrases("word " * 500)) == MAX_WORDS


def index() -> sqlite3.Connection:
    made = sqlite3.connect(":memory:")
    made.execute(
        "CREATE VIRTUAL TABLE found USING fts5(roll_id UNINDEXED, frame_id UNINDEXED, words, roll_words,"
        " tokenize = 'unicode61 remove_diacritics 2')"
    )
    return made


@given(st.text(alphabet=st.characters(), max_size=60))
def test_no_text_breaks_match(raw: str) -> None:
    made = index()
    try:
        for match in (match_rolls(raw), match_frames(raw)):
            if match:
                made.execute("SELECT * FROM found WHERE found MATCH ?", (match,)).fetchall()
    finally:
        made.close()


@given(
    st.text(
        alphabet=st.characters(min_codepoint=32, max_codepoint=0x33FF, categories=("L", "N")),
        min_size=1,
        max_size=12,
    )
)
def test_a_word_finds_itself(raw: str) -> None:
    """Letters and digits of any script, indexed and looked for the same way."""
    match = match_rolls(raw)
    if not match:
        return
    made = index()
    try:
        made.execute("INSERT INTO found VALUES (1, NULL, ?, '')", (fold(f"before {raw} behind"),))
        assert made.execute("SELECT roll_id FROM found WHERE found MATCH ?", (match,)).fetchall() == [(1,)]
    finally:
        made.close()


def rows(session: Session) -> list[tuple[object, ...]]:
    found = session.connection().execute(text("SELECT roll_id, frame_id, words FROM found ORDER BY rowid"))
    return [tuple(row) for row in found]


def test_indexing_again_replaces_the_rows_of_that_roll_only(session: Session) -> None:
    one = filed(session, NewRoll(number="a-1", frames=2, captions={"1": "Mole"}))
    register_roll(session, NewRoll(number="a-2", frames=2, subject="Weir"))
    before = rows(session)
    assert len(before) == 3  # two rolls, and the one frame that has words of its own
    index_roll(session, one.id)
    assert sorted(rows(session), key=str) == sorted(before, key=str)
