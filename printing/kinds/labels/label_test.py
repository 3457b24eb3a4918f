"""The test sheet of a label sheet."""

from collections.abc import Mapping
from typing import ClassVar

from printing.kinds.asked import Door, Now, OnLabelSheet, PrintedPdf, Session


class LabelTestAsked(OnLabelSheet):
    """The sheet from which a printer's correction is read; it says which one it was printed with."""

    key: ClassVar[str] = "label-test"
    called: ClassVar[str] = "test sheet for labels"
    titled: ClassVar[str] = "Test sheet: {sheet}"
    filed: ClassVar[str] = "label test"
    said: ClassVar[str] = "The test sheet from which a printer's correction is read off in mm."
    doors: ClassVar[tuple[Door, ...]] = (Door("/label-test.pdf", "label_test"),)
    placing: ClassVar[frozenset[str]] = frozenset()

    def names(self, session: Session) -> Mapping[str, object]:
        """With the label sheet by name."""
        return {"sheet": self.use(session).stock.name}

    def drawn(self, session: Session, now: Now) -> PrintedPdf:
        """Outlines and scales."""
        from catalogue.settings import archive_name
        from printing.labels.documents import printer_test_pdf

        return printer_test_pdf(self.use(session), archive=archive_name(session), printed_on=now.on)
