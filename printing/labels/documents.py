"""Finished PDFs of labels, stickers, spines, slips and tags, and of the test sheet of a label stock."""

from collections.abc import Sequence
from datetime import date

from catalogue.paper.label_sheets import StockUse
from catalogue.paper.sizes import Paper, find_paper
from catalogue.sleeves.geometry import Size
from printing.canvas.items import Sheet, counted
from printing.canvas.paint import Painter, measure
from printing.labels.filled_sheets import SheetCaption, plan_scales, plan_test_sheet
from printing.labels.plans import BinderSpine, RollLabel, plan_roll_labels, plan_spines, plan_stickers
from printing.labels.slips import BottleTag, OutSlip, plan_bottle_tags, plan_out_slips, slip_size
from printing.labels.stock_picture import plan_stock_picture
from printing.sheets.documents import PrintedPdf, finished


def roll_labels_pdf(labels: Sequence[RollLabel], use: StockUse) -> PrintedPdf:
    """Labels for cans and for negatives waiting to be cut."""
    return _made(f"Roll labels: {len(labels)}", plan_roll_labels(labels, use, measure), use.stock.name)


def stickers_pdf(numbers: Sequence[str], use: StockUse, *, archive: str, printed_on: date, copies: int = 1) -> PrintedPdf:
    """Numbers printed ahead for cassettes, so many copies of each."""
    sheets = plan_stickers(numbers, use, archive=archive, printed_on=printed_on, measure=measure, copies=copies)
    return _made("Numbers for cassettes", sheets, use.stock.name)


def spines_pdf(spines: Sequence[BinderSpine], size: Size, *, paper: str | Paper) -> PrintedPdf:
    """Binder spines of this size on plain paper."""
    sheets = plan_spines(spines, size, measure, paper=find_paper(paper))
    return _made("Binder spines", sheets, f"spines of {size.width:g} × {size.height:g} mm")


def out_slips_pdf(slips: Sequence[OutSlip], slot: Size, *, paper: str | Paper) -> PrintedPdf:
    """Slips that stay in slots of this size (`width` along the slot) for strips that are out."""
    sheets = plan_out_slips(slips, slot, measure, paper=find_paper(paper))
    size = slip_size(slot)
    return _made("Slips for strips that are out", sheets, f"slips of {size.width:g} × {size.height:g} mm")


def bottle_tags_pdf(tags: Sequence[BottleTag], use: StockUse) -> PrintedPdf:
    """Tags for bottles."""
    return _made("Bottle tags", plan_bottle_tags(tags, use, measure), use.stock.name)


def printer_test_pdf(use: StockUse, *, archive: str, printed_on: date) -> PrintedPdf:
    """The test sheet from which the correction of a printer is read."""
    sheet = plan_test_sheet(use, SheetCaption("Test sheet for labels", archive, printed_on), measure)
    return _made(f"Test sheet: {use.stock.name}", [sheet], use.stock.name)


def printer_scales(use: StockUse) -> Sheet:
    """The outlines and scales of the test sheet, to be shown beside the form that asks for its numbers."""
    return plan_scales(use, measure)


def stock_picture(use: StockUse) -> Sheet:
    """A label sheet to look at before it is kept."""
    return plan_stock_picture(use, measure)


def _made(title: str, sheets: Sequence[Sheet], on: str) -> PrintedPdf:
    painter = Painter(title)
    painter.draw(sheets)
    return finished(painter, 1.0, len(sheets), f"{counted(len(sheets), 'sheet')}, {on}, true size: print at 100 %.")
