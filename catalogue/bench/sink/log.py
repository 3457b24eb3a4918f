"""At the sink: what really happened is kept as facts with their times, each once, however often a device sends it."""

from datetime import UTC, datetime
from math import isfinite

from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session, col, select

from catalogue.bench.sink.plan import steps_from
from catalogue.bench.sink.sink_views import SessionRoll, SessionView, SinkFact
from catalogue.clock import now
from catalogue.errors import InvalidInput, NotFound
from catalogue.own_shapes import format_of
from catalogue.store.tables.bench import FACTS, OPEN_STATES, Tank, TankFact, TankRoll, TankSession, WaitingRoll
from catalogue.store.tables.rolls import Roll


class NewFact(BaseModel):
    """What happened: `what` is begun, ended, temperature (°C in `value`), note or skipped (why in `value`)."""

    model_config = ConfigDict(extra="forbid")
    key: str = Field(min_length=1, max_length=80, description="The device's own, so that a fact sent twice is kept once.")
    step: int = Field(ge=1, le=40)
    what: str = Field(max_length=20)
    at: str = Field(max_length=40, description="ISO 8601 with its offset.", examples=["2031-05-14T18:03:15Z"])
    value: str = Field(default="", max_length=300)


def session_row(session: Session, session_id: int) -> TankSession:
    """The session at the sink; raises `NotFound`."""
    found = session.get(TankSession, session_id)
    if found is None:
        raise NotFound(f"There is no session {session_id}. Look under Sessions at the sink.")
    return found


def session_view(session: Session, session_id: int) -> SessionView:
    """A session as planned and as it went; facts taken back are left out. Raises `NotFound`."""
    row = session_row(session, session_id)
    process, push, steps = steps_from(row.steps)
    tank = session.get(Tank, row.tank_id) if row.tank_id else None
    pairs = session.exec(
        select(TankRoll, Roll, WaitingRoll)
        .join(Roll, col(Roll.id) == col(TankRoll.roll_id))
        .join(WaitingRoll, col(WaitingRoll.roll_id) == col(Roll.id))
        .where(TankRoll.session_id == session_id)
        .order_by(col(TankRoll.reel), col(Roll.number_sort))
    )
    rolls = tuple(
        SessionRoll(
            roll.number, on.reel, on.clip, format_of(session, roll.format_key).name, roll.stock, roll.camera,
            waiting.frames_expected, on.told_by,
        )
        for on, roll, waiting in pairs
    )  # fmt: skip
    facts = session.exec(
        select(TankFact).where(TankFact.session_id == session_id, col(TankFact.taken_back).is_(False)).order_by(col(TankFact.id))
    )
    return SessionView(
        session_id, row.title, process, row.state, tank.name if tank else "", row.volume_ml, rolls, steps,
        tuple(SinkFact(f.key, f.step, f.what, f.at, f.value) for f in facts), row.planned_at, row.begun_at, row.ended_at,
        row.done_by, row.notes, push, row.recipe_id,
    )  # fmt: skip


def list_sessions(session: Session, *states: str) -> tuple[SessionView, ...]:
    """Sessions of these states or of all, the newest first."""
    query = select(TankSession.id).order_by(col(TankSession.id).desc())
    if states:
        query = query.where(col(TankSession.state).in_(states))
    return tuple(session_view(session, key or 0) for key in session.exec(query))


def goes_on(view: SessionView) -> bool:
    """Whether the session is planned or under way."""
    return view.state in OPEN_STATES


def going_sessions(session: Session) -> tuple[SessionView, ...]:
    """Sessions planned or under way, the newest first."""
    return list_sessions(session, *OPEN_STATES)


def sessions_of(session: Session, roll_id: int) -> tuple[SessionView, ...]:
    """The sessions that a roll was in, the newest first; those given up are left out."""
    query = (
        select(TankRoll.session_id)
        .join(TankSession, col(TankSession.id) == col(TankRoll.session_id))
        .where(TankRoll.roll_id == roll_id, TankSession.state != "given up")
        .order_by(col(TankRoll.session_id).desc())
    )
    return tuple(session_view(session, key) for key in session.exec(query))


