"""Finding rolls and frames: references first, then words in any script, narrowed, with addresses."""

import pytest
from sqlmodel import Session

from catalogue.errors import UnknownFormat
from catalogue.rolls import find as finding
from catalogue.rolls.change import RollChanges, get_roll, update_roll
from catalogue.rolls.file import add_binder
from catalogue.rolls.find import find
from catalogue.rolls.move import take_out
from catalogue.rolls.number import renumber_roll
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.process import ProcessInput
from catalogue.rolls.register import register_roll


@pytest.fixture
def filled(session: Session) -> Session:
    """Three rolls of an invented town, in two binders."""
    add_binder(session, "Attic")
    register_roll(
        session,
        NewRoll(
            number="2030-014",
            frames="1-12",
            binder="Binder 1",
            exposed="2030-05",
            stock="Loma 400",
            camera="Veld II",
            subject="Harbour festival",
            captions={"3": "Mole at dusk", "4": "Mole from the north", "5": "Łąka"},
        ),
    )
    register_roll(
        session,
        NewRoll(
            number="2031-014",
            format="120-6x6",
            frames=12,
            binder="Attic",
            exposed="2030-11/2031-02",
            stock="Loma 100",
            camera="Cube 66",
            subject="Weir",
            process=ProcessInput(process="C-41", developer="Own brew"),
            captions={
                "1": "渡し船と灯台",
                "2": "Η άνοιξη στο λιμάνι",
                "3": "Harbour in fog",
                "4": "Паром на реке",
            },
        ),
    )
    register_roll(
        session,
        NewRoll(number="2031-015", frames="1-23A, 24", binder="Attic", processed="2031", keywords="weir"),
    )
    return session


def places(session: Session, q: str, **narrow: object) -> list[tuple[str, str | None]]:
    return [(h.roll, h.frame) for h in find(session, q, **narrow).hits]  # type: ignore[arg-type]


@pytest.mark.parametrize("q", ["2031-015 23A", "2031-015/23A", "2031-015 23a", "15 23a", "2031-15/23A"])
def test_a_reference_goes_straight_to_the_frame(filled: Session, q: str) -> None:
    hit = find(filled, q).hits[0]
    assert (hit.kind, hit.roll, hit.frame, hit.exact) == ("frame", "2031-015", "23A", True)
    assert hit.address is not None
    # 24 frames in strips of 5; 23A is the 24th.
    assert hit.address.words.startswith("Binder Attic, page 2, fifth strip from the top, ")


def test_a_short_reference_that_may_mean_two_rolls_shows_the_newest_first(filled: Session) -> None:
    exact = [(h.roll, h.frame) for h in find(filled, "14 3").hits if h.exact]
    assert exact == [("2031-014", "3"), ("2030-014", "3")]


def test_a_roll_number_gives_the_roll_at_its_first_frame(filled: Session) -> None:
    hit = find(filled, "2031-014").hits[0]
    assert (hit.kind, hit.roll, hit.frame, hit.exact) == ("roll", "2031-014", None, True)
    assert hit.address is not None
    assert (hit.address.binder, hit.address.page, hit.address.slot, hit.address.place) == ("Attic", 1, 1, 1)


def test_a_former_number_gives_the_roll_once(filled: Session) -> None:
    renumber_roll(filled, "2031-015", "2031-0015")
    assert places(filled, "2031-015") == [("2031-0015", None)]


@pytest.mark.parametrize(
    ("q", "frame"),
    [
        ("渡", "1"),
        ("灯台", "1"),
        ("渡し船", "1"),
        ("し船と", "1"),
        ("ανοιξη", "2"),
        ("ΛΙΜΆΝΙ", "2"),
        ("паром", "4"),
        ("РЕК", "4"),
    ],
)
def test_any_script_is_found(filled: Session, q: str, frame: str) -> None:
    assert places(filled, q) == [("2031-014", frame)]


@pytest.mark.parametrize("q", ["船渡", "台灯", "άνοιγμα", "olé"])
def test_what_is_not_there_is_not_found(filled: Session, q: str) -> None:
    assert places(filled, q) == []


def test_letters_without_marks_find_those_with_them(filled: Session) -> None:
    assert places(filled, "laka") == [("2030-014", "5")]


def test_the_last_word_may_be_unfinished_but_not_the_others(filled: Session) -> None:
    assert places(filled, "mole du") == [("2030-014", "3")]
    assert places(filled, "mo dusk") == []


def test_a_word_of_the_roll_gives_the_roll_and_not_each_frame(filled: Session) -> None:
    assert places(filled, "festival") == [("2030-014", None)]
    assert set(places(filled, "weir")) == {("2031-014", None), ("2031-015", None)}


