"""Binders and pages: adding, finding, turning, re-punching, own pages and own formats."""

import dataclasses

import pytest
from builders import Statements, address, registered, slots
from sqlmodel import Session

from catalogue.errors import AlreadyExists, ImpossibleLayout, InvalidInput, NotFound, UnknownLayout
from catalogue.film.formats import find_format
from catalogue.own_shapes import add_format, add_layout, all_formats, all_layouts, own_formats, own_layouts
from catalogue.rolls.change import get_roll
from catalogue.rolls.file import add_binder, add_page, find_page, get_binder, get_page, list_binders, repunch, turn_page
from catalogue.sleeves.layouts import find_layout
from catalogue.store.engine import Archive


def test_binders_stand_in_the_order_they_came(session: Session) -> None:
    add_binder(session, "  Coast \t walks ", "grey cloth")
    assert [b.name for b in list_binders(session)] == ["Binder 1", "Coast walks"]
    assert get_binder(session, "coast WALKS").notes == "grey cloth"
    assert get_binder(session, "1").name == "Binder 1"


@pytest.mark.parametrize("name", ["", "  ", "x" * 61, "a\x00b"])
def test_a_name_that_is_none_is_refused(session: Session, name: str) -> None:
    with pytest.raises(InvalidInput, match="1 to 60 characters"):
        add_binder(session, name)


def test_a_binders_name_is_its_own(session: Session) -> None:
    with pytest.raises(AlreadyExists, match="binder 1"):
        add_binder(session, "binder 1")


def test_pages_are_numbered_within_their_binder(session: Session) -> None:
    add_binder(session, "Binder 2")
    pages = [add_page(session, name, "135-7x6") for name in ("Binder 1", "Binder 2", "Binder 1")]
    assert [(p.binder, p.number) for p in pages] == [("Binder 1", 1), ("Binder 2", 1), ("Binder 1", 2)]
    assert find_page(session, "Binder 1", 2).id == pages[2].id
    assert find_page(session, pages[1].binder_id, 1).id == pages[1].id
    with pytest.raises(NotFound, match="Binder 2 has no page 2"):
        find_page(session, "Binder 2", 2)


def test_what_is_not_there_is_said(session: Session) -> None:
    with pytest.raises(NotFound, match="no binder Binder 9"):
        get_binder(session, "Binder 9")
    with pytest.raises(NotFound, match="no page 77"):
        get_page(session, 77)
    with pytest.raises(UnknownLayout):
        add_page(session, "Binder 1", "9x9")
    with pytest.raises(InvalidInput, match="left or right"):
        add_page(session, "Binder 1", "135-7x6", "up")


def test_a_page_tells_its_rolls_and_free_slots(session: Session) -> None:
    page = add_page(session, "Binder 1", "135-7x6")
    later = registered(session, 12, number="b-2", page_id=page.id, first_slot=4)
    sooner = registered(session, 6, number="b-1", page_id=page.id, first_slot=2)
    view = get_page(session, page.id)
    assert view.free_slots == (1, 3, 6, 7)
    assert [r.number for r in view.rolls] == [sooner.number, later.number]  # from the top of the page
    assert [r.frame_range for r in view.rolls] == ["1-6", "1-12"]
    (summary,) = get_binder(session, "Binder 1").pages
    assert (summary.free_slots, summary.slot_count, summary.rolls) == (4, 7, ("b-1", "b-2"))


def test_a_page_with_many_rolls_asks_no_more_than_one_with_few(archive: Archive) -> None:
    with archive.session() as session:
        page_id = add_page(session, "Binder 1", "135-7x6").id
    asked = []
    for rolls in (1, 6):
        with archive.session() as session:
            for _ in range(rolls):
                registered(session, 6, page_id=page_id)
        with archive.session() as session, Statements(archive.engine) as statements:
            get_page(session, page_id)
        asked.append(statements.count)
    assert asked[0] == asked[1] <= 13


def test_turning_and_re_punching_change_the_address_and_nothing_else(session: Session) -> None:
    roll = registered(session, 36)
    page = roll.page_ids[0]
    before = {f.label: (f.address.slot, f.address.place) for f in roll.frames if f.address}
    turn_page(session, page, True)
    repunch(session, page, "right")
    after = get_roll(session, roll.number)
    for label, (slot, place) in before.items():
        # seven slots: n becomes 8 - n; six frames a strip: place p becomes 7 - p
        assert (address(after, label).slot, address(after, label).place) == (8 - slot, 7 - place)
        assert address(after, label).emulsion_towards_you
    assert slots(after) == slots(roll)
    assert [f.label for f in after.frames] == [f.label for f in roll.frames]
    turn_page(session, page, False)
    repunch(session, page, "left")
    again = get_roll(session, roll.number)
    assert {f.label: (f.address.slot, f.address.place) for f in again.frames if f.address} == before
    with pytest.raises(InvalidInput, match="left or right"):
        repunch(session, page, "top")


def test_an_own_page_is_kept_to_the_millimetre(archive: Archive) -> None:
    own = dataclasses.replace(find_layout("135-7x6"), key="own-6", name="my six strips", rows=6, row_pitch_mm=40)
    with archive.session() as session:
        add_layout(session, own)
    with archive.session() as session:
        assert own_layouts(session) == (own,)
        assert all_layouts(session)[-1] == own
        assert slots(registered(session, 36, layout="own-6"))[-1] == (1, 6, 6)
        with pytest.raises(AlreadyExists, match="own-6"):
            add_layout(session, own)
        with pytest.raises(AlreadyExists, match="135-7x6"):
            add_layout(session, dataclasses.replace(own, key="135-7x6"))
    with pytest.raises(ImpossibleLayout):
        dataclasses.replace(own, rows=20)


def test_an_own_format_is_kept_and_used(archive: Archive) -> None:
    own = dataclasses.replace(find_format("135-24x36"), key="own-24x30", name="my 24 × 30", frame_along_mm=30, pitch_mm=33.25)
    with archive.session() as session:
        add_format(session, own)
    with archive.session() as session:
        assert own_formats(session) == (own,)
        assert all_formats(session)[-1] == own
        roll = registered(session, 14, format="own-24x30")
        assert roll.format == own
        assert slots(roll) == [(1, 1, 7), (1, 2, 7)]  # 7 × 33.25 = 232.75 mm in 234 mm
        with pytest.raises(AlreadyExists, match="own-24x30"):
            add_format(session, own)
