"""What a binder book and a finding aid are made from: one binder whole, handed in by whoever reads the archive."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass

from catalogue.errors import InvalidInput
from catalogue.film.dates import date_words, parse_date
from catalogue.sleeves.address import address_of
from catalogue.sleeves.page_plan import PictureToMake
from catalogue.views import FrameView, PageView, RollView

Pictures = Mapping[tuple[str, str], str | PictureToMake]
"""Pictures by roll and frame label."""


@dataclass(frozen=True)
class NumberWithoutRoll:
    """A number that no roll bears, and why."""

    number: str
    reason: str


@dataclass(frozen=True)
class StripNotThere:
    """A strip that isn't in its slot; `frames` as a range in words, dates as EDTF or empty."""

    roll: str
    frames: str
    reason: str
    since: str = ""
    due: str = ""
    place: str = ""
    """Where it belongs, in words: "page 14, third strip from the top"."""


@dataclass(frozen=True)
class BinderRecord:
    """One binder: its pages, every roll that lies on them, and what isn't there.

    A roll that goes on in another binder is handed in whole. Raises
    `InvalidInput` where pages and rolls contradict one another.
    """

    archive: str
    binder: str
    notes: str
    pages: tuple[PageView, ...]
    rolls: tuple[RollView, ...]
    gaps: tuple[NumberWithoutRoll, ...] = ()
    out: tuple[StripNotThere, ...] = ()

    def __post_init__(self) -> None:
        for page in self.pages:
            if page.binder != self.binder:
                raise InvalidInput(f"Page {page.number} lies in {page.binder}, not in {self.binder}. Leave it out of this book.")
        twice = [n for n, count in Counter(page.number for page in self.pages).items() if count > 1]
        twice_rolls = [n for n, count in Counter(roll.number for roll in self.rolls).items() if count > 1]
        if twice or twice_rolls:
            what = f"Page {twice[0]}" if twice else f"Roll {twice_rolls[0]}"
            raise InvalidInput(f"{what} was handed in more than once. Hand in every page and roll once.")
        known = {roll.number for roll in self.rolls}
        for page in self.pages:
            for summary in page.rolls:
                if summary.number not in known:
                    raise InvalidInput(f"Roll {summary.number} lies on page {page.number} but wasn't handed in. Hand it in too.")

    @property
    def pictures(self) -> Pictures:
        """The picture of each (roll, frame label) that has one on these pages."""
        frames = (frame for page in self.pages for frame in page.plan.frames)
        return {(frame.roll, frame.label): frame.picture for frame in frames if frame.picture}

    @property
    def first_pages(self) -> dict[str, PageView]:
        """For every roll the first of these pages that it lies on."""
        found: dict[str, PageView] = {}
        for page in sorted(self.pages, key=lambda p: p.number):
            for roll in page.rolls:
                found.setdefault(roll.number, page)
        return found

    def in_order(self) -> tuple[RollView, ...]:
        """The rolls as the hand meets them leafing through, those on none of these pages last, by number."""
        first = self.first_pages
        place = {roll.number: n for page in self.pages for n, roll in enumerate(page.rolls)}
        last = (1, 0, 0)
        order = {number: (0, page.number, place[number]) for number, page in first.items()}
        return tuple(sorted(self.rolls, key=lambda roll: (order.get(roll.number, last), roll.number)))


def piece_of(roll: RollView) -> str:
    """What the film of this roll lies about in: "strip", "sheet" or "mount"."""
    address = next((frame.address for frame in roll.frames if frame.address is not None), None)
    return address.piece if address else "strip"


def where_words(frame: FrameView, record: BinderRecord) -> str:
    """The frame's address without the binder where it is this one; empty while it isn't filed."""
    address = frame.address
    if address is None:
        page = next((p for p in record.pages if any((f.roll, f.label) == (frame.roll, frame.label) for f in p.plan.frames)), None)
        if page is None:
            return ""
        address = address_of(page.plan, frame.roll, frame.label, binder=record.binder, page=page.number)
    return without_home(address.words, record)


def without_home(words: str, record: BinderRecord) -> str:
    """An address in words without the binder where it is the record's own, as addresses name it."""
    home = record.binder if record.binder.casefold().startswith("binder") else f"Binder {record.binder}"
    return words.removeprefix(f"{home}, ")


def span_words(dates: list[str]) -> str:
    """The years between the earliest and the latest of these EDTF dates, in words; empty where none has bounds."""
    parsed = [parse_date(text) for text in dates if text and _is_date(text)]
    years = [d.earliest.year for d in parsed if d.earliest] + [d.latest.year for d in parsed if d.latest]
    if not years:
        return ""
    first, last = min(years), max(years)
    return str(first) if first == last else f"{first} to {last}"


def _is_date(text: str) -> bool:
    try:
        parse_date(text)
    except InvalidInput:
        return False
    return True


def why_uncertain(text: str) -> str:
    """Why an EDTF date isn't certain to the day, in words; empty where it is, or where both ends of a range are.

    The marks are those of EDTF (ISO 8601-2:2019, from memory): ? uncertain, ~ approximate, % both, X a digit not
    known, .. or nothing an end that is open or not known, months 21 to 24 seasons.
    """
    if not text:
        return "no date was noted"
    if not _is_date(text):
        return "not a date that can be sorted"
    reasons = []
    parts = text.split("/")
    for sign, words in (("?", "not sure"), ("~", "about"), ("%", "not sure, and about"), ("X", "a figure isn't known")):
        if sign in text:
            reasons.append(words)
    if any(part in ("", "..") for part in parts):
        reasons.append("one end isn't known")
    bare = [part.rstrip("?~%") for part in parts if part not in ("", "..")]
    if any(part[-3:-2] == "-" and part[-2:] in ("21", "22", "23", "24") and part.count("-") == 1 for part in bare):
        reasons.append("only the season")
    elif any(len(part) == 7 and "X" not in part for part in bare):
        reasons.append("only the month")
    if any(len(part) == 4 and "X" not in part for part in bare):
        reasons.append("only the year")
    return ", ".join(reasons)


def dated(text: str) -> str:
    """A date in words, or that there is none."""
    return date_words(text) or "no date"
