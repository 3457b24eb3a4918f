"""Contact sheets of rolls and of pages: pictures balanced as asked, what was marked looked up, and drawn."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Self
from urllib.parse import quote

from pydantic import BeforeValidator, Field, PrivateAttr

from catalogue.errors import InvalidInput, NotFound
from printing.contact.options import FITS, PLAIN, ContactOptions, known_fit
from printing.kinds.asked import SEVERAL, Door, Now, OfPage, OnPaper, PrintedPdf, Session

if TYPE_CHECKING:
    from catalogue.views import FrameChoice, PageView


MOST_ROLLS = 40


class _ContactSheetAsked(OnPaper):
    """How a contact sheet is drawn, as `printing.contact.options` has it."""

    fit: str = Field(default=FITS[0], title="Where one sheet doesn't hold true size", description=", ".join(FITS))
    side: str = Field(default=PLAIN.side, title="Side towards you", description="base, or emulsion: the page from behind")
    balance: str = Field(
        default=PLAIN.balance, title="Lightness of the pictures",
        description="each, common (one exposure), or as set for the roll",
    )  # fmt: skip
    marks: bool = Field(default=PLAIN.marks, title="Selects and crops", description="Draw selects and crops.")
    boxes: bool = Field(default=PLAIN.boxes, title="Boxes to tick with a pencil", description="A box to tick beside each frame.")
    percent: float = Field(default=PLAIN.percent, title="Size in %", description="100 is true size; up to 400.")
    _options: ContactOptions = PrivateAttr(default=PLAIN)

    def model_post_init(self, _context: Any) -> None:
        """How the sheet is drawn; raises `InvalidInput` where it can't be so."""
        known_fit(self.fit)
        self._options = ContactOptions(self.side, self.balance, self.marks, self.boxes, self.percent)

    def _of(self, session: Session, pages: Sequence["PageView"], link: str, now: Now, rolls: Sequence[str] = ()) -> PrintedPdf:
        """The contact sheet of these pages, or of some of the rolls on them."""
        from catalogue.desk.papers import papers_here
        from catalogue.rolls.choices import choices_of_page
        from catalogue.scans.look.proof_pictures import proof_pictures
        from printing.sheets.documents import contact_sheet_pdf

        proof = proof_pictures(session, [_only(page, rolls) for page in pages], self.balance, self.percent / 100)
        marked: dict[int, FrameChoice] = {}
        for page in pages if self.marks else ():
            marked |= choices_of_page(session, page.id)
        made = contact_sheet_pdf(
            proof.pages, paper=self.sheet(session), papers=papers_here(session), fit=self.fit, roll=tuple(rolls) or None,
            printed_on=now.on, link=link, options=replace(self._options, balance=proof.balance), choices=marked,
        )  # fmt: skip
        return replace(made, explanation=f"{made.explanation} {proof.words}".strip())


def _only(page: "PageView", rolls: Sequence[str]) -> "PageView":
    """The page with the pictures of these rolls alone: no other is made or spoken of."""
    if not rolls:
        return page
    frames = tuple(f if f.roll in rolls else replace(f, scan_id=None) for f in page.plan.frames)
    return replace(page, plan=replace(page.plan, frames=frames))


def _with_commas(given: Any) -> Any:
    return ", ".join(given) if isinstance(given, list | tuple) and all(isinstance(one, str) for one in given) else given


class RollSheetAsked(_ContactSheetAsked):
    """A contact sheet of a roll by its number, or of several with commas between."""

    key: ClassVar[str] = "roll-sheet"
    called: ClassVar[str] = "contact sheet of a roll"
    titled: ClassVar[str] = "Contact sheet of {rolls}"
    filed: ClassVar[str] = "contact sheet {roll}"
    said: ClassVar[str] = "The contact sheet of a roll, or of several, page by page as they are filed."
    doors: ClassVar[tuple[Door, ...]] = (
        Door("/contact-sheet.pdf", "rolls_sheet", "The contact sheet of several rolls, page by page as they are filed."),
        Door(
            "/rolls/{number}/contact-sheet.pdf", "roll_sheet",
            'The contact sheet of a roll, at true size unless `fit` is "fit" or a percentage is given.',
        ),
    )  # fmt: skip
    command: ClassVar[str] = "contact-sheet"
    roll: Annotated[str, BeforeValidator(_with_commas), SEVERAL] = Field(title="Roll, or several with commas")

    @property
    def numbers(self) -> list[str]:
        """The rolls asked for."""
        return [number for number in (part.strip() for part in self.roll.split(",")) if number]

    def settled(self, session: Session) -> Self:
        """The same with the present numbers; raises `InvalidInput` for none or too many, `NotFound` where none is filed."""
        from catalogue.rolls.page import roll_pages

        if not 1 <= len(self.numbers) <= MOST_ROLLS:
            raise InvalidInput(
                f"A contact sheet takes 1 to {MOST_ROLLS} rolls at once, not {len(self.numbers)}. Print the others apart."
            )
        found = [roll_pages(session, number) for number in self.numbers]
        numbers = ", ".join(dict.fromkeys(number for number, _ in found))
        if not any(pages for _, pages in found):
            raise NotFound(f"Roll {numbers} lies on no page yet, so there is no contact sheet of it. File it first.")
        return super().settled(session).model_copy(update={"roll": numbers})

    def names(self, session: Session) -> Mapping[str, object]:
        """With the rolls in words."""
        from catalogue.desk.named import present_number

        found = [present_number(session, number) for number in self.numbers]
        return {"roll": self.roll, "rolls": f"{'roll' if len(found) == 1 else 'rolls'} {', '.join(found)}"}

    def drawn(self, session: Session, now: Now) -> PrintedPdf:
        """Page by page, each page once; the code leads to the roll, or to the first page where there are several rolls."""
        from catalogue.rolls.page import roll_pages

        found = [roll_pages(session, number) for number in dict.fromkeys(self.numbers)]
        rolls = tuple(dict.fromkeys(roll for roll, _ in found))
        pages = {page.id: page for _, lying in found for page in lying}
        link = f"{now.base}rolls/{quote(rolls[0])}" if len(rolls) == 1 else f"{now.base}pages/{next(iter(pages), 0)}"
        return self._of(session, list(pages.values()), link, now, rolls)


class PageSheetAsked(OfPage, _ContactSheetAsked):
    """A contact sheet of all that lies on a page."""

    key: ClassVar[str] = "page-sheet"
    called: ClassVar[str] = "contact sheet of a page"
    titled: ClassVar[str] = "Contact sheet of {binder}, page {number}"
    filed: ClassVar[str] = "contact sheet {binder} page {number}"
    said: ClassVar[str] = "The contact sheet of a whole page."
    doors: ClassVar[tuple[Door, ...]] = (Door("/pages/{page_id}/contact-sheet.pdf", "page_sheet"),)

    def drawn(self, session: Session, now: Now) -> PrintedPdf:
        """All that lies on the page."""
        from catalogue.rolls.file import get_page

        return self._of(session, [get_page(session, self.page_id)], self.link(now), now)
