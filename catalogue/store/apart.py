"""Slow work set apart from the write lock: a file decoded, a picture measured, a folder matched.

An operation asks for such work with `set_apart`, naming a function and plain values. Under `carry_out` the first
asking ends the transaction with nothing written; the work is done while no session is open; then the operation begins
anew and finds the result at hand. As it reads everything again, it meets whatever others wrote meanwhile, and a result
counts only for the very values it was worked out from. In any other session the work is done on the spot.
"""

from collections.abc import Callable, Hashable
from typing import Concatenate, ParamSpec, TypeVar

from sqlmodel import Session

from catalogue.errors import StripleafError
from catalogue.store.engine import Archive

P = ParamSpec("P")
R = TypeVar("R")
Done = dict[tuple[Hashable, ...], object]

_DONE = "work done apart"


class _NotDone(Exception):
    def __init__(self, work: Callable[..., object], calls: list[tuple[Hashable, ...]]) -> None:
        self.work, self.calls = work, calls


def _outcome(work: Callable[..., R], call: tuple[Hashable, ...]) -> R | StripleafError:
    try:
        return work(*call)
    except StripleafError as problem:
        return problem


def set_apart_each(session: Session, work: Callable[..., R], *calls: tuple[Hashable, ...]) -> list[R | StripleafError]:
    """What `work` gives for the arguments of each call, in their order: its result, or the error it ended with.

    `work` takes no session; the same arguments must stand for the same result as long as one operation lasts.
    """
    done: Done | None = session.info.get(_DONE)
    if done is None:
        return [_outcome(work, call) for call in calls]
    if missing := [call for call in calls if (work, *call) not in done]:
        raise _NotDone(work, missing)
    return [done[work, *call] for call in calls]  # type: ignore[misc]


def set_apart(session: Session, work: Callable[..., R], *calls: tuple[Hashable, ...]) -> list[R]:
    """The same; raises the first error that one of the calls ended with."""
    found: list[R] = []
    for outcome in set_apart_each(session, work, *calls):
        if isinstance(outcome, StripleafError):
            raise outcome
        found.append(outcome)
    return found


def carry_out(archive: Archive, operation: Callable[Concatenate[Session, P], R], *given: P.args, **named: P.kwargs) -> R:
    """Carries out an operation in a session that is committed, its slow work while nobody is kept from writing.

    The operation may be begun several times, each time with a new session: it changes nothing but the archive.
    """
    done: Done = {}
    while True:
        try:
            with archive.session() as session:
                session.info[_DONE] = done
                return operation(session, *given, **named)
        except _NotDone as asked:
            missing = asked
        for call in missing.calls:
            done[missing.work, *call] = _outcome(missing.work, call)
