"""The ledger of a bottle: what it takes, what it refuses and in which words."""

from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

import pytest

from catalogue.bench.rules.baths.entries import (
    AnyEntry,
    BathFacts,
    BottleSize,
    ClearingMeasured,
    Corrected,
    Emptied,
    Entry,
    Filled,
    Ledger,
    Opened,
    Overruled,
    PouredBack,
    Replenished,
    RollPass,
    RollsDone,
    Undone,
)
from catalogue.bench.rules.baths.ledger import append, history, standing, state_of, undo_last
from catalogue.bench.rules.baths.outlook import (
    check_before,
    days_left,
    left,
    next_roll_number_in_bath,
    pace_words,
    rolls_through,
    units_done,
    who_shared,
)
from catalogue.bench.rules.baths.state import BathState
from catalogue.errors import AlreadyExists, DoesNotFit, InvalidInput, NotFound, StripleafError

DAY = date(2031, 3, 1)
TODAY = date(2031, 12, 31)
QUART_ML = "946.352946"  # US quart: exact by definition
BOTTLE = BottleSize("Brown bottle 2", 1000)
FIXER = BathFacts("Lindenhof fixer", 1000, DAY, capacity=10, mixed_days=180, open_days=90, replenish_ml=25)
STOCK = BathFacts("Grauwasser stock", 1000, DAY, capacity=10, one_shot=True)


def write(*entries: AnyEntry, bottle: BottleSize = BOTTLE, ledger: Ledger = ()) -> Ledger:
    for entry in entries:
        ledger = append(bottle, ledger, entry, TODAY)
    return ledger


def bath_of(ledger: Ledger, bottle: BottleSize = BOTTLE) -> BathState:
    found = state_of(bottle, ledger).bath
    assert found is not None
    return found


def filled(facts: BathFacts = FIXER) -> Filled:
    return Filled(on=facts.mixed_on, bath=facts)


def done(*rolls: str, days: int = 1, units: str = "1", ml: int | None = None, again: str = "", weight: str = "1") -> RollsDone:
    passes = tuple(RollPass(roll, units, weight) for roll in rolls)
    return RollsDone(on=DAY + timedelta(days), rolls=passes, ml=ml, again=again)


def test_a_colour_kit_of_one_quart_for_sixteen_rolls() -> None:
    # Reckoned at 16 rolls a quart by the usual kit sheets: common practice, no published source.
    kit = BathFacts("C-41 developer", QUART_ML, DAY, capacity=16)
    ledger = write(filled(kit))
    for number in range(1, 17):
        bath = bath_of(ledger)
        assert next_roll_number_in_bath(bath) == number
        assert not check_before(bath, (RollPass(f"R{number}"),), DAY)
        ledger = write(done(f"R{number}"), ledger=ledger)
    bath = bath_of(ledger)
    assert left(bath) == 0 and units_done(bath) == 16 and next_roll_number_in_bath(bath) == 17
    (warning,) = check_before(bath, (RollPass("R17"),), DAY)
    assert warning.must_be_overruled and warning.kind == "capacity"
    assert warning.sentence == "The bath of C-41 developer takes 0 rolls more, and these rolls need 1: 1 too many."
    with pytest.raises(DoesNotFit, match=r"takes 0 rolls more, and these rolls need 1\. .* reason for R17\."):
        write(done("R17"), ledger=ledger)


def test_units_and_weights_count_down_exactly() -> None:
    # used = sum(unit × n), left = capacity - used: arithmetic of many data sheets (common practice, no published source).
    ledger = write(filled(), done("A", "B", units="2/3"), done("C", units="1/3"), done("D", weight="1.5"), done("E", units="2"))
    bath = bath_of(ledger)
    assert bath.used_units == Fraction(2, 3) * 2 + Fraction(1, 3) + Fraction(3, 2) + 2
    assert left(bath) == Fraction(10) - Fraction(31, 6)
    assert next_roll_number_in_bath(bath) == 6


