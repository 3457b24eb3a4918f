"""Roll labels, cassette numbers, spines, slips and bottle tags: inside their rectangles, apart, and read back from paper."""

import itertools
import shutil
import subprocess
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from io import BytesIO
from pathlib import Path

import pdfplumber
import pypdf
import pypdfium2
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageFilter

from catalogue.errors import DoesNotFit, InvalidInput
from catalogue.paper.label_sheets import LABEL_STOCKS, LabelStock, StockUse, plain_stock
from catalogue.paper.sizes import PAPERS
from catalogue.sleeves.geometry import Rect, Size
from catalogue.sleeves.layouts import BUILT_IN_LAYOUTS
from catalogue.views import RollSummary
from printing.canvas.items import Box, Code, Item, Line, Sheet, Text
from printing.canvas.paint import Painter, measure
from printing.labels.documents import bottle_tags_pdf, out_slips_pdf, roll_labels_pdf, spines_pdf, stickers_pdf
from printing.labels.plans import (
    BinderSpine,
    RollLabel,
    place_roll_label,
    place_spine,
    place_sticker,
    plan_roll_labels,
    plan_spines,
    plan_stickers,
    turned,
)
from printing.labels.slips import CAUTION, BottleTag, OutSlip, place_bottle_tag, place_out_slip, plan_out_slips, slip_size
from printing.labels.text import code_side, flowed, number_lines, wrapped

MM = 72 / 25.4
ON = date(2031, 5, 1)
A4 = PAPERS["A4"]
ARCHIVE = "Negatives of Ilse Fenn"
ROLL = RollSummary(
    "2031-014", "35 mm, 24 × 36", "Tarn 100", "Fenn II", "2031-04-12", "Harbour at low water", "1–36", "C-41", "2031-04-28",
    "Skarholm",
)  # fmt: skip
BARE = RollSummary("7", "", "", "", "", "", "")
LONG = RollSummary(
    "Found in the attic box after the move 17", "medium format, 6 × 4.5", "Tarn 100 " * 8, "Fenn " * 20,
    "2030-12-24/2031-01-06", "Harbour and " * 30, "00–39A", "C-41", "2031-04", "Skarholm " * 9,
)  # fmt: skip
ODD = replace(ROLL, number="ΑΒΓ 2031-014", subject="Το λιμάνι · Bến tàu · 港の朝 · מעגן", stock="תחנה 100", camera="𓀀" * 30)
LINK = "http://127.0.0.1:8000/rolls/2031-014"
ROLLS = {"usual": ROLL, "bare": BARE, "long": LONG, "odd": ODD}
SPINE = BinderSpine("Binder 2", ARCHIVE, ON, "2031-001", "2031-048", "2031-01", "2031-05-14", 64)
SLIP = OutSlip(
    "2031-014", "13–18", ARCHIVE, ON, "Binder 2, page 14, third strip from the top", "two prints", "Mara Quill", "2031-05-01",
    "2031-06-15",
)  # fmt: skip
TAG = BottleTag("Developer B", "stock solution 1+3, 1 litre", ARCHIVE, ON, "2031-04-01", "2031-04-02", "2031-07-01", 24)


def label(roll: RollSummary = ROLL, **more: str) -> RollLabel:
    return RollLabel(roll, ARCHIVE, ON, **{"link": LINK, **more})


def extent(item: Item) -> Rect:
    """What an item covers; capitals stand 0.72 of the size high and tails hang 0.22 below, as on the contact sheet."""
    if isinstance(item, Line):
        return Rect(min(item.x1, item.x2), min(item.y1, item.y2), abs(item.x2 - item.x1), abs(item.y2 - item.y1))
    if not isinstance(item, Text):
        return item.rect
    wide = measure(item.text, item.size, item.bold)
    up, down = 0.72 * item.size, 0.22 * item.size
    if item.turn == 1:
        return Rect(item.x - down, item.y, up + down, wide)
    if item.turn == 3:
        return Rect(item.x - up, item.y - wide, up + down, wide)
    x = item.x - {"left": 0, "middle": wide / 2, "right": wide}[item.align]
    return Rect(x, item.y - up, wide, up + down)


