"""Sessions at the sink: worked out, planned, logged, finished, hung, told apart; and the contract of the clock."""

from dataclasses import asdict
from typing import Any

from fastapi import APIRouter
from pydantic import BaseModel, ConfigDict, Field

from api.dependencies import ArchiveHere
from api.errors import PROBLEMS
from catalogue.bench.sink.hang import finish_session, hang_rolls, tell_roll
from catalogue.bench.sink.log import NewFact, give_up_session, list_sessions, log_fact, session_view, take_back_fact
from catalogue.bench.sink.plan import NewSession, plan_session, work_out
from catalogue.bench.sink.sink_views import SessionView
from catalogue.bench.sink.sink_words import clock_state

router = APIRouter(prefix="/sessions", responses=PROBLEMS, tags=["bench"])


class SessionOut(BaseModel):
    """A session: times in s, temperatures in °C, volumes in ml; `log` has what really happened, `steps` what was planned."""

    id: int
    title: str
    process: str
    state: str
    tank: str
    volume_ml: float | None
    push_stops: float
    rolls: list[dict[str, Any]]
    steps: list[dict[str, Any]]
    log: list[dict[str, Any]]
    planned_at: str
    begun_at: str
    ended_at: str
    done_by: str
    notes: str

    @classmethod
    def of(cls, view: SessionView) -> "SessionOut":
        """From the read model."""
        values = asdict(view)
        return cls.model_validate({**values, "log": values["facts"]})


class WorkedOut(BaseModel):
    """A session worked out, nothing stored; `grave` must be overruled before it can be planned."""

    volume_ml: float | None
    volume_words: str
    steps: list[dict[str, Any]]
    said: list[dict[str, Any]]
    grave: list[dict[str, Any]]


class Finish(BaseModel):
    """What was poured back, in ml by step; what is left out came back whole."""

    model_config = ConfigDict(extra="forbid")
    poured_back_ml: dict[int, float] = {}


class Told(BaseModel):
    """What is seen on a dry strip."""

    model_config = ConfigDict(extra="forbid")
    stock: str = Field(default="", max_length=120)
    frames: int | None = Field(default=None, ge=1, le=400)
    seen: str = Field(default="", max_length=300)
    sure: bool = False


class ClockEntry(BaseModel):
    """An entry as the clock sends it; `step` counts from 0."""

    key: str
    step: int
    what: str
    at: str
    value: str | float | None = None


@router.get("")
def listed(archive: ArchiveHere) -> list[SessionOut]:
    """All sessions, the newest first."""
    with archive.session(reading=True) as session:
        return [SessionOut.of(s) for s in list_sessions(session)]


@router.post("/work-out")
def worked(given: NewSession, archive: ArchiveHere) -> WorkedOut:
    """Times, volumes and what the bottles say, before anything is mixed."""
    with archive.session(reading=True) as session:
        found = work_out(session, given)
    return WorkedOut(
        volume_ml=found.volume_ml, volume_words=found.volume.explanation if found.volume else "",
        steps=[asdict(s) for s in found.steps], said=[asdict(b) for b in found.said], grave=[asdict(b) for b in found.grave],
    )  # fmt: skip


@router.post("", status_code=201)
def planned(given: NewSession, archive: ArchiveHere) -> SessionOut:
    """Plans a session."""
    with archive.session() as session:
        return SessionOut.of(session_view(session, plan_session(session, given)))


@router.get("/{session_id}")
def one(session_id: int, archive: ArchiveHere) -> SessionOut:
    """One session."""
    with archive.session(reading=True) as session:
        return SessionOut.of(session_view(session, session_id))


@router.get("/{session_id}/clock")
def clock(session_id: int, archive: ArchiveHere) -> dict[str, Any]:
    """The session as the clock at the sink reads it."""
    with archive.session(reading=True) as session:
        return clock_state(session, session_id)


@router.post("/{session_id}/clock")
def logged(session_id: int, given: ClockEntry, archive: ArchiveHere) -> dict[str, Any]:
    """Keeps an entry; one whose key is known changes nothing."""
    value = "" if given.value is None else str(given.value)
    fact = NewFact(key=given.key, step=given.step + 1, what=given.what, at=given.at, value=value)
    with archive.session() as session:
        log_fact(session, session_id, fact)
        return clock_state(session, session_id)


@router.delete("/{session_id}/clock/{key}")
def taken_back(session_id: int, key: str, archive: ArchiveHere) -> dict[str, Any]:
    """Takes an entry back."""
    with archive.session() as session:
        take_back_fact(session, session_id, key)
        return clock_state(session, session_id)


@router.post("/{session_id}/finish")
def finished(session_id: int, given: Finish, archive: ArchiveHere) -> SessionOut:
    """Ends the work at the sink: bottles and process records are written."""
    with archive.session() as session:
        return SessionOut.of(finish_session(session, session_id, given.poured_back_ml))


@router.post("/{session_id}/give-up")
def given_up(session_id: int, archive: ArchiveHere) -> SessionOut:
    """Gives up a session that never began."""
    with archive.session() as session:
        return SessionOut.of(give_up_session(session, session_id))


@router.post("/{session_id}/clips")
def hung(session_id: int, given: dict[str, int], archive: ArchiveHere) -> SessionOut:
    """Which roll hangs from which clip."""
    with archive.session() as session:
        return SessionOut.of(hang_rolls(session, session_id, given))


@router.post("/{session_id}/rolls/{number}/told")
def told(session_id: int, number: str, given: Told, archive: ArchiveHere) -> SessionOut:
    """Confirms after drying which roll a strip is."""
    with archive.session() as session:
        return SessionOut.of(
            tell_roll(session, session_id, number, stock=given.stock, frames=given.frames, seen=given.seen, sure=given.sure)
        )
