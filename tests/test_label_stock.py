"""Label sheets: measures against plain arithmetic, safe insides, the corrections of a printer, the test sheet read back."""

import itertools
from dataclasses import replace
from datetime import date
from io import BytesIO

import numpy as np
import pdfplumber
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from catalogue.errors import DoesNotFit, InvalidInput
from catalogue.paper.label_sheets import (
    LABEL_STOCKS,
    SAFE_MM,
    LabelStock,
    PrintOffset,
    StockUse,
    find_stock,
    own_stock,
    plain_stock,
)
from catalogue.paper.sizes import PAPERS, Paper
from catalogue.sleeves.geometry import Rect
from printing.canvas.items import Line, Text
from printing.canvas.paint import measure
from printing.labels.documents import printer_test_pdf
from printing.labels.filled_sheets import SheetCaption, cut_marks, offset_scales, outline_lines, plan_test_sheet

MM = 72 / 25.4
ON = date(2031, 5, 1)
ARCHIVE = "Negatives of Ilse Fenn"
A4 = PAPERS["A4"]
ONE = own_stock(A4, 1, 1, 30, 15)
WIDE = own_stock(A4, 1, 2, 210, 148.5)
EVERY = [*LABEL_STOCKS.values(), ONE, WIDE]
CAPTION = SheetCaption("Test sheet for labels", ARCHIVE, ON)


def named(value: object) -> str:
    return f"{value.key}-{value.count}" if isinstance(value, LabelStock) else ""


# Left, top and number of labels: (sheet - n × label - (n - 1) × gap) / 2, worked out by hand from the commonly sold grids
# (common practice, no published source); sheets 210 × 297 mm (ISO 216) and 215.9 × 279.4 mm (ANSI/ASME Y14.1, from memory).
@pytest.mark.parametrize(
    ("key", "width", "height", "left", "top", "count"),
    [
        ("a4-3x7", 63.5, 38.1, 7.21, 15.15, 21),
        ("a4-3x8-edge", 70, 37, 0, 0.5, 24),
        ("a4-3x8", 64, 33.9, 6.5, 12.9, 24),
        ("a4-2x7", 99.1, 38.1, 4.63, 15.15, 14),
        ("a4-4x10", 48.5, 25.4, 8.0, 21.5, 40),
        ("a4-4x12", 45.7, 21.2, 9.79, 21.3, 48),
        ("a4-5x13", 38.1, 21.2, 4.67, 10.7, 65),
        ("letter-3x10", 66.675, 25.4, 4.7625, 12.7, 30),
        ("letter-2x5", 101.6, 50.8, 3.969, 12.7, 10),
        ("letter-4x20", 44.45, 12.7, 7.62, 12.7, 80),
    ],
)
def test_measures_of_the_presets(key: str, width: float, height: float, left: float, top: float, count: int) -> None:
    stock = LABEL_STOCKS[key]
    assert (stock.width_mm, stock.height_mm, stock.count) == (pytest.approx(width), pytest.approx(height), count)
    assert (stock.left_mm, stock.top_mm) == (pytest.approx(left, abs=0.006), pytest.approx(top, abs=0.006))
    last, paper = stock.label(count), stock.paper
    assert paper.width_mm - last.right == pytest.approx(left, abs=0.006)  # in the middle of the sheet
    assert paper.height_mm - last.bottom == pytest.approx(top, abs=0.006)


def test_every_preset_is_checked_here() -> None:
    assert len(LABEL_STOCKS) == 10


@pytest.mark.parametrize("stock", EVERY, ids=named)
def test_labels_lie_on_the_sheet_and_apart(stock: LabelStock) -> None:
    sheet = Rect(0, 0, stock.paper.width_mm, stock.paper.height_mm)
    rects = [stock.label(n) for n in range(1, stock.count + 1)]
    assert all(sheet.contains(r) for r in rects)
    assert not any(a.overlaps(b) for a, b in itertools.combinations(rects, 2))
    assert stock.grid.contains(rects[-1])


