"""Strips move, share slots, turn, go out and come back; the history keeps all of it."""

import pytest
from builders import address, registered, slots
from sqlalchemy import text
from sqlmodel import Session

from catalogue.errors import DoesNotFit, InvalidInput, NotFound, SlotTaken
from catalogue.rolls.change import get_roll
from catalogue.rolls.file import add_page, get_page
from catalogue.rolls.move import history, move_strip, put_back, strips_away, take_out, turn_strip
from catalogue.store.engine import Archive


def test_a_strip_goes_to_another_page_and_its_frames_with_it(session: Session) -> None:
    roll = registered(session)
    other = add_page(session, "Binder 1", "135-7x6")
    moved = move_strip(session, roll.strips[1].id, page_id=other.id, slot=3, why="a spare page")
    assert (moved.page_id, moved.slot, moved.offset_mm) == (other.id, 3, 0)
    after = get_roll(session, roll.number)
    assert slots(after) == [(1, 1, 6), (2, 3, 6)]
    assert (address(after, "7").page, address(after, "7").slot, address(after, "7").place) == (2, 3, 1)
    assert address(after, "6") == address(roll, "6")
    assert get_page(session, roll.page_ids[0]).free_slots == (2, 3, 4, 5, 6, 7)


def test_two_short_strips_share_a_slot_and_a_third_does_not(session: Session) -> None:
    roll = registered(session, 9, strips=[["1", "2", "3"], ["4", "5", "6"], ["7", "8", "9"]])
    page = roll.page_ids[0]
    second = move_strip(session, roll.strips[1].id, page_id=page, slot=1)
    assert second.offset_mm == 116  # behind 114 mm of film and 2 mm of room
    after = get_roll(session, roll.number)
    assert [address(after, str(n)).place for n in range(1, 7)] == [1, 2, 3, 4, 5, 6]
    with pytest.raises(SlotTaken, match="slot"):
        move_strip(session, roll.strips[2].id, page_id=page, slot=1)
    assert slots(get_roll(session, roll.number)) == slots(after)


def test_a_strip_can_go_back_into_its_own_slot(session: Session) -> None:
    roll = registered(session)
    same = move_strip(session, roll.strips[0].id, page_id=roll.page_ids[0], slot=1)
    assert (same.slot, same.offset_mm) == (1, 0)


def test_a_strip_too_long_or_too_wide_stays_where_it_is(session: Session) -> None:
    roll = registered(session, 36)
    short = add_page(session, "Binder 1", "135-7x5")
    wide = registered(session, 12, format="120-6x6", layout="120-6x6")
    with pytest.raises(DoesNotFit, match="228 mm long"):  # 6 × 38 mm
        move_strip(session, roll.strips[0].id, page_id=short.id, slot=1)
    with pytest.raises(DoesNotFit):
        move_strip(session, wide.strips[0].id, page_id=short.id, slot=1)
    with pytest.raises(DoesNotFit, match="no slot 0"):
        move_strip(session, roll.strips[0].id, page_id=roll.page_ids[0], slot=0)
    with pytest.raises(NotFound, match="no page 99"):
        move_strip(session, roll.strips[0].id, page_id=99, slot=1)
    with pytest.raises(NotFound, match="no strip 99"):
        move_strip(session, 99, page_id=short.id, slot=1)
    assert slots(get_roll(session, roll.number)) == slots(roll)
    assert {m.what for m in history(session, roll.number)} == {"sleeved"}


def test_upside_down_reverses_the_places_and_turned_over_does_not(session: Session) -> None:
    roll = registered(session)
    strip = roll.strips[0].id
    turn_strip(session, strip, upside_down=True)
    head_down = address(get_roll(session, roll.number), "1")
    assert (head_down.place, head_down.upside_down, head_down.emulsion_towards_you) == (6, True, False)
    turn_strip(session, strip, upside_down=False, turned_over=True)
    # Turned over about its long axis: the order along the slot stays, the emulsion comes to the front.
    over = address(get_roll(session, roll.number), "1")
    assert (over.place, over.emulsion_towards_you) == (1, True)
    turn_strip(session, strip, turned_over=False)
    assert address(get_roll(session, roll.number), "1") == address(roll, "1")


