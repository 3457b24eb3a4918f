"""The finding aid: the whole archive described by level, on leaves or as one web page."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, ClassVar

from catalogue.errors import NotFound
from printing.kinds.asked import BookPlan, Door, InBook, Now, Session

if TYPE_CHECKING:
    from printing.book.finding_aid import Description


class FindingAidAsked(InBook):
    """The whole archive described by level."""

    key: ClassVar[str] = "finding-aid"
    called: ClassVar[str] = "finding aid"
    titled: ClassVar[str] = "Finding aid of {archive}"
    filed: ClassVar[str] = "finding aid"
    said: ClassVar[str] = "The whole archive described by level, by the elements of ISAD(G)."
    doors: ClassVar[tuple[Door, ...]] = (
        Door("/finding-aid.html", "aid"),
        Door("/finding-aid.pdf", "aid_on_paper", "The same on leaves of paper, with contents and check letters."),
    )
    dated: ClassVar[bool] = True
    on_screen: ClassVar[bool] = True

    def names(self, session: Session) -> Mapping[str, object]:
        """The archive by name."""
        from catalogue.settings import archive_name

        return {"archive": archive_name(session)}

    def leaves(self, session: Session, now: Now) -> BookPlan:
        """Contents, binders, pages and rolls in order."""
        from printing.book.documents import planned_finding_aid

        return planned_finding_aid(_described(session, now), paper=self.sheet(session))

    def web_page(self, session: Session, now: Now) -> str:
        """The same as one web page."""
        from printing.book.finding_aid import as_html

        return as_html(_described(session, now))


def _described(session: Session, now: Now) -> "Description":
    """Every binder that has a page, by level; raises `NotFound` while there is none."""
    from catalogue.rolls.file import list_binders
    from printing.book.finding_aid import finding_aid
    from printing.kinds.books.book import binder_record

    records = tuple(binder_record(session, b.id) for b in list_binders(session) if b.pages)
    if not records:
        raise NotFound("No binder has a page yet, so there is nothing to describe. Sleeve a roll first.")
    return finding_aid(records, described_on=now.on)
