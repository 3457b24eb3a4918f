"""Registering a roll on one screen; the cut plan is shown before anything is saved."""

import re
from collections.abc import Sequence
from contextlib import suppress
from typing import Any
from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from pydantic import ValidationError
from sqlmodel import Session

from api.dependencies import ArchiveHere, TypedForm
from api.json.desk.prints import now_for, printed
from api.web.rendering import page
from api.web.typed import is_whole, refusal, whole
from catalogue.bench.waiting import waiting_view
from catalogue.errors import InvalidInput, NotFound, StripleafError
from catalogue.film.frame_numbers import parse_frames
from catalogue.own_shapes import all_formats, all_layouts
from catalogue.rolls.change import offered
from catalogue.rolls.offers import last_binders, pages_to_choose, suggestions
from catalogue.rolls.plan import NewRoll, preview_cuts
from catalogue.rolls.process import ProcessInput
from catalogue.rolls.register import register_roll
from catalogue.rolls.rows import range_of
from catalogue.settings import get_units
from catalogue.sleeves.cut_plan import CutPlan
from catalogue.views import BinderView
from printing.kinds.sheets.cut_card import CutCardAsked

router = APIRouter()
_TEXTS = ("stock", "camera", "lens", "exposed", "processed", "subject", "place", "keywords", "notes")


def ranges_of(plan: CutPlan | None) -> list[str]:
    """The frames of each strip as a range: "1-6", "7-12"."""
    return [range_of(s.frames) for s in plan.strips] if plan else []


def new_roll_from(form: dict[str, str]) -> NewRoll:
    """The form's fields as a roll; raises `InvalidInput` with one sentence."""
    place = form.get("where", "new")
    cuts = form.get("cuts", "").strip()
    values: dict[str, Any] = {name: form.get(name, "").strip() for name in _TEXTS}
    values |= {
        "number": form.get("number", "").strip() or None,
        "format": form.get("format", ""),
        "frames": form.get("frames", "").strip() or None,
        "binder": form.get("binder", "").strip() or None,
        "layout": form.get("layout", "") or None,
        "page_id": int(place) if is_whole(place) else None,
        "first_slot": whole(form.get("first_slot", ""), "slot"),
        "kept_together": [[f.text for f in parse_frames(g)] for g in form.get("kept", "").split("|") if g.strip()],
        "strips": [[f.text for f in parse_frames(part)] for part in cuts.split("|")] if cuts else None,
    }
    if values["frames"] and re.fullmatch(r"\d+ frames?", values["frames"]):
        values["frames"] = int(values["frames"].split()[0])
    if values["page_id"]:
        values["binder"] = values["layout"] = None
    process = {name: form.get(name, "").strip() for name in ("process", "developer", "dilution")}
    try:
        if any(process.values()):
            values["process"] = ProcessInput.model_validate(process)
        return NewRoll(**values)
    except ValidationError as problem:
        raise InvalidInput(refusal(problem)) from problem


def _places(binders: Sequence[BinderView]) -> list[tuple[str, str]]:
    """Pages with free slots, for choosing."""
    return [
        (
            str(p.id),
            f"{b.name}, page {p.number} – {p.layout_name} – {p.free_slots} of {p.slot_count} slots free",
        )
        for b in binders
        for p in b.pages
        if p.free_slots
    ]


def _screen(
    request: Request,
    session: Session,
    form: dict[str, str],
    *,
    plan: CutPlan | None,
    problem: str = "",
    status: int = 200,
) -> Response:
    here = form.get("binder", "").strip()
    binders = last_binders(session, here)
    places: list[tuple[str, str]] = []
    with suppress(NotFound):  # a name typed wrong is told when the roll is planned
        places = _places(pages_to_choose(session, [here] if here else binders[-1:]))
    return page(
        request, "register.html", status=status, form=form, plan=plan, problem=problem,
        units=get_units(session), cuts=" | ".join(ranges_of(plan)), ranges=ranges_of(plan),
        formats=all_formats(session), layouts=all_layouts(session), binders=binders,
        places=places, known=suggestions(session),
    )  # fmt: skip


@router.get("/register")
def register(request: Request, archive: ArchiveHere, roll: str = "") -> Response:
    """The screen with everything offered; for a `roll` that waits to be sleeved, with that one's facts."""
    with archive.session(reading=True) as session:
        known = waiting_view(session, roll) if roll else None
        offer = offered(session, waiting=known.number if known else None)
        form = {
            "number": offer.number, "where": str(offer.page_id or "new"), "binder": offer.binder or "",
            "layout": offer.layout, "first_slot": str(offer.first_slot), "format": offer.format, "stock": offer.stock,
            "camera": offer.camera, "lens": offer.lens, "process": offer.process, "developer": offer.developer,
        }  # fmt: skip
        if known and known.frames_expected:
            form["frames"] = f"{known.frames_expected} frames"
        problem, plan = "", None
        try:
            plan = preview_cuts(session, new_roll_from(form))
            form["frames"] = range_of([label for s in plan.strips for label in s.frames])
        except StripleafError as trouble:
            problem = str(trouble)
        return _screen(request, session, form, plan=plan, problem=problem)


@router.post("/register/plan")
def plan_fragment(request: Request, archive: ArchiveHere, form: TypedForm) -> Response:
    """The cut plan for what is typed so far, as a piece of the screen."""
    plan, problem = None, ""
    with archive.session(reading=True) as session:
        units = get_units(session)
        try:
            plan = preview_cuts(session, new_roll_from(form))
        except StripleafError as trouble:
            problem = str(trouble)
    return page(request, "cut_plan.html", units=units, plan=plan, ranges=ranges_of(plan), problem=problem)


@router.post("/register")
def save(request: Request, archive: ArchiveHere, form: TypedForm) -> Response:
    """Registers the roll, or shows the screen again with what is wrong and everything typed."""
    try:
        new = new_roll_from(form)
        if form.get("do") == "card":
            return printed(archive, CutCardAsked.of(new), now_for(request))
        if form.get("do") == "plan":
            with archive.session(reading=True) as session:
                return _screen(request, session, form, plan=preview_cuts(session, new))
        with archive.session() as session:
            number = register_roll(session, new)
    except StripleafError as trouble:
        with archive.session(reading=True) as session:
            return _screen(request, session, form, plan=None, problem=str(trouble), status=422)
    return RedirectResponse(f"/rolls/{quote(number)}?new=1", status_code=303)
