"""Bottles: the shelf of them, one with its ledger, rolls poured back by hand, an entry corrected."""

from collections.abc import Mapping
from dataclasses import dataclass
from dataclasses import field as filled_by
from datetime import date

from fastapi import APIRouter, Query, Request
from fastapi.responses import RedirectResponse, Response
from sqlmodel import Session

from api.dependencies import ArchiveHere, TypedForm
from api.web.bench.bottle_forms import (
    COMMON,
    FIELDS,
    Field,
    day,
    entry_from,
    figure,
    film_words,
    needed,
    numbers_in,
    typed_of,
    volume,
)
from api.web.rendering import page
from catalogue.bench.bottles.bath_evidence import bath_evidence
from catalogue.bench.bottles.by_hand import (
    bottle_cautions,
    candidates,
    clearing_outlook,
    fill_bottle,
    next_times,
    offers,
    put_rolls_through,
    says,
)
from catalogue.bench.bottles.entry_rows import kind_of
from catalogue.bench.bottles.entry_words import entry_words, ml_words
from catalogue.bench.bottles.shelf import (
    BottleView,
    add_bottle,
    bottle_view,
    list_bottles,
    roll_pass,
    throw_away_bottle,
    undo_last_entry,
    warnings_before,
    write_entry,
)
from catalogue.bench.recipes import list_recipes
from catalogue.bench.rules.baths.entries import Corrected, Filled, RollPass, Undone
from catalogue.bench.rules.baths.film_area import number_text
from catalogue.bench.rules.baths.outlook import Warnings, days_left, next_roll_number_in_bath, pace_words
from catalogue.bench.rules.figures import format_time
from catalogue.bench.supplies import bath_price, set_bath_price, supplies
from catalogue.errors import InvalidInput, NotFound, StripleafError
from catalogue.paper.label_sheets import LABEL_STOCKS
from catalogue.settings import get_units
from catalogue.store.engine import Archive

router = APIRouter()
NO_BRANCH: Mapping[str, str] = {}


def _tools(session: Session) -> dict[str, object]:
    """What every template here needs to speak of volumes and days."""
    units = get_units(session)
    return {
        "units": units, "today": date.today(), "ml": lambda ml: ml_words(ml, units), "number": number_text, "clock": format_time,
        "figure": lambda ml: figure(ml, units), "days_left": days_left,
    }  # fmt: skip


def _shelf(
    request: Request, archive: Archive, *, problem: str = "", status: int = 200, form: Mapping[str, str] = NO_BRANCH
) -> Response:
    with archive.session(reading=True) as session:
        views = list_bottles(session, all_of_them=True)
        today = date.today()
        return page(
            request, "bottles.html", status=status, problem=problem, form=form, says={v.id: says(v, today) for v in views},
            bottles=[v for v in views if not v.thrown_away], gone=[v for v in views if v.thrown_away], **_tools(session),
        )  # fmt: skip


@router.get("/bench/bottles")
def shelf(request: Request, archive: ArchiveHere) -> Response:
    """Every bottle: what is in it, what is left, how long it keeps."""
    return _shelf(request, archive)


@router.post("/bench/bottles")
def add(request: Request, archive: ArchiveHere, form: TypedForm) -> Response:
    """Adds a bottle."""
    try:
        with archive.session() as session:
            holds = needed(form.get("holds", ""), get_units(session), "The volume that the bottle holds")
            key = add_bottle(session, form.get("name", ""), float(holds), form.get("notes", "")[:400]).id
    except StripleafError as trouble:
        return _shelf(request, archive, problem=str(trouble), status=422, form=form)
    return RedirectResponse(f"/bench/bottles/{key}", status_code=303)