def test_past_the_capacity_goes_with_a_reason_and_once() -> None:
    ledger = write(filled(), done(*(f"R{n}" for n in range(9))))
    with pytest.raises(DoesNotFit, match="X, Y"):
        write(done("X", "Y"), ledger=ledger)
    half = write(Overruled(on=DAY, reason="test strips only", rolls=("X",)), ledger=ledger)
    with pytest.raises(DoesNotFit, match="reason for Y"):
        write(done("X", "Y"), ledger=half)
    ledger = write(Overruled(on=DAY, reason="test strips only", rolls=("x", "Y")), done("X", "Y"), ledger=ledger)
    bath = bath_of(ledger)
    assert left(bath) == -1 and [one.overruled for one in bath.passes[-2:]] == ["test strips only"] * 2
    assert bath.granted == ()
    with pytest.raises(DoesNotFit, match="takes 0 rolls more"):
        write(done("X", again="a second try"), ledger=ledger)


def test_an_overruling_needs_a_reason_and_rolls() -> None:
    with pytest.raises(InvalidInput, match="reason"):
        Overruled(on=DAY, reason="  ", rolls=("A",))
    with pytest.raises(InvalidInput, match="one roll number"):
        Overruled(on=DAY, reason="why", rolls=())


def test_a_roll_is_counted_once_unless_said_why() -> None:
    ledger = write(filled(), done("2031-014"))
    (warning,) = check_before(bath_of(ledger), (RollPass("2031-014"), RollPass("B")), DAY)
    assert warning.must_be_overruled and warning.sentence == "Roll 2031-014 went through Lindenhof fixer already."
    with pytest.raises(AlreadyExists, match="2031-014 went through this bath already"):
        write(done("2031-014"), ledger=ledger)
    with pytest.raises(InvalidInput, match="twice in one pass"):
        done("a", "A")
    bath = bath_of(write(done("2031-014", again="fixed too short"), ledger=ledger))
    assert left(bath) == 8 and rolls_through(bath) == ("2031-014",) and bath.passes[1].again == "fixed too short"


def test_one_bottle_keeps_to_one_chemical() -> None:
    ledger = write(filled(), Emptied(on=DAY + timedelta(5)))
    other = Filled(on=DAY + timedelta(6), bath=replace(STOCK, mixed_on=DAY))
    with pytest.raises(InvalidInput, match="bottle of Lindenhof fixer, and a bottle keeps to one chemical for ever"):
        write(other, ledger=ledger)
    state = state_of(BOTTLE, write(replace(other, word="Scalded and rinsed, no other at hand."), ledger=ledger))
    assert state.chemical == "Lindenhof fixer" and state.bath and len(state.former) == 1
    (remark,) = check_before(state.bath, (RollPass("A"),), other.on)
    assert not remark.must_be_overruled and "held Lindenhof fixer before. Scalded" in remark.sentence
    same = Filled(on=DAY + timedelta(6), bath=replace(FIXER, chemical="lindenhof  FIXER"))
    assert bath_of(write(same, ledger=ledger)).remarks == ()


def test_a_bottle_is_not_overfilled_nor_filled_twice() -> None:
    with pytest.raises(DoesNotFit, match=r"1200 ml of Lindenhof fixer don't go into Brown bottle 2, which holds 1000 ml"):
        write(filled(replace(FIXER, volume_ml=1200)))
    with pytest.raises(InvalidInput, match="still holds Lindenhof fixer"):
        write(filled(), filled())
    with pytest.raises(InvalidInput, match="is empty"):
        write(done("A"))


