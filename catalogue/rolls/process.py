"""The simple process record of a roll."""

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from catalogue.errors import InvalidInput
from catalogue.film.dates import parse_date
from catalogue.rolls.rows import roll_row
from catalogue.store.index import index_roll
from catalogue.store.tables.rolls import ProcessRecord
from catalogue.views import ProcessView


class ProcessInput(BaseModel):
    """What was done to the film; all of it may come later. Temperature in °C, time in seconds."""

    model_config = ConfigDict(extra="forbid")
    process: str = Field(default="", max_length=80, examples=["C-41"])
    developer: str = Field(default="", max_length=120)
    dilution: str = Field(default="", max_length=40, examples=["1+9"])
    temperature_c: float | None = Field(default=None, examples=[37.8])
    time_s: int | None = Field(default=None, examples=[195])
    push_stops: float | None = None
    done_on: str = Field(default="", max_length=60)
    done_by: str = Field(default="", max_length=120)
    notes: str = Field(default="", max_length=4000)


def checked_process(given: ProcessInput) -> ProcessInput:
    """The same; raises `InvalidInput` for figures that no bath has and a date that is none."""
    if given.temperature_c is not None and not 0 <= given.temperature_c <= 60:
        raise InvalidInput(f"A bath of {given.temperature_c:g} °C is out of range. Give 0 to 60 °C.")
    if given.time_s is not None and not 0 < given.time_s <= 86_400:
        raise InvalidInput(f"A time of {given.time_s} s is out of range. Give 1 second to 24 hours.")
    if given.push_stops is not None and not -5 <= given.push_stops <= 5:
        raise InvalidInput(f"{given.push_stops:g} stops is out of range. Give -5 to +5.")
    if given.done_on:
        parse_date(given.done_on)
    return given


def record_process(session: Session, number: str, given: ProcessInput) -> ProcessView:
    """Writes the process record of a roll, in place of an earlier one."""
    roll = roll_row(session, number)
    checked_process(given)
    session.merge(ProcessRecord(roll_id=roll.id or 0, **given.model_dump()))
    index_roll(session, roll.id or 0)
    return ProcessView(**given.model_dump())
