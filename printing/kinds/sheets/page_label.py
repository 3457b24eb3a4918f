"""Index labels of pages: those on one paper share sheets and are cut out."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar, Self

from pydantic import Field

from printing.kinds.asked import LARGEST_KEY, Door, Now, OnPaper

if TYPE_CHECKING:
    from sqlmodel import Session

    from printing.sheets.documents import PrintedPdf


class PageLabelAsked(OnPaper):
    """An index label; those of several pages share a sheet of this paper."""

    key: ClassVar[str] = "page-label"
    called: ClassVar[str] = "index label of a page"
    said: ClassVar[str] = "The index label of a page."
    doors: ClassVar[tuple[Door, ...]] = (Door("/pages/{page_id}/label.pdf", "label"),)
    page_id: int = Field(le=LARGEST_KEY, title="Page, by the number in its address")

    @property
    def joins(self) -> tuple[object, ...]:
        """One paper."""
        return (self.paper,)

    def title(self, session: "Session") -> str:
        """The page by its place."""
        from catalogue.desk.named import page_name

        return "Index label of {}, page {}".format(*page_name(session, self.page_id))

    def file_name(self, session: "Session") -> str:
        """Likewise."""
        from catalogue.desk.named import page_name

        return "label {} page {}".format(*page_name(session, self.page_id))

    @classmethod
    def drawn_together(cls, session: "Session", things: Sequence[Self], now: Now) -> "PrintedPdf":
        """The labels one below the other, with a code each that leads to the page."""
        from catalogue.rolls.file import get_page
        from printing.labels.gathering import page_labels_pdf

        pages = [(get_page(session, one.page_id), f"{now.base}pages/{one.page_id}") for one in things]
        return page_labels_pdf(pages, printed_on=now.on, paper=things[0].sheet(session))
