"""Rolls after registering: reading, changing what is known, and what to offer for the next one."""

from dataclasses import dataclass

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session, col, select

from catalogue.errors import InvalidInput
from catalogue.film.roll_numbers import sort_text
from catalogue.own_shapes import format_of
from catalogue.rolls.facts import DATE_FIELDS, LENGTHS
from catalogue.rolls.number import next_roll_number
from catalogue.rolls.offers import last_binders
from catalogue.rolls.page import page_view, roll_summaries
from catalogue.rolls.register import dates_for
from catalogue.rolls.roll import roll_view
from catalogue.rolls.rows import frame_row, roll_row
from catalogue.sleeves.layouts import default_layout
from catalogue.sleeves.page_plan import FRAME_STATES
from catalogue.store.index import index_roll
from catalogue.store.tables.rolls import ProcessRecord, Roll, Strip
from catalogue.views import FrameView, RollSummary, RollView


class RollChanges(BaseModel):
    """What is to change about a roll; None leaves a field as it is. Dates are EDTF."""

    model_config = ConfigDict(extra="forbid")
    stock: str | None = Field(default=None, max_length=LENGTHS["stock"])
    camera: str | None = Field(default=None, max_length=LENGTHS["camera"])
    lens: str | None = Field(default=None, max_length=LENGTHS["lens"])
    exposed: str | None = Field(default=None, max_length=LENGTHS["exposed"])
    processed: str | None = Field(default=None, max_length=LENGTHS["processed"])
    sleeved: str | None = Field(default=None, max_length=LENGTHS["sleeved"])
    subject: str | None = Field(default=None, max_length=LENGTHS["subject"])
    place: str | None = Field(default=None, max_length=LENGTHS["place"])
    keywords: str | None = Field(default=None, max_length=LENGTHS["keywords"])
    notes: str | None = Field(default=None, max_length=LENGTHS["notes"])


class FrameChanges(BaseModel):
    """What is to change about a frame; None leaves a field as it is."""

    model_config = ConfigDict(extra="forbid")
    caption: str | None = Field(default=None, max_length=500)
    subject: str | None = Field(default=None, max_length=500)
    place: str | None = Field(default=None, max_length=500)
    keywords: str | None = Field(default=None, max_length=500)
    lens: str | None = Field(default=None, max_length=120)
    exposed: str | None = Field(default=None, max_length=60)
    notes: str | None = Field(default=None, max_length=4000)
    state: str | None = Field(default=None, max_length=20)


@dataclass(frozen=True)
class RegisterOffer:
    """What the next roll is offered: a number, a place, and the last roll's film and camera."""

    number: str
    binder: str | None
    page_id: int | None
    page_number: int | None
    layout: str
    first_slot: int
    format: str
    stock: str
    camera: str
    lens: str
    process: str
    developer: str


def get_roll(session: Session, number: str) -> RollView:
    """A roll by its number or a former one."""
    return roll_view(session, number)


def list_rolls(session: Session, after: str = "", limit: int | None = None) -> tuple[RollSummary, ...]:
    """Rolls in the order of their numbers: those after a number, or from the first on, so many or all."""
    query = select(Roll).order_by(col(Roll.number_sort)).limit(limit)
    rows = session.exec(query.where(Roll.number_sort > sort_text(after)) if after else query).all()
    return roll_summaries(session, rows)


def newest_rolls(session: Session, limit: int) -> tuple[RollSummary, ...]:
    """The rolls with the highest numbers, the highest first."""
    return roll_summaries(session, session.exec(select(Roll).order_by(col(Roll.number_sort).desc()).limit(limit)).all())


def _changed(given: BaseModel, date_fields: tuple[str, ...]) -> dict[str, str | None]:
    values = {k: v.strip() for k, v in given.model_dump(exclude_none=True).items()}
    dates = dates_for({k: values.pop(k) for k in date_fields if k in values})
    return {**values, **dates}


def update_roll(session: Session, number: str, changes: RollChanges) -> RollView:
    """Changes what is known of a roll; its number and place are left alone."""
    roll = roll_row(session, number)
    for name, value in _changed(changes, DATE_FIELDS).items():
        setattr(roll, name, value)
    index_roll(session, roll.id or 0)
    return roll_view(session, roll.number)


def update_frame(session: Session, number: str, label: str, changes: FrameChanges) -> FrameView:
    """Changes what is known of a frame."""
    roll = roll_row(session, number)
    frame = frame_row(session, roll, label)
    if changes.state is not None and changes.state not in FRAME_STATES:
        raise InvalidInput(f"A frame is one of: {', '.join(FRAME_STATES)}.")
    changed = _changed(changes, ("exposed",))
    if "exposed" in changed and changed["exposed"] != frame.exposed:
        frame.taken_at = ""  # the moment in a frame log was another date's
    for name, value in changed.items():
        setattr(frame, name, value)
    index_roll(session, roll.id or 0)
    return next(f for f in roll_view(session, roll.number).frames if f.id == frame.id)


def offered(session: Session, year: int | None = None, waiting: str | None = None) -> RegisterOffer:
    """The next number, the next free place for the last roll's format, and that roll's facts.

    With the number of a roll that waits to be sleeved, that roll's own number and facts; raises `NotFound`.
    """
    sleeved = select(Roll).where(select(Strip.id).where(Strip.roll_id == Roll.id).exists())
    told = roll_row(session, waiting) if waiting else None
    if told is not None:  # its place is beside film of its own kind
        sleeved = sleeved.where(Roll.format_key == told.format_key)
    last = session.exec(sleeved.order_by(col(Roll.id).desc()).limit(1)).first()
    told = told or last
    film = format_of(session, told.format_key if told else "135-24x36")
    process = session.get(ProcessRecord, told.id) if told else None
    layout = default_layout(film).key
    page = None
    if last is not None:
        last_page = session.exec(
            select(Strip.page_id)
            .where(Strip.roll_id == last.id, col(Strip.page_id).is_not(None))
            .order_by(col(Strip.position).desc())
        ).first()
        if last_page is not None:
            view = page_view(session, last_page)
            layout = view.layout.key
            if view.free_slots and view.layout.frames_per_slot(film) * len(view.free_slots) >= film.usual_exposures[-1]:
                page = view
    binder = page.binder if page else (view.binder if last is not None and last_page else None)
    return RegisterOffer(
        number=told.number if told and waiting else next_roll_number(session, year),
        binder=binder or next(reversed(last_binders(session)), None),
        page_id=page.id if page else None,
        page_number=page.number if page else None,
        layout=layout,
        first_slot=page.free_slots[0] if page else 1,
        format=film.key,
        stock=told.stock if told else "",
        camera=told.camera if told else "",
        lens=told.lens if told else "",
        process=process.process if process else "",
        developer=process.developer if process else "",
    )
