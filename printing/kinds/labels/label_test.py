"""The test sheet of a label sheet."""

from typing import TYPE_CHECKING, ClassVar

from printing.kinds.asked import Door, Now, OnLabelSheet

if TYPE_CHECKING:
    from sqlmodel import Session

    from printing.sheets.documents import PrintedPdf


class LabelTestAsked(OnLabelSheet):
    """The sheet from which a printer's correction is read; it says which one it was printed with."""

    key: ClassVar[str] = "label-test"
    called: ClassVar[str] = "test sheet for labels"
    said: ClassVar[str] = "The test sheet from which a printer's correction is read off in mm."
    doors: ClassVar[tuple[Door, ...]] = (Door("/label-test.pdf", "label_test"),)
    placing: ClassVar[frozenset[str]] = frozenset()

    def title(self, session: "Session") -> str:
        """The label sheet by name."""
        return f"Test sheet: {self.use(session).stock.name}"

    def file_name(self, session: "Session") -> str:
        """What it is."""
        return "label test"

    def drawn(self, session: "Session", now: Now) -> "PrintedPdf":
        """Outlines and scales."""
        from catalogue.settings import archive_name
        from printing.labels.documents import printer_test_pdf

        return printer_test_pdf(self.use(session), archive=archive_name(session), printed_on=now.on)