def test_words_may_be_spread_over_frame_and_roll(filled: Session) -> None:
    assert places(filled, "harbour 2031") == [("2031-014", "3")]
    assert places(filled, "mole loma") == places(filled, "loma mole")
    assert set(places(filled, "mole loma")) == {("2030-014", "3"), ("2030-014", "4")}


def test_rolls_come_before_frames(filled: Session) -> None:
    assert places(filled, "harbour")[0] == ("2030-014", None)
    assert ("2031-014", "3") in places(filled, "harbour")


@pytest.mark.parametrize("q", ["Own brew", "C-41", "Cube 66"])
def test_camera_and_process_are_found(filled: Session, q: str) -> None:
    assert places(filled, q) == [("2031-014", None)]


@pytest.mark.parametrize(
    ("narrow", "rolls"),
    [
        ({"year": 2030}, {"2030-014", "2031-014"}),  # 2030-11/2031-02 touches both years
        ({"year": 2031}, {"2031-014", "2031-015"}),  # the last by its processing: no exposure is known
        ({"year": 1999}, set()),
        ({"format": "6x6"}, {"2031-014"}),
        ({"format": "135"}, {"2030-014", "2031-015"}),
        ({"stock": "Loma 400"}, {"2030-014"}),
        ({"camera": "Cube 66"}, {"2031-014"}),
        ({"binder": "Attic"}, {"2031-014", "2031-015"}),
        ({"binder": "Attic", "year": 2030}, {"2031-014"}),
    ],
)
def test_narrowing(filled: Session, narrow: dict[str, object], rolls: set[str]) -> None:
    assert {roll for roll, _ in places(filled, "", **narrow)} == rolls
    # Words and references are narrowed alike.
    assert {roll for roll, _ in places(filled, "2031-014", **narrow)} <= rolls
    assert {roll for roll, _ in places(filled, "harbour", **narrow)} <= rolls


@pytest.mark.parametrize("exposed", ["../2031-06", "/2031-06"])
def test_an_open_beginning_touches_every_year_before(filled: Session, exposed: str) -> None:
    update_roll(filled, "2031-015", RollChanges(exposed=exposed))
    assert ("2031-015", None) in places(filled, "", year=1950)
    assert ("2031-015", None) not in places(filled, "", year=2032)


def test_an_unknown_format_is_said(filled: Session) -> None:
    with pytest.raises(UnknownFormat):
        find(filled, "harbour", format="137")


def test_the_bound_on_ranking_never_hides_what_was_narrowed_to(filled: Session, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(finding, "_RANKED", 1)
    for roll in ("2030-014", "2031-014"):
        camera = {"2030-014": "Veld II", "2031-014": "Cube 66"}[roll]
        assert {found for found, _ in places(filled, "harbour", camera=camera)} == {roll}


@pytest.mark.parametrize(
    ("q", "all_of_them"),
    [
        ("mole", 2),  # frames 3 and 4 of 2030-014
        ("loma", 2),  # two rolls by their stock
        ("014", 2),  # two rolls of one running number
    ],
)
def test_as_many_hits_as_asked_for_and_more_is_said_of_one_left_out(filled: Session, q: str, all_of_them: int) -> None:
    whole = find(filled, q, limit=all_of_them)
    assert (len(whole.hits), whole.more) == (all_of_them, False)
    less = find(filled, q, limit=all_of_them - 1)
    assert (less.hits, less.more) == (whole.hits[:-1], True)


def test_nothing_typed_lists_the_newest_roll_first_and_says_if_there_is_more(filled: Session) -> None:
    found = find(filled, "", limit=2)
    assert [h.roll for h in found.hits] == ["2031-015", "2031-014"]
    assert found.more
    assert not find(filled, "", limit=3).more


def test_what_can_be_narrowed_by_is_told(filled: Session) -> None:
    found = find(filled, "nothing of the kind")
    assert found.hits == ()
    assert found.stocks == ("Loma 100", "Loma 400")
    assert found.cameras == ("Cube 66", "Veld II")
    assert found.binders == ("Binder 1", "Attic")
    assert set(found.formats) == {"120-6x6", "135-24x36"}
    assert {2030, 2031} <= set(found.years)


def test_a_strip_that_is_out_is_said_with_the_address(filled: Session) -> None:
    take_out(filled, get_roll(filled, "2030-014").strips[0].id, "at the printer")
    address = find(filled, "2030-014/3").hits[0].address
    assert address is not None
    assert address.out
    assert "at the printer" in address.words


@pytest.mark.parametrize(
    "q",
    [
        '"',
        "a AND",
        "NEAR(",
        "words:",
        "*",
        "{x}",
        "^",
        "-",
        "\x00",
        "\ud800",
        "🙂",
        "x" * 5000,
        "' OR 1=1 --",
    ],
)
def test_no_text_is_too_odd(filled: Session, q: str) -> None:
    assert find(filled, q).hits == ()
