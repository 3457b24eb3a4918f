"""Papers in the house, the printer's margins and corrections, and label sheets by their measures."""

from urllib.parse import quote

from fastapi import APIRouter, Request
from fastapi.responses import RedirectResponse, Response
from markupsafe import Markup
from sqlmodel import Session

from api.dependencies import ArchiveHere, TypedForm
from api.web.desk.sheet_picture import sheet_svg
from api.web.rendering import page
from api.web.typed import measured, whole
from catalogue.desk import papers
from catalogue.desk.papers import EVERY_SHEET, own_key
from catalogue.errors import DoesNotFit, InvalidInput, StripleafError
from catalogue.paper.label_sheets import LabelStock, PrintOffset, StockUse, find_stock, own_stock
from catalogue.paper.sizes import PAPERS, PrinterMargins
from catalogue.settings import get_units
from catalogue.sleeves.geometry import Rect
from catalogue.store.engine import Archive
from catalogue.units import Units
from printing.labels.documents import printer_scales, stock_picture
from printing.labels.filled_sheets import offset_scales

router = APIRouter(prefix="/papers")

EDGES = ("top", "right", "bottom", "left")
SHEET_MEASURES = {
    "width": "Label, width", "height": "Label, height", "gap_x": "Gap between labels side by side",
    "gap_y": "Gap between one row and the next", "left": "First label, from the left edge",
    "top": "First label, from the top edge",
}  # fmt: skip
OPTIONAL = ("gap_x", "gap_y", "left", "top")
SHOWN_MM = 7.0
"""Beyond the edges of the top left label, what is shown of a test sheet: the ticks reach 5 mm."""


def _needed(form: dict[str, str], name: str, words: str, units: Units) -> float:
    figure = measured(form.get(name, ""), words.lower())
    if figure is None:
        raise InvalidInput(f"Measure this too: {words[0].lower()}{words[1:]}.")
    return units.mm(figure)


def _signed(form: dict[str, str], name: str, words: str) -> float:
    """A number with its sign as printed on the scale, whose minus is a long one."""
    figure = measured(form.get(name, "").replace("−", "-"), words)
    if figure is None:
        raise InvalidInput(f"Write the {words} too; 0 if the edge meets the scale at 0.")
    return figure


def _test_pictures(session: Session, stock: LabelStock) -> tuple[Markup, tuple[Markup, ...]]:
    """The top left corner of a test sheet, and its two scales larger where both are printed."""
    use = StockUse(stock, offset=papers.correction_for(session, stock.key))
    sheet, first = printer_scales(use), stock.label(1)
    width, height = min(stock.paper.width_mm, first.right + SHOWN_MM), min(stock.paper.height_mm, first.bottom + SHOWN_MM)
    spoken = f"The top left corner of the test sheet for {stock.name}."
    corner = sheet_svg(sheet, spoken, part=Rect(0, 0, width, height))
    across, down = offset_scales(use)
    if not (across.ticks and down.ticks):
        return corner, ()
    left = across.at - (16 if across.edge == "right" else 8)  # its name stands on the label's side
    return corner, (
        sheet_svg(sheet, "Its scale across, larger.", part=Rect(left, across.middle - 8, 24, 14)),
        sheet_svg(sheet, "Its scale down, larger.", part=Rect(down.middle - 14, down.at - 7, 24, 14)),
    )


def _correction_words(correction: PrintOffset) -> str:
    dx, dy = (f"{v:+g}".replace("-", "−") if v else "0" for v in (correction.dx, correction.dy))
    return f"{dx} mm across, {dy} mm down"


def _show(
    request: Request, archive: Archive, *, stock: str = "", problem: str = "", do: str = "", typed: dict[str, str] | None = None
) -> Response:
    with archive.session(reading=True) as session:
        units, stocks = get_units(session), papers.stocks_here(session)
        margins = papers.printer_margins(session)
        shown = find_stock(stock, stocks) if stock else stocks[0]
        kept = papers.correction_for(session, shown.key)
        unprintable = ""
        try:
            corner, scales = _test_pictures(session, shown)
        except DoesNotFit as trouble:  # with margins this wide nothing can be printed on its labels
            corner, scales, unprintable = Markup(), (), str(trouble)
        known = papers.corrections(session)
        names = {s.key: s.name for s in stocks} | {EVERY_SHEET: "Every label sheet without one of its own"}
        values = {
            **{f"margin_{edge}": units.length_figure(getattr(margins, edge)) for edge in EDGES},
            "dx": f"{kept.dx:g}", "dy": f"{kept.dy:g}", "for": shown.key, "name": "", "width": "", "height": "", **(typed or {}),
        }  # fmt: skip
        chosen = papers.papers_chosen(session)
        return page(
            request, "papers.html", status=422 if problem else 200, problem=problem, do=do, values=values, units=units,
            edges=EDGES, known=PAPERS.values(), chosen=chosen or tuple(PAPERS), own=papers.own_papers(session),
            stocks=stocks, shown=shown, corner=corner, scales=scales,
            unprintable=unprintable, own_sheets=papers.own_sheets(session),
            corrections=[(key, names.get(key, key), _correction_words(c)) for key, c in known.items()],
        )  # fmt: skip


