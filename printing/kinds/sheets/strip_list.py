"""The strip list of a page."""

from typing import ClassVar

from printing.kinds.asked import Door, Now, OfPage, OnPaper, PrintedPdf, Session


class StripListAsked(OfPage, OnPaper):
    """The slip for the ring edge of a page."""

    key: ClassVar[str] = "strip-list"
    called: ClassVar[str] = "strip list of a page"
    titled: ClassVar[str] = "Strip list of {binder}, page {number}"
    filed: ClassVar[str] = "strip list {page_id}"
    said: ClassVar[str] = "The slip for the ring edge of a page: which frames lie in which slot."
    doors: ClassVar[tuple[Door, ...]] = (Door("/pages/{page_id}/strip-list.pdf", "strip_list"),)

    def drawn(self, session: Session, now: Now) -> PrintedPdf:
        """The strips in their slots, and why some are out."""
        from catalogue.rolls.file import get_page
        from catalogue.rolls.move import strips_away
        from printing.sheets.card_documents import strip_list_pdf

        page, paper = get_page(session, self.page_id), self.sheet(session)
        reasons = {strip.strip_id: strip.reason for strip in strips_away(session)}
        return strip_list_pdf(page, printed_on=now.on, out_reasons=reasons, paper=paper, link=self.link(now))
