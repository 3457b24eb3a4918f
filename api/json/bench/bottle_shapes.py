"""Bottles as JSON: what each kind of entry takes, in which unit, and how a bottle comes out."""

from datetime import date
from fractions import Fraction
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from catalogue.bench.bottles.by_hand import clearing_outlook, next_times, says
from catalogue.bench.bottles.entry_rows import kind_of
from catalogue.bench.bottles.entry_words import entry_words
from catalogue.bench.bottles.shelf import BottleView, roll_pass
from catalogue.bench.rules.baths.entries import (
    BathFacts,
    ClearingMeasured,
    Emptied,
    Filled,
    Opened,
    Overruled,
    PouredBack,
    Replenished,
    RollsDone,
)
from catalogue.bench.rules.baths.ledger import Marked
from catalogue.bench.rules.baths.outlook import days_left, next_roll_number_in_bath, rolls_through
from catalogue.bench.rules.baths.state import BathState
from catalogue.bench.supplies import bath_price
from catalogue.settings import get_units

Figure = Annotated[float | str, Field(description="A number, or a text as “0.5” or “2/3”.", union_mode="left_to_right")]


class _Given(BaseModel):
    """What every entry has: `on` is the day it was done, today if left out."""

    model_config = ConfigDict(extra="forbid")
    on: date | None = Field(default=None, description="The day it was done, ISO 8601; today if left out.")
    note: str = ""

    @property
    def common(self) -> dict[str, Any]:
        """Day and note as an entry takes them."""
        return {"on": self.on or date.today(), "note": self.note}


class NewBottle(BaseModel):
    """A bottle and the volume it holds, in ml."""

    model_config = ConfigDict(extra="forbid")
    name: str
    holds_ml: Figure
    notes: str = ""


class FillIn(_Given):
    """Filled. Volumes in ml; `capacity` in rolls (135-36 or 120) for the whole mixed volume; shelf lives in days."""

    kind: Literal["filled"]
    chemical: str
    volume_ml: Figure
    mixed_on: date | None = Field(default=None, description="The day of `on` if left out.")
    capacity: Figure | None = None
    mixed_days: int | None = Field(default=None, description="Shelf life from mixing, days.")
    open_days: int | None = Field(default=None, description="Shelf life from the first opening, days.")
    one_shot: bool = False
    replenish_ml: Figure | None = Field(default=None, description="Replenisher for one roll, ml.")
    word: str = Field(default="", description="Why another chemical than the bottle's first goes in.")
    price: str = Field(default="", description="Of the whole lot, a decimal number as text in the archive's currency.")

    def deed(self, session: Session) -> Filled:
        """As the ledger takes it."""
        on = self.on or date.today()
        bath = BathFacts(
            self.chemical, self.volume_ml, self.mixed_on or on, self.capacity, self.mixed_days, self.open_days, self.one_shot,
            self.replenish_ml,
        )  # fmt: skip
        return Filled(**self.common, bath=bath, word=self.word)


class OpenIn(_Given):
    """Opened for the first time since it was filled."""

    kind: Literal["opened"]

    def deed(self, session: Session) -> Opened:
        """As the ledger takes it."""
        return Opened(**self.common)


class RollsIn(_Given):
    """Rolls that went through together; their film is counted by area and by their stocks' weight."""

    kind: Literal["rolls done"]
    rolls: list[str] = Field(max_length=200, examples=[["2031-014", "2031-015"]])
    ml: Figure | None = Field(default=None, description="Taken out of the bottle, ml; left out where that isn't followed.")
    again: str = Field(default="", description="Why a roll goes through the same bath once more.")
    overrule: str = Field(default="", description="Why they go in though the capacity is passed; ignored when correcting.")
    poured_back_ml: Figure | None = Field(default=None, description="What came back, ml; ignored when correcting.")

    def deed(self, session: Session) -> RollsDone:
        """As the ledger takes it."""
        return RollsDone(**self.common, rolls=tuple(roll_pass(session, n) for n in self.rolls), ml=self.ml, again=self.again)


class BackIn(_Given):
    """What was out in the tank came back, in ml."""

    kind: Literal["poured back"]
    ml: Figure

    def deed(self, session: Session) -> PouredBack:
        """As the ledger takes it."""
        return PouredBack(**self.common, ml=self.ml)


class ReplenishIn(_Given):
    """Replenisher was added after some of the bath was drawn off for it, all in ml."""

    kind: Literal["replenished"]
    ml: Figure
    drawn_off_ml: Figure = 0.0
    ml_per_unit: Figure | None = Field(default=None, description="ml for one roll, where it differs from the bath's own.")

    def deed(self, session: Session) -> Replenished:
        """As the ledger takes it."""
        return Replenished(**self.common, ml=self.ml, drawn_off_ml=self.drawn_off_ml, ml_per_unit=self.ml_per_unit)


class ClearingIn(_Given):
    """How many seconds a leader took to clear in this fixer; `fresh` for the fresh bath."""

    kind: Literal["clearing time"]
    seconds: int
    fresh: bool = False

    def deed(self, session: Session) -> ClearingMeasured:
        """As the ledger takes it."""
        return ClearingMeasured(**self.common, seconds=self.seconds, fresh=self.fresh)


