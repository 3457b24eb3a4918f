"""The card that goes into the darkroom with a frame."""

from typing import TYPE_CHECKING, ClassVar, Self
from urllib.parse import quote

from pydantic import Field

from catalogue.errors import NotFound
from printing.kinds.asked import Door, Now, OfRoll, OnPaper, PrintedPdf, Session

if TYPE_CHECKING:
    from catalogue.darkroom.print_views import PrintRecordView
    from catalogue.units import Units
    from printing.sheets.print_card import PrintRecord


class PrintCardAsked(OfRoll, OnPaper):
    """The card of a frame, filled from its latest print or from the record asked for."""

    key: ClassVar[str] = "print-card"
    called: ClassVar[str] = "print card of a frame"
    titled: ClassVar[str] = "Print card of roll {roll}, frame {frame}"
    filed: ClassVar[str] = "print card {roll} {frame}"
    said: ClassVar[str] = (
        "The card that goes into the darkroom with a frame, filled from its latest print or from the `record` asked for."
    )
    doors: ClassVar[tuple[Door, ...]] = (Door("/rolls/{number}/frames/{label}/print-card.pdf", "print_card"),)
    frame: str = Field(min_length=1, title="Frame")
    record: int | None = Field(default=None, title="Print record", description="Left out, the latest of the frame.")

    def settled(self, session: Session) -> Self:
        """The same with the roll's present number and the frame's own label."""
        from catalogue.desk.named import present_label

        return super().settled(session).model_copy(update={"frame": present_label(session, self.roll, self.frame)})

    def drawn(self, session: Session, now: Now) -> PrintedPdf:
        """The frame, its picture, and how it was printed."""
        from catalogue.darkroom.print_records import prints_of_frame
        from catalogue.rolls.change import get_roll
        from catalogue.rolls.choices import turns_of_frame
        from catalogue.scans.look.frame_pictures import frame_picture
        from catalogue.settings import archive_name, get_units
        from printing.sheets.card_documents import print_cards_pdf
        from printing.sheets.print_card import FrameToPrint

        roll = get_roll(session, self.roll)
        frame = next((f for f in roll.frames if f.label == self.frame), None)
        if frame is None:
            raise NotFound(f"Roll {roll.number} has no frame {self.frame}.")
        picture = str(frame_picture(session, frame.id, large=True)) if frame.scans else None
        where = frame.address.words if frame.address else ""
        # It stands where the picture as shown lies a quarter off a frame that lies, or as one that stands on the film.
        along, across = roll.format.frame_along_mm, roll.format.frame_across_mm
        upright = (along < across) != bool(turns_of_frame(session, frame.id) % 2)
        to_print = FrameToPrint(roll.number, frame.label, roll.format, where, frame.caption, picture, upright)
        prints = prints_of_frame(session, roll.number, frame.label)
        done = next((p for p in prints if self.record in (None, p.id)), None)
        if self.record is not None and done is None:
            raise NotFound(f"Frame {frame.label} of roll {roll.number} has no print record {self.record}. Look at its prints.")
        filled = _recorded(done, get_units(session)) if done else None
        link = f"{self.link(now)}/scans/{quote(frame.label)}"
        return print_cards_pdf(
            [(to_print, filled, link)], archive_name=archive_name(session), printed_on=now.on, paper=self.sheet(session)
        )


def _recorded(done: "PrintRecordView", units: "Units") -> "PrintRecord":
    """A print as its card has it, lengths in the person's unit."""
    from catalogue.darkroom.print_records import length_words, size_words
    from catalogue.film.dates import date_words
    from printing.sheets.print_card import PrintMark, PrintRecord

    return PrintRecord(
        enlarger=done.enlarger, lens=done.lens, height_mm=done.height_mm, aperture=done.aperture, paper=done.paper,
        grade=done.grade, base_time_s=done.base_time_s, developer=done.developer, notes=done.notes,
        marks=tuple(PrintMark("burn" if m.kind == "burn" else "dodge", m.where, m.change, m.area) for m in done.marks),
        printed=date_words(done.printed), size=size_words(done.size_mm, units) if done.size_mm else "",
        height_words=length_words(done.height_mm, units) if done.height_mm is not None else "",
    )  # fmt: skip
