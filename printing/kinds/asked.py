"""What a kind of print declares, once: every door to it (address, form, queue, look beforehand, command) comes from here.

A kind is a class below `Asked`; an instance is one thing asked for, its values checked. What draws it and what reads
the archive for it is brought in only where a thing is drawn, so that whoever lists the kinds stays light.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any, ClassVar, Self
from urllib.parse import quote

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from catalogue.errors import InvalidInput

if TYPE_CHECKING:
    from sqlmodel import Session as Session

    from catalogue.paper.label_sheets import StockUse
    from catalogue.paper.sizes import Paper
    from printing.book.plan import BookPlan as BookPlan
    from printing.sheets.documents import PrintedPdf as PrintedPdf
else:  # names for the types alone
    Session = StockUse = Paper = BookPlan = PrintedPdf = object

LARGEST_KEY = 2**53
"""More than any archive has of anything; larger numbers would not be understood by the store."""
SEVERAL = "several"
"""Marks a field that an address or a command repeats for several; it keeps them with commas between."""


@dataclass(frozen=True)
class Now:
    """When it is printed, and the address of the service (ending in /) that codes on the sheets lead to."""

    on: date
    base: str


SAME = Now(date(2000, 1, 1), "http://localhost/")
"""For checksums: neither the date printed nor the address makes a sheet another."""


@dataclass(frozen=True)
class Door:
    """An address of a kind, below /api: the path with what is asked for in braces, and its name and words there."""

    path: str
    name: str
    said: str = ""
    """"" says what the kind says of itself."""


class Asked(BaseModel):
    """One thing to print. Fields without a default are the arguments of the command, all others its options.

    A field's title is its label in a form, its description a hint there and the help of the command.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, str_strip_whitespace=True)

    key: ClassVar[str]
    """Its name in the queue and in addresses."""
    called: ClassVar[str]
    """What it is in words: "strip list of a page"."""
    said: ClassVar[str]
    """One sentence on it; behind "Write" it is the help of the command."""
    titled: ClassVar[str]
    """What one is called in the queue, with names in braces: "Spine of {binder}"."""
    filed: ClassVar[str]
    """The name of its file, likewise, without an ending."""
    doors: ClassVar[tuple[Door, ...]]
    command: ClassVar[str] = ""
    """The command's name; "" takes the key."""
    placing: ClassVar[frozenset[str]] = frozenset()
    """Fields that say where on the sheet it goes; they make it no other thing."""
    dated: ClassVar[bool] = False
    """Whether its leaves bear the day within their text."""
    on_screen: ClassVar[bool] = False
    """Whether it can be read as one web page too."""

    @classmethod
    def understood(cls, given: Mapping[str, Any]) -> Self:
        """The values checked; raises `InvalidInput` with a sentence for the first that is wrong."""
        try:
            return cls.model_validate(dict(given))
        except ValidationError as wrong:
            first = wrong.errors()[0]
            name = ".".join(str(part) for part in first["loc"]).replace("_", " ") or "the values"
            said = {
                "missing": "is missing",
                "extra_forbidden": f"is no part of it; known are: {', '.join(cls.model_fields) or 'none'}",
            }.get(first["type"], f"can't be understood ({first['msg'][:120]})")
            raise InvalidInput(f"This can't be printed: {name[:40]} {said}. Choose it anew on the print page.") from wrong

    @property
    def identity(self) -> dict[str, Any]:
        """What makes it the same thing as last time."""
        return {name: v for name, v in self.model_dump().items() if name not in self.placing and v is not None}

    @property
    def joins(self) -> tuple[object, ...] | None:
        """Things of a kind whose `joins` are alike share sheets; None has sheets of its own."""
        return None

    def settled(self, session: Session) -> Self:
        """The same with the keys and numbers that are meant; raises `InvalidInput` or `NotFound` where there is no such thing."""
        return self

    def paper_words(self, session: Session) -> str:
        """What to put into the printer."""
        return "plain paper"

    @property
    def label_sheet(self) -> str:
        """The key of the label sheet it is printed on, or nothing."""
        return ""

    def names(self, session: Session) -> Mapping[str, object]:
        """What stands for the names in braces of `titled` and `filed`; raises `NotFound` where there is no such thing."""
        return self.model_dump()

    def title(self, session: Session) -> str:
        """What this one is called in the queue; raises `NotFound` where what it is made of isn't there."""
        return self.titled.format_map(self.names(session))

    def file_name(self, session: Session) -> str:
        """The name to keep it by, without its ending."""
        return self.filed.format_map(self.names(session))

    def drawn(self, session: Session, now: Now) -> PrintedPdf:
        """This one alone; a kind draws here, or in `drawn_together` where several share sheets."""
        return self.drawn_together(session, [self], now)

    @classmethod
    def drawn_together(cls, session: Session, things: Sequence[Self], now: Now) -> PrintedPdf:
        """Things that share sheets, in order; where none do, it is one."""
        (one,) = things
        return one.drawn(session, now)

    def web_page(self, session: Session, now: Now) -> str:
        """This one as HTML, where it is `on_screen`."""
        raise NotImplementedError


