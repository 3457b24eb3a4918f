"""The queue of things to print, and what was printed last of each.

A thing is a kind ("page label") and what it is made of as names and values; which kinds there are is known where
they are made. A thing has leaves by name, each with a checksum of what stands on it.
"""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import func
from sqlmodel import Session, col, select

from catalogue.clock import now
from catalogue.errors import InvalidInput, NotFound
from catalogue.store.tables.desk import PrintedLeaf, PrintWish

MOST_WISHES = 2000
"""More waits in no queue: a binder of 200 pages puts in about 600 things."""


@dataclass(frozen=True)
class Wish:
    """A thing that waits; `what` as it was put in, `wanted_at` ISO 8601, `position` counted from 1."""

    id: int
    kind: str
    what: Mapping[str, Any]
    wanted_at: str
    position: int


def written(what: Mapping[str, Any]) -> str:
    """The same values as the same text; raises `InvalidInput` for what JSON can't hold."""
    try:
        return json.dumps(dict(what), sort_keys=True, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    except (TypeError, ValueError) as problem:
        raise InvalidInput("What is to be printed must be plain names, texts and numbers. Choose it anew.") from problem


def _row(session: Session, wish_id: int) -> PrintWish:
    found = session.get(PrintWish, wish_id)
    if found is None:
        raise NotFound(f"Number {wish_id} is not in the print queue any more. Look at the queue again.")
    return found


def _rows(session: Session) -> list[PrintWish]:
    return list(session.exec(select(PrintWish).order_by(col(PrintWish.position))))


def _last(session: Session) -> int:
    return session.exec(select(func.max(PrintWish.position))).one() or 0


def put_in(session: Session, kind: str, what: Mapping[str, Any]) -> Wish:
    """Puts a thing at the end of the queue; what waits already stays where it is and is answered.

    Raises `InvalidInput` for no kind, values that JSON can't hold, and a queue that is full.
    """
    if not kind.strip():
        raise InvalidInput("A thing to print needs a kind. Choose it anew.")
    text = written(what)
    waits = session.exec(select(PrintWish).where(PrintWish.kind == kind, PrintWish.what == text)).first()
    if waits is None:
        count = count_waiting(session)
        if count >= MOST_WISHES:
            raise InvalidInput(f"{count} things wait to be printed, and the queue holds {MOST_WISHES}. Print or empty it first.")
        waits = PrintWish(kind=kind, what=text, wanted_at=now(), position=_last(session) + 1)
        session.add(waits)
        session.flush()
    return next(w for w in waiting(session) if w.id == waits.id)


def take_out(session: Session, wish_id: int) -> None:
    """Takes a thing out of the queue; raises `NotFound`."""
    session.delete(_row(session, wish_id))
    session.flush()


def move(session: Session, wish_id: int, *, up: bool) -> None:
    """Changes places with the thing before or after it; the first stays first. Raises `NotFound`."""
    moved = _row(session, wish_id)
    rows = _rows(session)
    at = rows.index(moved)
    to = at - 1 if up else at + 1
    if not 0 <= to < len(rows):
        return
    other = rows[to]
    here, there = moved.position, other.position
    moved.position = _last(session) + 1  # no two may ever have one position, not even between two statements
    session.flush()
    other.position = here
    session.flush()
    moved.position = there
    session.flush()


def waiting(session: Session) -> tuple[Wish, ...]:
    """Everything that waits, in order."""
    return tuple(Wish(row.id or 0, row.kind, json.loads(row.what), row.wanted_at, n) for n, row in enumerate(_rows(session), 1))


def count_waiting(session: Session) -> int:
    """How many things wait."""
    return session.exec(select(func.count()).select_from(PrintWish)).one()


def empty(session: Session) -> int:
    """Takes everything out of the queue; says how many things that were."""
    rows = _rows(session)
    for row in rows:
        session.delete(row)
    session.flush()
    return len(rows)


def _leaves(session: Session, kind: str, what: Mapping[str, Any]) -> list[PrintedLeaf]:
    asked = select(PrintedLeaf).where(PrintedLeaf.kind == kind, PrintedLeaf.what == written(what))
    return list(session.exec(asked.order_by(col(PrintedLeaf.id))))


def note_printed(session: Session, kind: str, what: Mapping[str, Any], leaves: Mapping[str, str]) -> None:
    """Keeps what came out of the printer: leaf name to checksum. Leaves not named keep what they had."""
    known = {row.leaf: row for row in _leaves(session, kind, what)}
    at = now()
    for leaf, checksum in leaves.items():
        row = known.get(leaf) or PrintedLeaf(kind=kind, what=written(what), leaf=leaf, checksum=checksum, printed_at=at)
        row.checksum, row.printed_at = checksum, at
        session.add(row)
    session.flush()


def forget_leaves(session: Session, kind: str, what: Mapping[str, Any], names: set[str]) -> None:
    """Forgets leaves that are no longer part of the thing."""
    for row in _leaves(session, kind, what):
        if row.leaf in names:
            session.delete(row)
    session.flush()


def last_printed(session: Session, kind: str, what: Mapping[str, Any]) -> dict[str, str]:
    """Leaf name to checksum as printed last; empty for what never came out of the printer."""
    return {row.leaf: row.checksum for row in _leaves(session, kind, what)}


def when_printed(session: Session, wishes: Iterable[tuple[str, Mapping[str, Any]]]) -> dict[tuple[str, str], str]:
    """When a leaf of each of these things came out of the printer last, ISO 8601, by kind and `written` values."""
    asked = {(kind, written(what)) for kind, what in wishes}
    at = func.max(PrintedLeaf.printed_at)
    found: dict[tuple[str, str], str] = {}
    for kind in {kind for kind, _ in asked}:
        texts = {text for one, text in asked if one == kind}
        query = select(PrintedLeaf.what, at).where(PrintedLeaf.kind == kind, col(PrintedLeaf.what).in_(texts))
        found |= {(kind, what): when for what, when in session.exec(query.group_by(col(PrintedLeaf.what)))}
    return found


def changed_since(session: Session, kind: str, what: Mapping[str, Any], leaves: Mapping[str, str]) -> tuple[str, ...]:
    """The names of the leaves to print again: those new, and those whose checksum isn't that of the last print."""
    before = last_printed(session, kind, what)
    return tuple(name for name, checksum in leaves.items() if before.get(name) != checksum)
