"""Registering a roll as it goes into its page: number, frames, cuts and slots in one transaction."""

from dataclasses import dataclass, replace
from typing import Any

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session, col, func, select

from catalogue.clock import now
from catalogue.errors import DoesNotFit, InvalidInput, SlotTaken
from catalogue.film.dates import parse_date
from catalogue.film.formats import FilmFormat
from catalogue.film.frame_numbers import MAX_FRAMES, FrameNumber, count_frames, parse_frames
from catalogue.film.roll_numbers import parse_roll_number, sort_text
from catalogue.own_shapes import format_of, layout_of
from catalogue.rolls.file import add_page, binder_row
from catalogue.rolls.number import claim_number, next_roll_number
from catalogue.rolls.page import page_view
from catalogue.rolls.process import ProcessInput, record_process
from catalogue.rolls.roll import roll_view
from catalogue.sleeves.cut_plan import (
    CutFrame,
    CutPlan,
    FreeSlot,
    check_frames,
    evenly_spaced,
    fresh_slots,
    new_pages,
    own_cuts,
    plan_cuts,
)
from catalogue.sleeves.layouts import SleeveLayout, default_layout
from catalogue.sleeves.page_plan import FRAME_STATES
from catalogue.store.index import index_roll
from catalogue.store.tables.bench import WaitingRoll
from catalogue.store.tables.rolls import Binder, Frame, Page, ProcessRecord, Roll, Strip, StripFrame, StripMove
from catalogue.views import PageView, RollView

DATE_FIELDS = ("exposed", "processed", "sleeved")


class NewRoll(BaseModel):
    """A roll to register. Only number and place are needed, and both are offered; lengths in mm."""

    model_config = ConfigDict(extra="forbid")
    number: str | None = Field(default=None, description="None issues the next number.", examples=["2031-014"])
    format: str = Field(default="135-24x36", max_length=60)
    frames: str | int | list[str] | None = Field(
        default=None,
        description="A range, a count or labels; None takes the format's usual count.",
        examples=["00-36A"],
    )
    measured_along_mm: float | None = Field(default=None, gt=0, lt=1000)
    measured_across_mm: float | None = Field(default=None, gt=0, lt=1000)
    measured_pitch_mm: float | None = Field(default=None, gt=0, lt=1000)
    frame_starts_mm: list[float] | None = Field(default=None, description="Measured starts, one a frame, from the head.")
    stock: str = Field(default="", max_length=120)
    camera: str = Field(default="", max_length=120)
    lens: str = Field(default="", max_length=120)
    exposed: str = Field(default="", max_length=60, description="EDTF", examples=["2031-05~"])
    processed: str = Field(default="", max_length=60, description="EDTF")
    sleeved: str = Field(default="", max_length=60, description="EDTF")
    subject: str = Field(default="", max_length=500)
    place: str = Field(default="", max_length=500)
    keywords: str = Field(default="", max_length=500)
    notes: str = Field(default="", max_length=10_000)
    binder: str | int | None = Field(default=None, description="Name or id; None takes the binder of the page, or the last.")
    page_id: int | None = Field(default=None, description="None takes a new page at the end of the binder.")
    layout: str | None = Field(default=None, description="Of a new page; None takes the usual one for the format.")
    first_slot: int | None = Field(default=None, ge=1, le=400)
    go_on: bool = Field(default=True, description="Go on to new pages where the free slots are too few.")
    strips: list[list[str]] | None = Field(default=None, description="Own cuts; None takes the planned ones.")
    kept_together: list[list[str]] = []
    min_frames: int = Field(default=2, ge=1, le=12)
    min_gap_mm: float = Field(default=1.5, ge=0, le=20)
    frame_states: dict[str, str] = {}
    captions: dict[str, str] = {}
    process: ProcessInput | None = None


@dataclass(frozen=True)
class Prepared:
    """A roll worked out and checked, nothing stored yet."""

    film: FilmFormat
    layout: SleeveLayout
    page: PageView | None
    frames: tuple[CutFrame, ...]
    plan: CutPlan


def labels_of(given: str | int | list[str] | None, film: FilmFormat) -> tuple[str, ...]:
    """Frame labels from a range, a count or a list."""
    if given is None or given == "":
        found = count_frames(film.usual_exposures[-1] if film.usual_exposures else 1)
    elif isinstance(given, int):
        found = count_frames(given)
    elif isinstance(given, str):
        found = parse_frames(given)
    else:
        if not 1 <= len(given) <= MAX_FRAMES:
            raise InvalidInput(f"A roll holds 1 to {MAX_FRAMES} frames here, not {len(given)}. Check the number of frames.")
        found = parse_frames(", ".join(FrameNumber.parse(label).text for label in given))
    return tuple(f.text for f in found)


