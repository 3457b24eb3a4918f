"""Bottles in the archive: every line of a ledger is kept and comes back as it was written."""

from datetime import date, timedelta
from fractions import Fraction

import pytest
from sqlmodel import Session, select

from catalogue.bench.bottles.entry_rows import KINDS, from_json, kind_of, to_json
from catalogue.bench.bottles.shelf import (
    BottleView,
    add_bottle,
    baths_of,
    bottle_view,
    list_bottles,
    roll_pass,
    throw_away_bottle,
    undo_last_entry,
    warnings_before,
    write_entry,
)
from catalogue.bench.rules.baths.entries import (
    AnyEntry,
    BathFacts,
    ClearingMeasured,
    Corrected,
    Emptied,
    Filled,
    Opened,
    Overruled,
    PouredBack,
    Replenished,
    RollPass,
    RollsDone,
    Undone,
)
from catalogue.bench.waiting import NewWaiting, note_roll
from catalogue.errors import AlreadyExists, ArchiveProblem, DoesNotFit, InvalidInput, NotFound, StripleafError
from catalogue.rolls.number import renumber_roll
from catalogue.store.tables.bench import BottleEvent, StockFacts

TODAY = date.today()
EARLIER = TODAY - timedelta(10)
KIT = BathFacts("Kit developer", 946, EARLIER, capacity=16, mixed_days=42, open_days=28, replenish_ml=50)


def filled(session: Session, **facts: object) -> BottleView:
    """A one-quart bottle with a colour kit good for 16 rolls."""
    bottle = add_bottle(session, "Brown 1", 946.352946)
    return write_entry(session, bottle.id, Filled(on=EARLIER, bath=KIT))


def rolls(session: Session, count: int) -> tuple[str, ...]:
    return tuple(note_roll(session, NewWaiting(frames_expected=36)).number for _ in range(count))


ENTRIES: tuple[AnyEntry, ...] = (
    Filled(on=EARLIER, bath=KIT, note="two lots"),
    Opened(on=TODAY),
    RollsDone(on=TODAY, rolls=(RollPass("2031-001", Fraction(2, 3), "1.25"),), ml=500, again="clip test"),
    PouredBack(on=TODAY, ml="499.5"),
    Replenished(on=TODAY, ml=50, drawn_off_ml=50, ml_per_unit=Fraction(100, 3)),
    ClearingMeasured(on=TODAY, seconds=45, fresh=True),
    Emptied(on=TODAY, ml=100),
    Overruled(on=TODAY, reason="only a test roll", rolls=("2031-001",)),
    Undone(on=TODAY, of=3, word="wrong bottle"),
    Corrected(on=TODAY, of=4, instead=PouredBack(on=TODAY, ml=Fraction(1, 3)), word="misread"),
)


@pytest.mark.parametrize("entry", ENTRIES, ids=[kind_of(e) for e in ENTRIES])
def test_every_kind_of_entry_comes_back_exactly(entry: AnyEntry) -> None:
    assert from_json(kind_of(entry), 0, to_json(entry)) == entry


def test_every_kind_is_tried_above() -> None:
    assert {kind_of(e) for e in ENTRIES} == set(KINDS)
    with pytest.raises(ArchiveProblem, match="Entry 3"):
        from_json("filled", 3, "{}")


def test_a_quart_kit_has_nothing_left_after_sixteen_rolls_and_warns_at_the_next(session: Session) -> None:
    """A one-quart colour kit is reckoned at about 16 rolls: common practice, no published source."""
    bottle = filled(session)
    numbers = rolls(session, 17)
    for number in numbers[:16]:
        assert not warnings_before(session, bottle.id, (number,), TODAY).to_overrule
        bottle = write_entry(session, bottle.id, RollsDone(on=TODAY, rolls=(roll_pass(session, number),)))
    assert bottle.bath is not None
    assert bottle.bath.left == 0
    (warning,) = warnings_before(session, bottle.id, numbers[16:], TODAY).to_overrule
    assert "1 too many" in warning.sentence
    last = RollsDone(on=TODAY, rolls=(roll_pass(session, numbers[16]),))
    with pytest.raises(StripleafError):
        write_entry(session, bottle.id, last)
    assert len(bottle_view(session, bottle.id).entries) == 17
    write_entry(session, bottle.id, Overruled(on=TODAY, reason="a test roll", rolls=(numbers[16],)))
    bottle = write_entry(session, bottle.id, last)
    assert bottle.bath is not None and bottle.bath.left == -1
    undone = undo_last_entry(session, bottle.id, "not poured in after all")
    assert undone.bath is not None and undone.bath.left == 0
    assert len(undone.entries) == 20  # nothing was rubbed out


def test_a_bottle_holds_one_chemical_for_ever(session: Session) -> None:
    bottle = filled(session)
    write_entry(session, bottle.id, Emptied(on=TODAY))
    other = BathFacts("Fixer F", 900, TODAY)
    with pytest.raises(InvalidInput, match="Kit developer"):
        write_entry(session, bottle.id, Filled(on=TODAY, bath=other))
    assert write_entry(session, bottle.id, Filled(on=TODAY, bath=other, word="washed out three times")).bath is not None
    with pytest.raises(DoesNotFit):
        write_entry(session, add_bottle(session, "Small", 500).id, Filled(on=TODAY, bath=other))


def test_film_is_counted_by_area_and_weight(session: Session) -> None:
    """135-24 is two thirds of a 135-36, which is one 120: practice of many data sheets."""
    session.add(StockFacts(stock="Hazelgrain 200", weight=1.5))
    short = note_roll(session, NewWaiting(frames_expected=24, stock="Hazelgrain 200"))
    assert roll_pass(session, short.number).takes == 1
    assert roll_pass(session, note_roll(session, NewWaiting(format="120-6x6")).number).takes == 1
    assert roll_pass(session, note_roll(session, NewWaiting()).number).takes == 1


def test_if_a_batch_proves_bad_its_rolls_are_known(session: Session) -> None:
    bottle = filled(session)
    one, two = rolls(session, 2)
    write_entry(session, bottle.id, RollsDone(on=TODAY, rolls=(roll_pass(session, one),)))
    renumber_roll(session, one, "A-17")
    ((view, bath),) = baths_of(session, "A-17")
    assert (view.name, bath.facts.chemical) == ("Brown 1", "Kit developer")
    assert baths_of(session, two) == ()


def test_bottles_are_listed_and_thrown_away(session: Session) -> None:
    bottle = filled(session)
    with pytest.raises(AlreadyExists):
        add_bottle(session, "brown 1", 500)
    with pytest.raises(InvalidInput):
        add_bottle(session, "No volume", 0)
    with pytest.raises(NotFound):
        bottle_view(session, 99)
    throw_away_bottle(session, bottle.id)
    assert list_bottles(session) == ()
    assert [b.name for b in list_bottles(session, all_of_them=True)] == ["Brown 1"]
    empty = add_bottle(session, "Empty", 500)
    with pytest.raises(NotFound, match="empty"):
        warnings_before(session, empty.id, rolls(session, 1), TODAY)


def test_a_refused_entry_writes_nothing(session: Session) -> None:
    bottle = filled(session)
    before = session.exec(select(BottleEvent)).all()
    with pytest.raises(InvalidInput, match="future"):
        write_entry(session, bottle.id, Opened(on=TODAY + timedelta(1)))
    assert session.exec(select(BottleEvent)).all() == before
