"""Registering: numbers, free slots, own cuts, going on to a page, and refusals that leave nothing behind."""

import threading
from datetime import date

import pytest
from builders import Statements, address, filed, registered, slots
from sqlalchemy import text
from sqlmodel import Session

from catalogue.errors import AlreadyExists, DoesNotFit, InvalidInput, NotFound, SlotTaken, StripleafError
from catalogue.rolls.change import (
    FrameChanges,
    RollChanges,
    get_roll,
    list_rolls,
    offered,
    update_frame,
    update_roll,
)
from catalogue.rolls.file import add_binder, add_page, get_binder
from catalogue.rolls.find import find
from catalogue.rolls.number import gaps, next_roll_number, record_gap, renumber_roll
from catalogue.rolls.offers import suggestions
from catalogue.rolls.plan import NewRoll, preview_cuts
from catalogue.rolls.process import ProcessInput
from catalogue.rolls.register import register_roll, register_rolls
from catalogue.settings import ROLL_PATTERN, set_setting
from catalogue.store.engine import Archive

TABLES = ("roll", "frame", "strip", "strip_frame", "strip_move", "page", "process_record", "found")


def counts(session: Session) -> dict[str, int]:
    return {t: session.connection().execute(text(f"SELECT count(*) FROM {t}")).scalar_one() for t in TABLES}


def test_number_and_place_are_enough_and_both_are_offered(session: Session) -> None:
    roll = filed(session, NewRoll())
    assert roll.number == f"{date.today().year}-001"
    assert len(roll.frames) == roll.format.usual_exposures[-1]
    assert roll.strips[0].binder == "Binder 1"
    assert next_roll_number(session) == f"{date.today().year}-002"


def test_the_persons_own_pattern_is_followed(session: Session) -> None:
    set_setting(session, ROLL_PATTERN, "F{number:04}")
    assert [registered(session).number for _ in range(3)] == ["F0001", "F0002", "F0003"]


def test_a_number_differing_only_in_case_is_taken(session: Session) -> None:
    registered(session, number="a-7")
    with pytest.raises(AlreadyExists, match="A-7 was issued before"):
        registered(session, number="A-7")


def test_gaps_are_kept_with_their_reason(session: Session) -> None:
    record_gap(session, "2031-002", "  never   used ")
    assert gaps(session) == (("2031-002", "never used"),)
    with pytest.raises(InvalidInput, match="Say why"):
        record_gap(session, "2031-003", " ")
    with pytest.raises(AlreadyExists):
        renumber_roll(session, registered(session, number="2031-001").number, "2031-002")


def test_free_slots_are_taken_from_the_first_one_named(session: Session) -> None:
    page = add_page(session, "Binder 1", "135-7x6")
    assert slots(registered(session, page_id=page.id, first_slot=3)) == [(1, 3, 6), (1, 4, 6)]
    assert slots(registered(session, 18, page_id=page.id)) == [(1, 1, 6), (1, 2, 6), (1, 5, 6)]
    with pytest.raises(SlotTaken, match=r"Slot 4 of page 1 is taken by roll .*\. Free slots: 6, 7\."):
        registered(session, page_id=page.id, first_slot=4)


def test_a_roll_too_long_for_the_page_goes_on_and_says_so(session: Session) -> None:
    page = add_page(session, "Binder 1", "135-7x6")
    registered(session, 30, page_id=page.id)  # slots 1 to 5
    new = NewRoll(frames=54, page_id=page.id)  # nine strips of six: two here, seven on the next page
    plan = preview_cuts(session, new)
    assert plan.pages_used == 2
    assert "2 pages" in plan.explanation
    assert len(get_binder(session, "Binder 1").pages) == 1, "a preview stores nothing"
    roll = filed(session, new)
    assert slots(roll) == [(1, 6, 6), (1, 7, 6), *((2, n, 6) for n in range(1, 8))]
    assert len(roll.page_ids) == 2


def test_a_roll_that_a_new_page_holds_whole_is_not_split(session: Session) -> None:
    page = add_page(session, "Binder 1", "135-7x6")
    registered(session, 30, page_id=page.id)
    new = NewRoll(frames=18, page_id=page.id)  # three strips, two free slots
    assert "Page 1 has too few free slots" in preview_cuts(session, new).explanation
    assert slots(filed(session, new)) == [(2, 1, 6), (2, 2, 6), (2, 3, 6)]