@pytest.mark.parametrize(
    ("entries", "words"),
    [
        ((filled(replace(FIXER, mixed_on=TODAY + timedelta(1))),), "2032-01-01 is in the future; today is 2031-12-31"),
        ((filled(), Opened(on=DAY - timedelta(1))), "2031-02-28 is before Lindenhof fixer was mixed, on 2031-03-01"),
        ((filled(), done("A", days=-3)), "before Lindenhof fixer was mixed"),
        ((filled(), done("A", days=9), Emptied(on=DAY)), "still in use on 2031-03-10"),
        ((filled(), Opened(on=DAY), Opened(on=DAY)), "opened on 2031-03-01 already"),
        ((filled(), Emptied(on=TODAY), Filled(on=DAY, bath=FIXER)), "emptied on 2031-12-31 only"),
        ((filled(), PouredBack(on=DAY, ml=10)), "0 ml of Lindenhof fixer are out"),
        ((filled(), done("A", ml=1001)), "1000 ml of Lindenhof fixer are in the bottle"),
        ((filled(), done("A", ml=1000), done("B")), "Pour back what is out"),
        ((filled(), Replenished(on=DAY, ml=50)), "Draw off 50 ml more first"),
        ((filled(), Replenished(on=DAY, ml=50, drawn_off_ml=1001)), "can't be drawn off"),
        ((filled(replace(FIXER, replenish_ml=None)), Replenished(on=DAY, ml=50, drawn_off_ml=50)), "isn't known"),
        ((filled(), Emptied(on=DAY, ml=1001)), "there are 1000 ml"),
        ((filled(STOCK), done("A", ml=300), PouredBack(on=TODAY, ml=300)), "one-shot and isn't poured back"),
        ((filled(STOCK), Replenished(on=DAY, ml=1, ml_per_unit=1)), "one-shot and isn't replenished"),
        ((filled(STOCK), done("A"), done("B")), "No Grauwasser stock is in the bottle"),
        ((Undone(on=DAY, of=1),), "no entry 1"),
    ],
)
def test_refusals_say_the_numbers_and_what_to_do(entries: tuple[AnyEntry, ...], words: str) -> None:
    with pytest.raises(StripleafError) as refused:
        write(*entries)
    assert words in str(refused.value) and str(refused.value).endswith(".")


def test_mixed_after_it_was_filled_is_refused() -> None:
    with pytest.raises(InvalidInput, match="mixed later"):
        Filled(on=DAY, bath=replace(FIXER, mixed_on=DAY + timedelta(1)))


@pytest.mark.parametrize(
    "change",
    [{"capacity": 0}, {"mixed_days": 0}, {"open_days": -1}, {"volume_ml": 0}, {"chemical": " "}, {"one_shot": True}],
)
def test_impossible_facts_are_refused(change: dict[str, object]) -> None:
    with pytest.raises(InvalidInput):
        replace(FIXER, **change)  # type: ignore[arg-type]


def test_pouring_back_brings_rolls_and_notes_what_is_lost() -> None:
    ledger = write(filled(), done("A", "B", ml=600))
    assert (bath_of(ledger).in_bottle_ml, bath_of(ledger).out_ml) == (400, 600)
    bath = bath_of(write(PouredBack(on=DAY + timedelta(1), ml=580), ledger=ledger))
    assert (bath.in_bottle_ml, bath.out_ml, bath.lost_ml, left(bath)) == (980, 0, 20, 8)
    assert bath.remarks == ("2031-03-02: 20 ml less came back than was taken.",)


def test_replenishing_restores_by_the_rate_and_never_past_fresh() -> None:
    ledger = write(filled(), done("A", "B", "C", "D", ml=600), PouredBack(on=DAY + timedelta(1), ml=560))
    bath = bath_of(write(Replenished(on=DAY + timedelta(2), ml=50, drawn_off_ml=30), ledger=ledger))
    assert left(bath) == 10 - 4 + 2 and bath.in_bottle_ml == 980 and bath.lost_ml == 20  # 50 ml at 25 ml a unit
    assert bath.remarks[-1].endswith("50 ml were poured in for 70 ml lost or drawn off; 20 ml are missing.")
    assert next_roll_number_in_bath(bath) == 3
    much = bath_of(write(Replenished(on=DAY, ml=500, drawn_off_ml=500), ledger=ledger))
    assert left(much) == 10 and units_done(much) == 0
    own_rate = bath_of(write(Replenished(on=DAY, ml=50, drawn_off_ml=50, ml_per_unit=50), ledger=ledger))
    assert left(own_rate) == 7


def test_a_part_thrown_away_takes_its_share_of_the_capacity() -> None:
    bath = bath_of(write(filled(), done("A", "B"), Emptied(on=TODAY, ml=250)))
    assert left(bath) == 6 and bath.in_bottle_ml == 750  # three quarters of 8