@router.get("")
def show(request: Request, archive: ArchiveHere, stock: str = "") -> Response:
    """The papers, the printer, and the label sheets; `stock` chooses the one whose test sheet is shown."""
    return _show(request, archive, stock=stock)


@router.post("")
def change(request: Request, archive: ArchiveHere, form: TypedForm) -> Response:
    """One form of the page, told apart by its button."""
    do = form.pop("do", "")
    try:
        with archive.session() as session:
            _do(session, do, form)
    except StripleafError as trouble:
        return _show(request, archive, stock=form.get("shown", ""), problem=str(trouble), do=do, typed=form)
    there = f"/papers?stock={quote(form.get('shown', ''))}#corrections" if do == "correct" else "/papers"
    return RedirectResponse(there, status_code=303)


def _do(session: Session, do: str, form: dict[str, str]) -> None:
    units = get_units(session)
    if do == "choose":
        papers.choose_papers(session, [key for key in PAPERS if form.get(f"has {key}")])
    elif do == "margins":
        margins = {edge: _needed(form, f"margin_{edge}", f"Margin at the {edge}", units) for edge in EDGES}
        papers.set_printer_margins(session, PrinterMargins(**margins))
    elif do == "paper":
        width, height = (_needed(form, edge, f"Paper, {edge}", units) for edge in ("width", "height"))
        papers.add_paper(session, form.get("name", ""), width, height)
    elif do == "forget paper":
        papers.remove_own_paper(session, form.get("key", ""))
    elif do == "correct":
        dx, dy = _signed(form, "dx", "number across"), _signed(form, "dy", "number down")
        papers.keep_correction(session, dx, dy, form.get("for", EVERY_SHEET))
    elif do == "forget correction":
        papers.remove_correction(session, form.get("key", EVERY_SHEET))
    elif do == "forget sheet":
        papers.remove_own_sheet(session, form.get("key", ""))
    else:
        raise InvalidInput("That form isn't known here. Load the page again.")


def stock_from(session: Session, form: dict[str, str], units: Units) -> LabelStock:
    """The measured label sheet; raises `InvalidInput`, and `DoesNotFit` where text has no room on a label."""
    key, name = own_key(form.get("name", ""), "label sheet")
    columns, rows = (whole(form.get(n, ""), f"number of {n}") for n in ("columns", "rows"))
    if columns is None or rows is None:
        raise InvalidInput("Count the labels across and down; both are needed.")
    size = {n: _needed(form, n, SHEET_MEASURES[n], units) for n in SHEET_MEASURES if n not in OPTIONAL}
    more = {n: measured(form.get(n, ""), SHEET_MEASURES[n].lower()) for n in OPTIONAL}
    mm = {n: None if figure is None else units.mm(figure) for n, figure in more.items()}
    made = own_stock(
        papers.paper_named(session, form.get("paper", "")), columns, rows, size["width"], size["height"], mm["gap_x"] or 0.0,
        mm["gap_y"] or 0.0, mm["left"], mm["top"], key=key, name=name,
    )  # fmt: skip
    StockUse(made)
    return made


def _sheet_screen(
    request: Request, archive: Archive, form: dict[str, str], *, look: LabelStock | None = None, problem: str = ""
) -> Response:
    svg = Markup()
    if look:
        spoken = f"{look.name}: {look.columns} labels across and {look.rows} down on {look.paper.name}."
        svg = sheet_svg(stock_picture(StockUse(look)), spoken)
    with archive.session(reading=True) as session:
        return page(
            request, "own_label_sheet.html", status=422 if problem else 200, form=form, units=get_units(session), look=look,
            svg=svg, problem=problem, measures=SHEET_MEASURES, optional=OPTIONAL, papers=papers.all_papers(session),
            stocks=papers.stocks_here(session),
        )  # fmt: skip


@router.get("/label-sheets")
def measure_sheet(request: Request, archive: ArchiveHere, like: str = "") -> Response:
    """The form for an own label sheet, filled with the measures of a known one."""
    with archive.session(reading=True) as session:
        units, usual = get_units(session), papers.paper_named(session)
        stock = papers.stock_named(session, like) if like else None
    if stock is None:
        return _sheet_screen(request, archive, {"paper": usual.key})
    mm = (stock.width_mm, stock.height_mm, stock.gap_x_mm, stock.gap_y_mm, stock.left_mm, stock.top_mm)
    figures = {name: units.length_figure(value) for name, value in zip(SHEET_MEASURES, mm, strict=True)}
    counts = {"columns": str(stock.columns), "rows": str(stock.rows)}
    return _sheet_screen(request, archive, {"like": stock.key, "paper": stock.paper.key, **counts, **figures})


@router.post("/label-sheets")
def keep_sheet(request: Request, archive: ArchiveHere, form: TypedForm) -> Response:
    """Shows the measured label sheet, or keeps it."""
    try:
        with archive.session() as session:
            made = stock_from(session, form, get_units(session))
            if form.get("do") == "keep":
                papers.add_sheet(session, made)
    except StripleafError as trouble:
        return _sheet_screen(request, archive, form, problem=str(trouble))
    if form.get("do") != "keep":
        return _sheet_screen(request, archive, form, look=made)
    return RedirectResponse("/papers", status_code=303)
