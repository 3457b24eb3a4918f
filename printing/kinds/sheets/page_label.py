"""Index labels of pages: those on one paper share sheets and are cut out."""

from collections.abc import Sequence
from typing import ClassVar, Self

from printing.kinds.asked import Door, Now, OfPage, OnPaper, PrintedPdf, Session


class PageLabelAsked(OfPage, OnPaper):
    """An index label; those of several pages share a sheet of this paper."""

    key: ClassVar[str] = "page-label"
    called: ClassVar[str] = "index label of a page"
    titled: ClassVar[str] = "Index label of {binder}, page {number}"
    filed: ClassVar[str] = "label {binder} page {number}"
    said: ClassVar[str] = "The index label of a page."
    doors: ClassVar[tuple[Door, ...]] = (Door("/pages/{page_id}/label.pdf", "label"),)

    @property
    def joins(self) -> tuple[object, ...]:
        """One paper."""
        return (self.paper,)

    @classmethod
    def drawn_together(cls, session: Session, things: Sequence[Self], now: Now) -> PrintedPdf:
        """The labels one below the other, with a code each that leads to the page."""
        from catalogue.rolls.page import page_views
        from printing.labels.gathering import page_labels_pdf

        views = page_views(session, {one.page_id for one in things})
        pages = [(views[one.page_id], one.link(now)) for one in things]
        return page_labels_pdf(pages, printed_on=now.on, paper=things[0].sheet(session))
