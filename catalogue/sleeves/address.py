"""Where a frame lies, in words and as data, the way the hand finds it.

Slots are counted from the top and places from the ring side, because left and
right change when a page is turned or punched on its other edge.
"""

from dataclasses import dataclass

from catalogue.errors import NotFound
from catalogue.sleeves.page_plan import PagePlan

_WORDS = "first second third fourth fifth sixth seventh eighth ninth tenth eleventh twelfth".split()  # noqa: SIM905  read as a line


def ordinal(number: int) -> str:
    """The number as an ordinal word up to twelfth, in figures from 13th on."""
    if 1 <= number <= len(_WORDS):
        return _WORDS[number - 1]
    if number % 100 in (11, 12, 13):
        return f"{number}th"
    return f"{number}{ {1: 'st', 2: 'nd', 3: 'rd'}.get(number % 10, 'th') }"


@dataclass(frozen=True)
class Address:
    """Binder, page, slot from the top, place from the ring side, and which way up.

    `row` is the row of slots counted from the top on pages with several
    columns (sheets, slides); there `place` counts the pieces of that row from
    the ring side. `part` is "head" or "tail" for one piece of a frame cut in two.
    """

    binder: str
    page: int
    slot: int
    place: int
    upside_down: bool = False
    emulsion_towards_you: bool = False
    out: bool = False
    out_reason: str = ""
    part: str = "whole"
    piece: str = "strip"
    """"strip", "sheet" or "mount"."""

    @property
    def words(self) -> str:
        """The address as spoken."""
        binder = self.binder if self.binder.casefold().startswith("binder") else f"Binder {self.binder}"
        start = f"{binder}, page {self.page}"
        if self.piece == "strip":
            text = f"{start}, {ordinal(self.slot)} strip from the top, {ordinal(self.place)} frame from the ring side"
        else:
            thing = "sheet" if self.piece == "sheet" else "slide"
            text = f"{start}, {ordinal(self.slot)} row from the top, {ordinal(self.place)} {thing} from the ring side"
        if self.part != "whole":
            text += f" ({self.part} of a frame cut in two)"
        if self.upside_down:
            text += ", standing on its head"
        if self.emulsion_towards_you:
            text += ", emulsion towards you"
        if self.out:
            text += f"; the {self.piece} is out" + (f": {self.out_reason}" if self.out_reason else "")
        return text


def address_of(
    plan: PagePlan,
    roll: str,
    label: str,
    *,
    binder: str,
    page: int,
    piece: str = "strip",
    out_reason: str = "",
) -> Address:
    """The address of a frame on a planned page; the head piece of a frame cut in two.

    Raises `NotFound` where the frame isn't on the page.
    """
    for frame in plan.frames:
        if frame.roll == roll and frame.label == label:
            return Address(
                binder=binder,
                page=page,
                slot=frame.slot_from_top,
                place=frame.place,
                upside_down=frame.rotated,
                emulsion_towards_you=frame.mirrored,
                out=frame.out,
                out_reason=out_reason,
                part=frame.part,
                piece=piece,
            )
    raise NotFound(f"Frame {label} of roll {roll} isn't on page {page} of {binder}.")
