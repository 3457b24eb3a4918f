"""The book of a binder."""

from typing import TYPE_CHECKING, ClassVar

from printing.kinds.asked import BookPlan, Door, InBook, Now, OfBinder, Session

if TYPE_CHECKING:
    from printing.book.binder_record import BinderRecord


class BookAsked(OfBinder, InBook):
    """The book of a binder."""

    key: ClassVar[str] = "book"
    called: ClassVar[str] = "book of a binder"
    titled: ClassVar[str] = "Book of {binder}"
    filed: ClassVar[str] = "{binder}"
    said: ClassVar[str] = "The binder's book: every page and roll, gaps, an index, and how to find a negative without a program."
    doors: ClassVar[tuple[Door, ...]] = (Door("/binders/{binder_id}/book.pdf", "book"),)

    def leaves(self, session: Session, now: Now) -> BookPlan:
        """Its pages in order, each with the rolls on it."""
        from printing.book.documents import planned_book

        return planned_book(binder_record(session, self.binder_id), paper=self.sheet(session))


def binder_record(session: Session, binder_id: int) -> "BinderRecord":
    """Everything of one binder for its book."""
    from catalogue.rolls.file import get_binder
    from catalogue.rolls.move import strips_away
    from catalogue.rolls.number import gaps
    from catalogue.rolls.page import page_views
    from catalogue.rolls.roll import rolls_numbered
    from catalogue.scans.look.proof_pictures import proof_pictures
    from catalogue.settings import archive_name
    from printing.book.binder_record import BinderRecord, NumberWithoutRoll, StripNotThere

    binder = get_binder(session, binder_id)
    pages = proof_pictures(session, tuple(page_views(session, [p.id for p in binder.pages]).values())).pages
    numbers = dict.fromkeys(number for p in binder.pages for number in p.rolls)
    rolls = rolls_numbered(session, numbers)
    here = {p.id for p in pages}
    out = tuple(
        StripNotThere(s.roll, s.frame_range, s.reason, s.since[:10], s.due, s.address_words)
        for s in strips_away(session)
        if s.page_id in here
    )
    known = tuple(NumberWithoutRoll(number, reason) for number, reason in gaps(session))
    return BinderRecord(archive_name(session), binder.name, binder.notes, pages, rolls, known, out)
