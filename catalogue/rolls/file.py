"""Binders and pages: adding them, reading them, turning and re-punching pages."""

from collections import defaultdict
from collections.abc import Sequence

from sqlmodel import Session, col, func, select

from catalogue.errors import AlreadyExists, InvalidInput, NotFound
from catalogue.own_shapes import layout_of, layouts_of
from catalogue.rolls.page import page_view
from catalogue.rolls.rows import page_row
from catalogue.store.tables.rolls import Binder, Page, Roll, Strip
from catalogue.views import BinderView, PageSummary, PageView


def _name(text: str) -> str:
    name = " ".join(text.split())
    if not name or len(name) > 60 or not name.isprintable():
        raise InvalidInput("A binder needs a name of 1 to 60 characters, for example Binder 3.")
    return name


def add_binder(session: Session, name: str, notes: str = "") -> BinderView:
    """Adds an empty binder; its name must be new."""
    name = _name(name)
    if session.exec(select(Binder).where(func.lower(Binder.name) == name.lower())).first():
        raise AlreadyExists(f"There is a binder “{name}” already. Give the new one another name.")
    position = session.exec(select(func.coalesce(func.max(Binder.position), 0))).one() + 1
    binder = Binder(name=name, notes=notes, position=position)
    session.add(binder)
    session.flush()
    return get_binder(session, binder.id or 0)


def binder_row(session: Session, which: int | str) -> Binder:
    """The binder by id or by name; raises `NotFound`."""
    if isinstance(which, int):
        found = session.get(Binder, which)
    else:
        name = " ".join(which.split()).lower()
        found = session.exec(select(Binder).where(func.lower(Binder.name).in_([name, f"binder {name}"]))).first()
    if found is None:
        raise NotFound(f"There is no binder {str(which)[:60]}. Add it under Binders.")
    return found


def get_binder(session: Session, which: int | str) -> BinderView:
    """A binder and its pages, by id or by name."""
    return binder_views(session, [binder_row(session, which)])[0]


def binder_views(session: Session, binders: Sequence[Binder]) -> tuple[BinderView, ...]:
    """Binders with a line about each of their pages; a few queries however many there are."""
    ids = [binder.id for binder in binders]
    pages = session.exec(select(Page).where(col(Page.binder_id).in_(ids)).order_by(col(Page.number))).all()
    lying = (
        select(Strip.page_id, Strip.slot, Roll.number)
        .join(Roll, col(Roll.id) == col(Strip.roll_id))
        .join(Page, col(Page.id) == col(Strip.page_id))
        .where(col(Page.binder_id).in_(ids))
        .order_by(col(Strip.slot))
    )
    on_page: dict[int | None, list[tuple[int | None, str]]] = defaultdict(list)
    for page_id, slot, number in session.exec(lying):
        on_page[page_id].append((slot, number))
    layouts = layouts_of(session, {page.layout_key for page in pages})
    summaries: dict[int, list[PageSummary]] = defaultdict(list)
    for page in pages:
        layout, pieces = layouts[page.layout_key], on_page[page.id]
        free = layout.slot_count - len({slot for slot, _ in pieces})
        rolls = tuple(dict.fromkeys(number for _, number in pieces))
        summaries[page.binder_id].append(PageSummary(page.id or 0, page.number, layout.name, rolls, free, layout.slot_count))
    return tuple(BinderView(b.id or 0, b.name, b.notes, tuple(summaries[b.id or 0])) for b in binders)


def list_binders(session: Session) -> tuple[BinderView, ...]:
    """All binders as they stand on the shelf."""
    return binder_views(session, session.exec(select(Binder).order_by(col(Binder.position))).all())


def last_page_number(session: Session, binder_id: int) -> int:
    """The number of the last page of a binder; 0 for one without pages."""
    return session.exec(select(func.coalesce(func.max(Page.number), 0)).where(Page.binder_id == binder_id)).one()


def add_page(session: Session, binder: int | str, layout: str, ring_side: str | None = None) -> PageView:
    """Adds an empty page behind the last one of the binder."""
    row = binder_row(session, binder)
    shape = layout_of(session, layout)
    side = ring_side or shape.ring_side
    if side not in ("left", "right"):
        raise InvalidInput(f"The ring side is left or right, not {side[:20]}.")
    number = last_page_number(session, row.id or 0) + 1
    page = Page(binder_id=row.id or 0, number=number, layout_key=shape.key, ring_side=side)
    session.add(page)
    session.flush()
    return page_view(session, page.id or 0)


def get_page(session: Session, page_id: int) -> PageView:
    """A page with everything on it."""
    return page_view(session, page_id)


def find_page(session: Session, binder: int | str, number: int) -> PageView:
    """The page with this number in the binder; raises `NotFound`."""
    row = binder_row(session, binder)
    found = session.exec(select(Page.id).where(Page.binder_id == row.id, Page.number == number)).first()
    if found is None:
        raise NotFound(f"{row.name} has no page {number}. Look at its pages under Binders.")
    return page_view(session, found)


def note_page(session: Session, page_id: int, notes: str) -> PageView:
    """Keeps a note about the page itself: a torn seam, the pen used, what to look at."""
    page_row(session, page_id).notes = notes.strip()[:2000]
    session.flush()
    return page_view(session, page_id)


def turn_page(session: Session, page_id: int, turned: bool) -> PageView:
    """Says that the page hangs head to foot (or no longer)."""
    page_row(session, page_id).turned = turned
    session.flush()
    return page_view(session, page_id)


def repunch(session: Session, page_id: int, ring_side: str) -> PageView:
    """Says that the page is now punched on this side."""
    if ring_side not in ("left", "right"):
        raise InvalidInput(f"The ring side is left or right, not {ring_side[:20]}.")
    page_row(session, page_id).ring_side = ring_side
    session.flush()
    return page_view(session, page_id)