def _show(
    request: Request,
    archive: Archive,
    bottle_id: int,
    *,
    problem: str = "",
    status: int = 200,
    form: Mapping[str, str] = NO_BRANCH,
) -> Response:
    with archive.session(reading=True) as session:
        view = bottle_view(session, bottle_id)
        units, bath, today = get_units(session), view.bath, date.today()
        last = view.state.baths[-1] if view.state.baths else None
        chemicals = sorted({s.chemical for r in list_recipes(session) for s in r.steps if s.chemical and s.solution == "bath"})
        return page(
            request, "bottle.html", status=status, problem=problem, form=form, view=view, bath=bath, last=last,
            said=says(view, today), clearing=clearing_outlook(view), next_times=next_times(session, view),
            next_roll=next_roll_number_in_bath(bath) if bath else 1,
            pace=pace_words(bath, today) if bath and bath.passes else None,
            offers=offers(session, view), candidates=candidates(session, view), evidence=bath_evidence(session, view),
            lines=[(m, kind_of(m.entry), entry_words(m.entry, units)) for m in view.entries], fields=_fields(view), common=COMMON,
            cautions=bottle_cautions(session, view.state.chemical), stocks=LABEL_STOCKS.values(), chemicals=chemicals,
            currency=supplies(session).currency, price=bath_price(session, bottle_id, bath.entry) if bath else "",
            **_tools(session),
        )  # fmt: skip


def _fields(view: BottleView) -> dict[str, tuple[Field, ...]]:
    """The fields of every kind; a bottle that never held anything needs no word about another chemical."""
    fill = tuple(f for f in FIELDS["filled"] if f.name != "word" or view.state.chemical)
    return FIELDS | {"filled": fill}


@router.get("/bench/bottles/{bottle_id}")
def one(request: Request, bottle_id: int, archive: ArchiveHere) -> Response:
    """One bottle."""
    return _show(request, archive, bottle_id)


@router.post("/bench/bottles/{bottle_id}")
def change(request: Request, bottle_id: int, archive: ArchiveHere, form: TypedForm) -> Response:
    """One form of the bottle's page, told apart by its button."""
    do = form.get("do", "")
    try:
        with archive.session() as session:
            if do == "undo":
                undo_last_entry(session, bottle_id, form.get("word", ""))
            elif do in ("thrown away", "back"):
                throw_away_bottle(session, bottle_id, do == "thrown away")
            elif do == "price":
                _keep_price(session, bottle_id, form.get("price", ""))
            else:
                entry = entry_from(session, do, form, get_units(session))
                if isinstance(entry, Filled):
                    fill_bottle(session, bottle_id, entry, form.get("price", ""))
                else:
                    write_entry(session, bottle_id, entry)
    except NotFound as trouble:
        with archive.session(reading=True) as session:
            bottle_view(session, bottle_id)  # a bottle that isn't there has no page to say it on
        return _show(request, archive, bottle_id, problem=str(trouble), status=404, form=form)
    except StripleafError as trouble:
        return _show(request, archive, bottle_id, problem=str(trouble), status=422, form=form)
    return RedirectResponse(f"/bench/bottles/{bottle_id}", status_code=303)


def _keep_price(session: Session, bottle_id: int, price: str) -> None:
    view = bottle_view(session, bottle_id)
    if view.bath is None:
        raise InvalidInput(f"{view.name} is empty, so there is no lot to have a price. Fill it first.")
    set_bath_price(session, bottle_id, view.bath.entry, price)


@dataclass(frozen=True)
class _RollsGoing:
    """The rolls about to be written down, and what speaks against them."""

    view: BottleView
    rolls: tuple[RollPass, ...] = ()
    found: Warnings = filled_by(default_factory=Warnings)
    problem: str = ""


def _batch(session: Session, bottle_id: int, numbers: tuple[str, ...], form: Mapping[str, str]) -> _RollsGoing:
    view = bottle_view(session, bottle_id)
    try:
        rolls = tuple(roll_pass(session, number) for number in dict.fromkeys(numbers))
        ml = volume(form.get("ml", ""), get_units(session))
        found = warnings_before(
            session, bottle_id, tuple(one.roll for one in rolls), day(form.get("on", "")), None if ml is None else float(ml)
        )
    except StripleafError as trouble:
        return _RollsGoing(view, problem=str(trouble))
    return _RollsGoing(view, rolls, found)


def _before(
    request: Request, session: Session, bottle_id: int, numbers: tuple[str, ...], form: Mapping[str, str], *,
    problem: str = "", status: int = 200,
) -> Response:  # fmt: skip
    batch = _batch(session, bottle_id, numbers, form)
    return page(
        request, "bottle_rolls.html", status=status if problem or not batch.problem else 422, problem=problem or batch.problem,
        view=batch.view, numbers=numbers, rolls=batch.rolls, words=film_words(batch.rolls), found=batch.found, form=form,
        kinds={one.kind for one in batch.found.to_overrule}, **_tools(session),
    )  # fmt: skip


