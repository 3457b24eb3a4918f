"""What several tests build: a roll in the archive, its strips and places in short form."""

from dataclasses import replace

from sqlalchemy import Engine, event
from sqlmodel import Session

from catalogue.rolls.page import page_view
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.register import register_roll
from catalogue.rolls.roll import roll_view
from catalogue.scans.look.proof_pictures import proof_pictures
from catalogue.sleeves.address import Address
from catalogue.sleeves.page_plan import PictureToMake, PlacedFrame
from catalogue.views import RollView


def filed(session: Session, new: NewRoll) -> RollView:
    """The roll after registering it."""
    return roll_view(session, register_roll(session, new))


def registered(session: Session, frames: object = 12, **facts: object) -> RollView:
    """A roll registered on a page of seven strips of six, unless other facts are given."""
    place = {} if "page_id" in facts or "layout" in facts else {"layout": "135-7x6"}
    return filed(session, NewRoll.model_validate({"frames": frames, **place, **facts}))


def slots(roll: RollView) -> list[tuple[int | None, int | None, int]]:
    """Page number, slot and number of frames of each strip."""
    return [(s.page_number, s.slot, len(s.labels)) for s in roll.strips]


def address(roll: RollView, label: str) -> Address:
    """The address of a frame that is filed."""
    found = next(f.address for f in roll.frames if f.label == label)
    assert found is not None
    return found


def painted_page(session: Session, page_id: int) -> tuple[PlacedFrame, ...]:
    """The frames of a page as it is painted: each picture made, where it can be."""
    (page,) = proof_pictures(session, [page_view(session, page_id)]).pages
    return tuple(replace(f, picture=painted(f.picture) or None) for f in page.plan.frames)


def painted(picture: str | PictureToMake | None) -> str:
    """The file of a picture that is to be painted, or an empty text where it can't be made."""
    return picture if isinstance(picture, str) else picture.made() or "" if picture else ""


class Statements:
    """Counts what is asked of the database while it is open."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self.count = 0

    def _one(self, *_: object) -> None:
        self.count += 1

    def __enter__(self) -> "Statements":
        event.listen(self.engine, "before_cursor_execute", self._one)
        return self

    def __exit__(self, *_: object) -> None:
        event.remove(self.engine, "before_cursor_execute", self._one)
