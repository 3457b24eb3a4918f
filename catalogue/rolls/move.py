"""Strips move, turn, go out and come back; everything done with them is kept as history."""

from dataclasses import dataclass

from sqlmodel import Session, col, select

from catalogue.clock import now
from catalogue.errors import InvalidInput, NotFound
from catalogue.film.dates import parse_date
from catalogue.own_shapes import layout_of
from catalogue.rolls.roll import strip_views
from catalogue.rolls.rows import film_of, page_row, range_of, roll_row, shelved_pages
from catalogue.sleeves.placing import place_in_slot
from catalogue.store.tables.rolls import Page, Roll, Strip, StripMove
from catalogue.views import StripAway, StripView


@dataclass(frozen=True)
class MoveView:
    """One thing done with a strip."""

    strip_id: int
    strip_position: int
    at: str
    what: str
    from_words: str
    to_words: str
    why: str


def _strip(session: Session, strip_id: int) -> Strip:
    found = session.get(Strip, strip_id)
    if found is None:
        raise NotFound(f"There is no strip {strip_id}. Look it up on its roll.")
    return found


def _view(session: Session, strip: Strip) -> StripView:
    session.flush()
    return strip_views(session, [strip])[0][1]


def _note(
    session: Session,
    strip: Strip,
    what: str,
    why: str = "",
    before: tuple[int | None, int | None] | None = None,
) -> None:
    page, slot = before if before else (strip.page_id, strip.slot)
    session.add(
        StripMove(
            strip_id=strip.id or 0, at=now(), what=what, from_page_id=page, from_slot=slot,
            to_page_id=strip.page_id, to_slot=strip.slot, why=why,
        )
    )  # fmt: skip


def offset_for(session: Session, page: Page, slot: int, length_mm: float, *, without: int | None = None) -> float:
    """Where in the slot a strip of this length comes to lie; raises where it doesn't fit."""
    layout = layout_of(session, page.layout_key)
    layout.slot_rect(slot)
    lying = session.exec(select(Strip).where(Strip.page_id == page.id, Strip.slot == slot)).all()
    pieces = [(s.offset_mm, s.length_mm) for s in lying if s.id != without]
    return place_in_slot(layout.slot_length_mm, pieces, length_mm, slot)


def move_strip(session: Session, strip_id: int, *, page_id: int, slot: int, why: str = "") -> StripView:
    """Files a strip in another slot; raises where it is too long, too wide, or the slot is taken."""
    strip = _strip(session, strip_id)
    page = page_row(session, page_id)
    film = film_of(session, session.get_one(Roll, strip.roll_id))
    layout_of(session, page.layout_key).check_takes(film)
    offset = offset_for(session, page, slot, strip.length_mm, without=strip_id)
    before = (strip.page_id, strip.slot)
    strip.page_id, strip.slot, strip.offset_mm = page_id, slot, offset
    _note(session, strip, "moved", why, before)
    return _view(session, strip)


def turn_strip(
    session: Session,
    strip_id: int,
    *,
    upside_down: bool | None = None,
    turned_over: bool | None = None,
    why: str = "",
) -> StripView:
    """Says how the strip now lies: turned head to foot, or turned over about its long axis."""
    strip = _strip(session, strip_id)
    if upside_down is not None and upside_down != strip.upside_down:
        strip.upside_down = upside_down
        _note(session, strip, "turned upside down" if upside_down else "turned upright", why)
    if turned_over is not None and turned_over != strip.turned_over:
        strip.turned_over = turned_over
        _note(session, strip, "turned over" if turned_over else "turned back over", why)
    return _view(session, strip)


def take_out(session: Session, strip_id: int, reason: str, due: str = "") -> StripView:
    """Says that the strip has left its slot for a while; the slot stays its own. `due` is a date (EDTF) or empty."""
    strip = _strip(session, strip_id)
    due = parse_date(due.strip()).text if due.strip() else ""
    reason = " ".join(reason.split())
    if strip.out:
        raise InvalidInput(f"The strip is out already ({strip.out_reason}). Put it back first.")
    if not reason:
        raise InvalidInput("Say why the strip goes out, for example: printing.")
    strip.out, strip.out_reason, strip.out_since, strip.due = True, reason, now(), due
    _note(session, strip, "taken out", reason)
    return _view(session, strip)


def put_back(session: Session, strip_id: int, why: str = "") -> StripView:
    """Says that the strip is in its slot again."""
    strip = _strip(session, strip_id)
    if not strip.out:
        raise InvalidInput("The strip isn't out, so it can't come back.")
    strip.out, strip.out_reason, strip.out_since, strip.due = False, "", "", ""
    _note(session, strip, "put back", why)
    return _view(session, strip)


def any_strip_away(session: Session) -> bool:
    """Whether a strip is out."""
    return session.exec(select(Strip.id).where(col(Strip.out)).limit(1)).first() is not None


def strips_away(session: Session) -> tuple[StripAway, ...]:
    """All strips that are out, the one due first on top, then those out longest."""
    strips = session.exec(select(Strip).where(col(Strip.out))).all()
    words = {one.id: (roll, one) for roll, one in strip_views(session, strips)}
    found = []
    for strip in strips:
        number, view = words[strip.id or 0]
        told = (range_of(view.labels), view.page_id, view.address_words, view.out_reason)
        found.append(StripAway(view.id, number, *told, strip.out_since, strip.due))
    return tuple(sorted(found, key=lambda s: (not s.due, s.due, s.since)))


def history(session: Session, number: str) -> tuple[MoveView, ...]:
    """Everything done with the strips of a roll, oldest first."""
    roll = roll_row(session, number)
    query = (
        select(StripMove, Strip.position)
        .join(Strip, col(Strip.id) == col(StripMove.strip_id))
        .where(Strip.roll_id == roll.id)
        .order_by(col(StripMove.id))
    )
    moves = session.exec(query).all()
    ids = {key for move, _ in moves for key in (move.from_page_id, move.to_page_id) if key}
    pages = shelved_pages(session, ids)

    def words(page_id: int | None, slot: int | None) -> str:
        page, binder = pages.get(page_id or 0, (None, ""))
        return f"{binder}, page {page.number}, slot {slot}" if page else "not filed"

    return tuple(
        MoveView(
            m.strip_id,
            position,
            m.at,
            m.what,
            words(m.from_page_id, m.from_slot),
            words(m.to_page_id, m.to_slot),
            m.why,
        )
        for m, position in moves
    )