def check(items: Sequence[Item], area: Rect) -> str:
    """Everything inside and apart; gives all text. Numbers in boxes and crosses in hole marks lie in them on purpose."""
    for item in items:
        assert area.inset(-0.01).contains(extent(item)), item
    texts = [i for i in items if isinstance(i, Text) and i.grey != 0.55]
    solid = [extent(i) for i in items if isinstance(i, Box | Code)] + [extent(t) for t in texts]
    assert not any(
        a.inset(0.005).overlaps(b.inset(0.005)) for a, b in itertools.combinations(solid, 2) if min(a.width, b.width) > 0.01
    )
    for line in (i for i in items if isinstance(i, Line) and i.grey != 0.5):
        flat = extent(line)
        thick = Rect(flat.x, flat.y, flat.width + 0.01, flat.height + 0.01)
        assert not any(extent(t).overlaps(thick) for t in texts)
    assert all(t.size >= 1.0 and t.text for t in texts)
    return " ".join(t.text for t in texts)


@pytest.mark.parametrize("waiting", ["", "cut", "develop"])
@pytest.mark.parametrize("roll", ROLLS.values(), ids=ROLLS)
@pytest.mark.parametrize("stock", LABEL_STOCKS.values(), ids=LABEL_STOCKS)
def test_roll_labels_on_every_stock(stock: LabelStock, roll: RollSummary, waiting: str) -> None:
    items = place_roll_label(label(roll, waiting=waiting), StockUse(stock).text_area(1), measure)
    words = check(items, StockUse(stock).text_area(1))
    assert roll.number in words  # whole, even where it takes several lines
    if roll is ROLL:
        assert "12 April 2031" in words and "Tarn 100" in words
        assert {"": True, "cut": "to be cut" in words, "develop": "to be developed" in words}[waiting]
    codes = [i for i in items if isinstance(i, Code)]
    assert len(codes) == (stock.key != "letter-4x20")  # 9.7 mm high: too low for a code
    assert all(c.rect.width == c.rect.height >= 12 and c.text == LINK for c in codes)


@pytest.mark.parametrize("stock", LABEL_STOCKS.values(), ids=LABEL_STOCKS)
def test_stickers_on_every_stock(stock: LabelStock) -> None:
    area = StockUse(stock).text_area(1)
    for number in ("2031-014", "7", LONG.number):
        items = place_sticker(number, area, measure)
        assert number in check(items, area)
        size = max(i.size for i in items if isinstance(i, Text))
        if number == "2031-014":  # capitals 0.72 of the size high, above 4 mm: read at arm's length (common practice)
            assert size * 0.72 > 4


@pytest.mark.parametrize("size", [(8, 120), (10, 190), (18, 190), (25, 250), (40, 280), (60, 280), (80, 280)], ids=str)
@pytest.mark.parametrize("binder", ["Binder 2", "7", "Colour negatives of the north coast, fourth part", "港のネガ"])
def test_spines_of_every_width(size: tuple[float, float], binder: str) -> None:
    area = Rect(20, 12, *size).inset(1.5)
    items = place_spine(replace(SPINE, binder=binder), area, measure)
    words = check(items, area)
    assert binder in words
    assert "2031-001 – 2031-048" in words
    assert all(isinstance(i, Text) and i.turn == 1 for i in items)
    largest = max(items, key=lambda i: i.size if isinstance(i, Text) else 0)
    assert isinstance(largest, Text) and largest.text in binder


SLOTS = {(s.width, s.height): s for s in (Size(x.slot_length_mm, x.slot_width_mm) for x in (*BUILT_IN_LAYOUTS.values(),))} | {
    (100, 17): Size(100, 17),
    (60, 20): Size(60, 20),
}


