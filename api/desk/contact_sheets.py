"""Contact sheets of the archive: pages read, their pictures balanced as asked, what was marked looked up, and printed."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from urllib.parse import quote

from sqlmodel import Session

from catalogue.desk.papers import paper_named, papers_here
from catalogue.errors import InvalidInput
from catalogue.rolls.choices import choices_of_page
from catalogue.rolls.file import get_page
from catalogue.rolls.page import roll_pages
from catalogue.scans.look.proof_pictures import proof_pictures
from catalogue.views import FrameChoice, PageView
from printing.contact.options import PLAIN, ContactOptions
from printing.sheets.documents import PrintedPdf, contact_sheet_pdf

MOST_ROLLS = 40


def marked_frames(session: Session, pages: Sequence[PageView]) -> Mapping[int, FrameChoice]:
    """What a person marked of the frames on these pages, by the frames' keys."""
    found: dict[int, FrameChoice] = {}
    for page in pages:
        found |= choices_of_page(session, page.id)
    return found


def sheet_of_pages(
    session: Session,
    pages: Sequence[PageView],
    *,
    link: str,
    paper: str = "",
    fit: str = "two sheets",
    rolls: Sequence[str] = (),
    options: ContactOptions = PLAIN,
    on: date | None = None,
) -> PrintedPdf:
    """The contact sheet of these pages, or of some of the rolls on them."""
    shown = [_only(page, rolls) for page in pages]
    proof = proof_pictures(session, shown, options.balance, options.percent / 100)
    made = contact_sheet_pdf(
        proof.pages, paper=paper_named(session, paper), papers=papers_here(session), fit=fit,
        roll=tuple(rolls) or None, printed_on=on or date.today(), link=link,
        options=replace(options, balance=proof.balance),
        choices=marked_frames(session, pages) if options.marks else {},
    )  # fmt: skip
    return replace(made, explanation=f"{made.explanation} {proof.words}".strip())


def _only(page: PageView, rolls: Sequence[str]) -> PageView:
    """The page with the pictures of these rolls alone: no other is made or spoken of."""
    if not rolls:
        return page
    frames = tuple(f if f.roll in rolls else replace(f, picture=None) for f in page.plan.frames)
    return replace(page, plan=replace(page.plan, frames=frames))


def sheet_of_rolls(
    session: Session,
    numbers: Sequence[str],
    *,
    root: str,
    paper: str = "",
    fit: str = "two sheets",
    options: ContactOptions = PLAIN,
    on: date | None = None,
) -> tuple[tuple[str, ...], PrintedPdf]:
    """The rolls' present numbers and their contact sheet, page by page, each page once.

    `root` is the service's address with its slash; the QR code leads to the roll, or to the page where there are several.
    Raises `NotFound` for an unknown roll or one that lies on no page, `InvalidInput` for none or too many.
    """
    if not 1 <= len(numbers) <= MOST_ROLLS:
        raise InvalidInput(f"A contact sheet takes 1 to {MOST_ROLLS} rolls at once, not {len(numbers)}. Print the others apart.")
    found = [roll_pages(session, number) for number in dict.fromkeys(numbers)]
    rolls = tuple(dict.fromkeys(roll for roll, _ in found))
    pages = {page.id: page for _, lying in found for page in lying}
    link = f"{root}rolls/{quote(rolls[0])}" if len(rolls) == 1 else f"{root}pages/{next(iter(pages), 0)}"
    made = sheet_of_pages(session, list(pages.values()), link=link, paper=paper, fit=fit, rolls=rolls, options=options, on=on)
    return rolls, made


def sheet_of_page(
    session: Session,
    page_id: int,
    *,
    root: str,
    paper: str = "",
    fit: str = "two sheets",
    options: ContactOptions = PLAIN,
    on: date | None = None,
) -> tuple[PageView, PrintedPdf]:
    """A page and the contact sheet of all that lies on it."""
    page = get_page(session, page_id)
    return page, sheet_of_pages(session, [page], link=f"{root}pages/{page_id}", paper=paper, fit=fit, options=options, on=on)