def moment(text: str) -> datetime:
    """The moment in UTC; raises `InvalidInput` for what is none, or has no offset."""
    try:
        found = datetime.fromisoformat(text.strip())
    except ValueError as problem:
        raise InvalidInput(f"“{text[:40]}” is no moment. Write it as 2031-05-14T18:03:15Z.") from problem
    if found.tzinfo is None:
        raise InvalidInput(f"“{text[:40]}” has no offset from UTC. Add Z, or for example +02:00.")
    return found.astimezone(UTC)


def log_fact(session: Session, session_id: int, given: NewFact) -> SessionView:
    """Keeps a fact; one whose key is known changes nothing. Raises `InvalidInput` and `NotFound`."""
    row = session_row(session, session_id)
    known = session.exec(select(TankFact).where(TankFact.session_id == session_id, TankFact.key == given.key)).first()
    if known is not None:
        return session_view(session, session_id)
    if row.state not in ("planned", "under way"):
        raise InvalidInput(f"Session {session_id} is {row.state}; nothing more can be logged at the sink.")
    if given.what not in FACTS:
        raise InvalidInput(f"“{given.what[:20]}” can't be logged. Known are: {', '.join(FACTS)}.")
    steps = steps_from(row.steps)[2]
    if given.step > len(steps):
        raise InvalidInput(f"Session {session_id} has steps 1 to {len(steps)}, no step {given.step}.")
    value = " ".join(given.value.split())
    if given.what == "temperature":
        value = _degrees(value)
    session.add(
        TankFact(
            session_id=session_id, key=given.key, step=given.step, what=given.what,
            at=moment(given.at).isoformat(timespec="milliseconds"), value=value,
        )
    )  # fmt: skip
    if given.what == "begun" and row.state == "planned":
        row.state, row.begun_at = "under way", now()
    session.flush()
    return session_view(session, session_id)


def _degrees(text: str) -> str:
    try:
        found = float(text.replace(",", "."))
    except ValueError:
        found = float("nan")
    if not (isfinite(found) and 0 <= found <= 60):
        raise InvalidInput(f"“{text[:20]}” is no temperature of a bath. Give 0 to 60 °C.")
    return f"{found:g}"


def take_back_fact(session: Session, session_id: int, key: str) -> SessionView:
    """Takes a fact back; it stays in the archive, marked. A fact that isn't known changes nothing."""
    row = session_row(session, session_id)
    if row.state not in ("planned", "under way"):
        raise InvalidInput(f"Session {session_id} is {row.state}; what was logged stays as it is.")
    known = session.exec(select(TankFact).where(TankFact.session_id == session_id, TankFact.key == key)).first()
    if known is not None:
        known.taken_back = True
        session.flush()
    return session_view(session, session_id)


def give_up_session(session: Session, session_id: int) -> SessionView:
    """Gives up a session that never began; its rolls wait again. Raises `InvalidInput` where film went in already."""
    row = session_row(session, session_id)
    if row.state not in ("planned", "given up"):
        raise InvalidInput(f"Session {session_id} is {row.state}: film went in. Finish it, and say in a note what went wrong.")
    row.state = "given up"
    session.flush()
    return session_view(session, session_id)


def actual_seconds(view: SessionView, step: int) -> int | None:
    """How long a step really took, from its last beginning to its end; None where one of them wasn't logged."""
    begun = [f for f in view.facts if f.step == step and f.what == "begun"]
    ended = [f for f in view.facts if f.step == step and f.what == "ended"]
    if not begun or not ended:
        return None
    span = (moment(ended[-1].at) - moment(begun[-1].at)).total_seconds()
    return round(span) if span > 0 else None


def actual_celsius(view: SessionView, step: int) -> tuple[float, ...]:
    """The temperatures logged during a step, in °C."""
    return tuple(float(f.value) for f in view.facts if f.step == step and f.what == "temperature")


def skipped(view: SessionView, step: int) -> str:
    """Why a step was skipped; empty where it wasn't."""
    words = [f.value or "no reason given" for f in view.facts if f.step == step and f.what == "skipped"]
    return words[-1] if words else ""
