"""The rows of a roll, a frame and a page, looked up as a person writes them; and the film of a roll."""

from collections.abc import Collection, Sequence
from contextlib import suppress

from sqlmodel import Session, col, select

from catalogue.errors import InvalidInput, NotFound
from catalogue.film.formats import FilmFormat
from catalogue.film.frame_numbers import FrameNumber, frames_text
from catalogue.own_shapes import formats_of
from catalogue.store.tables.rolls import Binder, FormerNumber, Frame, Page, Roll


def film_of(session: Session, roll: Roll) -> FilmFormat:
    """The roll's format with its own measured values."""
    return films_of(session, [roll])[roll.id or 0]


def films_of(session: Session, rolls: Collection[Roll]) -> dict[int, FilmFormat]:
    """The formats of rolls with their own measured values, by the rolls' keys; one query at most."""
    formats = formats_of(session, {roll.format_key for roll in rolls})
    return {
        roll.id or 0: formats[roll.format_key].measured(
            frame_along_mm=roll.measured_along_mm,
            frame_across_mm=roll.measured_across_mm,
            pitch_mm=roll.measured_pitch_mm,
        )
        for roll in rolls
    }


def range_of(labels: Sequence[str]) -> str:
    """The labels as a range text, such as 00-36A."""
    return frames_text([FrameNumber.parse(label) for label in labels])


def roll_row(session: Session, number: str) -> Roll:
    """The roll of this number or former number; raises `NotFound`."""
    found = session.exec(select(Roll).where(Roll.number == number)).first()
    if found is None:
        found = session.exec(
            select(Roll).join(FormerNumber, col(FormerNumber.roll_id) == col(Roll.id)).where(FormerNumber.number == number)
        ).first()
    if found is None:
        raise NotFound(f"There is no roll {number[:40]}. Look it up under Find.")
    return found


def frame_row(session: Session, roll: Roll, label: str) -> Frame:
    """The frame of a roll with this label in any writing ("07", "12a"); raises `NotFound`."""
    found = session.exec(select(Frame).where(Frame.roll_id == roll.id, Frame.label == label)).first()
    if found is None:
        with suppress(InvalidInput):
            plain = FrameNumber.parse(label).text
            found = session.exec(select(Frame).where(Frame.roll_id == roll.id, Frame.label == plain)).first()
    if found is None:
        raise NotFound(f"Roll {roll.number} has no frame {label[:20]}.")
    return found


def shelved_pages(session: Session, page_ids: Collection[int | None]) -> dict[int, tuple[Page, str]]:
    """Pages by their keys, each with its binder's name; a page that isn't there isn't in it. One query."""
    query = select(Page, Binder.name).join(Binder, col(Binder.id) == col(Page.binder_id))
    return {page.id or 0: (page, binder) for page, binder in session.exec(query.where(col(Page.id).in_(page_ids)))}


def page_row(session: Session, page_id: int) -> Page:
    """The page; raises `NotFound`."""
    found = session.get(Page, page_id)
    if found is None:
        raise NotFound(f"There is no page {page_id}. Look for it in its binder.")
    return found
