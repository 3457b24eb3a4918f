"""A roll to register, worked out before anything is stored: its frames, its page and its cuts."""

from dataclasses import dataclass, replace

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session

from catalogue.errors import InvalidInput, SlotTaken
from catalogue.film.formats import FilmFormat
from catalogue.film.frame_numbers import MAX_FRAMES, FrameNumber, count_frames, parse_frames
from catalogue.own_shapes import format_of, layout_of
from catalogue.rolls.facts import LENGTHS
from catalogue.rolls.page import page_view
from catalogue.rolls.process import ProcessInput
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
from catalogue.views import PageView


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
    stock: str = Field(default="", max_length=LENGTHS["stock"])
    camera: str = Field(default="", max_length=LENGTHS["camera"])
    lens: str = Field(default="", max_length=LENGTHS["lens"])
    exposed: str = Field(default="", max_length=LENGTHS["exposed"], description="EDTF", examples=["2031-05~"])
    processed: str = Field(default="", max_length=LENGTHS["processed"], description="EDTF")
    sleeved: str = Field(default="", max_length=LENGTHS["sleeved"], description="EDTF")
    subject: str = Field(default="", max_length=LENGTHS["subject"])
    place: str = Field(default="", max_length=LENGTHS["place"])
    keywords: str = Field(default="", max_length=LENGTHS["keywords"])
    notes: str = Field(default="", max_length=LENGTHS["notes"])
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