def film_frames(new: NewRoll, film: FilmFormat, labels: tuple[str, ...]) -> tuple[CutFrame, ...]:
    """The frames on the uncut film, evenly spaced or at measured starts."""
    starts = new.frame_starts_mm
    if starts and len(starts) != len(labels):
        raise InvalidInput(f"{len(starts)} measured starts for {len(labels)} frames. Give one for each frame.")
    unknown = [label for label in (*new.frame_states, *new.captions) if label not in labels]
    if unknown:
        raise InvalidInput(f"Frame {unknown[0][:20]} isn't on this roll, which has {labels[0]} to {labels[-1]}.")
    even = evenly_spaced(labels, film, new.frame_states)
    return tuple(replace(f, start_mm=at) for f, at in zip(even, starts, strict=True)) if starts else even


def _free(view: PageView, layout: SleeveLayout, new: NewRoll) -> list[FreeSlot]:
    first = new.first_slot or 1
    if first > layout.slot_count:
        raise InvalidInput(f"Page {view.number} has slots 1 to {layout.slot_count}, no slot {first}.")
    if new.first_slot and first not in view.free_slots:
        there = ", ".join(dict.fromkeys(s.roll for s in view.strips if s.slot == first))
        free = ", ".join(map(str, view.free_slots)) or "none"
        raise SlotTaken(f"Slot {first} of page {view.number} is taken by roll {there}. Free slots: {free}.")
    return [FreeSlot(1, n, layout.slot_length_mm) for n in view.free_slots if n >= first]


def prepare(session: Session, new: NewRoll) -> Prepared:
    """Works out frames, page and cuts; stores nothing and raises what is wrong."""
    film = format_of(session, new.format).measured(
        frame_along_mm=new.measured_along_mm,
        frame_across_mm=new.measured_across_mm,
        pitch_mm=new.measured_pitch_mm,
    )
    labels = labels_of(new.frames, film)
    frames = film_frames(new, film, labels)
    check_frames(frames)
    view = None
    if new.page_id is not None:
        view = page_view(session, new.page_id)
        layout = view.layout
    elif new.layout:
        layout = layout_of(session, new.layout, film)
    else:
        layout = default_layout(film)
    layout.check_takes(film)
    free = _free(view, layout, new) if view else list(fresh_slots(layout, 1))
    if view is None and new.first_slot:
        layout.slot_rect(new.first_slot)  # refuses a slot that the page hasn't
        free = [s for s in free if s.slot >= new.first_slot]
    more = list(fresh_slots(layout, new_pages(film, layout, len(frames)), 2)) if new.go_on else []
    if new.strips is not None:
        return Prepared(film, layout, view, frames, own_cuts(new.strips, frames, film, layout, free + more))

    def planned(slots: list[FreeSlot]) -> CutPlan:
        return plan_cuts(
            frames, film, layout, free_slots=slots, kept_together=new.kept_together,
            min_gap_mm=new.min_gap_mm, min_frames=new.min_frames,
        )  # fmt: skip

    plan = planned(free)
    if (not plan.fits or plan.forced) and more:
        longer = planned(free + more)
        if not plan.fits or len(longer.forced) < len(plan.forced):
            reason = f"One page alone: {plan.explanation}"
            if view and not plan.fits and all(strip.page != 1 for strip in longer.strips):
                # Fewest pages stands above filling up a page.
                reason = f"Page {view.number} has too few free slots, so the whole roll goes on to a new page."
            plan = replace(longer, explanation=f"{longer.explanation} {reason}")
    return Prepared(film, layout, view, frames, plan)


def preview_cuts(session: Session, new: NewRoll) -> CutPlan:
    """The cut plan as it would be registered; nothing is stored."""
    return prepare(session, new).plan


def dates_for(values: dict[str, str]) -> dict[str, str | None]:
    """Columns for the EDTF texts given: text, first and last day."""
    columns: dict[str, str | None] = {}
    for name, text in values.items():
        bounds = parse_date(text.strip()) if text.strip() else None
        columns[name] = bounds.text if bounds else ""
        columns[f"{name}_from"] = bounds.earliest.isoformat() if bounds and bounds.earliest else None
        columns[f"{name}_to"] = bounds.latest.isoformat() if bounds and bounds.latest else None
    return columns


def register_roll(session: Session, new: NewRoll) -> RollView:
    """Registers and files a roll, whole or not at all, even where the session goes on after a refusal.

    The number of a roll that waits to be sleeved fills that roll; what is left empty stays as it was noted.
    Raises `AlreadyExists` for a number issued before, `SlotTaken`, `DoesNotFit`,
    `InvalidInput` and `NotFound` with what to do.
    """
    with session.begin_nested():
        number = _write(session, new)
    return roll_view(session, number)


def waiting_roll(session: Session, number: str) -> Roll | None:
    """The roll of this number if it was noted before and waits to be sleeved."""
    plain = parse_roll_number(number)
    return session.exec(
        select(Roll)
        .join(WaitingRoll, col(WaitingRoll.roll_id) == col(Roll.id))
        .where(func.lower(Roll.number) == plain.lower(), WaitingRoll.state != "sleeved")
    ).first()