@pytest.mark.parametrize("slot", SLOTS.values(), ids=str)
def test_slips_for_every_slot(slot: Size) -> None:
    size = slip_size(slot)
    assert size.width <= min(90, slot.width - 2) and size.height == slot.height - 1
    area = Rect(5, 5, size.width, size.height).inset(1.5)
    for slip in (SLIP, replace(SLIP, gone_to="Quill " * 30, why="prints " * 30), OutSlip("7", "1", ARCHIVE, ON)):
        words = check(place_out_slip(slip, area, measure), area)
        assert f"{slip.roll} / {slip.frames}" in words
        assert "OUT" in words and "back on" in words and "printed 2031-05-01" in words
        if slip is SLIP:
            assert "due back 15 June 2031" in words
            if size.height >= 30:
                for said in ("to Mara Quill", "for two prints", "out since 1 May 2031", "belongs in Binder 2, page 14"):
                    assert said in words


TAG_AREAS = [
    *(StockUse(LABEL_STOCKS[k]).text_area(1) for k in ("a4-3x7", "a4-3x8-edge", "a4-2x7", "letter-2x5")),
    Rect(9, 9, 60, 110),
    Rect(9, 9, 120, 70),
]


@pytest.mark.parametrize("area", TAG_AREAS, ids=lambda r: f"{r.width:g}x{r.height:g}")
@pytest.mark.parametrize("capacity", [0, 1, 7, 20])
def test_bottle_tags(area: Rect, capacity: int) -> None:
    items = place_bottle_tag(replace(TAG, capacity=capacity), area, measure)
    words = check(items, area)
    for said in (TAG.name, "1+3", "discard after", CAUTION, "2031-05-01"):
        assert said in words
    boxes = [i for i in items if isinstance(i, Box) and not i.dashed]
    assert len(boxes) == capacity
    assert all(b.rect.width == b.rect.height >= 2.6 for b in boxes)
    fives = [i.text for i in items if isinstance(i, Text) and i.grey == 0.55]
    assert fives == [str(n) for n in range(5, capacity + 1, 5)]
    assert sum(isinstance(i, Box) and i.dashed for i in items) == 1  # the hole


def test_unknown_dates_of_a_bottle_leave_a_line_to_write_on() -> None:
    words = check(place_bottle_tag(BottleTag("Fixer", "", ARCHIVE, ON), Rect(0, 0, 90, 40), measure), Rect(0, 0, 90, 40))
    assert words.count("________") == 3


@settings(max_examples=25, deadline=None)
@given(
    st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=60),
    st.text(st.characters(codec="utf-8", exclude_categories=("Cs", "Cc")), max_size=60),
    st.floats(15, 110),
    st.floats(9.5, 60),
)
def test_any_text_stays_inside(subject: str, stock: str, width: float, height: float) -> None:
    area = Rect(5, 5, width, height)
    items = place_roll_label(label(replace(ROLL, subject=subject, stock=stock)), area, measure)
    assert all(area.inset(-0.01).contains(extent(i)) for i in items)
    assert any(isinstance(i, Text) and i.text == ROLL.number for i in items)


@given(st.lists(st.text("abc d", min_size=1, max_size=30), max_size=6), st.floats(4, 40), st.booleans())
def test_wrapping_loses_nothing(parts: list[str], width: float, tight: bool) -> None:
    lines = wrapped(parts, width, measure, tight=tight)
    assert all(measure(line, 1.0, False) <= width for line in lines if len(line) > 1)
    letters = "".join(parts).replace(" ", "")
    assert "".join(lines).replace(" ", "").replace("·", "") == letters


