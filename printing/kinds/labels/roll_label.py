"""Labels for the cans of rolls, or for their negatives waiting to be cut."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar, Self
from urllib.parse import quote

from pydantic import Field

from printing.kinds.asked import Door, Now, OnLabels

if TYPE_CHECKING:
    from sqlmodel import Session

    from printing.sheets.documents import PrintedPdf


class RollLabelAsked(OnLabels):
    """A label for a can; several share a label sheet, and the first of them says where it begins."""

    key: ClassVar[str] = "roll-label"
    called: ClassVar[str] = "label of a roll"
    said: ClassVar[str] = "A label for a roll's can, or for its negatives waiting to be cut, on a label sheet."
    doors: ClassVar[tuple[Door, ...]] = (Door("/rolls/{number}/label.pdf", "roll_label"),)
    roll: str = Field(min_length=1, title="Roll")
    waiting: str = Field(
        default="", max_length=80, title="What it waits for", description="What the roll waits for, printed on the label."
    )

    @property
    def joins(self) -> tuple[object, ...]:
        """One label sheet with one correction."""
        return self.stock, self.dx, self.dy

    def settled(self, session: "Session") -> Self:
        """The same with the roll's present number."""
        from catalogue.desk.named import present_number

        return super().settled(session).model_copy(update={"roll": present_number(session, self.roll)})

    def title(self, session: "Session") -> str:
        """The roll by its number."""
        from catalogue.desk.named import present_number

        return f"Label of roll {present_number(session, self.roll)}"

    def file_name(self, session: "Session") -> str:
        """Likewise."""
        return f"label {self.roll}"

    @classmethod
    def drawn_together(cls, session: "Session", things: Sequence[Self], now: Now) -> "PrintedPdf":
        """From the first one's place on, with a code each that leads to the roll."""
        from catalogue.desk.named import roll_summary
        from catalogue.settings import archive_name
        from printing.labels.documents import roll_labels_pdf
        from printing.labels.plans import RollLabel

        archive = archive_name(session)
        labels = [
            RollLabel(roll_summary(session, one.roll), archive, now.on, f"{now.base}rolls/{quote(one.roll)}", one.waiting)
            for one in things
        ]
        return roll_labels_pdf(labels, things[0].use(session))
