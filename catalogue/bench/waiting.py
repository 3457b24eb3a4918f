"""Film before it is sleeved: what is loaded in each camera, what is exposed and waits, what is processed and dries."""

from typing import Any, Literal

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session, col, func, select

from catalogue.bench.waiting_views import WaitingView
from catalogue.clock import now
from catalogue.errors import AlreadyExists, InvalidInput, NotFound
from catalogue.film.cassette_code import CassetteCode
from catalogue.film.dates import parse_date
from catalogue.film.roll_numbers import sort_text
from catalogue.own_shapes import format_of
from catalogue.rolls.number import claim_number, give_back_numbers, issue_number, next_roll_number, record_gap
from catalogue.rolls.register import dates_for
from catalogue.rolls.rows import roll_row
from catalogue.store.index import forget_roll, index_roll
from catalogue.store.tables.bench import Recipe, StockFacts, TankRoll, WaitingRoll
from catalogue.store.tables.rolls import FormerNumber, ProcessRecord, Roll
from catalogue.store.tables.scans import DxStock

FilmState = Literal["loaded", "exposed", "processed"]
_ROLL_TEXTS = ("stock", "camera", "lens", "subject", "place")


class NewWaiting(BaseModel):
    """A roll to note before it is sleeved; only where it stands is needed. Dates are EDTF."""

    model_config = ConfigDict(extra="forbid")
    number: str | None = Field(default=None, description="None issues the next number.", examples=["2031-015"])
    state: FilmState = "exposed"
    format: str = Field(default="135-24x36", max_length=60)
    cassette_code: str = Field(default="", max_length=40, description="The six digits under the bar code.", examples=["012714"])
    stock: str = Field(default="", max_length=120)
    camera: str = Field(default="", max_length=120)
    lens: str = Field(default="", max_length=120)
    exposed: str = Field(default="", max_length=60)
    loaded_on: str = Field(default="", max_length=60)
    finished_on: str = Field(default="", max_length=60)
    exposure_index: float | None = Field(default=None, gt=0, le=1_000_000)
    push_stops: float = Field(default=0.0, ge=-5, le=5)
    frames_expected: int | None = Field(default=None, ge=1, le=400)
    recipe_id: int | None = None
    subject: str = Field(default="", max_length=500)
    place: str = Field(default="", max_length=500)
    remarks: str = Field(default="", max_length=2000)


class WaitingChanges(BaseModel):
    """What is to change about a waiting roll; None leaves a field as it is."""

    model_config = ConfigDict(extra="forbid")
    state: FilmState | None = None
    stock: str | None = Field(default=None, max_length=120)
    camera: str | None = Field(default=None, max_length=120)
    lens: str | None = Field(default=None, max_length=120)
    exposed: str | None = Field(default=None, max_length=60)
    loaded_on: str | None = Field(default=None, max_length=60)
    finished_on: str | None = Field(default=None, max_length=60)
    exposure_index: float | None = Field(default=None, gt=0, le=1_000_000)
    push_stops: float | None = Field(default=None, ge=-5, le=5)
    frames_expected: int | None = Field(default=None, ge=1, le=400)
    recipe_id: int | None = None
    subject: str | None = Field(default=None, max_length=500)
    place: str | None = Field(default=None, max_length=500)
    remarks: str | None = Field(default=None, max_length=2000)


def note_roll(session: Session, given: NewWaiting) -> WaitingView:
    """Gives a roll its number before it is sleeved; a cassette's code tells the stock and the exposures where known.

    Raises `AlreadyExists` for a number issued before or a camera that holds another roll, and `InvalidInput`.
    """
    with session.begin_nested():
        film = format_of(session, given.format)
        stock, expected = given.stock.strip(), given.frames_expected
        if given.cassette_code.strip():
            code = CassetteCode.parse(given.cassette_code)
            stock = _stock_of(session, code, stock)
            expected = expected or code.exposures
        _check_dates(given.loaded_on, given.finished_on)
        _check_recipe(session, given.recipe_id)
        if given.state == "loaded":
            _check_camera(session, given.camera)
        number = claim_number(session, given.number) if given.number else next_roll_number(session)
        texts = {name: getattr(given, name).strip() for name in _ROLL_TEXTS} | {"stock": stock}
        dates: dict[str, Any] = {**dates_for({"exposed": given.exposed})}
        roll = Roll(number=number, number_sort=sort_text(number), format_key=film.key, created_at=now(), **texts, **dates)
        session.add(roll)
        session.flush()
        issue_number(session, number, roll.id)
        session.add(
            WaitingRoll(
                roll_id=roll.id or 0, state=given.state, loaded_on=given.loaded_on.strip(), finished_on=given.finished_on.strip(),
                exposure_index=given.exposure_index, push_stops=given.push_stops, frames_expected=expected,
                cassette_code=given.cassette_code.strip(), recipe_id=given.recipe_id, remarks=given.remarks.strip(),
            )
        )  # fmt: skip
        session.flush()
        index_roll(session, roll.id or 0)
    return waiting_view(session, number)


def known_stock(session: Session, code: CassetteCode) -> str:
    """The stock that the person named once for this DX number, or nothing."""
    known = session.get(DxStock, code.stock.dx_number)
    return known.stock if known else ""


def _stock_of(session: Session, code: CassetteCode, typed: str) -> str:
    """The stock typed or named before; a name typed for the first time is remembered for the next cassette."""
    known = known_stock(session, code)
    if typed and not known:
        session.add(DxStock(dx_number=code.stock.dx_number, stock=typed))
    return typed or known


