"""Spines of binders."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar, Self

from pydantic import Field

from printing.kinds.asked import Door, Now, OfBinder, OnPaper, PrintedPdf, Session

if TYPE_CHECKING:
    from printing.labels.plans import BinderSpine


HEIGHT_MM = 190.0


class SpineAsked(OfBinder, OnPaper):
    """The back of a binder of this width; those of one width share a sheet."""

    key: ClassVar[str] = "spine"
    called: ClassVar[str] = "spine of a binder"
    titled: ClassVar[str] = "Spine of {binder}"
    filed: ClassVar[str] = "spine {binder_id}"
    said: ClassVar[str] = "The back of a binder with the range it holds."
    doors: ClassVar[tuple[Door, ...]] = (Door("/binders/{binder_id}/spine.pdf", "spine"),)
    width_mm: float = Field(default=40, ge=8, le=80, title="Width of the back", description="Of the binder's back, in mm.")

    @property
    def joins(self) -> tuple[object, ...]:
        """One width on one paper."""
        return self.width_mm, self.paper

    @classmethod
    def drawn_together(cls, session: Session, things: Sequence[Self], now: Now) -> PrintedPdf:
        """One beside the other, to be cut out."""
        from catalogue.sleeves.geometry import Size
        from printing.labels.documents import spines_pdf

        size = Size(things[0].width_mm, HEIGHT_MM)
        return spines_pdf([one._view(session, now) for one in things], size, paper=things[0].sheet(session))

    def _view(self, session: Session, now: Now) -> "BinderSpine":
        from catalogue.desk.named import summaries_of
        from catalogue.rolls.file import get_binder
        from catalogue.settings import archive_name
        from printing.labels.plans import BinderSpine

        binder = get_binder(session, self.binder_id)
        rolls = summaries_of(session, {number for page in binder.pages for number in page.rolls})
        dates = sorted(r.exposed for r in rolls if r.exposed)
        ends = (rolls[0].number, rolls[-1].number) if rolls else ("", "")
        days = (dates[0], dates[-1]) if dates else ("", "")
        return BinderSpine(binder.name, archive_name(session), now.on, *ends, *days, len(binder.pages))
