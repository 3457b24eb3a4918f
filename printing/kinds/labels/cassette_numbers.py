"""Roll numbers printed ahead for cassettes."""

from typing import ClassVar

from pydantic import Field

from printing.kinds.asked import Door, Now, OnLabels, PrintedPdf, Session, label_sheet_field


class CassetteNumbersAsked(OnLabels):
    """The next numbers, so many copies of each."""

    key: ClassVar[str] = "cassette-numbers"
    called: ClassVar[str] = "numbers for cassettes"
    titled: ClassVar[str] = "The next {count} numbers for cassettes"
    filed: ClassVar[str] = "numbers for cassettes"
    said: ClassVar[str] = "The next roll numbers, printed ahead for cassettes; none is issued by that."
    doors: ClassVar[tuple[Door, ...]] = (Door("/numbers.pdf", "numbers"),)
    command: ClassVar[str] = "numbers"
    stock: str = label_sheet_field("a4-4x12")
    count: int = Field(default=24, ge=1, le=500, title="How many numbers")
    copies: int = Field(default=1, ge=1, le=20, title="Copies of each")

    def drawn(self, session: Session, now: Now) -> PrintedPdf:
        """The numbers that would be issued next."""
        from catalogue.rolls.number import next_roll_numbers
        from catalogue.settings import archive_name
        from printing.labels.documents import stickers_pdf

        numbers = next_roll_numbers(session, self.count)
        return stickers_pdf(numbers, self.use(session), archive=archive_name(session), printed_on=now.on, copies=self.copies)
