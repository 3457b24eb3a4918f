"""The process record of a roll: kept whole, replaced whole, refused where it can't be."""

import pytest
from builders import registered
from sqlmodel import Session

from catalogue.errors import InvalidInput, NotFound
from catalogue.rolls.change import get_roll
from catalogue.rolls.find import find
from catalogue.rolls.offers import suggestions
from catalogue.rolls.process import ProcessInput, record_process
from catalogue.views import ProcessView

# 37.8 °C (100 °F) and 3 min 15 s for the colour developer: common practice, no published source.
# The maker's data sheet is what counts at the tank.
WHOLE = ProcessInput(
    process="C-41",
    developer="Colour developer",
    dilution="1+4",
    temperature_c=37.8,
    time_s=195,
    push_stops=1,
    done_on="2031-05-14",
    done_by="A. Fenn",
    notes="second roll in this bath",
)


def test_a_record_is_kept_and_read_back(session: Session) -> None:
    roll = registered(session)
    assert roll.process is None
    record_process(session, roll.number, WHOLE)
    assert get_roll(session, roll.number).process == ProcessView(**WHOLE.model_dump())
    assert suggestions(session)["developer"] == ["Colour developer"]
    assert {h.roll for h in find(session, "colour developer").hits} == {roll.number}


def test_a_new_record_takes_the_place_of_the_old_one(session: Session) -> None:
    roll = registered(session, process=WHOLE)
    record_process(session, roll.number, ProcessInput(process="E-6"))
    assert get_roll(session, roll.number).process == ProcessView(process="E-6")


def test_nothing_in_the_record_is_required(session: Session) -> None:
    roll = registered(session)
    assert record_process(session, roll.number, ProcessInput()) == ProcessView()


@pytest.mark.parametrize(
    ("facts", "words"),
    [
        ({"temperature_c": -1}, "-1 °C"),
        ({"temperature_c": 60.5}, "60.5 °C"),
        ({"temperature_c": float("nan")}, "nan °C"),
        ({"time_s": 0}, "0 s"),
        ({"time_s": 86_401}, "86401 s"),  # 24 × 3600 + 1
        ({"push_stops": 5.5}, "5.5 stops"),
        ({"push_stops": float("inf")}, "inf stops"),
        ({"done_on": "last week"}, "not a date"),
    ],
)
def test_what_cannot_be_is_refused_and_the_old_record_stays(session: Session, facts: dict[str, object], words: str) -> None:
    roll = registered(session, process=WHOLE)
    with pytest.raises(InvalidInput, match=words):
        record_process(session, roll.number, ProcessInput.model_validate(facts))
    assert get_roll(session, roll.number).process == ProcessView(**WHOLE.model_dump())


@pytest.mark.parametrize("edge", [{"temperature_c": 0}, {"temperature_c": 60}, {"time_s": 1}, {"time_s": 86_400}])
def test_the_bounds_themselves_are_allowed(session: Session, edge: dict[str, object]) -> None:
    roll = registered(session)
    record_process(session, roll.number, ProcessInput.model_validate(edge))
    assert get_roll(session, roll.number).process is not None


def test_a_roll_that_is_not_there_is_said(session: Session) -> None:
    with pytest.raises(NotFound, match="no roll 2031-099"):
        record_process(session, "2031-099", WHOLE)