def test_a_one_shot_bath_gives_by_volume() -> None:
    # Every unit needs a least volume of stock; here 100 ml. Common practice, no published source.
    ledger = write(filled(STOCK))
    assert not check_before(bath_of(ledger), (RollPass("A"), RollPass("B")), DAY, ml=300)
    (warning,) = check_before(bath_of(ledger), (RollPass("A"), RollPass("B")), DAY, ml=150)
    assert warning.must_be_overruled and "takes 1.5 rolls more, and these rolls need 2: 0.5 too many" in warning.sentence
    with pytest.raises(DoesNotFit):
        write(done("A", "B", ml=150), ledger=ledger)
    ledger = write(done("A", "B", ml=300), ledger=ledger)
    assert left(bath_of(ledger)) == 7 and units_done(bath_of(ledger)) == 0 and next_roll_number_in_bath(bath_of(ledger)) == 1
    ledger = write(Overruled(on=DAY, reason="thin tank", rolls=("C",)), done("C", ml=50), ledger=ledger)
    assert left(bath_of(ledger)) == Fraction(13, 2)


def test_the_shelf_life_ends_at_the_earlier_day_and_only_warns() -> None:
    # mixed + life, and the opening starts the part-full life: common practice, no published source.
    sealed = bath_of(write(filled()))
    assert sealed.discard_on == DAY + timedelta(180) and days_left(sealed, DAY) == 180
    opened = bath_of(write(filled(), Opened(on=DAY + timedelta(10))))
    assert opened.discard_on == DAY + timedelta(100)
    late = bath_of(write(filled(), Opened(on=DAY + timedelta(170))))
    assert late.discard_on == DAY + timedelta(180)
    used = bath_of(write(filled(), done("A", days=3)))
    assert used.open_since == DAY + timedelta(3) and used.discard_on == DAY + timedelta(93)
    assert not check_before(opened, (RollPass("A"),), DAY + timedelta(100))
    (warning,) = check_before(opened, (RollPass("A"),), DAY + timedelta(101))
    assert warning.sentence == "Lindenhof fixer is past its date by 1 day: it was good until 2031-06-09."
    assert not warning.must_be_overruled
    assert len(bath_of(write(filled(), Opened(on=DAY), done("A", days=200))).passes) == 1
    assert days_left(bath_of(write(filled(replace(FIXER, mixed_days=None)))), DAY) is None


def test_an_unknown_capacity_is_told() -> None:
    bath = bath_of(write(filled(replace(FIXER, capacity=None)), done("A", "B")))
    (warning,) = check_before(bath, (RollPass("C"),), DAY + timedelta(1))
    assert warning.sentence == "How much Lindenhof fixer takes isn't known; 2 rolls went through so far."
    assert left(bath) is None and not warning.must_be_overruled


def test_a_fixer_at_twice_the_fresh_clearing_time_is_told() -> None:
    # Renew at twice the time of fresh fixer: common practice, no published source.
    fresh = ClearingMeasured(on=DAY, seconds=40, fresh=True)
    ledger = write(filled(), fresh, ClearingMeasured(on=DAY + timedelta(5), seconds=79))
    assert not check_before(bath_of(ledger), (RollPass("A"),), DAY)
    ledger = write(ClearingMeasured(on=DAY + timedelta(9), seconds=80), ledger=ledger)
    (warning,) = check_before(bath_of(ledger), (RollPass("A"),), DAY)
    assert warning.kind == "clearing" and "80 s on 2031-03-10, and in 40 s when fresh" in warning.sentence


def test_what_cannot_be_done_is_raised_before_film_goes_in() -> None:
    ledger = write(filled(), Emptied(on=DAY))
    with pytest.raises(InvalidInput, match="thrown away on 2031-03-01"):
        check_before(state_of(BOTTLE, ledger).former[0], (RollPass("A"),), DAY)
    bath = bath_of(write(filled()))
    with pytest.raises(DoesNotFit, match="2000 ml can't be taken"):
        check_before(bath, (RollPass("A"),), DAY, ml=2000)
    with pytest.raises(InvalidInput, match="before Lindenhof fixer was mixed"):
        check_before(bath, (RollPass("A"),), DAY - timedelta(1))
    with pytest.raises(InvalidInput, match="No roll"):
        check_before(bath, (), DAY)