@router.get("/bench/bottles/{bottle_id}/rolls")
def before(
    request: Request, bottle_id: int, archive: ArchiveHere, roll: list[str] = Query(default=[], max_length=200), more: str = ""
) -> Response:
    """What is to be said before these rolls go in; the same page writes them down."""
    with archive.session(reading=True) as session:
        return _before(request, session, bottle_id, (*roll, *numbers_in(more)), {})


@router.post("/bench/bottles/{bottle_id}/rolls")
def poured_back(request: Request, bottle_id: int, archive: ArchiveHere, form: TypedForm) -> Response:
    """Writes the rolls down, or says what speaks against it with everything typed still there."""
    numbers = numbers_in(form.get("numbers", ""))
    try:
        with archive.session() as session:
            units = get_units(session)
            put_rolls_through(
                session, bottle_id, numbers, day(form.get("on", "")), ml=volume(form.get("ml", ""), units),
                back_ml=volume(form.get("back", ""), units), overrule=form.get("overrule", ""), again=form.get("again", ""),
                note=form.get("note", ""),
            )  # fmt: skip
    except StripleafError as trouble:
        with archive.session(reading=True) as session:
            return _before(request, session, bottle_id, numbers, form, problem=str(trouble), status=422)
    return RedirectResponse(f"/bench/bottles/{bottle_id}", status_code=303)


def _entry_page(
    request: Request, archive: Archive, bottle_id: int, number: int, *, problem: str = "", status: int = 200,
    form: Mapping[str, str] | None = None,
) -> Response:  # fmt: skip
    with archive.session(reading=True) as session:
        view, units = bottle_view(session, bottle_id), get_units(session)
        if not 1 <= number <= len(view.entries):
            raise NotFound(f"There is no entry {number} in the ledger of {view.name}. It has {len(view.entries)}.")
        marked = view.entries[number - 1]
        standing = marked.entry
        if marked.corrected_by is not None:
            correction = view.entries[marked.corrected_by - 1].entry
            standing = correction.instead if isinstance(correction, Corrected) else standing
        kind = kind_of(marked.entry)
        typed = {} if isinstance(standing, Undone | Corrected) else typed_of(standing, units)
        return page(
            request, "bottle_entry.html", status=status, problem=problem, view=view, marked=marked, kind=kind,
            words=entry_words(marked.entry, units), form=typed if form is None else form,
            fields=[f for f in FIELDS.get(kind, ()) if f.name != "price"], common=COMMON, **_tools(session),
        )  # fmt: skip


@router.get("/bench/bottles/{bottle_id}/entries/{number}")
def entry(request: Request, bottle_id: int, number: int, archive: ArchiveHere) -> Response:
    """An entry to be corrected, undone or brought back."""
    return _entry_page(request, archive, bottle_id, number)


@router.post("/bench/bottles/{bottle_id}/entries/{number}")
def correct(request: Request, bottle_id: int, number: int, archive: ArchiveHere, form: TypedForm) -> Response:
    """Writes a correction, or undoes this entry or the undoing of it; the entry itself stays."""
    try:
        with archive.session() as session:
            view = bottle_view(session, bottle_id)
            if not 1 <= number <= len(view.entries):
                raise NotFound(f"There is no entry {number} in the ledger of {view.name}. It has {len(view.entries)}.")
            marked, word, today = view.entries[number - 1], form.get("word_why", ""), date.today()
            if form.get("do") == "undo":
                write_entry(session, bottle_id, Undone(on=today, of=number, word=word))
            elif form.get("do") == "bring back":
                write_entry(session, bottle_id, Undone(on=today, of=marked.undone_by or number, word=word))
            else:
                instead = entry_from(session, kind_of(marked.entry), form, get_units(session), marked.entry)
                write_entry(session, bottle_id, Corrected(on=today, of=number, instead=instead, word=word))
    except StripleafError as trouble:
        return _entry_page(request, archive, bottle_id, number, problem=str(trouble), status=422, form=form)
    return RedirectResponse(f"/bench/bottles/{bottle_id}#ledger", status_code=303)