def test_a_strip_that_is_out_keeps_its_slot(session: Session) -> None:
    roll = registered(session)
    out = take_out(session, roll.strips[0].id, "  printing\n", "2031-06-01")
    assert (out.out, out.out_reason, out.slot) == (True, "printing", 1)
    assert 1 not in get_page(session, roll.page_ids[0]).free_slots
    assert address(get_roll(session, roll.number), "1").words.endswith("; the strip is out: printing")
    with pytest.raises(InvalidInput, match="out already"):
        take_out(session, roll.strips[0].id, "again")
    assert not put_back(session, roll.strips[0].id).out
    assert address(get_roll(session, roll.number), "1") == address(roll, "1")
    with pytest.raises(InvalidInput, match="isn't out"):
        put_back(session, roll.strips[0].id)
    with pytest.raises(InvalidInput, match="Say why"):
        take_out(session, roll.strips[0].id, " ")


def test_the_history_tells_which_way_a_strip_was_turned(session: Session) -> None:
    roll = registered(session, 6)
    for way in (True, True, False):  # what is so already is no turn
        turn_strip(session, roll.strips[0].id, turned_over=way)
    for way in (True, True, False):
        turn_strip(session, roll.strips[0].id, upside_down=way)
    turns = ["turned over", "turned back over", "turned upside down", "turned upright"]
    assert [m.what for m in history(session, roll.number)] == ["sleeved", *turns]


def test_the_history_tells_from_where_to_where_and_why(session: Session) -> None:
    roll = registered(session, 6)
    other = add_page(session, "Binder 1", "135-7x6")
    strip = roll.strips[0].id
    move_strip(session, strip, page_id=other.id, slot=5, why="a cleaner page")
    turn_strip(session, strip, upside_down=True)
    turn_strip(session, strip, upside_down=True)  # it lies so already: nothing to keep
    told = history(session, roll.number)
    assert [m.what for m in told] == ["sleeved", "moved", "turned upside down"]
    assert (told[1].from_words, told[1].to_words, told[1].why) == (
        "Binder 1, page 1, slot 1",
        "Binder 1, page 2, slot 5",
        "a cleaner page",
    )
    assert told[0].to_words == "Binder 1, page 1, slot 1"


def test_the_history_outlives_the_session(archive: Archive) -> None:
    with archive.session() as session:
        roll = registered(session, 6)
        take_out(session, roll.strips[0].id, "printing")
    with archive.session() as session:
        assert [m.what for m in history(session, roll.number)] == ["sleeved", "taken out"]
        rows = session.connection().execute(text("SELECT count(*) FROM strip_move")).scalar_one()
        assert rows == 2


def test_strips_that_are_out_are_listed_the_one_due_first_on_top(session: Session) -> None:
    one, two = registered(session, 12, number="2031-001"), registered(session, 12, number="2031-002")
    take_out(session, one.strips[0].id, "printing")
    take_out(session, one.strips[1].id, "scanning", "2031-12-24")
    take_out(session, two.strips[0].id, "with the printer", "2031-11-30")
    away = strips_away(session)
    assert [(s.roll, s.frame_range, s.due) for s in away] == [
        ("2031-002", "1-6", "2031-11-30"), ("2031-001", "7-12", "2031-12-24"), ("2031-001", "1-6", ""),
    ]  # fmt: skip
    assert away[0].reason == "with the printer"
    assert "slot 1" in away[0].address_words
    put_back(session, two.strips[0].id)
    assert len(strips_away(session)) == 2
    with pytest.raises(InvalidInput):
        take_out(session, two.strips[0].id, "printing", "soon")