def test_text_shrinks_before_it_is_cut() -> None:
    area = Rect(0, 0, 40, 10)
    few = flowed(["Tarn 100"], area, measure, 3.0, 1.5)
    assert [(i.text, i.size) for i in few if isinstance(i, Text)] == [("Tarn 100", 3.0)]
    more = [
        i for i in flowed(["Tarn 100", "Harbour at low water", "Skarholm " * 5], area, measure, 3.0, 1.5) if isinstance(i, Text)
    ]
    assert 1.5 <= more[0].size < 3 and not more[-1].text.endswith("…")
    cut = [i for i in flowed(["Tarn 100", "Skarholm " * 60], area, measure, 3.0, 1.5) if isinstance(i, Text)]
    assert cut[0].text.startswith("Tarn 100") and cut[-1].text.endswith("…")
    assert len(cut) == 5  # floor(10 / (1.3 × 1.5))
    lines = [i.text for i in number_lines(LONG.number, Rect(0, 0, 20, 9), measure, 9) if isinstance(i, Text)]
    assert len(lines) > 1 and " ".join(lines) == LONG.number


# ISO/IEC 18004, from memory: version 3 is 29 modules wide, 4 quiet modules each side; at level M it holds 42 bytes.
def test_a_code_is_printed_only_where_it_can_be_read() -> None:
    assert code_side("x" * 42, 12.21) == 12.21  # 37 modules of 0.33 mm
    assert code_side("x" * 42, 12.2) == 0
    assert code_side("x" * 43, 13.5) == 0  # version 4: 41 modules of 0.33 mm are 13.53 mm
    assert code_side("x" * 14, 11.9) == 0 and code_side("x", 12) == 12
    assert code_side("x" * 42, 35) == 20
    assert code_side("", 35) == 0 and code_side("x" * 300, 35) == 0


def test_the_table_of_code_sizes_agrees_with_the_encoder() -> None:
    import segno

    for length in (14, 15, 26, 27, 42, 43, 62, 63, 84, 85, 106, 107, 122, 123, 152, 153, 180, 181, 213):
        code = segno.make("x" * length, error="m", micro=False, boost_error=False)
        width = (code.symbol_size(border=4)[0]) * 0.33
        assert code_side("x" * length, max(12, width) + 0.001) > 0
        assert code_side("x" * length, max(12, width) - 0.001) == 0


def test_turned_text_is_painted_where_it_was_placed() -> None:
    # A raster of one word: clockwise it reads downwards, its letters' feet to the left.
    area = Rect(10, 20, 12, 60)
    flat = [Text(0, 9, 10, "LLL", True), Text(30, 9, 5, "LLL")]
    items = turned(flat, area)
    painter = Painter("turned")
    painter.draw([Sheet(40, 100, tuple(items))])
    seen = pypdfium2.PdfDocument(painter.finish())[0].render(scale=10 / MM, grayscale=True).to_numpy().squeeze() < 128
    rows, columns = seen.any(1).nonzero()[0] / 10, seen.any(0).nonzero()[0] / 10
    x0, x1 = (min(extent(i).x for i in items), max(extent(i).right for i in items))
    y0, y1 = (min(extent(i).y for i in items), max(extent(i).bottom for i in items))
    assert x0 - 0.5 <= columns.min() and columns.max() <= x1 + 0.5
    assert y0 - 0.2 <= rows.min() and rows.max() <= y1 + 0.2
    big = seen[200:520]
    per_column = big.sum(0)
    foot = per_column.argmax() / 10  # the foot of the L is its longest stroke across
    assert foot == pytest.approx(area.right - 9, abs=1.0)


def text_counts(pdf: bytes) -> list[Counter[str]]:
    return [Counter(p.extract_text().split()) for p in pypdf.PdfReader(BytesIO(pdf)).pages]