def test_a_roll_that_may_not_go_on_is_refused_with_the_count(session: Session) -> None:
    page = add_page(session, "Binder 1", "135-7x6")
    registered(session, 30, page_id=page.id)
    with pytest.raises(DoesNotFit, match="6 too many"):  # 18 frames, 12 places left
        registered(session, 18, page_id=page.id, go_on=False)


def test_own_cuts_are_taken_as_they_are(session: Session) -> None:
    roll = registered(session, 6, strips=[["1", "2"], ["3", "4", "5"], ["6"]])
    assert slots(roll) == [(1, 1, 2), (1, 2, 3), (1, 3, 1)]
    assert [s.length_mm for s in roll.strips] == [76, 114, 38]  # 2, 3 and 1 × 38 mm


OWN_CUTS = {
    "a frame twice, not at a cut": ([["1", "2"], ["1", "3", "4"]], InvalidInput),
    "a frame missing": ([["1", "2"], ["4"]], InvalidInput),
    "out of order": ([["2", "1"], ["3", "4"]], InvalidInput),
    "an unknown frame": ([["1", "2", "9"], ["3", "4"]], InvalidInput),
    "an empty strip": ([[], ["1", "2", "3", "4"]], InvalidInput),
}


@pytest.mark.parametrize(("strips", "error"), OWN_CUTS.values(), ids=OWN_CUTS)
def test_own_cuts_that_cannot_be_are_refused(session: Session, strips: list[list[str]], error: type[Exception]) -> None:
    with pytest.raises(error):
        registered(session, 4, strips=strips)


def test_an_own_strip_longer_than_the_slot_is_refused_with_both_lengths(session: Session) -> None:
    with pytest.raises(DoesNotFit, match="266 mm long"):  # 7 × 38 mm; the slot takes six
        registered(session, 7, strips=[[str(n) for n in range(1, 8)]])


def test_a_frame_cut_in_two_is_found_at_its_head(session: Session) -> None:
    roll = registered(session, 6, strips=[["1", "2", "3"], ["3", "4", "5", "6"]])
    assert address(roll, "3").part == "head"
    assert (address(roll, "3").slot, address(roll, "3").place) == (1, 3)
    assert "head of a frame cut in two" in address(roll, "3").words
    assert address(roll, "4").place == 2  # behind the tail of 3
    # Cut through the middle of picture 3: 2 × 38 + 1 + 18 mm, and the rest of 6 × 38.
    assert [s.length_mm for s in roll.strips] == pytest.approx([95, 133])


def test_measured_film_is_filed_by_its_own_measures(session: Session) -> None:
    roll = registered(session, 12, measured_pitch_mm=40)
    assert roll.format.pitch_mm == 40
    assert {len(s.labels) for s in roll.strips} <= {2, 3, 4, 5}  # 6 × 40 mm is over the 234 mm of the slot


def test_uneven_starts_and_states_are_kept(session: Session) -> None:
    starts = [1, 39, 72, 115]  # frame 3 begins at 72 mm, 3 mm before frame 2 ends (39 + 36)
    roll = registered(session, 4, frame_starts_mm=starts, frame_states={"3": "overlapped"})
    assert [f.start_mm for f in roll.frames] == starts
    assert roll.frames[2].state == "overlapped"
    assert slots(roll) == [(1, 1, 4)]
    with pytest.raises(InvalidInput, match="3 measured starts for 4 frames"):
        registered(session, 4, frame_starts_mm=starts[:3])


def test_sheets_and_slides_take_a_pocket_each(session: Session) -> None:
    sheets = registered(session, 3, format="sheet-4x5", layout="sheet-4x5")
    assert slots(sheets) == [(1, 1, 1), (1, 2, 1), (1, 3, 1)]
    assert address(sheets, "3").words.endswith("second row from the top, first sheet from the ring side")
    slides = registered(session, 20, format="slide-50x50", layout="slides-20")
    assert [s.slot for s in slides.strips] == list(range(1, 21))


