"""The person's papers, printer and label sheets, kept as JSON among the settings; every length in mm.

Which papers and label sheets are known by name is for printing to say; here lies what the person added and chose.
"""

import json
import re
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from math import isfinite
from typing import Any

from sqlmodel import Session

from catalogue.errors import AlreadyExists, InvalidInput, NotFound
from catalogue.settings import get_setting, set_setting

CHOSEN, OWN_PAPERS, MARGINS = "papers_in_the_house", "own_papers", "printer_margins"
OWN_SHEETS, CORRECTIONS = "own_label_sheets", "printer_corrections"
MOST_MARGIN_MM = 25.0
PAPER_MM = (90.0, 1200.0)
"""The shortest and longest edge of an own paper: with margins of 25 mm the smallest still has room for a line."""
MOST_CORRECTION_MM = 5.0
"""As much as the scales of the printed test sheet show to either side."""
EVERY_SHEET = ""
"""The key under which the correction of all label sheets without one of their own is kept."""


@dataclass(frozen=True)
class OwnPaper:
    """A paper by its measures, the shorter edge as the width; refuses a size that no printer for a desk takes."""

    key: str
    name: str
    width_mm: float
    height_mm: float

    def __post_init__(self) -> None:
        low, high = PAPER_MM
        if not all(isfinite(v) and low <= v <= high for v in (self.width_mm, self.height_mm)):
            raise InvalidInput(
                f"{self.name}: {self.width_mm:g} × {self.height_mm:g} mm can't be a paper here. Each edge measures "
                f"{low:g} to {high:g} mm."
            )
        if self.width_mm > self.height_mm:
            raise InvalidInput(f"{self.name}: the width of {self.width_mm:g} mm is the longer edge. Give the shorter one first.")


@dataclass(frozen=True)
class PrinterMargins:
    """What the printer leaves blank along each edge of an upright sheet, in mm, 0 to 25."""

    top: float = 5.0
    right: float = 5.0
    bottom: float = 5.0
    left: float = 5.0

    def __post_init__(self) -> None:
        for edge, value in asdict(self).items():
            if not (isfinite(value) and 0 <= value <= MOST_MARGIN_MM):
                raise InvalidInput(
                    f"A margin of {value:g} mm at the {edge} is not possible. Give 0 to {MOST_MARGIN_MM:g} mm; "
                    "the printer's data sheet names it, and a page printed black to the edge shows it."
                )


@dataclass(frozen=True)
class Correction:
    """What the printer is corrected by in mm: `dx` to the right, `dy` down, each 5 mm at most."""

    dx: float = 0.0
    dy: float = 0.0

    def __post_init__(self) -> None:
        if not all(isfinite(v) and abs(v) <= MOST_CORRECTION_MM for v in (self.dx, self.dy)):
            raise InvalidInput(
                f"A correction of {self.dx:g} mm across and {self.dy:g} mm down is more than {MOST_CORRECTION_MM:g} mm. "
                "Put the sheet in straight, print the test sheet again and read both numbers off it."
            )


@dataclass(frozen=True)
class OwnSheet:
    """A label sheet as the person measured it, on the paper of this key; its measures are checked where it is printed."""

    key: str
    name: str
    paper: str
    columns: int
    rows: int
    width_mm: float
    height_mm: float
    gap_x_mm: float
    gap_y_mm: float
    left_mm: float
    top_mm: float


def _kept(session: Session, key: str, default: Any) -> Any:
    text = get_setting(session, key)
    return json.loads(text) if text else default


def _keep(session: Session, key: str, value: Any) -> None:
    set_setting(session, key, json.dumps(value, ensure_ascii=False))


def own_key(name: str, what: str) -> tuple[str, str]:
    """Key and tidy name of something own; raises `InvalidInput` for a name without letters, or longer than 60 characters."""
    plain = " ".join(name.split())
    word = re.sub(r"[^\w]+", "-", plain.casefold()).strip("-_")
    if not word or len(plain) > 60 or not plain.isprintable():
        raise InvalidInput(f"Give the {what} a name of 1 to 60 characters, letters or figures among them; this has {len(plain)}.")
    return f"own-{word}", plain


def papers_chosen(session: Session) -> tuple[str, ...]:
    """Keys of the known papers that are in the house; none where the person has not chosen."""
    return tuple(_kept(session, CHOSEN, []))


