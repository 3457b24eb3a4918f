"""The ledger under random sessions at the bench: what must hold whatever is written down, undone or corrected."""

from collections import Counter
from dataclasses import replace
from datetime import date, timedelta
from fractions import Fraction

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from catalogue.bench.rules.baths.entries import (
    AnyEntry,
    BathFacts,
    BottleSize,
    Corrected,
    Emptied,
    Filled,
    Ledger,
    Overruled,
    PouredBack,
    Replenished,
    RollPass,
    RollsDone,
    Undone,
)
from catalogue.bench.rules.baths.ledger import append, history, standing, state_of, undo_last
from catalogue.bench.rules.baths.outlook import check_before, rolls_through
from catalogue.bench.rules.baths.state import BottleState
from catalogue.errors import StripleafError

DAY = date(2031, 1, 1)
UNITS = st.sampled_from(["1", "2/3", "1/3", "1/4", "2"])
ROLLS = st.lists(st.sampled_from([f"R{n}" for n in range(12)]), min_size=1, max_size=3, unique=True)


class AtTheBench(RuleBasedStateMachine):
    """Someone who fills, uses, pours back, replenishes, throws away and mends the ledger, with many a slip."""

    def __init__(self) -> None:
        super().__init__()
        self.bottle = BottleSize("Bottle", 1000)
        self.ledger: Ledger = ()
        self.day = DAY

    @property
    def state(self) -> BottleState:
        return state_of(self.bottle, self.ledger)

    def write(self, entry: AnyEntry) -> bool:
        """Writes the entry; whatever is refused has changed nothing."""
        before, kept = self.state, self.ledger
        try:
            self.ledger = append(self.bottle, self.ledger, entry, self.day)
        except StripleafError as refused:
            said = str(refused)
        else:
            said = ""
        if said:
            assert said.endswith(".") and self.ledger is kept and self.state == before
            return False
        assert self.ledger[:-1] == kept
        return True

    @rule(days=st.integers(0, 20))
    def time_goes_by(self, days: int) -> None:
        self.day += timedelta(days)

    @rule(capacity=st.sampled_from([None, 3, 6]), one_shot=st.booleans(), ml=st.sampled_from([500, 1000, 1200]))
    def fill(self, capacity: int | None, one_shot: bool, ml: int) -> None:
        rate = None if one_shot else 50
        facts = BathFacts("Bath", ml, self.day, capacity, 60, 20, one_shot, rate)
        went_in = self.write(Filled(on=self.day, bath=facts))
        assert not (went_in and ml == 1200)

    @precondition(lambda self: self.state.bath is not None)
    @rule(rolls=ROLLS, units=UNITS, ml=st.sampled_from([None, 250, 600]), again=st.sampled_from(["", "fixed too short"]))
    def develop(self, rolls: list[str], units: str, ml: int | None, again: str) -> None:
        bath, passes = self.state.bath, tuple(RollPass(roll, units) for roll in rolls)
        assert bath is not None
        try:
            to_overrule = {one.kind for one in check_before(bath, passes, self.day, ml).to_overrule}
        except StripleafError:
            assert not self.write(RollsDone(on=self.day, rolls=passes, ml=ml, again=again))
            return
        granted = {roll.casefold() for roll in rolls} <= {roll for roll, _ in bath.granted}
        refused = ("capacity" in to_overrule and not granted) or ("again" in to_overrule and not again)
        # The warning before and the refusal afterwards are two ways to one answer.
        assert self.write(RollsDone(on=self.day, rolls=passes, ml=ml, again=again)) != refused

    @precondition(lambda self: self.state.bath is not None)
    @rule(rolls=ROLLS)
    def overrule(self, rolls: list[str]) -> None:
        self.write(Overruled(on=self.day, reason="on my own head", rolls=tuple(rolls)))

    @rule(ml=st.integers(1, 600))
    def pour_back(self, ml: int) -> None:
        self.write(PouredBack(on=self.day, ml=ml))

    @rule(ml=st.integers(1, 300), drawn=st.integers(0, 300))
    def replenish(self, ml: int, drawn: int) -> None:
        self.write(Replenished(on=self.day, ml=ml, drawn_off_ml=drawn))

    @rule(ml=st.sampled_from([None, 100, 400]))
    def throw_away(self, ml: int | None) -> None:
        self.write(Emptied(on=self.day, ml=ml))

    @precondition(lambda self: self.ledger)
    @rule(data=st.data())
    def undo_any(self, data: st.DataObject) -> None:
        self.write(Undone(on=self.day, of=data.draw(st.integers(1, len(self.ledger)))))

    @precondition(lambda self: standing(self.ledger))
    @rule()
    def undo_the_last_restores_exactly(self) -> None:
        deeds = standing(self.ledger)
        before = self.ledger
        self.ledger = undo_last(self.bottle, self.ledger, self.day, self.day)
        assert standing(self.ledger) == deeds[:-1]
        bare = append(self.bottle, before, Undone(on=self.day, of=deeds[-1].number), self.day)
        assert state_of(self.bottle, bare) == self.state
        # and undoing that brings all of it back
        back = append(self.bottle, self.ledger, Undone(on=self.day, of=len(self.ledger)), self.day)
        assert state_of(self.bottle, back) == state_of(self.bottle, before)

    @precondition(lambda self: standing(self.ledger))
    @rule(data=st.data(), units=UNITS)
    def correct(self, data: st.DataObject, units: str) -> None:
        deed = data.draw(st.sampled_from(standing(self.ledger)))
        if isinstance(deed, RollsDone):
            instead = replace(deed, rolls=tuple(RollPass(one.roll, units) for one in deed.rolls))
            self.write(Corrected(on=self.day, of=deed.number, instead=instead))

    @rule(units=UNITS)
    def write_and_undo_is_nothing(self, units: str) -> None:
        before = self.state
        if self.write(RollsDone(on=self.day, rolls=(RollPass("X", units),), again="for certain")):
            self.ledger = undo_last(self.bottle, self.ledger, self.day, self.day)
            assert self.state == before

    @invariant()
    def capacity_is_never_below_nothing_without_a_word(self) -> None:
        for bath in self.state.baths:
            if bath.left is not None and bath.left < 0:
                assert any(one.overruled for one in bath.passes)

    @invariant()
    def volumes_are_possible(self) -> None:
        for bath in self.state.baths:
            assert bath.in_bottle_ml >= 0 and bath.out_ml >= 0 and bath.lost_ml >= 0
            assert bath.in_bottle_ml + bath.out_ml <= 1000
            assert bath.used_units >= 0

    @invariant()
    def every_roll_is_counted_once(self) -> None:
        entries = [deed for deed in standing(self.ledger) if isinstance(deed, RollsDone)]
        written = Counter((entry.number, one.roll) for entry in entries for one in entry.rolls)
        counted = Counter((one.entry, one.roll.roll) for bath in self.state.baths for one in bath.passes)
        assert written == counted and set(counted.values()) <= {1}
        for bath in self.state.baths:
            assert bath.done_units == sum((one.roll.takes for one in bath.passes), Fraction(0))
            seen = Counter(one.roll.roll for one in bath.passes)
            assert sorted(seen) == sorted(rolls_through(bath))
            assert sum(seen.values()) - len(seen) == sum(bool(one.again) for one in bath.passes)

    @invariant()
    def nothing_is_ever_taken_out(self) -> None:
        assert [one.entry for one in history(self.ledger)] == list(self.ledger)
        assert [entry.number for entry in self.ledger] == list(range(1, len(self.ledger) + 1))


AtTheBench.TestCase.settings = settings(max_examples=40, stateful_step_count=30, deadline=None)
TestSessions = AtTheBench.TestCase
