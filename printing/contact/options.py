"""What a person can choose for a contact sheet."""

from dataclasses import dataclass
from math import isfinite

from catalogue.errors import InvalidInput

FITS = ("two sheets", "another paper", "fit")
"""What is done where one sheet of the paper doesn't hold the page at true size."""
SIDES = ("base", "emulsion")
BALANCES = ("as set", "each", "common")
LARGEST_PERCENT = 400

BALANCE_WORDS = {"as set": "", "each": "each picture balanced by itself", "common": "one exposure for all pictures"}
"""What the sheet says of its pictures; "as set" says nothing, since rolls may differ in it."""


@dataclass(frozen=True)
class ContactOptions:
    """How a contact sheet is drawn; the defaults are a plain sheet at true size.

    `side`: "base" is the page as it lies in its binder, front towards you; "emulsion" is the page from behind.
    `balance`: how the pictures handed in were balanced ("each" by itself, "common": one exposure for all, or "as set"
    for the roll); a layout makes no pictures, so this is what the sheet says of them.
    `marks`: selects and crops are drawn. `boxes`: each frame gets a box to tick. `percent`: 100 is true size.
    """

    side: str = "base"
    balance: str = "as set"
    marks: bool = False
    boxes: bool = False
    percent: float = 100.0

    def __post_init__(self) -> None:
        if self.side not in SIDES:
            raise InvalidInput(f"“{self.side[:20]}” is no side of a page. Choose one of: {', '.join(SIDES)}.")
        if self.balance not in BALANCES:
            raise InvalidInput(f"“{self.balance[:20]}” is no way to balance pictures. Choose one of: {', '.join(BALANCES)}.")
        if not isfinite(self.percent) or not 100 <= self.percent <= LARGEST_PERCENT:
            raise InvalidInput(
                f"A contact sheet is drawn at 100 to {LARGEST_PERCENT} % of true size, not {self.percent:g} %. "
                "Choose a percentage between them."
            )


PLAIN = ContactOptions()
"""A plain sheet, base side up, at true size."""


def known_fit(fit: str) -> str:
    """The way to fit a sheet; raises `InvalidInput` for one that isn't known."""
    if fit not in FITS:
        raise InvalidInput(f"“{fit[:20]}” is no way to fit a sheet. Choose one of: {', '.join(FITS)}.")
    return fit
