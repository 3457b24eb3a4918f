"""What prints are made of, looked up as it is named now: a former number or "07" means the roll and frame there are."""

from sqlmodel import Session

from catalogue.rolls.file import binder_row
from catalogue.rolls.page import roll_summaries
from catalogue.rolls.rows import frame_row, page_row, roll_row
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