def test_who_shared_a_bath() -> None:
    bath = bath_of(write(filled(), done("A", "B"), done("C", "D"), done("E"), done("B", again="fixed again")))
    shared = who_shared(bath, "c")
    assert (shared.before, shared.together, shared.after) == (("A", "B"), ("D",), ("E", "B"))
    assert rolls_through(bath) == ("A", "B", "C", "D", "E")
    with pytest.raises(NotFound, match="Went through: A, B, C, D, E"):
        who_shared(bath, "Z")


def test_pace_says_when_it_runs_out() -> None:
    bath = bath_of(write(filled(), done("A", "B", "C", "D", days=20)))
    # 6 are left at 1 in 5 days, so 30 days more.
    now = pace_words(bath, DAY + timedelta(20))
    assert now == "At the present pace of 6 rolls in 30 days Lindenhof fixer runs out on 2031-04-20."
    assert "shelf life on 2031-06-19, before" in pace_words(bath, DAY + timedelta(110))
    unused = pace_words(bath_of(write(filled(replace(FIXER, mixed_days=None)))), DAY)
    assert unused == "When Lindenhof fixer runs out can't be said yet."
    with pytest.raises(InvalidInput, match="filled on"):
        pace_words(bath, DAY - timedelta(1))


def test_undoing_keeps_and_marks_the_entry() -> None:
    ledger = write(filled(), done("A"))
    longer = undo_last(BOTTLE, write(done("B"), ledger=ledger), TODAY, TODAY, word="wrong bottle")
    assert state_of(BOTTLE, longer) == state_of(BOTTLE, ledger)
    assert [(m.entry.number, m.undone_by) for m in history(longer)] == [(1, None), (2, None), (3, 4), (4, None)]
    again = write(Undone(on=TODAY, of=4), ledger=longer)  # and back
    assert rolls_through(bath_of(again)) == ("A", "B")
    with pytest.raises(AlreadyExists, match="undone already, by entry 4"):
        write(Undone(on=TODAY, of=3), ledger=longer)
    with pytest.raises(InvalidInput, match=r"Entry 1 can't be undone, for later ones rest on it\. Brown bottle 2 is empty"):
        write(Undone(on=TODAY, of=1), ledger=ledger)
    with pytest.raises(NotFound, match="Nothing is left"):
        undo_last(BOTTLE, undo_last(BOTTLE, write(filled()), TODAY, TODAY), TODAY, TODAY)


def test_a_correction_counts_in_the_old_place() -> None:
    ledger = write(filled(), done("A"), done("B"))
    fixed = write(Corrected(on=TODAY, of=1, instead=filled(replace(FIXER, capacity=12)), word="misread"), ledger=ledger)
    assert left(bath_of(fixed)) == 10 and [deed.number for deed in standing(fixed)] == [1, 2, 3]
    assert history(fixed)[0].corrected_by == 4 and history(fixed)[0].counts
    twice = write(Corrected(on=TODAY, of=1, instead=filled(replace(FIXER, capacity=20))), ledger=fixed)
    assert left(bath_of(twice)) == 18
    assert state_of(BOTTLE, write(Undone(on=TODAY, of=5), ledger=twice)) == state_of(BOTTLE, fixed)
    with pytest.raises(InvalidInput, match="of its own kind"):
        write(Corrected(on=TODAY, of=2, instead=Opened(on=DAY)), ledger=ledger)
    with pytest.raises(InvalidInput, match="can't be corrected so"):
        write(Corrected(on=TODAY, of=1, instead=filled(replace(FIXER, capacity=1))), ledger=ledger)


def test_a_ledger_with_a_hole_is_refused() -> None:
    ledger = write(filled(), done("A"), done("B"))
    with pytest.raises(InvalidInput, match="numbered 1 to 2"):
        state_of(BOTTLE, (ledger[0], ledger[2]))


def test_entries_refuse_impossible_values() -> None:
    for wrong in (
        lambda: ClearingMeasured(on=DAY, seconds=0),
        lambda: RollPass("A", units=0),
        lambda: RollPass("A", weight="0.1"),
        lambda: RollPass("/"),
        lambda: RollsDone(on=DAY, rolls=()),
        lambda: PouredBack(on=DAY, ml=0),
        lambda: BottleSize("", 500),
        lambda: Entry(on=DAY, note="x" * 401),
        lambda: Entry(on=DAY, number=-1),
    ):
        with pytest.raises(InvalidInput):
            wrong()
