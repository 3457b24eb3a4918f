"""The print desk: things put in the queue, named for the eye, made into sheets, and noted when they came out of the printer."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, BinaryIO

from sqlmodel import Session

from catalogue.desk.queue import (
    Wish,
    changed_since,
    forget_leaves,
    last_printed,
    note_printed,
    put_in,
    take_out,
    waiting,
    when_printed,
    written,
)  # fmt: skip
from catalogue.errors import InvalidInput, NotFound, StripleafError
from catalogue.rolls.file import get_binder
from printing.book.documents import book_pdf, write_book
from printing.kinds.asked import SAME, Asked, InBook, Now
from printing.kinds.registry import KINDS, find_kind, settled


@dataclass(frozen=True)
class Waiting:
    """A thing in the queue for the eye: `paper` is what to put into the printer, `problem` why it can't be made now."""

    id: int
    kind: str
    what: Mapping[str, Any]
    title: str
    paper: str
    wanted_at: str
    printed_at: str
    problem: str = ""


@dataclass(frozen=True)
class Batch:
    """Things of one kind that are drawn together, in order, each with its title; mostly one."""

    things: tuple[tuple[Wish, Asked, str], ...]

    @property
    def first(self) -> Asked:
        """The first of them."""
        return self.things[0][1]

    @property
    def title(self) -> str:
        """The title of the thing, or of the first and how many more."""
        first, more = self.things[0][2], len(self.things) - 1
        return first if not more else f"{first} and {more} more"


@dataclass(frozen=True)
class Made:
    """A batch as PDF: the sheets to print (from 0), what is to be known, and for each thing what it bears.

    `kept` is plain JSON for `came_out`: wish, kind, what, and leaf name to checksum of the leaves that are printed.
    `left_out` counts leaves that are as they were printed last; `to_take_out` names printed leaves of before.
    """

    pdf: BinaryIO
    sheets: tuple[int, ...]
    explanation: str
    kept: tuple[dict[str, Any], ...]
    left_out: int = 0
    unchanged: tuple[str, ...] = ()
    to_take_out: tuple[str, ...] = ()


def put_in_thing(session: Session, key: str, given: Mapping[str, Any]) -> Wish:
    """Puts a thing in the queue after checking every value; raises `InvalidInput` or `NotFound`."""
    asked = settled(session, key, given)
    asked.title(session)
    return put_in(session, key, asked.model_dump())


def put_in_binder(session: Session, binder_id: int, paper: str = "", width_mm: float = 40.0) -> tuple[Wish, ...]:
    """Puts in everything of a binder: spine, each page's label, strip list and contact sheet, and the book.

    Raises `NotFound` for a binder that isn't there or has no page.
    """
    binder = get_binder(session, binder_id)
    if not binder.pages:
        raise NotFound(f"{binder.name} has no page yet, so there is nothing of it to print. Sleeve a roll first.")
    things: list[tuple[str, dict[str, Any]]] = [("spine", {"binder_id": binder_id, "width_mm": width_mm})]
    for key in ("page-label", "strip-list", "page-sheet"):
        things += [(key, {"page_id": page.id, "paper": paper}) for page in binder.pages]
    things.append(("book", {"binder_id": binder_id, "paper": paper}))
    return tuple(put_in_thing(session, key, what) for key, what in things)


def listed(session: Session, first: int = 1, limit: int | None = None) -> tuple[Waiting, ...]:
    """The queue in order, from the `first` (from 1) on; what can't be made any more stays in it and says why."""
    wishes = waiting(session)[first - 1 : None if limit is None else first - 1 + limit]
    things: dict[int, Asked | str] = {}
    for wish in wishes:
        try:
            things[wish.id] = find_kind(wish.kind).understood(wish.what)
        except StripleafError as trouble:
            things[wish.id] = str(trouble)
    printed = when_printed(session, [(t.key, t.identity) for t in things.values() if isinstance(t, Asked)])
    found = []
    for wish in wishes:
        thing, paper, problem = things[wish.id], "", ""
        title, at = KINDS[wish.kind].called if wish.kind in KINDS else wish.kind, ""
        try:
            if isinstance(thing, str):
                raise InvalidInput(thing)
            paper, at = thing.paper_words(session), printed.get((thing.key, written(thing.identity)), "")
            title = thing.title(session)
        except StripleafError as trouble:
            problem = str(trouble)
        found.append(Waiting(wish.id, wish.kind, wish.what, title, paper, wish.wanted_at, at, problem))
    return tuple(found)


def batches(session: Session, troubles: list[str]) -> tuple[Batch, ...]:
    """The queue in batches, those that join put with the first of them; `troubles` gains what can't be made and why."""
    found: dict[object, list[tuple[Wish, Asked, str]]] = {}
    for wish in waiting(session):
        try:
            asked = settled(session, wish.kind, wish.what)
            title = asked.title(session)
        except StripleafError as trouble:
            troubles.append(str(trouble))
            continue
        found.setdefault(wish.id if asked.joins is None else (wish.kind, *asked.joins), []).append((wish, asked, title))
    return tuple(Batch(tuple(things)) for things in found.values())


def sheets_of(session: Session, asked: Asked, now: Now) -> tuple[int, str]:
    """The number of sheets of a thing, and the sentence to know of it before it is printed."""
    if isinstance(asked, InBook):
        count = len(asked.leaves(session, now).leaves)
        return count, f"{count} leaves."
    made = asked.drawn(session, now)
    return made.sheets, made.explanation