@pytest.mark.parametrize("offset", [(0, 0), (5, -5), (-5, 5), (0.5, 1.5)], ids=str)
@pytest.mark.parametrize("stock", EVERY, ids=named)
def test_text_stays_inside_label_and_printer_reach(stock: LabelStock, offset: tuple[float, float]) -> None:
    try:
        use = StockUse(stock, offset=PrintOffset(*offset))
    except DoesNotFit:
        pytest.fail(f"{stock.name} must take a correction of {offset}")
    for n in range(1, stock.count + 1):
        area = use.text_area(n)
        assert use.printable.contains(area)
        assert stock.label(n).moved(*offset).inset(SAFE_MM).contains(area)
    assert len({(round(use.text_area(n).width, 6), round(use.text_area(n).height, 6)) for n in range(1, stock.count + 1)}) == 1


def test_full_bleed_labels_keep_to_the_printers_reach() -> None:
    use = StockUse(LABEL_STOCKS["a4-3x8-edge"])
    # Paper edge to text 5 mm: 0 + 5 at the sides, 0.5 + 4.5 above and below.
    assert use.insets == (5, 4.5, 5, 4.5)
    assert use.text_area(1) == Rect(5, 5, 60, 28)


def test_an_impossible_sheet_is_refused_with_the_numbers() -> None:
    with pytest.raises(InvalidInput, match=r"take 215 mm across and the sheet measures 210 mm, 5\.0 mm too little"):
        own_stock(A4, 3, 8, 70, 37, gap_x_mm=2.5)
    with pytest.raises(InvalidInput, match=r"take 296 mm down and begin at 2 mm, but the sheet measures 297 mm"):
        own_stock(A4, 3, 8, 70, 37, top_mm=2)
    with pytest.raises(InvalidInput, match="0 labels across and 8 down"):
        own_stock(A4, 0, 8, 70, 37)
    with pytest.raises(InvalidInput, match="gaps of -1 and 0 mm is impossible"):
        own_stock(A4, 3, 8, 60, 37, gap_x_mm=-1)
    for odd in (float("nan"), float("inf")):
        with pytest.raises(InvalidInput):
            own_stock(A4, 3, 8, odd, 37)
        with pytest.raises(InvalidInput):
            own_stock(A4, 3, 8, 60, 37, left_mm=odd)
    with pytest.raises(InvalidInput, match="must be a number of mm"):
        own_stock(Paper("endless", "endless", 100, float("inf")), 1, 1, 50, 50, top_mm=0)
    with pytest.raises(DoesNotFit, match=r"12\.0 × 2\.0 mm of a label can be printed safely"):
        StockUse(own_stock(A4, 3, 8, 15, 5))
    with pytest.raises(DoesNotFit, match="labels 1 to 21, no label 22"):
        StockUse(LABEL_STOCKS["a4-3x7"], start=22)
    with pytest.raises(InvalidInput, match=r"5\.5 mm across and 0 mm down is more than 5 mm"):
        PrintOffset(5.5, 0)
    with pytest.raises(InvalidInput):
        PrintOffset(0, float("nan"))
    with pytest.raises(InvalidInput, match="none, marks, lines"):
        StockUse(ONE, cut="torn")


def test_an_own_sheet_by_measures_and_found_names() -> None:
    own = own_stock(Paper("A5", "A5", 148, 210), 2, 4, 60, 45, 4, 2, left_mm=11, top_mm=12)
    assert own.label(4) == Rect(75, 59, 60, 45)  # 11 + 60 + 4 across, 12 + 45 + 2 down
    assert own.name == "A5, 2 × 4 labels of 60 × 45 mm"
    assert find_stock("A4, 3 × 7 labels of 63.5 × 38.1 mm").key == find_stock(" a4-3X7").key == "a4-3x7"
    with pytest.raises(InvalidInput, match="letter-4x20"):
        find_stock("a4-9x9")


@given(st.floats(12, 250), st.floats(12, 300))
def test_plain_paper_holds_what_it_says(width: float, height: float) -> None:
    try:
        stock = plain_stock(A4, width, height)
    except DoesNotFit:
        assert width > 200 - 1e-6 or height > 280 - 1e-6  # 210 - 2 × 5; 297 - 2 × (5 + 3.5)
        return
    inside = Rect(5 - 1e-6, 8.5 - 1e-6, 200 + 2e-6, 280 + 2e-6)
    assert inside.contains(stock.grid)
    assert stock.grid.width + 4 + width > 200 - 1e-6 or stock.columns == 20  # not one more would go on it