BAD = {
    "an unknown format": ({"format": "137-9x9"}, InvalidInput, "not a format known here"),
    "no frames": ({"frames": 0}, InvalidInput, "not 0"),
    "ten thousand frames": ({"frames": 10_000}, InvalidInput, "not 10000"),
    "ten thousand frames as a range": ({"frames": "1-10000"}, InvalidInput, "10000"),
    "no labels": ({"frames": []}, InvalidInput, "not 0"),
    "a label twice": ({"frames": ["1", "1"]}, InvalidInput, "twice"),
    "an emoji as number": ({"number": "🎞️"}, InvalidInput, "can't be a roll number"),
    "a path as number": ({"number": "../etc"}, InvalidInput, "can't be a roll number"),
    "too wide a film": ({"format": "120-6x6"}, DoesNotFit, "61.5 mm|is a page for"),
    "a slot that the page hasn't": ({"first_slot": 8}, StripleafError, "slots 1 to 7"),
    "an unknown binder": ({"binder": "Binder 77"}, NotFound, "no binder"),
    "a date that is none": ({"sleeved": "some day"}, InvalidInput, "not a date"),
    "an unknown state": ({"frame_states": {"1": "lost"}}, InvalidInput, "not lost"),
    "a caption for no frame": ({"captions": {"99": "Heron"}}, InvalidInput, "isn't on this roll"),
    "a group with no such frame": ({"kept_together": [["1", "99"]]}, InvalidInput, "99"),
    "a bath that boils": ({"process": ProcessInput(temperature_c=300)}, InvalidInput, "300 °C"),
    "a process date that is none": ({"process": ProcessInput(done_on="soon")}, InvalidInput, "not a date"),
}


@pytest.mark.parametrize(("bad", "error", "words"), BAD.values(), ids=BAD)
def test_a_refused_roll_leaves_nothing_even_if_the_session_goes_on(
    archive: Archive, bad: dict[str, object], error: type[Exception], words: str
) -> None:
    with archive.session() as session:
        before = counts(session)
        facts: dict[str, object] = {"frames": 12, "layout": "135-7x6", **bad}
        with pytest.raises(error, match=words):
            register_roll(session, NewRoll.model_validate(facts))
        assert counts(session) == before
        good = registered(session)
    with archive.session() as session:
        assert [r.number for r in list_rolls(session)] == [good.number]
        assert counts(session)["page"] == before["page"] + 1


def test_an_archive_without_a_binder_says_what_to_do(archive: Archive) -> None:
    with archive.session() as session:
        session.connection().execute(text("DELETE FROM binder"))
        with pytest.raises(InvalidInput, match="no binder yet"):
            registered(session)


def test_page_and_binder_must_agree(session: Session) -> None:
    add_binder(session, "Binder 2")
    page = add_page(session, "Binder 1", "135-7x6")
    with pytest.raises(InvalidInput, match="lies in Binder 1"):
        registered(session, page_id=page.id, binder="Binder 2")


def test_rolls_registered_at_once_get_numbers_and_slots_of_their_own(archive: Archive) -> None:
    with archive.session() as session:
        page = add_page(session, "Binder 1", "135-7x6")
    trouble: list[Exception] = []

    def person() -> None:
        try:
            for _ in range(2):
                with archive.session() as session:
                    registered(session, 6, page_id=page.id)
        except Exception as problem:
            trouble.append(problem)

    people = [threading.Thread(target=person) for _ in range(3)]
    for one in people:
        one.start()
    for one in people:
        one.join()
    assert trouble == []
    with archive.session() as session:
        rolls = [get_roll(session, r.number) for r in list_rolls(session)]
    assert len({r.number for r in rolls}) == 6
    assert sorted(s.slot or 0 for r in rolls for s in r.strips) == [1, 2, 3, 4, 5, 6]


