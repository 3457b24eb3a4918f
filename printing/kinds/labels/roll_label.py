"""Labels for the cans of rolls, or for their negatives waiting to be cut."""

from collections.abc import Sequence
from typing import ClassVar, Self

from pydantic import Field

from printing.kinds.asked import Door, Now, OfRoll, OnLabels, PrintedPdf, Session


class RollLabelAsked(OfRoll, OnLabels):
    """A label for a can; several share a label sheet, and the first of them says where it begins."""

    key: ClassVar[str] = "roll-label"
    called: ClassVar[str] = "label of a roll"
    titled: ClassVar[str] = "Label of roll {roll}"
    filed: ClassVar[str] = "label {roll}"
    said: ClassVar[str] = "A label for a roll's can, or for its negatives waiting to be cut, on a label sheet."
    doors: ClassVar[tuple[Door, ...]] = (Door("/rolls/{number}/label.pdf", "roll_label"),)
    waiting: str = Field(
        default="", max_length=80, title="What it waits for", description="What the roll waits for, printed on the label."
    )

    @property
    def joins(self) -> tuple[object, ...]:
        """One label sheet with one correction."""
        return self.stock, self.dx, self.dy

    @classmethod
    def drawn_together(cls, session: Session, things: Sequence[Self], now: Now) -> PrintedPdf:
        """From the first one's place on, with a code each that leads to the roll."""
        from catalogue.desk.named import roll_summary
        from catalogue.settings import archive_name
        from printing.labels.documents import roll_labels_pdf
        from printing.labels.plans import RollLabel

        archive = archive_name(session)
        labels = [RollLabel(roll_summary(session, one.roll), archive, now.on, one.link(now), one.waiting) for one in things]
        return roll_labels_pdf(labels, things[0].use(session))
