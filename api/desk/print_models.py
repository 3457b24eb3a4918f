"""What each kind of thing to print is made of, checked when it is asked for; sizes and corrections in mm."""

from collections.abc import Mapping
from typing import Any, ClassVar, Self

from pydantic import BaseModel, ConfigDict, Field, PrivateAttr, ValidationError, field_validator

from catalogue.errors import InvalidInput
from printing.contact.options import PLAIN, ContactOptions
from printing.sheets.documents import FITS


class Asked(BaseModel):
    """The values of one thing. Those in `placing` say where on the sheet it goes; they make it no other thing."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, str_strip_whitespace=True)
    placing: ClassVar[frozenset[str]] = frozenset()

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
        return {name: value for name, value in self.model_dump().items() if name not in self.placing}


class OnPaper(Asked):
    """On a sheet of paper of this key; "" is the usual one of those in the house."""

    paper: str = Field(default="", max_length=40)


class InBook(OnPaper):
    """On leaves that are bound, of the papers that books are made of."""


class Fitted(OnPaper):
    """A contact sheet, as `printing.contact.options` has it."""

    fit: str = FITS[0]
    side: str = PLAIN.side
    balance: str = PLAIN.balance
    marks: bool = PLAIN.marks
    boxes: bool = PLAIN.boxes
    percent: float = PLAIN.percent
    _options: ContactOptions = PrivateAttr(default=PLAIN)

    @field_validator("fit")
    @classmethod
    def _way(cls, text: str) -> str:
        if text not in FITS:
            raise InvalidInput(f"“{text[:20]}” is no way to fit a sheet. Choose one of: {', '.join(FITS)}.")
        return text

    def model_post_init(self, _context: Any) -> None:
        """How the sheet is drawn; raises `InvalidInput` where it can't be so."""
        self._options = ContactOptions(self.side, self.balance, self.marks, self.boxes, self.percent)

    @property
    def options(self) -> ContactOptions:
        """How the sheet is drawn."""
        return self._options


class OnLabels(Asked):
    """On a label sheet from its `start`-th label on; without `dx` and `dy` the printer's kept correction, in mm."""

    placing: ClassVar[frozenset[str]] = frozenset({"start", "dx", "dy"})
    stock: str = Field(max_length=80)
    start: int = Field(default=1, ge=1, le=1200)
    dx: float | None = Field(default=None, ge=-5, le=5)
    dy: float | None = Field(default=None, ge=-5, le=5)


class RollSheet(Fitted):
    """A contact sheet of a roll by its number, or of several with commas between."""

    roll: str = Field(min_length=1, max_length=400)

    @property
    def numbers(self) -> list[str]:
        """The rolls asked for."""
        return [number for number in (part.strip() for part in self.roll.split(",")) if number]


class PageSheet(Fitted):
    """A contact sheet of a page."""

    page_id: int = Field(ge=1)


class PageLabel(OnPaper):
    """An index label; those of several pages share a sheet of this paper."""

    page_id: int = Field(ge=1)


class StripList(OnPaper):
    """The slip for the ring edge of a page."""

    page_id: int = Field(ge=1)


class RollLabelAsked(OnLabels):
    """A label for a can; several share a label sheet, and the first of them says where it begins."""

    stock: str = "a4-3x8"
    roll: str = Field(min_length=1, max_length=40)
    waiting: str = Field(default="", max_length=80)


class CassetteNumbers(OnLabels):
    """The next numbers, printed ahead."""

    stock: str = "a4-4x12"
    count: int = Field(default=24, ge=1, le=500)
    copies: int = Field(default=1, ge=1, le=20)


class PrintCard(OnPaper):
    """The card that goes into the darkroom with a frame."""

    roll: str = Field(min_length=1, max_length=40)
    frame: str = Field(min_length=1, max_length=20)


class Spine(OnPaper):
    """The back of a binder of this width."""

    binder_id: int = Field(ge=1)
    width_mm: float = Field(default=40, ge=8, le=80)


class OutSlips(OnPaper):
    """A slip for every strip that is out."""


class Book(InBook):
    """The book of a binder."""

    binder_id: int = Field(ge=1)


class FindingAid(InBook):
    """The whole archive described by level."""