class OfPage(Asked):
    """Of a sleeve page."""

    page_id: int = Field(le=LARGEST_KEY, title="Page, by the number in its address")

    def names(self, session: Session) -> Mapping[str, object]:
        """With the page's binder, and its number in that."""
        from catalogue.desk.named import page_name

        binder, number = page_name(session, self.page_id)
        return {**super().names(session), "binder": binder, "number": number}

    def link(self, now: Now) -> str:
        """The address of the page, for the code on the sheet."""
        return f"{now.base}pages/{self.page_id}"


class OfBinder(Asked):
    """Of a binder."""

    binder_id: int = Field(le=LARGEST_KEY, title="Binder, by the number in its address")

    def names(self, session: Session) -> Mapping[str, object]:
        """With the binder's name."""
        from catalogue.desk.named import binder_name

        return {**super().names(session), "binder": binder_name(session, self.binder_id)}


class OfRoll(Asked):
    """Of a roll."""

    roll: str = Field(min_length=1, title="Roll")

    def settled(self, session: Session) -> Self:
        """The same with the roll's present number."""
        from catalogue.desk.named import present_number

        return super().settled(session).model_copy(update={"roll": present_number(session, self.roll)})

    def link(self, now: Now) -> str:
        """The address of the roll, for the code on the sheet."""
        return f"{now.base}rolls/{quote(self.roll)}"


class OnPaper(Asked):
    """On a sheet of paper."""

    paper: str = Field(default="", max_length=40, title="Paper", description="Left out: A4, or the first paper in the house.")
    among: ClassVar[tuple[str, ...]] = ()
    """The keys of the only papers that it is made of, where not every one will do."""

    def sheet(self, session: Session) -> Paper:
        """The paper meant; raises `InvalidInput` for one that isn't known or won't do."""
        from catalogue.desk.papers import paper_named

        found = paper_named(session, self.paper, self.among)
        if self.among and found.key not in self.among:
            raise InvalidInput(f"It is printed on {' or '.join(self.among)}, not on {found.name}. Choose one of the two.")
        return found

    def settled(self, session: Session) -> Self:
        """The same on the paper's own key."""
        return super().settled(session).model_copy(update={"paper": self.sheet(session).key})

    def paper_words(self, session: Session) -> str:
        """Plain paper of this size."""
        return f"plain paper, {self.sheet(session).name}"


class InBook(OnPaper):
    """On leaves that are bound, each with a name and a checksum of what stands on it."""

    among: ClassVar[tuple[str, ...]] = ("A4", "Letter")

    def leaves(self, session: Session, now: Now) -> BookPlan:
        """Its leaves, to be drawn into a file or into memory."""
        raise NotImplementedError


_LEFT_OUT = "mm; left out, the correction kept for this label sheet."


def label_sheet_field(usual: str) -> Any:
    """The field for a label sheet; this one where none is named."""
    said = "The label sheet, by the name or key that the page /papers shows."
    return Field(default=usual, max_length=80, title="Label sheet", description=said)


class OnLabelSheet(Asked):
    """On a label sheet."""

    stock: str = label_sheet_field("a4-3x8")
    dx: float | None = Field(default=None, ge=-5, le=5, title="Correction to the right, in mm", description=_LEFT_OUT)
    dy: float | None = Field(default=None, ge=-5, le=5, title="Correction down, in mm", description=_LEFT_OUT)
    placing: ClassVar[frozenset[str]] = frozenset({"dx", "dy"})

    def use(self, session: Session) -> StockUse:
        """The label sheet in the printer as corrected; raises `InvalidInput` or `DoesNotFit` where it can't be so."""
        from catalogue.desk.papers import use_of

        return use_of(session, self.stock, getattr(self, "start", 1), self.dx, self.dy)

    def settled(self, session: Session) -> Self:
        """The same on the sheet's own key."""
        return super().settled(session).model_copy(update={"stock": self.use(session).stock.key})

    def paper_words(self, session: Session) -> str:
        """The label sheet by name."""
        from catalogue.desk.papers import stock_named

        return f"label sheet, {stock_named(session, self.stock).name}"

    @property
    def label_sheet(self) -> str:
        """The key of the label sheet."""
        return self.stock


class OnLabels(OnLabelSheet):
    """On a label sheet, from its `start`-th label on; the largest sheets have 20 × 60 labels."""

    start: int = Field(default=1, ge=1, le=1200, title="First label still on the sheet")
    placing: ClassVar[frozenset[str]] = frozenset({"start", "dx", "dy"})