def test_what_is_known_can_be_changed_without_moving_anything(session: Session) -> None:
    roll = registered(session, exposed="2031-05~", stock="Tarn 100")
    changed = update_roll(session, roll.number, RollChanges(exposed="2030/2031", camera="Fenn II"))
    assert (changed.exposed, changed.camera, changed.stock) == ("2030/2031", "Fenn II", "Tarn 100")
    assert slots(changed) == slots(roll)
    frame = update_frame(session, roll.number, "2", FrameChanges(caption="A heron", state="partial"))
    assert (frame.caption, frame.state, frame.address) == ("A heron", "partial", address(roll, "2"))
    with pytest.raises(InvalidInput, match="A frame is one of"):
        update_frame(session, roll.number, "2", FrameChanges(state="lost"))
    with pytest.raises(NotFound, match="no frame 99"):
        update_frame(session, roll.number, "99", FrameChanges(caption="x"))
    with pytest.raises(InvalidInput, match="not a date"):
        update_roll(session, roll.number, RollChanges(exposed="some day"))


def test_the_offer_goes_on_where_the_last_roll_ended(session: Session) -> None:
    first = offered(session)
    assert (first.binder, first.page_id, first.first_slot) == ("Binder 1", None, 1)
    roll = registered(session, 6, format="120-6x6", layout="120-6x6", stock="Tarn 100", camera="Fenn II")
    offer = offered(session)
    assert (offer.layout, offer.format, offer.stock, offer.camera) == (
        "120-6x6",
        "120-6x6",
        "Tarn 100",
        "Fenn II",
    )
    if offer.page_id is not None:  # offered only where a usual roll fits the slots left
        assert (offer.page_id, offer.first_slot) == (roll.page_ids[0], 3)
    assert suggestions(session)["stock"] == ["Tarn 100"]


def seen(session: Session, number: str) -> tuple[object, ...]:
    """What is known of a roll, keys and moments aside."""
    roll = get_roll(session, number)
    frames = [(f.label, f.state, f.caption, f.start_mm, f.address) for f in roll.frames]
    strips = [(s.page_number, s.slot, s.labels, s.length_mm) for s in roll.strips]
    return roll.number, roll.format, roll.stock, roll.exposed, roll.process, roll.frame_range, frames, strips


MANY = (
    NewRoll(number="a-1", frames=36, layout="135-7x6", stock="Tarn 100", exposed="2031-05~", captions={"3": "霧の渡し船"}),
    NewRoll(frames=12, format="120-6x6", process=ProcessInput(process="C-41", time_s=195)),
    NewRoll(frames="1-12", layout="135-7x6", strips=[["1", "2", "3", "4"], ["5", "6", "7", "8"], ["9", "10", "11", "12"]]),
    NewRoll(frames=6, page_id=1, number="a-2"),
    NewRoll(frames=4),
)


def test_many_at_once_are_as_one_by_one(archive: Archive) -> None:
    with archive.session() as session:
        session.begin_nested()
        alone = [seen(session, register_roll(session, new)) for new in MANY]
        found = [find(session, words).hits for words in ("渡し船", "tarn", "C-41")]
        session.rollback()
    with archive.session() as session:
        assert [seen(session, number) for number in register_rolls(session, MANY)] == alone
        assert [find(session, words).hits for words in ("渡し船", "tarn", "C-41")] == found


@pytest.mark.parametrize(
    ("last", "error"),
    [
        (NewRoll(number="A-1"), AlreadyExists),
        (NewRoll(page_id=1, first_slot=1), SlotTaken),
        (NewRoll(exposed="yesterday"), InvalidInput),
    ],
)
def test_many_at_once_are_all_or_none(session: Session, last: NewRoll, error: type[StripleafError]) -> None:
    before = counts(session)
    with pytest.raises(error):
        register_rolls(session, [*MANY, last])
    assert counts(session) == before
    assert len(register_rolls(session, MANY)) == len(MANY)


def test_many_at_once_take_few_statements(archive: Archive) -> None:
    asked = []
    for count in (2, 40):
        with archive.session() as session, Statements(archive.engine) as statements:
            register_rolls(session, [NewRoll(number=f"{count}-{n}", frames=36) for n in range(count)])
        asked.append(statements.count / count)
    assert asked[1] <= 3


def test_lists_ask_the_database_no_more_for_more_rolls(archive: Archive) -> None:
    asked = []
    for _ in range(2):
        with archive.session() as session:
            for _ in range(4):
                registered(session, 6)
        with archive.session() as session, Statements(archive.engine) as statements:
            list_rolls(session)
        asked.append(statements.count)
    assert asked[0] == asked[1] <= 6