@given(st.integers(0, 200), st.integers(1, 21))
def test_every_label_is_used_once(count: int, start: int) -> None:
    plans = StockUse(LABEL_STOCKS["a4-3x7"], start=start).sheets(count)
    assert sum(map(len, plans)) == count
    assert len(plans) == -(-(count + start - 1) // 21) if count else not plans
    if plans:
        assert plans[0][0] == start
        assert all(p[0] == 1 for p in plans[1:]) and all(p[-1] == 21 for p in plans[:-1])
    assert all(b - a == 1 for p in plans for a, b in itertools.pairwise(p))


def test_edges_and_marks_are_drawn_once_and_within_reach() -> None:
    use = StockUse(LABEL_STOCKS["a4-3x8-edge"])
    outlines = [use.outline(n) for n in range(1, 25)]
    # Inside the margin lie 2 of 4 upright edges (8 pieces each) and 7 of 9 level ones (3 pieces each).
    assert len(outline_lines(outlines, use.printable, 0.1, 0)) == 2 * 8 + 7 * 3
    marks = cut_marks(outlines, use.printable)
    crossings = {(140, 74.5), (70, 37.5), (140, 259.5)}
    for x, y in crossings:  # four arms of 3 mm meet where four labels do
        arms = [m for m in marks if isinstance(m, Line) and (x, y) in ((m.x1, m.y1), (m.x2, m.y2))]
        assert sorted(round(abs(m.x2 - m.x1) + abs(m.y2 - m.y1), 6) for m in arms) == [3, 3, 3, 3]
    for m in marks:
        assert isinstance(m, Line)
        assert use.printable.contains(Rect(m.x1, m.y1, m.x2 - m.x1, m.y2 - m.y1))
        assert not any(use.text_area(n).overlaps(Rect(m.x1, m.y1, m.x2 - m.x1 + 0.01, m.y2 - m.y1 + 0.01)) for n in range(1, 25))


@pytest.mark.parametrize("offset", [(0, 0), (-5, 5), (3.5, -2)], ids=str)
@pytest.mark.parametrize("stock", EVERY, ids=named)
def test_the_test_sheet_stays_within_reach_and_says_all(stock: LabelStock, offset: tuple[float, float]) -> None:
    use = StockUse(stock, offset=PrintOffset(*offset))
    sheet = plan_test_sheet(use, CAPTION, measure)
    words = ""
    boxes = []
    for item in sheet.items:
        if isinstance(item, Text):
            wide = measure(item.text, item.size, item.bold)
            x = item.x - {"left": 0, "middle": wide / 2, "right": wide}[item.align]
            rect = Rect(x, item.y - 0.72 * item.size, wide, 0.94 * item.size)
            boxes.append(rect)
            words += " " + item.text
        else:
            assert isinstance(item, Line)
            rect = Rect(min(item.x1, item.x2), min(item.y1, item.y2), abs(item.x2 - item.x1), abs(item.y2 - item.y1))
        assert use.printable.inset(-0.01).contains(rect), item
    assert not any(a.inset(0.01).overlaps(b) for a, b in itertools.combinations(boxes, 2))
    for said in (f"Test sheet for {stock.name}", ARCHIVE, "2031-05-01", "Print at 100 %", "Across:", "Down:", "grey outlines"):
        assert said in words
    lines = [i for i in sheet.items if isinstance(i, Line)]
    assert sum(abs(line.x2 - line.x1 - 100) < 1e-6 and line.width == 0.2 and line.grey == 0 for line in lines) == 1  # the rule


@pytest.mark.parametrize(("shift_x", "shift_y"), [(-2.0, 1.5), (3.0, -4.0), (0.0, 0.0)])
@pytest.mark.parametrize("key", ["a4-3x7", "a4-3x8-edge", "a4-5x13", "letter-4x20"])
def test_the_number_read_off_undoes_what_the_printer_does(key: str, shift_x: float, shift_y: float) -> None:
    # A printer that puts everything (x, y) mm off is mimicked by moving the raster; the label's true edges stay where the
    # stock measures. The tick of the raster nearest the true edge is read, as by eye.
    stock = LABEL_STOCKS[key]
    use = StockUse(stock)
    per_mm = 10.0
    page = pypdfium2.PdfDocument(printer_test_pdf(use, archive=ARCHIVE, printed_on=ON).pdf)[0]
    dark = page.render(scale=per_mm / MM, grayscale=True).to_numpy().squeeze() < 128
    dark = np.roll(dark, (round(shift_y * per_mm), round(shift_x * per_mm)), axis=(0, 1))
    across, down = offset_scales(use)
    # In a line 0.5 mm into the ticks, which is where they all reach.
    row = dark[round((across.middle - 0.5 + shift_y) * per_mm)]
    column = dark[:, round((down.middle + 0.5 + shift_x) * per_mm)]
    for line, scale, shift in ((row, across, shift_x), (column, down, shift_y)):
        low = round((scale.at - 5.2 + shift) * per_mm)
        inked = np.flatnonzero(line[low : round((scale.at + 5.2 + shift) * per_mm)]) + low
        groups = np.split(inked, np.flatnonzero(np.diff(inked) > 1) + 1)
        centres = [float(g.mean()) + 0.5 for g in groups]
        assert len(centres) == len(scale.ticks) == 21
        nearest = int(np.argmin([abs(c / per_mm - scale.at) for c in centres]))
        assert scale.ticks[nearest] == pytest.approx(-shift)
        assert abs(centres[nearest] / per_mm - scale.at) < 0.1


def test_where_no_edge_can_be_reached_a_measure_is_asked_for() -> None:
    across, down = offset_scales(StockUse(WIDE))
    assert across.ticks == ()
    assert len(down.ticks) == 21
    text = " ".join(i.text for i in plan_test_sheet(StockUse(WIDE), CAPTION, measure).items if isinstance(i, Text))
    assert "Across: 5 mm less what you measure from the paper's left edge" in text


@pytest.mark.parametrize("key", ["a4-3x7", "letter-2x5", "letter-4x20"])
def test_printed_outlines_measure_as_the_stock_does(key: str) -> None:
    stock = LABEL_STOCKS[key]
    made = printer_test_pdf(StockUse(stock, offset=PrintOffset(-1.5, -0.5)), archive=ARCHIVE, printed_on=ON)
    with pdfplumber.open(BytesIO(made.pdf)) as pdf:
        page = pdf.pages[0]
        assert (float(page.width) / MM, float(page.height) / MM) == (
            pytest.approx(stock.paper.width_mm, abs=0.01),
            pytest.approx(stock.paper.height_mm, abs=0.01),
        )
        lines = [(r["x0"] / MM, r["top"] / MM, r["x1"] / MM, r["bottom"] / MM) for r in page.lines]
    for n in (1, stock.columns, stock.count):
        want = stock.label(n).moved(-1.5, -0.5)
        for edge in ((want.x, want.bottom, want.right, want.bottom), (want.right, want.y, want.right, want.bottom)):
            clipped = (max(edge[0], 5), edge[1], min(edge[2], stock.paper.width_mm - 5), edge[3])
            assert any(np.allclose(line, clipped, atol=0.1) for line in lines), (n, edge)


def test_the_same_sheet_gives_the_same_bytes() -> None:
    one, two = (printer_test_pdf(StockUse(ONE), archive=ARCHIVE, printed_on=ON) for _ in range(2))
    assert one.pdf == two.pdf
    assert (one.sheets, one.scale, one.missing) == (1, 1.0, ())
    assert "true size: print at 100 %" in one.explanation


@settings(max_examples=25, deadline=None)
@given(st.integers(1, 4), st.integers(1, 6), st.floats(18, 50), st.floats(9, 45), st.floats(0, 3))
def test_any_own_sheet_has_a_test_sheet_within_reach(columns: int, rows: int, width: float, height: float, gap: float) -> None:
    use = StockUse(own_stock(A4, columns, rows, width, height, gap, gap))
    for item in plan_test_sheet(use, replace(CAPTION, archive="Fenn " * 20), measure).items:
        if isinstance(item, Text):
            wide = measure(item.text, item.size, item.bold)
            x = item.x - {"left": 0, "middle": wide / 2, "right": wide}[item.align]
            assert use.printable.inset(-0.01).contains(Rect(x, item.y - 0.72 * item.size, wide, 0.94 * item.size)), item
