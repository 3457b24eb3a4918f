"""Papers, label sheets and corrections as prints need them: what is known put together with what the person set.

The person's own lie as JSON among the settings, in the order they were added; every length in mm.
"""

import json
import re
from collections.abc import Callable, Iterable
from dataclasses import asdict, astuple, replace
from typing import Any

from sqlmodel import Session

from catalogue.errors import AlreadyExists, InvalidInput, NotFound
from catalogue.paper.label_sheets import LABEL_STOCKS, LabelStock, PrintOffset, StockUse, find_stock
from catalogue.paper.sizes import PAPERS, Paper, PrinterMargins, find_paper, own_paper
from catalogue.settings import get_setting, set_setting

CHOSEN, OWN_PAPERS, MARGINS = "papers_in_the_house", "own_papers", "printer_margins"
OWN_SHEETS, CORRECTIONS = "own_label_sheets", "printer_corrections"
EVERY_SHEET = ""
"""The key under which the correction of all label sheets without one of their own is kept."""


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


def _add(session: Session, kept: str, what: str, row: dict[str, Any]) -> None:
    rows = _kept(session, kept, [])
    if any(there["key"] == row["key"] for there in rows):
        raise AlreadyExists(f"There is a {what} “{row['name']}” already. Give yours another name, or remove that one first.")
    _keep(session, kept, [*rows, row])


def _remove(session: Session, kept: str, what: str, key: str) -> None:
    rows = _kept(session, kept, [])
    rest = [row for row in rows if row["key"] != key]
    if len(rest) == len(rows):
        raise NotFound(f"There is no own {what} “{key[:60]}”. It may have been removed already.")
    _keep(session, kept, rest)


def _refuse_known(find: Callable[[str], object], what: str, name: str) -> None:
    try:
        find(name)
    except InvalidInput:
        return
    raise AlreadyExists(f"There is a known {what} “{name}” already. Give yours another name.")


def printer_margins(session: Session) -> PrinterMargins:
    """What the printer leaves blank; 5 mm all round until the person says otherwise."""
    return PrinterMargins(**_kept(session, MARGINS, {}))


def set_printer_margins(session: Session, margins: PrinterMargins) -> None:
    """Sets what the printer leaves blank; every later print keeps to it."""
    _keep(session, MARGINS, asdict(margins))


def papers_chosen(session: Session) -> tuple[str, ...]:
    """Keys of the known papers that are in the house; none where the person has not chosen."""
    return tuple(_kept(session, CHOSEN, []))


def choose_papers(session: Session, keys: Iterable[str]) -> tuple[str, ...]:
    """Sets which known papers are in the house; none means all. Raises `InvalidInput` for one that isn't known."""
    found = tuple(dict.fromkeys(find_paper(key).key for key in keys))
    _keep(session, CHOSEN, found)
    return found


def own_papers(session: Session) -> tuple[Paper, ...]:
    """Papers that the person measured; all are in the house."""
    return tuple(Paper(**row) for row in _kept(session, OWN_PAPERS, []))


def all_papers(session: Session) -> tuple[Paper, ...]:
    """The known papers, then the person's own, each with what the printer leaves blank."""
    edges = astuple(printer_margins(session))
    return tuple(paper.with_edges(*edges) for paper in (*PAPERS.values(), *own_papers(session)))


def papers_here(session: Session) -> tuple[Paper, ...]:
    """The papers in the house: the chosen ones, all known ones where none was chosen, and the person's own."""
    chosen = papers_chosen(session)
    return tuple(p for p in all_papers(session) if not chosen or p.key in chosen or p.key not in PAPERS)


def paper_named(session: Session, text: str = "", among: Iterable[str] = ()) -> Paper:
    """The paper of this key or name, in the house or not.

    "" takes A4 if that is in the house, else the first paper that is; with `among` only one of these keys is taken.
    Raises `InvalidInput` for a paper that isn't known.
    """
    if text:
        return find_paper(text, all_papers(session))
    keys = tuple(among)
    here = [p for p in papers_here(session) if not keys or p.key in keys]
    return next((p for p in here if p.key == "A4"), here[0] if here else find_paper("A4", all_papers(session)))