class EmptyIn(_Given):
    """Thrown away: all of it, or so many ml."""

    kind: Literal["emptied"]
    ml: Figure | None = None

    def deed(self, session: Session) -> Emptied:
        """As the ledger takes it."""
        return Emptied(**self.common, ml=self.ml)


class OverruleIn(_Given):
    """The person's word that these rolls may go in though the capacity is passed; good for one pass of each."""

    kind: Literal["overruled"]
    reason: str
    rolls: list[str] = Field(max_length=200)

    def deed(self, session: Session) -> Overruled:
        """As the ledger takes it."""
        return Overruled(**self.common, reason=self.reason, rolls=tuple(roll_pass(session, n).roll for n in self.rolls))


EntryIn = Annotated[
    FillIn | OpenIn | RollsIn | BackIn | ReplenishIn | ClearingIn | EmptyIn | OverruleIn, Field(discriminator="kind")
]


class Undo(BaseModel):
    """Why the last entry is undone."""

    model_config = ConfigDict(extra="forbid")
    word: str = ""


class EntryCorrection(BaseModel):
    """What counts instead of an entry, of the same kind, and why."""

    model_config = ConfigDict(extra="forbid")
    instead: EntryIn
    word: str = ""


def _float(value: Fraction | None) -> float | None:
    return None if value is None else float(value)


class ClearingOut(BaseModel):
    """Where the clearing time leads: state, sentence, the day it is spent by its trend, and how long to fix now, in s."""

    state: str
    words: str
    last_s: float
    fresh_s: float
    spent_at_rolls: float | None
    spent_on: date | None
    fix_s: float
    fix_at_most_s: float


class BathOut(BaseModel):
    """One filling. Volumes in ml; `capacity`, `done` and `left` in rolls by area and weight, `left` below 0 if overruled."""

    entry: int
    chemical: str
    mixed_on: date
    filled_on: date
    opened_on: date | None
    emptied_on: date | None
    in_bottle_ml: float
    out_ml: float
    capacity: float | None
    done: float
    left: float | None
    next_roll: int
    discard_on: date | None
    days_left: int | None
    one_shot: bool
    rolls: list[str]
    remarks: list[str]
    price: str

    @classmethod
    def of(cls, session: Session, bottle_id: int, bath: BathState) -> "BathOut":
        """From the state as the ledger has it."""
        return cls(
            entry=bath.entry, chemical=bath.facts.chemical, mixed_on=bath.facts.mixed_on, filled_on=bath.filled_on,
            opened_on=bath.opened_on, emptied_on=bath.emptied_on, in_bottle_ml=float(bath.in_bottle_ml),
            out_ml=float(bath.out_ml), capacity=_float(bath.facts.capacity_units), done=float(bath.done_units),
            left=_float(bath.left), next_roll=next_roll_number_in_bath(bath), discard_on=bath.discard_on,
            days_left=days_left(bath, date.today()), one_shot=bath.facts.one_shot, rolls=list(rolls_through(bath)),
            remarks=list(bath.remarks), price=bath_price(session, bottle_id, bath.entry),
        )  # fmt: skip


class EntryOut(BaseModel):
    """A line of the ledger; an undone or corrected one stays, with the number of the entry that did so."""

    number: int
    kind: str
    on: date
    words: str
    note: str
    counts: bool
    undone_by: int | None
    corrected_by: int | None


class BottleOut(BaseModel):
    """A bottle, the bath in it (None if empty), what it says, how long the next roll takes by the recipes, and its ledger."""

    id: int
    name: str
    holds_ml: float
    notes: str
    thrown_away: bool
    chemical: str
    bath: BathOut | None
    former: list[BathOut]
    says: list[str]
    next_times: list[dict[str, Any]]
    clearing: ClearingOut | None
    entries: list[EntryOut]

    @classmethod
    def of(cls, session: Session, view: BottleView) -> "BottleOut":
        """From the read model."""
        bath, units = view.bath, get_units(session)

        def entry(marked: Marked) -> EntryOut:
            one = marked.entry
            return EntryOut(
                number=one.number, kind=kind_of(one), on=one.on, words=entry_words(one, units), note=one.note,
                counts=marked.counts, undone_by=marked.undone_by, corrected_by=marked.corrected_by,
            )  # fmt: skip

        return cls(
            id=view.id, name=view.name, holds_ml=view.holds_ml, notes=view.notes, thrown_away=view.thrown_away,
            chemical=view.state.chemical, bath=BathOut.of(session, view.id, bath) if bath else None,
            former=[BathOut.of(session, view.id, one) for one in view.state.former], says=list(says(view, date.today())),
            next_times=[vars(one) for one in next_times(session, view)], clearing=clearing_out(view),
            entries=[entry(marked) for marked in view.entries],
        )  # fmt: skip


def clearing_out(view: BottleView) -> ClearingOut | None:
    """The clearing trend of the bath in the bottle; None where none was measured."""
    found = clearing_outlook(view)
    if found is None:
        return None
    trend = found.by_rolls
    return ClearingOut(
        state=trend.state, words=trend.words, last_s=trend.last.seconds, fresh_s=trend.fresh_seconds,
        spent_at_rolls=trend.spent_at, spent_on=found.spent_on, fix_s=found.fix_now.seconds,
        fix_at_most_s=found.fix_now.at_most_seconds,
    )  # fmt: skip