def test_copies_and_starting_in_a_used_sheet() -> None:
    numbers = [f"2031-{n:03}" for n in range(20, 30)]
    use = StockUse(LABEL_STOCKS["a4-3x7"], start=19)
    made = stickers_pdf(numbers, use, archive=ARCHIVE, printed_on=ON, copies=3)
    assert made.sheets == 3  # 30 stickers: 3 on the first sheet, 21 and 6
    pages = text_counts(made.pdf)
    heads = [sum(p[n] for n in numbers) for p in pages]
    assert [h - 1 for h in heads] == [4, 22, 7]  # and once each in “2031-020 – 2031-029” on top, two numbers a page
    first = pdfplumber.open(BytesIO(made.pdf)).pages[0]
    words = [w for w in first.extract_words() if w["text"] == "2031-020" and w["bottom"] - w["top"] > 10]
    assert len(words) == 3
    for n, word in zip((19, 20, 21), sorted(words, key=lambda w: w["x0"]), strict=True):
        area = use.text_area(n)
        assert area.x <= word["x0"] / MM and word["x1"] / MM <= area.right
        assert (word["x0"] + word["x1"]) / 2 / MM == pytest.approx(area.x + area.width / 2, abs=0.3)


def test_what_is_asked_wrongly_is_refused() -> None:
    use = StockUse(LABEL_STOCKS["a4-3x7"])

    def stickers(numbers: list[str], copies: int = 1) -> None:
        plan_stickers(numbers, use, archive=ARCHIVE, printed_on=ON, measure=measure, copies=copies)

    for call, kind, said in (
        (lambda: stickers([]), InvalidInput, "No roll number was given"),
        (lambda: stickers(["5"], 0), InvalidInput, "0 copies"),
        (lambda: stickers(["5", "6", "5"]), InvalidInput, "number 5 is given twice"),
        (lambda: stickers(["5", " "]), InvalidInput, "empty"),
        (lambda: plan_roll_labels([], use, measure), InvalidInput, "at least one roll"),
        (lambda: label(waiting="rain"), InvalidInput, "“rain”"),
        (lambda: label(replace(ROLL, number=" ")), InvalidInput, "needs the roll's number"),
        (lambda: plan_spines([SPINE], Size(90, 200), measure, paper=A4), InvalidInput, "the width is 8 to 80 mm"),
        (lambda: plan_spines([SPINE], Size(40, 290), measure, paper=A4), InvalidInput, "height 120 to 280 mm"),
        (lambda: plan_spines([SPINE], Size(40, 280), measure, paper=PAPERS["Letter"]), DoesNotFit, "40 × 280 mm is larger"),
        (lambda: plan_spines([], Size(40, 200), measure, paper=A4), InvalidInput, "at least one binder"),
        (lambda: replace(SPINE, binder=""), InvalidInput, "binder's name"),
        (lambda: replace(SPINE, pages=-1), InvalidInput, "-1 pages"),
        (lambda: slip_size(Size(35, 35)), DoesNotFit, "33 × 34 mm is too small"),
        (lambda: slip_size(Size(234, 12)), DoesNotFit, "90 × 11 mm is too small"),
        (lambda: plan_out_slips([], Size(234, 37), measure, paper=A4), InvalidInput, "at least one strip"),
        (lambda: replace(SLIP, frames=""), InvalidInput, "frames on the strip"),
        (lambda: replace(TAG, capacity=401), InvalidInput, "401 rolls"),
        (lambda: replace(TAG, name=""), InvalidInput, "name of what is in the bottle"),
        (lambda: place_bottle_tag(replace(TAG, capacity=200), TAG_AREAS[0], measure), DoesNotFit, "200 boxes to tick"),
    ):
        with pytest.raises(kind, match=said):
            pytest.fail(f"not refused: {said}, {call()}")


PLAIN = StockUse(plain_stock(A4, 60, 110), cut="lines")
DOCUMENTS = {
    "rolls": lambda: roll_labels_pdf([label(r, link="") for r in ROLLS.values()] * 3, StockUse(LABEL_STOCKS["a4-3x7"])),
    "edge": lambda: roll_labels_pdf([label(link="")] * 24, StockUse(LABEL_STOCKS["a4-3x8-edge"], cut="marks")),
    "numbers": lambda: stickers_pdf(["1", "2"], StockUse(LABEL_STOCKS["letter-4x20"]), archive=ARCHIVE, printed_on=ON, copies=9),
    "spines": lambda: spines_pdf([SPINE, replace(SPINE, binder="Binder 3")], Size(40, 190), paper=A4),
    "slips": lambda: out_slips_pdf([SLIP] * 15, Size(234, 37), paper=A4),
    "tags": lambda: bottle_tags_pdf([TAG] * 7, PLAIN),
}