def choose_papers(session: Session, keys: Iterable[str]) -> tuple[str, ...]:
    """Sets which of the known papers are in the house; none means all of them."""
    found = tuple(dict.fromkeys(keys))
    _keep(session, CHOSEN, found)
    return found


def own_papers(session: Session) -> tuple[OwnPaper, ...]:
    """Papers that the person measured, in the order they were added; all are in the house."""
    return tuple(OwnPaper(**data) for data in _kept(session, OWN_PAPERS, []))


def add_own_paper(session: Session, name: str, width_mm: float, height_mm: float) -> OwnPaper:
    """Keeps a paper by its measures, whichever edge is named first; raises `InvalidInput`, `AlreadyExists`."""
    key, plain = own_key(name, "paper")
    made = OwnPaper(key, plain, min(width_mm, height_mm), max(width_mm, height_mm))
    there = own_papers(session)
    if any(p.key == key for p in there):
        raise AlreadyExists(f"There is a paper “{plain}” already. Give yours another name, or remove that one first.")
    _keep(session, OWN_PAPERS, [asdict(p) for p in (*there, made)])
    return made


def remove_own_paper(session: Session, key: str) -> None:
    """Forgets an own paper; raises `NotFound`, and `InvalidInput` while an own label sheet is on it."""
    there = own_papers(session)
    rest = [asdict(p) for p in there if p.key != key]
    if len(rest) == len(there):
        raise NotFound(f"There is no own paper “{key[:60]}”. It may have been removed already.")
    used = [s.name for s in own_sheets(session) if s.paper == key]
    if used:
        raise InvalidInput(f"The label sheet “{used[0]}” is on this paper. Remove the label sheet first.")
    _keep(session, OWN_PAPERS, rest)


def printer_margins(session: Session) -> PrinterMargins:
    """What the printer leaves blank; 5 mm all round until the person says otherwise."""
    return PrinterMargins(**_kept(session, MARGINS, {}))


def set_printer_margins(session: Session, margins: PrinterMargins) -> None:
    """Sets what the printer leaves blank; every later print keeps to it."""
    _keep(session, MARGINS, asdict(margins))


def corrections(session: Session) -> dict[str, Correction]:
    """Corrections by key of the label sheet; `EVERY_SHEET` for those without one of their own."""
    return {key: Correction(**data) for key, data in _kept(session, CORRECTIONS, {}).items()}


def correction_for(session: Session, sheet: str) -> Correction:
    """The correction of this label sheet: its own, else that of every sheet, else none."""
    known = corrections(session)
    return known.get(sheet) or known.get(EVERY_SHEET) or Correction()


def set_correction(session: Session, correction: Correction, sheet: str = EVERY_SHEET) -> None:
    """Keeps the correction of a label sheet, or of all that have none of their own."""
    known = corrections(session) | {sheet: correction}
    _keep(session, CORRECTIONS, {key: asdict(c) for key, c in known.items()})


def remove_correction(session: Session, sheet: str = EVERY_SHEET) -> None:
    """Forgets a correction; nothing happens where none is kept."""
    _keep(session, CORRECTIONS, {key: asdict(c) for key, c in corrections(session).items() if key != sheet})


def own_sheets(session: Session) -> tuple[OwnSheet, ...]:
    """Label sheets that the person measured, in the order they were added."""
    return tuple(OwnSheet(**data) for data in _kept(session, OWN_SHEETS, []))


def add_own_sheet(session: Session, sheet: OwnSheet) -> OwnSheet:
    """Keeps a label sheet; raises `AlreadyExists` where the key is taken."""
    there = own_sheets(session)
    if any(s.key == sheet.key for s in there):
        raise AlreadyExists(f"There is a label sheet “{sheet.name}” already. Give yours another name, or remove that one first.")
    _keep(session, OWN_SHEETS, [asdict(s) for s in (*there, sheet)])
    return sheet


def remove_own_sheet(session: Session, key: str) -> None:
    """Forgets an own label sheet and its correction; raises `NotFound`."""
    there = own_sheets(session)
    rest = [asdict(s) for s in there if s.key != key]
    if len(rest) == len(there):
        raise NotFound(f"There is no own label sheet “{key[:60]}”. It may have been removed already.")
    _keep(session, OWN_SHEETS, rest)
    if key:
        remove_correction(session, key)