def _check_dates(*texts: str) -> None:
    for text in texts:
        if text.strip():
            parse_date(text.strip())


def _check_recipe(session: Session, recipe_id: int | None) -> None:
    if recipe_id is not None and session.get(Recipe, recipe_id) is None:
        raise NotFound(f"There is no recipe {recipe_id}. Choose one of those under Recipes, or none.")


def _check_camera(session: Session, camera: str, but: int | None = None) -> None:
    """A camera, or a film back with a name of its own, holds one roll."""
    plain = camera.strip()
    if not plain:
        raise InvalidInput("Say which camera the roll is loaded in, or note it as exposed.")
    inside = session.exec(
        select(Roll)
        .join(WaitingRoll, col(WaitingRoll.roll_id) == col(Roll.id))
        .where(WaitingRoll.state == "loaded", func.lower(Roll.camera) == plain.lower(), Roll.id != but)
    ).first()
    if inside is not None:
        raise AlreadyExists(
            f"{plain} holds roll {inside.number} already. Note that one as exposed first, or name the film back, "
            f"for example {plain}, back 2."
        )


def change_waiting(session: Session, number: str, changes: WaitingChanges) -> WaitingView:
    """Changes what is known of a waiting roll, also where it stands; raises `NotFound` for one that doesn't wait."""
    with session.begin_nested():
        roll, row = _rows(session, number)
        given = changes.model_dump(exclude_none=True)
        _check_dates(given.get("loaded_on", ""), given.get("finished_on", ""))
        _check_recipe(session, changes.recipe_id)
        if given.get("state", row.state) == "loaded" and {"state", "camera"} & given.keys():
            _check_camera(session, given.get("camera", roll.camera), roll.id)
        if "exposed" in given:
            for name, value in dates_for({"exposed": given.pop("exposed")}).items():
                setattr(roll, name, value)
        for name, value in given.items():
            setattr(roll if name in _ROLL_TEXTS else row, name, value.strip() if isinstance(value, str) else value)
        session.flush()
        index_roll(session, roll.id or 0)
    return waiting_view(session, roll.number)


def drop_waiting(session: Session, number: str, reason: str) -> None:
    """Takes back the note of a roll that never came to anything; its number becomes a gap with the reason.

    Raises `InvalidInput` for a roll that was in a tank or has a process record: what happened to film stays written.
    """
    roll, row = _rows(session, number)
    if (
        session.get(ProcessRecord, roll.id) is not None
        or session.exec(select(TankRoll).where(TankRoll.roll_id == roll.id)).first()
    ):
        raise InvalidInput(
            f"Roll {roll.number} was planned or processed, so its note stays. Sleeve it, or say in the remarks what became of it."
        )
    if not reason.strip():
        raise InvalidInput("Say why the number has no roll: never used, blank, destroyed, away or unknown.")
    with session.begin_nested():
        former = session.exec(select(FormerNumber).where(FormerNumber.roll_id == roll.id)).all()
        forget_roll(session, roll.id or 0)
        give_back_numbers(session, roll.id or 0)
        for gone in (row, *former):
            session.delete(gone)
        session.flush()
        freed = [roll.number, *(f.number for f in former)]
        session.delete(roll)
        session.flush()
        for one in freed:
            record_gap(session, one, reason)


def _rows(session: Session, number: str) -> tuple[Roll, WaitingRoll]:
    roll = roll_row(session, number)
    row = session.get(WaitingRoll, roll.id)
    if row is None or row.state == "sleeved":
        raise NotFound(f"Roll {roll.number} doesn't wait: it is in its sleeves. Look it up under Find.")
    return roll, row


def _view(session: Session, roll: Roll, row: WaitingRoll) -> WaitingView:
    film = format_of(session, roll.format_key)
    facts = session.get(StockFacts, roll.stock) if roll.stock else None
    recipe = session.get(Recipe, row.recipe_id) if row.recipe_id else None
    days = [parse_date(t).earliest for t in (row.finished_on, roll.exposed, row.loaded_on) if t]
    first = next((d.isoformat() for d in days if d), None)
    return WaitingView(
        roll_id=roll.id or 0, number=roll.number, state=row.state, format_key=film.key, format_name=film.name, gauge=film.gauge,
        stock=roll.stock, camera=roll.camera, lens=roll.lens, exposed=roll.exposed, loaded_on=row.loaded_on,
        finished_on=row.finished_on, since=first, exposure_index=row.exposure_index,
        stock_speed=facts.speed if facts else None, push_stops=row.push_stops, frames_expected=row.frames_expected,
        cassette_code=row.cassette_code, recipe_id=row.recipe_id, recipe=recipe.name if recipe else "",
        subject=roll.subject, place=roll.place, remarks=row.remarks,
    )  # fmt: skip


def waiting_view(session: Session, number: str) -> WaitingView:
    """A roll that waits; raises `NotFound` for one that is unknown or sleeved."""
    return _view(session, *_rows(session, number))


def waiting_film(session: Session, *states: FilmState) -> tuple[WaitingView, ...]:
    """Rolls not sleeved yet, of these states or of all: the one that waits longest first, those without a date last."""
    query = select(Roll, WaitingRoll).join(WaitingRoll, col(WaitingRoll.roll_id) == col(Roll.id))
    query = query.where(col(WaitingRoll.state).in_(states or ("loaded", "exposed", "processed")))
    found = [_view(session, roll, row) for roll, row in sorted(session.exec(query), key=lambda pair: pair[0].number_sort)]
    return tuple(sorted(found, key=lambda w: (w.since is None, w.since or "")))