@pytest.mark.parametrize("name", DOCUMENTS)
def test_documents_say_what_they_are_and_keep_to_the_paper(name: str) -> None:
    made = DOCUMENTS[name]()
    assert made.pdf == DOCUMENTS[name]().pdf  # the same input gives the same bytes
    with pdfplumber.open(BytesIO(made.pdf)) as pdf:
        assert len(pdf.pages) == made.sheets
        for number, page in enumerate(pdf.pages, 1):
            wide, high = float(page.width), float(page.height)
            edge = 5 * MM - 0.3
            for thing in (*page.lines, *page.rects):
                assert thing["x0"] >= edge and thing["x1"] <= wide - edge
                assert thing["top"] >= edge and thing["bottom"] <= high - edge
            for char in page.chars:  # boxes of the face, 1.36 of the size high: taller than what is inked
                assert char["x0"] >= edge and char["x1"] <= wide - edge and char["bottom"] <= high - edge + 1.5
            words = page.extract_text()
            if name != "edge":
                assert f"{ARCHIVE} · printed 2031-05-01 · sheet {number} of {made.sheets}" in words
                assert "This line is 100 mm" in words
                rules = [r for r in page.lines if abs((r["x1"] - r["x0"]) / MM - 100) < 0.1]
                assert len(rules) == 1
    assert ("𓀀" in made.missing) == (name == "rolls")


def test_cut_lines_measure_what_was_asked() -> None:
    # Slots of 234 × 37 mm: slips of 90 × 36 mm; two across and seven down on A4, 200 × 280 mm with 4 mm between.
    made = out_slips_pdf([SLIP] * 15, Size(234, 37), paper=A4)
    assert made.sheets == 2
    with pdfplumber.open(BytesIO(made.pdf)) as pdf:
        lines = pdf.pages[0].lines
    level = [x for x in lines if abs((x["x1"] - x["x0"]) / MM - 90) < 0.1 and x["stroking_color"] != (0,)]
    upright = [x for x in lines if abs((x["bottom"] - x["top"]) / MM - 36) < 0.1]
    assert len(level) == len(upright) == 2 * 14
    assert min(x["x0"] for x in upright) / MM == pytest.approx((210 - 184) / 2, abs=0.1)


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm (poppler-utils) is not installed")
@pytest.mark.parametrize("key", ["a4-5x13", "a4-3x8-edge"])
def test_codes_and_fonts_on_the_smallest_labels(key: str, tmp_path: Path) -> None:
    links = [f"http://192.168.178.20:8000/r/2031-{n:03}" for n in range(1, 9)]
    labels = [label(replace(ROLL, number=k[-8:]), link=k) for k in links]
    file = tmp_path / "labels.pdf"
    file.write_bytes(roll_labels_pdf(labels, StockUse(LABEL_STOCKS[key])).pdf)

    def read(dpi: int, change: Callable[[Image.Image], Image.Image]) -> list[str]:
        subprocess.run(["pdftoppm", "-r", str(dpi), "-gray", "-png", "-singlefile", file, tmp_path / "seen"], check=True)
        with Image.open(tmp_path / "seen.png") as image:
            return sorted(c.text for c in zxingcpp.read_barcodes(change(image.copy())))

    assert read(300, lambda image: image) == links
    assert read(150, lambda image: image.filter(ImageFilter.GaussianBlur(0.6))) == links
    fonts = subprocess.run(["pdffonts", file], check=True, capture_output=True, text=True).stdout.splitlines()[2:]
    assert fonts and all(line.split()[-5] == "yes" for line in fonts)  # the column "emb"
