"""Slips that stay in the slots of strips that are out."""

from collections.abc import Mapping
from typing import ClassVar

from catalogue.errors import NotFound
from printing.kinds.asked import Door, Now, OnPaper, PrintedPdf, Session


class OutSlipsAsked(OnPaper):
    """A slip for every strip that is out."""

    key: ClassVar[str] = "out-slips"
    called: ClassVar[str] = "slips for strips that are out"
    titled: ClassVar[str] = "Slips for strips that are out"
    filed: ClassVar[str] = "slips"
    said: ClassVar[str] = "A slip for every strip that is out, to stay in its slot."
    doors: ClassVar[tuple[Door, ...]] = (Door("/slips.pdf", "slips"),)
    command: ClassVar[str] = "slips"

    def names(self, session: Session) -> Mapping[str, object]:
        """None; raises `NotFound` where no strip is out."""
        from catalogue.rolls.move import any_strip_away

        if not any_strip_away(session):
            raise NotFound("No strip is out, so there is no slip to print.")
        return {}

    def drawn(self, session: Session, now: Now) -> PrintedPdf:
        """They fit the smallest of those slots."""
        from catalogue.rolls.move import strips_away
        from catalogue.rolls.page import page_views
        from catalogue.settings import archive_name
        from catalogue.sleeves.geometry import Size
        from printing.labels.documents import out_slips_pdf
        from printing.labels.slips import OutSlip

        self.names(session)
        away = strips_away(session)
        layouts = [page.layout for page in page_views(session, {s.page_id for s in away if s.page_id}).values()]
        if not layouts:
            raise NotFound("The strips that are out are filed nowhere, so no slot waits for a slip.")
        slot = Size(min(x.slot_length_mm for x in layouts), min(x.slot_width_mm for x in layouts))
        archive = archive_name(session)
        slips = [
            OutSlip(s.roll, s.frame_range, archive, now.on, s.address_words, s.reason, "", s.since[:10], s.due) for s in away
        ]
        return out_slips_pdf(slips, slot, paper=self.sheet(session))