def add_paper(session: Session, name: str, width_mm: float, height_mm: float) -> Paper:
    """Keeps a paper by its measures, whichever edge is named first; raises `InvalidInput`, and `AlreadyExists` for its name."""
    key, plain = own_key(name, "paper")
    _refuse_known(find_paper, "paper", plain)
    made = own_paper(key, plain, width_mm, height_mm)
    _add(session, OWN_PAPERS, "paper", {n: getattr(made, n) for n in ("key", "name", "width_mm", "height_mm")})
    return made


def remove_own_paper(session: Session, key: str) -> None:
    """Forgets an own paper; raises `NotFound`, and `InvalidInput` while an own label sheet is on it."""
    used = [row["name"] for row in _kept(session, OWN_SHEETS, []) if row["paper"] == key and key not in PAPERS]
    if used:
        raise InvalidInput(f"The label sheet “{used[0]}” is on this paper. Remove the label sheet first.")
    _remove(session, OWN_PAPERS, "paper", key)


def own_sheets(session: Session) -> tuple[LabelStock, ...]:
    """Label sheets that the person measured, each on its paper with what the printer leaves blank."""
    papers = {p.key: p for p in all_papers(session)}
    return tuple(LabelStock(**{**row, "paper": papers[row["paper"]]}) for row in _kept(session, OWN_SHEETS, []))


def stocks_here(session: Session) -> tuple[LabelStock, ...]:
    """The label sheets known, then the person's own, each on its paper with what the printer leaves blank."""
    edges = astuple(printer_margins(session))
    known = (replace(stock, paper=stock.paper.with_edges(*edges)) for stock in LABEL_STOCKS.values())
    return (*known, *own_sheets(session))


def stock_named(session: Session, text: str) -> LabelStock:
    """The label sheet of this key or name, known or own; raises `InvalidInput` with the ones there are."""
    return find_stock(text, stocks_here(session))


def add_sheet(session: Session, stock: LabelStock) -> LabelStock:
    """Keeps a measured label sheet on one of the papers known here, under the key that its name makes.

    Raises `DoesNotFit` where text has no room on its labels, `AlreadyExists` for a name that is taken.
    """
    key, name = own_key(stock.name, "label sheet")
    StockUse(stock)
    _refuse_known(find_stock, "label sheet", name)
    made = replace(stock, key=key, name=name, paper=find_paper(stock.paper.key, all_papers(session)))
    _add(session, OWN_SHEETS, "label sheet", asdict(made) | {"paper": made.paper.key})
    return made


def remove_own_sheet(session: Session, key: str) -> None:
    """Forgets an own label sheet and its correction; raises `NotFound`."""
    _remove(session, OWN_SHEETS, "label sheet", key)
    remove_correction(session, key)


def corrections(session: Session) -> dict[str, PrintOffset]:
    """Corrections by key of the label sheet; `EVERY_SHEET` for those without one of their own."""
    return {key: PrintOffset(**data) for key, data in _kept(session, CORRECTIONS, {}).items()}


def correction_for(session: Session, sheet: str) -> PrintOffset:
    """The correction of this label sheet: its own, else that of every sheet, else none."""
    known = corrections(session)
    return known.get(sheet) or known.get(EVERY_SHEET) or PrintOffset()


def keep_correction(session: Session, dx: float, dy: float, sheet: str = EVERY_SHEET) -> PrintOffset:
    """Keeps what the printer is corrected by in mm, for one label sheet or for every one without its own."""
    made = PrintOffset(dx, dy)
    key = stock_named(session, sheet).key if sheet else EVERY_SHEET
    _keep(session, CORRECTIONS, {k: asdict(c) for k, c in (corrections(session) | {key: made}).items()})
    return made


def remove_correction(session: Session, sheet: str = EVERY_SHEET) -> None:
    """Forgets a correction; nothing happens where none is kept."""
    _keep(session, CORRECTIONS, {key: asdict(c) for key, c in corrections(session).items() if key != sheet})


def use_of(session: Session, stock: str, start: int = 1, dx: float | None = None, dy: float | None = None) -> StockUse:
    """The label sheet in the printer, the first label still on it, and the correction in mm: the kept one where none is given."""
    found = stock_named(session, stock)
    kept = correction_for(session, found.key)
    return StockUse(found, start, PrintOffset(kept.dx if dx is None else dx, kept.dy if dy is None else dy))
