"""A label sheet to look at before it is kept: its labels with their numbers, and how far the printer reaches."""

from catalogue.paper.label_sheets import StockUse
from printing.canvas.items import Box, Item, Measure, Sheet, Text

LARGEST_MM, SMALLEST_MM = 9.0, 2.6


def plan_stock_picture(use: StockUse, measure: Measure) -> Sheet:
    """The sheet at its own measures, uncorrected; each label's number fills about half of it. Dashed: the printer's reach."""
    stock = use.stock
    items: list[Item] = [Box(use.printable, 0.3, 0.4, True)]
    widest = max(measure(str(n), 1.0, True) for n in (1, stock.count))
    size = min(LARGEST_MM, stock.height_mm * 0.5, stock.width_mm * 0.6 / widest)
    for n in range(1, stock.count + 1):
        rect = stock.label(n)
        items.append(Box(rect, 0.3))
        if size >= SMALLEST_MM or n in (1, stock.count):
            middle = rect.y + rect.height / 2 + size * 0.36
            items.append(Text(rect.x + rect.width / 2, middle, size, str(n), True, "middle"))
    return Sheet(stock.paper.width_mm, stock.paper.height_mm, tuple(items))
