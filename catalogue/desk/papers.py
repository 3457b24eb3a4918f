"""Papers, label sheets and corrections as prints need them: what is known put together with what the person set."""

from collections.abc import Callable, Iterable
from dataclasses import astuple, replace

from sqlmodel import Session

from catalogue.desk import kept_papers as paper_settings
from catalogue.desk.kept_papers import Correction, OwnPaper, OwnSheet, own_key
from catalogue.errors import AlreadyExists, InvalidInput
from catalogue.paper.label_sheets import LABEL_STOCKS, LabelStock, PrintOffset, StockUse, find_stock
from catalogue.paper.sizes import PAPERS, Paper, find_paper


def _own(paper: OwnPaper) -> Paper:
    return Paper(paper.key, paper.name, paper.width_mm, paper.height_mm)


def all_papers(session: Session) -> tuple[Paper, ...]:
    """The known papers, then the person's own, each with what the printer leaves blank."""
    edges = astuple(paper_settings.printer_margins(session))
    known = (*PAPERS.values(), *map(_own, paper_settings.own_papers(session)))
    return tuple(paper.with_edges(*edges) for paper in known)


def papers_here(session: Session) -> tuple[Paper, ...]:
    """The papers in the house: the chosen ones, all known ones where none was chosen, and the person's own."""
    chosen = paper_settings.papers_chosen(session)
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


def choose_papers(session: Session, keys: Iterable[str]) -> tuple[str, ...]:
    """Sets which known papers are in the house; none means all. Raises `InvalidInput` for one that isn't known."""
    return paper_settings.choose_papers(session, [find_paper(key).key for key in keys])


def add_paper(session: Session, name: str, width_mm: float, height_mm: float) -> Paper:
    """Keeps a paper by its measures; raises `InvalidInput`, and `AlreadyExists` for the name of a known paper."""
    _, plain = own_key(name, "paper")
    if _known(lambda: find_paper(plain)):
        raise AlreadyExists(f"There is a known paper “{plain}” already. Give yours another name.")
    return _own(paper_settings.add_own_paper(session, plain, width_mm, height_mm))


def _known(find: Callable[[], object]) -> bool:
    try:
        find()
    except InvalidInput:
        return False
    return True


def stocks_here(session: Session) -> tuple[LabelStock, ...]:
    """The label sheets known, then the person's own, each on its paper with what the printer leaves blank."""
    papers = {p.key: p for p in all_papers(session)}
    known = [replace(stock, paper=papers[stock.paper.key]) for stock in LABEL_STOCKS.values()]
    return (*known, *(_stock(sheet, papers[sheet.paper]) for sheet in paper_settings.own_sheets(session)))


def _stock(sheet: OwnSheet, paper: Paper) -> LabelStock:
    return LabelStock(
        sheet.key, sheet.name, paper, sheet.columns, sheet.rows, sheet.width_mm, sheet.height_mm, sheet.gap_x_mm,
        sheet.gap_y_mm, sheet.left_mm, sheet.top_mm,
    )  # fmt: skip


def stock_named(session: Session, text: str) -> LabelStock:
    """The label sheet of this key or name, known or own; raises `InvalidInput` with the ones there are."""
    return find_stock(text, stocks_here(session))


def add_sheet(session: Session, stock: LabelStock) -> OwnSheet:
    """Keeps a measured label sheet on one of the papers known here.

    Raises `DoesNotFit` where text has no room on its labels, `AlreadyExists` for a name that is taken.
    """
    key, name = own_key(stock.name, "label sheet")
    StockUse(stock)
    if _known(lambda: find_stock(name)):
        raise AlreadyExists(f"There is a known label sheet “{name}” already. Give yours another name.")
    made = OwnSheet(
        key, name, find_paper(stock.paper.key, all_papers(session)).key, stock.columns, stock.rows, stock.width_mm,
        stock.height_mm, stock.gap_x_mm, stock.gap_y_mm, stock.left_mm, stock.top_mm,
    )  # fmt: skip
    return paper_settings.add_own_sheet(session, made)


def keep_correction(session: Session, dx: float, dy: float, sheet: str = paper_settings.EVERY_SHEET) -> Correction:
    """Keeps what the printer is corrected by in mm, for one label sheet or for every one without its own."""
    made = Correction(dx, dy)
    key = stock_named(session, sheet).key if sheet else paper_settings.EVERY_SHEET
    paper_settings.set_correction(session, made, key)
    return made


def use_of(session: Session, stock: str, start: int = 1, dx: float | None = None, dy: float | None = None) -> StockUse:
    """The label sheet in the printer, the first label still on it, and the correction in mm: the kept one where none is given."""
    found = stock_named(session, stock)
    kept = paper_settings.correction_for(session, found.key)
    return StockUse(found, start, PrintOffset(kept.dx if dx is None else dx, kept.dy if dy is None else dy))
