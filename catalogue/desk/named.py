"""What prints are made of, looked up as it is named now: a former number or "07" means the roll and frame there are."""

from collections.abc import Collection

from sqlmodel import Session, col, select

from catalogue.rolls.file import binder_row
from catalogue.rolls.page import roll_summaries
from catalogue.rolls.rows import frame_row, page_row, roll_row
from catalogue.store.tables.rolls import Roll
from catalogue.views import RollSummary


def binder_name(session: Session, binder_id: int) -> str:
    """The name of a binder; raises `NotFound`."""
    return binder_row(session, binder_id).name


def page_name(session: Session, page_id: int) -> tuple[str, int]:
    """The binder of a page by name, and the page's number in it; raises `NotFound`."""
    page = page_row(session, page_id)
    return binder_name(session, page.binder_id), page.number


def present_number(session: Session, number: str) -> str:
    """The number a roll has now; raises `NotFound`."""
    return roll_row(session, number).number


def present_label(session: Session, number: str, label: str) -> str:
    """The label of a frame as the roll has it; raises `NotFound`."""
    return frame_row(session, roll_row(session, number), label).label


def roll_summary(session: Session, number: str) -> RollSummary:
    """One line about a roll; raises `NotFound`."""
    (summary,) = roll_summaries(session, [roll_row(session, number)])
    return summary


def summaries_of(session: Session, numbers: Collection[str]) -> tuple[RollSummary, ...]:
    """One line about each roll of these present numbers, in the order of their numbers."""
    rows = session.exec(select(Roll).where(col(Roll.number).in_(numbers)).order_by(col(Roll.number_sort))).all()
    return roll_summaries(session, rows)
