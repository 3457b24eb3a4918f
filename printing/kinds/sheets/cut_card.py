"""The cut card of a roll before it is cut."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, ClassVar, Self

from pydantic import ConfigDict, Field, ValidationError

from catalogue.errors import InvalidInput
from printing.kinds.asked import Door, Now, OnPaper, PrintedPdf, Session

if TYPE_CHECKING:
    from catalogue.rolls.plan import NewRoll


class CutCardAsked(OnPaper):
    """The cut card of a roll to be registered. What else such a roll may be given is taken too, by registering's own rules."""

    model_config = ConfigDict(extra="allow")
    key: ClassVar[str] = "cut-card"
    called: ClassVar[str] = "cut card of a roll"
    titled: ClassVar[str] = "Cut card of {roll}"
    filed: ClassVar[str] = "cut card"
    said: ClassVar[str] = "The life-size cut card of a roll before it is cut; nothing is stored."
    doors: ClassVar[tuple[Door, ...]] = (Door("/cut-card.pdf", "cut_card_of"),)
    format: str = Field(default="135-24x36", title="Format", description="The film's format.")
    frames: str | int | list[str] = Field(
        default="", title="Frames", description="For example 00-36A; left out, the format's usual count."
    )
    number: str = Field(default="", title="Roll", description="The roll's number; left out, the next roll's.")
    layout: str = Field(default="", title="Sleeve page", description="The sleeve page; left out, the usual one.")

    @classmethod
    def of(cls, new: "NewRoll", paper: str = "") -> Self:
        """The cut card of a roll that is about to be registered."""
        return cls.understood({**new.model_dump(exclude_none=True), "paper": paper})

    def _roll(self) -> "NewRoll":
        from catalogue.rolls.plan import NewRoll

        given = {name: value for name, value in self.model_dump(exclude={"paper"}).items() if value not in ("", None)}
        try:
            return NewRoll.model_validate(given)
        except ValidationError as refused:
            first = refused.errors()[0]
            raise InvalidInput(f"{first['loc'][0]}: {first['msg']}. Write it shorter or otherwise.") from refused

    def settled(self, session: Session) -> Self:
        """The same, after a look at whether such a roll can be cut."""
        from catalogue.rolls.plan import preview_cuts

        preview_cuts(session, self._roll())
        return super().settled(session)

    def names(self, session: Session) -> Mapping[str, object]:
        """With the roll in words; the file has no number, as it may be another roll's when the card comes out."""
        return {"roll": f"roll {self.number}" if self.number else "the next roll"}

    def drawn(self, session: Session, now: Now) -> PrintedPdf:
        """The roll at true size with its cuts."""
        from catalogue.rolls.plan import prepare
        from catalogue.settings import archive_name
        from printing.sheets.card_documents import cut_card_pdf

        new = self._roll()
        ready = prepare(session, new)
        pages = {1: f"{ready.page.binder}, page {ready.page.number}"} if ready.page else None
        return cut_card_pdf(
            ready.plan, ready.frames, ready.film, roll=new.number or "the next roll", archive_name=archive_name(session),
            printed_on=now.on, kept_together=new.kept_together, pages=pages, paper=self.sheet(session),
        )  # fmt: skip
