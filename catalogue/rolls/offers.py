"""What is offered to choose from: binders of the shelf, pages of a binder, texts used lately; no more in a larger archive."""

from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, func, select

from catalogue.own_shapes import layouts_of
from catalogue.rolls.file import binder_row, binder_views
from catalogue.store.tables.rolls import Binder, Page, ProcessRecord, Roll, Strip
from catalogue.views import BinderView

SHELF, WHOLE = 40, 10
"""Binders on one screen with a line each, and with all their pages in one answer."""
LATELY = 300
"""Rolls whose texts are offered again."""


@dataclass(frozen=True)
class BinderLine:
    """A binder on the shelf: how many pages it has, and free slots on them."""

    id: int
    name: str
    notes: str
    pages: int
    free_slots: int


@dataclass(frozen=True)
class Shelf:
    """Some binders as they stand, the place of the first among all (from 1), and how many there are."""

    binders: tuple[BinderLine, ...]
    first: int
    total: int


def binders_on_shelf(session: Session, first: int | None = 1, limit: int = SHELF) -> Shelf:
    """Binders from this place on (None: the last ones), with what they hold, counted by the database."""
    total = session.exec(select(func.count()).select_from(Binder)).one()
    first = first or max(1, total - limit + 1)
    rows = session.exec(select(Binder).order_by(col(Binder.position)).offset(first - 1).limit(limit)).all()
    ids = [binder.id for binder in rows]
    pages: dict[int, int] = dict.fromkeys((key or 0 for key in ids), 0)
    free = dict(pages)
    counted = select(Page.binder_id, Page.layout_key, func.count()).where(col(Page.binder_id).in_(ids))
    kinds = session.exec(counted.group_by(col(Page.binder_id), col(Page.layout_key))).all()
    layouts = layouts_of(session, {layout for _, layout, _ in kinds})
    for key, layout, count in kinds:
        pages[key] += count
        free[key] += count * layouts[layout].slot_count
    taken = (
        select(Page.binder_id, Strip.page_id, Strip.slot)
        .join(Strip, col(Strip.page_id) == col(Page.id))
        .where(col(Page.binder_id).in_(ids))
        .distinct()
        .subquery()
    )
    for key, count in session.exec(select(taken.c.binder_id, func.count()).group_by(taken.c.binder_id)):
        free[key] -= count
    lines = (BinderLine(b.id or 0, b.name, b.notes, pages[b.id or 0], free[b.id or 0]) for b in rows)
    return Shelf(tuple(lines), first, total)


def some_binders(session: Session, first: int = 1, limit: int = WHOLE) -> tuple[BinderView, ...]:
    """Binders from this place on, each with its pages."""
    return binder_views(session, session.exec(select(Binder).order_by(col(Binder.position)).offset(first - 1).limit(limit)).all())


def last_binders(session: Session, named: str | None = None, limit: int = 12) -> tuple[str, ...]:
    """The names of the binders at the end of the shelf, where new film goes, and the one that is named."""
    last = session.exec(select(Binder.name).order_by(col(Binder.position).desc()).limit(limit)).all()
    names = tuple(reversed(last))
    return names if not named or named in names else (named, *names)


def pages_to_choose(session: Session, binders: Sequence[int | str]) -> tuple[BinderView, ...]:
    """These binders with a line about each of their pages, by id or by name; raises `NotFound`."""
    return binder_views(session, [binder_row(session, which) for which in dict.fromkeys(binders)])


def suggestions(session: Session) -> dict[str, list[str]]:
    """Texts used for the rolls registered and processed last, for each field that repeats."""
    rolls = session.exec(select(Roll.stock, Roll.camera, Roll.lens).order_by(col(Roll.id).desc()).limit(LATELY)).all()
    done = select(ProcessRecord.process, ProcessRecord.developer).order_by(col(ProcessRecord.roll_id).desc()).limit(LATELY)
    columns = [*zip(*rolls, strict=True)] or [()] * 3
    columns += [*zip(*session.exec(done).all(), strict=True)] or [()] * 2
    names = ("stock", "camera", "lens", "process", "developer")
    return {name: sorted({text for text in found if text}) for name, found in zip(names, columns, strict=True)}
