"""The strip list of a page."""

from typing import TYPE_CHECKING, ClassVar

from pydantic import Field

from printing.kinds.asked import LARGEST_KEY, Door, Now, OnPaper

if TYPE_CHECKING:
    from sqlmodel import Session

    from printing.sheets.documents import PrintedPdf


class StripListAsked(OnPaper):
    """The slip for the ring edge of a page."""

    key: ClassVar[str] = "strip-list"
    called: ClassVar[str] = "strip list of a page"
    said: ClassVar[str] = "The slip for the ring edge of a page: which frames lie in which slot."
    doors: ClassVar[tuple[Door, ...]] = (Door("/pages/{page_id}/strip-list.pdf", "strip_list"),)
    page_id: int = Field(le=LARGEST_KEY, title="Page, by the number in its address")

    def title(self, session: "Session") -> str:
        """The page by its place."""
        from catalogue.desk.named import page_name

        return "Strip list of {}, page {}".format(*page_name(session, self.page_id))

    def file_name(self, session: "Session") -> str:
        """The page by its key."""
        return f"strip list {self.page_id}"

    def drawn(self, session: "Session", now: Now) -> "PrintedPdf":
        """The strips in their slots, and why some are out."""
        from catalogue.rolls.file import get_page
        from catalogue.rolls.move import strips_away
        from printing.sheets.card_documents import strip_list_pdf

        page = get_page(session, self.page_id)
        reasons = {strip.strip_id: strip.reason for strip in strips_away(session)}
        link = f"{now.base}pages/{self.page_id}"
        return strip_list_pdf(page, printed_on=now.on, out_reasons=reasons, paper=self.sheet(session), link=link)