def _write(session: Session, new: NewRoll) -> str:
    """Writes every row of the roll and gives the number it got."""
    ready = prepare(session, new)
    if not ready.plan.fits:
        raise DoesNotFit(ready.plan.explanation)
    dates: dict[str, Any] = {**dates_for({name: getattr(new, name) for name in DATE_FIELDS})}
    waiting = waiting_roll(session, new.number) if new.number else None
    if waiting is not None:
        number = waiting.number
    else:
        number = claim_number(session, new.number) if new.number else next_roll_number(session)
    binder = new.binder if new.binder not in (None, "") else None
    if ready.page is None:
        binder_id = binder_row(session, binder).id if binder is not None else _last_binder(session)
    else:
        binder_id = ready.page.binder_id
        if binder is not None and binder_row(session, binder).id != binder_id:
            raise InvalidInput(f"Page {ready.page.number} lies in {ready.page.binder}, not in {binder}. Name one of them.")
    facts: dict[str, Any] = {
        n: getattr(new, n).strip() for n in ("stock", "camera", "lens", "subject", "place", "keywords", "notes")
    }
    measured = {n: getattr(new, n) for n in ("measured_along_mm", "measured_across_mm", "measured_pitch_mm")}
    if waiting is None:
        roll = Roll(
            number=number, number_sort=sort_text(number), format_key=ready.film.key, created_at=now(),
            **measured, **facts, **dates,
        )  # fmt: skip
        session.add(roll)
    else:
        roll = waiting
        roll.format_key = ready.film.key
        typed = {name: value for name, value in {**measured, **facts}.items() if value}
        typed |= {name: value for name, value in dates.items() if getattr(new, name.partition("_")[0]).strip()}
        for name, value in typed.items():
            setattr(roll, name, value)
        session.get_one(WaitingRoll, roll.id).state = "sleeved"
    session.flush()
    rows = _add_frames(session, roll, new, ready)
    page_ids = {1: ready.page.id} if ready.page else {}
    for ordinal in sorted({s.page for s in ready.plan.strips}):
        if ordinal not in page_ids:
            page_ids[ordinal] = add_page(session, binder_id or 0, ready.layout.key).id
    _add_strips(session, roll, ready, rows, page_ids)
    if new.process is not None:
        record_process(session, number, _beside_what_is_recorded(session, roll, new.process))
    index_roll(session, roll.id or 0)
    return number


def _beside_what_is_recorded(session: Session, roll: Roll, given: ProcessInput) -> ProcessInput:
    """The process as typed, and where nothing was typed as it was recorded at the sink."""
    kept = session.get(ProcessRecord, roll.id)
    if kept is None:
        return given
    typed = {name: value for name, value in given.model_dump().items() if value not in ("", None)}
    return ProcessInput.model_validate({**kept.model_dump(exclude={"roll_id"}), **typed})


def _last_binder(session: Session) -> int:
    found = session.exec(select(func.max(Page.binder_id))).one()
    if found is None:
        found = session.exec(select(Binder.id).order_by(col(Binder.position).desc())).first()
    if found is None:
        raise InvalidInput("There is no binder yet. Add one under Binders, for example Binder 1.")
    return int(found)


def _add_frames(session: Session, roll: Roll, new: NewRoll, ready: Prepared) -> dict[str, Frame]:
    rows: dict[str, Frame] = {}
    for position, frame in enumerate(ready.frames, 1):
        if frame.state not in FRAME_STATES:
            raise InvalidInput(f"A frame is one of: {', '.join(FRAME_STATES)}; not {frame.state[:20]}.")
        rows[frame.label] = Frame(
            roll_id=roll.id or 0, label=frame.label, position=position, state=frame.state,
            start_mm=frame.start_mm if new.frame_starts_mm else None,
            caption=new.captions.get(frame.label, "").strip()[:500],
        )  # fmt: skip
    session.add_all(rows.values())
    session.flush()
    return rows


def _add_strips(session: Session, roll: Roll, ready: Prepared, rows: dict[str, Frame], page_ids: dict[int, int]) -> None:
    starts = {f.label: f.start_mm for f in ready.frames}
    planned = ready.plan.strips
    for position, plan in enumerate(planned, 1):
        strip = Strip(
            roll_id=roll.id or 0,
            position=position,
            length_mm=plan.length_mm,
            page_id=page_ids[plan.page],
            slot=plan.slot,
        )
        session.add(strip)
        session.flush()
        tail_here = position > 1 and planned[position - 2].frames[-1] == plan.frames[0]
        head_here = position < len(planned) and planned[position].frames[0] == plan.frames[-1]
        # The strip begins `lead_mm` before its first picture, or in the middle of a picture cut in two.
        origin = starts[plan.frames[0]] - plan.lead_mm + (ready.film.frame_along_mm / 2 if tail_here else 0)
        for place, label in enumerate(plan.frames, 1):
            part = "tail" if tail_here and place == 1 else "head" if head_here and place == len(plan.frames) else "whole"
            if part != "whole":
                rows[label].state = "cut in two"
            session.add(
                StripFrame(
                    strip_id=strip.id or 0, frame_id=rows[label].id or 0, position=place,
                    start_mm=max(0.0, round(starts[label] - origin, 3)), part=part,
                )
            )  # fmt: skip
        session.add(StripMove(strip_id=strip.id or 0, at=now(), what="sleeved", to_page_id=strip.page_id, to_slot=strip.slot))
    session.flush()