def pdf_of(session: Session, asked: Asked, now: Now, sheet: int | None = None) -> tuple[bytes, int]:
    """A thing as PDF, and where in it `sheet` (from 1) is; of what has leaves only that leaf is drawn. Raises `NotFound`."""
    if not isinstance(asked, InBook):
        return asked.drawn(session, now).pdf, sheet or 1
    plan = asked.leaves(session, now)
    if sheet is not None and not 1 <= sheet <= len(plan.leaves):
        raise NotFound(f"There is no sheet {sheet}: it has {len(plan.leaves)}.")
    return book_pdf(plan, printed_on=now.on, only=None if sheet is None else {plan.leaves[sheet - 1].name}), 1


def make(
    session: Session, batch: Batch, now: Now, out: BinaryIO, *, changed_only: bool, progress: Callable[[int, int], None]
) -> Made:
    """The batch drawn into `out`; no sheets where nothing of it is to be printed again. `progress` may raise to stop."""
    if isinstance(batch.first, InBook):
        return _leaves(session, batch, batch.first, now, out, changed_only, progress)
    wanted, unchanged, kept = [], [], []
    whole: dict[str, str] = {}
    for wish, asked, title in batch.things:
        sums = _checksums(session, asked)
        again = changed_since(session, asked.key, asked.identity, sums) if changed_only else tuple(sums)
        if changed_only and not again:
            unchanged.append(title)
            kept.append(_entry(wish, asked, {}))
            continue
        whole = sums
        wanted.append(asked)
        kept.append(_entry(wish, asked, {name: sums[name] for name in again}))
    if not wanted:
        return Made(out, (), "", tuple(kept), 0, tuple(unchanged))
    made = batch.first.drawn_together(session, wanted, now)
    out.write(made.pdf)
    sheets = tuple(range(made.sheets))
    if batch.first.joins is None:  # its leaves are its own sheets
        names = set(kept[0]["leaves"])
        sheets = tuple(n for n, name in enumerate(whole) if name in names)
    return Made(out, sheets, made.explanation, tuple(kept), made.sheets - len(sheets), tuple(unchanged))


def _checksums(session: Session, asked: Asked) -> dict[str, str]:
    """Leaf name to checksum of a thing drawn alone, as if always on one day and at the first place of a sheet."""
    from printing.canvas.merging import drawn_checksums  # heavy: here, so that a service at rest is without it

    plain = asked.model_copy(update={name: type(asked).model_fields[name].default for name in asked.placing})
    sums = drawn_checksums(plain.drawn(session, SAME).pdf)
    return {f"sheet {n}": each for n, each in enumerate(sums, 1)}


def _leaves(
    session: Session, batch: Batch, asked: InBook, now: Now, out: BinaryIO, changed_only: bool,
    progress: Callable[[int, int], None],
) -> Made:  # fmt: skip
    ((wish, _, title),) = batch.things
    plan = asked.leaves(session, now)
    sums = (asked.leaves(session, SAME) if asked.dated else plan).checksums
    before = last_printed(session, asked.key, asked.identity)
    again = changed_since(session, asked.key, asked.identity, sums) if changed_only else tuple(sums)
    gone = [name for name in before if name not in sums]
    entry = _entry(wish, asked, {name: sums[name] for name in again}, gone)
    if not again:
        return Made(out, (), "", (entry,), 0, (title,))
    written = write_book(plan, out, printed_on=now.on, only=set(again), progress=progress)
    old = tuple(name for name in before if name in gone or sums[name] != before[name]) if changed_only else ()
    sheets = tuple(range(len(written.leaves)))
    return Made(out, sheets, written.explanation, (entry,), len(sums) - len(again), (), old)


def _entry(wish: Wish, asked: Asked, leaves: Mapping[str, str], gone: Sequence[str] = ()) -> dict[str, Any]:
    return {"wish": wish.id, "kind": asked.key, "what": asked.identity, "leaves": dict(leaves), "gone": list(gone)}


def _entries(kept: Any) -> Iterator[dict[str, Any]]:
    """What a PDF of ours has kept, each entry looked at before it is believed."""
    for entry in kept.get("things", ()) if isinstance(kept, dict) else ():
        if (
            isinstance(entry, dict)
            and isinstance(entry.get("wish"), int)
            and entry.get("kind") in KINDS
            and isinstance(entry.get("what"), dict)
            and isinstance(entry.get("leaves"), dict)
            and isinstance(entry.get("gone"), list)
            and all(isinstance(v, str) and v.strip() and k.strip() for k, v in entry["leaves"].items())
        ):
            yield entry


def came_out(session: Session, kept: Any) -> int:
    """Notes what a PDF bears as printed and takes its things out of the queue; says how many things those are.

    Raises `InvalidInput` for a PDF that says nothing of itself.
    """
    entries = list(_entries(kept))
    if not entries:
        raise InvalidInput("This PDF doesn't say what is on it, so it can't be noted as printed. Make it again from the queue.")
    waits = {wish.id: wish for wish in waiting(session)}
    for entry in entries:
        note_printed(session, entry["kind"], entry["what"], entry["leaves"])
        forget_leaves(session, entry["kind"], entry["what"], set(map(str, entry["gone"])))
        wish = waits.get(entry["wish"])
        if wish and wish.kind == entry["kind"] and entry["what"].items() <= dict(wish.what).items():
            take_out(session, wish.id)
            del waits[wish.id]
    return len(entries)
