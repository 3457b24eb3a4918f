"""The tank card and the print card: what is recorded and nothing else, large, complete, on the sheet."""

import itertools
from datetime import date
from functools import lru_cache
from io import BytesIO
from pathlib import Path

import numpy as np
import pdfplumber
import pypdf
import pypdfium2
import pytest
import zxingcpp
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageFilter

from catalogue.errors import InvalidInput, NotFound
from catalogue.film.formats import BUILT_IN_FORMATS, find_format
from catalogue.paper.sizes import PAPERS, Paper
from catalogue.sleeves.geometry import Rect
from printing.canvas import paint as canvas
from printing.canvas.items import Box, Code, Line, Picture, Sheet, Text
from printing.sheets.card_documents import print_cards_pdf, tank_card_pdf
from printing.sheets.print_card import FrameToPrint, PrintCard, PrintMark, PrintRecord, plan_print_card
from printing.sheets.tank_card import CAUTIONS, STEP_MM, TankReel, TankStep, TankWork, plan_tank_card, wrapped

MM = 72 / 25.4
ON = date(2031, 5, 1)
LINK = "http://127.0.0.1:8000/rolls/2031-014"
FULL = find_format("135-24x36")
measure = lru_cache(maxsize=None)(canvas.measure)

STEPS = (
    TankStep("Pre-wash", 60, "20 °C", "", "600 ml"),
    TankStep("Developer 1+9", 615, "20 °C", "first 30 s without pause, then 5 s a minute", "600 ml", "pour out in the last 10 s"),
    TankStep("Stop", 30, "20 °C", "without pause"),
    TankStep("Fix", 300, "20 °C", "5 s each minute", "600 ml"),
    TankStep("Wash", None, "", "", "", "three fillings"),
)
WORK = TankWork(
    "Wenlow archive",
    STEPS,
    (TankReel(("2031-014",), "35 mm · Tarn 100"), TankReel(("2031-015", "2031-016"), "120 · Fell 400"), TankReel(())),
    "black and white",
    "tank of three reels",
)


def extent(item: object) -> Rect:
    """What an item covers; capitals stand 0.75 of the type size, tails hang 0.23."""
    if isinstance(item, Text):
        wide = measure(item.text, item.size, item.bold)
        x = item.x - {"left": 0.0, "middle": wide / 2, "right": wide}[item.align]
        return Rect(x, item.y - 0.75 * item.size, wide, 0.98 * item.size)
    if isinstance(item, Line):
        return Rect(min(item.x1, item.x2), min(item.y1, item.y2), abs(item.x2 - item.x1), abs(item.y2 - item.y1))
    assert isinstance(item, Box | Code | Picture)
    return item.rect


def assert_tidy(sheet: Sheet, paper: Paper) -> None:
    m = paper.margin_mm - 0.1
    area = Rect(m, m, sheet.width_mm - 2 * m, sheet.height_mm - 2 * m)
    for item in sheet.items:
        assert area.contains(extent(item)), item
    texts = [(i, extent(i).inset(0.02)) for i in sheet.items if isinstance(i, Text)]
    for (one, a), (two, b) in itertools.combinations(texts, 2):
        assert not a.overlaps(b), (one, two)
    ticks = [i.rect for i in sheet.items if isinstance(i, Box) and i.rect.width == i.rect.height < 10]
    assert not any(e.overlaps(t) for _, e in texts for t in ticks)
    assert not any(a.overlaps(b) for a, b in itertools.combinations(ticks, 2))


def words(sheets: tuple[Sheet, ...]) -> list[str]:
    return [i.text for sheet in sheets for i in sheet.items if isinstance(i, Text)]


def tank(work: TankWork, paper: str = "A4", link: str = "") -> tuple[Sheet, ...]:
    return plan_tank_card(work, printed_on=ON, measure=measure, paper=PAPERS[paper], link=link)


@pytest.mark.parametrize("paper", PAPERS)
def test_the_tank_card_on_every_paper(paper: str) -> None:
    sheets = tank(WORK, paper, LINK)
    said = words(sheets)
    for sheet in sheets:
        assert_tidy(sheet, PAPERS[paper])
        assert set(CAUTIONS) <= set(words((sheet,)))
    boxes = [i for s in sheets for i in s.items if isinstance(i, Box) and i.rect.width == i.rect.height]
    assert len(boxes) == len(STEPS) + 3
    text = " ".join(said)
    for step in STEPS:
        assert all(
            part in text for part in (step.name, step.time_words, step.temperature, step.volume, step.note, step.agitation)
        )
    assert [t for t in said if t in ("1:00", "10:15", "0:30", "5:00")] == ["1:00", "10:15", "0:30", "5:00"]


def test_steps_are_set_in_26_point_and_more() -> None:
    made = tank_card_pdf(WORK, printed_on=ON, link=LINK)
    assert made.pdf == tank_card_pdf(WORK, printed_on=ON, link=LINK).pdf
    with pdfplumber.open(BytesIO(made.pdf)) as read:
        assert len(read.pages) == made.sheets
        chars = [c for page in read.pages for c in page.chars]
        for page in read.pages:
            for thing in (*page.chars, *page.lines, *page.rects):
                assert thing["x0"] / MM > 4.8 and thing["x1"] / MM < 205.2
                assert thing["top"] / MM > 4.8 and thing["bottom"] / MM < 292.2
    large = "".join(c["text"] for c in chars if c["size"] >= 25.99)
    for text in ("Developer 1+9", "10:15", "20 °C", "600 ml", "5 s each minute", "three fillings", "2031-014", "bottom"):
        assert text in large
    assert {c["non_stroking_color"] for c in chars} <= {(0,), (0.0,), 0}  # black alone: it is read in poor light


def test_reels_stand_as_in_the_tank() -> None:
    (first, *_) = tank(WORK)
    at = {i.text: i.y for i in first.items if isinstance(i, Text)}
    assert at["3 top"] < at["2"] < at["1 bottom"]
    rolls = {"1 bottom": "2031-014", "2": "2031-015, 2031-016", "3 top": "empty reel"}
    assert all(at[place] == at[roll] for place, roll in rolls.items())
    assert words((first,)).count("clip") == 3


def test_nothing_is_invented() -> None:
    bare = TankWork("Wenlow archive", (TankStep("Developer"),))
    (sheet,) = tank(bare)
    allowed = {"Tank card", "Wenlow archive · printed 2031-05-01 · sheet 1 of 1", "1 Developer", *CAUTIONS}
    assert set(words((sheet,))) == {*allowed, "temperature", "minutes : seconds"}
    lines = [i for i in sheet.items if isinstance(i, Line) and i.width == 0.3]
    assert len(lines) == 2  # to write time and temperature on


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_any_tank_card_keeps_to_its_sheets(data: st.DataObject) -> None:
    texts = st.text(st.sampled_from("abc defg °HÅ 漢字 щит –0123456789"), max_size=120)
    steps = data.draw(
        st.lists(
            st.builds(
                TankStep,
                name=texts.map(lambda t: (t.strip() or "bath")[:60]),
                seconds=st.none() | st.integers(1, 86_400),
                temperature=st.sampled_from(["", "20 °C", "100.4 °F"]),
                agitation=texts,
                volume=st.sampled_from(["", "600 ml"]),
                note=texts,
            ),
            min_size=1,
            max_size=8,
        )
    )
    reels = data.draw(
        st.lists(st.builds(TankReel, rolls=st.lists(texts, max_size=2).map(tuple), film=texts), min_size=0, max_size=20)
    )
    work = TankWork("Archive " * 9, tuple(steps), tuple(reels), title="C-41")
    for paper in ("A4", "8x10in"):
        sheets = tank(work, paper)
        for sheet in sheets:
            assert_tidy(sheet, PAPERS[paper])
        boxes = [i for s in sheets for i in s.items if isinstance(i, Box) and i.rect.width == i.rect.height]
        assert len(boxes) == len(steps) + len(reels)


def test_lines_keep_every_character() -> None:
    text = "Developerdeveloperdeveloper at 20 °C"
    lines = wrapped(text, 40, STEP_MM, measure)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(measure(line, STEP_MM, False) <= 40 for line in lines)


def test_impossible_steps_are_refused() -> None:
    for wrong, match in (
        ({"name": " "}, "needs a name"),
        ({"name": "Stop", "seconds": 0}, "0 s is out of range"),
        ({"name": "Stop", "note": "x" * 121}, "121 characters"),
    ):
        with pytest.raises(InvalidInput, match=match):
            TankStep(**wrong)  # type: ignore[arg-type]
    with pytest.raises(InvalidInput, match="1 to 40 steps"):
        TankWork("A", ())


MARKS = (
    PrintMark("burn", "sky, upper third", "+1/2 stop", (0, 0, 1, 0.33)),
    PrintMark("dodge", "the boat", "−4 s", (0.2, 0.5, 0.3, 0.3)),
)
NOTES = "Second print. The corner at the left needs a card held lower."
RECORD = PrintRecord(
    "Garn 66", "80 mm, f/5.6", 412, "f/11", "Fibre, matt", "grade 2½", 12.5, "1+9, 90 s", MARKS, NOTES, "2031-05-02"
)


def print_card(frame: FrameToPrint, record: PrintRecord | None = None, paper: str = "A4", **more: str) -> PrintCard:
    return plan_print_card(
        frame, record, archive_name="Wenlow archive", printed_on=ON, measure=measure, paper=PAPERS[paper], **more
    )


@pytest.mark.parametrize("film", BUILT_IN_FORMATS.values(), ids=lambda f: f.key)
def test_the_sketch_has_the_pictures_proportion(film) -> None:  # type: ignore[no-untyped-def]
    long, short = sorted((film.frame_along_mm, film.frame_across_mm), reverse=True)
    for paper, upright, record in itertools.product(("A4", "8x10in"), (False, True), (None, RECORD)):
        card = print_card(FrameToPrint("2031-014", "7", film, upright=upright), record, paper, link=LINK)
        assert_tidy(card.sheet, PAPERS[paper])
        ratio = card.sketch.height / card.sketch.width
        assert ratio == pytest.approx(long / short if upright else short / long)
        assert max(card.sketch.width, card.sketch.height) > 70
        texts = [i for i in card.sheet.items if isinstance(i, Text)]
        over = [i.text for i in texts if extent(i).overlaps(card.sketch)]
        assert over == ([] if record is None else ["1+", "2−"])


def test_everything_recorded_is_printed_and_the_rest_is_a_line() -> None:
    said = set(words((print_card(FrameToPrint("2031-014", "7", FULL), RECORD).sheet,)))
    expected = {"Garn 66", "80 mm, f/5.6", "412 mm", "f/11", "Fibre, matt", "grade 2½", "12.5 s", "1+9, 90 s", "2031-05-02"}
    assert expected <= said
    assert {"burn +", "sky, upper third", "+1/2 stop", "dodge −", "the boat", "−4 s", RECORD.notes} <= said
    empty = print_card(FrameToPrint("2031-014", "7", FULL))
    assert not expected & set(words((empty.sheet,)))
    lines = [i for i in empty.sheet.items if isinstance(i, Line)]
    assert len(lines) == 10 + 4 * 3 + 2  # fields; four burns or dodges of three columns; notes


def test_marks_lie_where_they_were_drawn() -> None:
    card = print_card(FrameToPrint("2031-014", "7", FULL), RECORD)
    burn, dodge = (i for i in card.sheet.items if isinstance(i, Box) and i.width == 0.6)
    s = card.sketch
    assert (burn.rect.x, burn.rect.y, burn.rect.width, burn.dashed) == (s.x, s.y, s.width, False)
    assert dodge.dashed
    assert dodge.rect.x == pytest.approx(s.x + 0.2 * s.width)
    assert dodge.rect.height == pytest.approx(0.3 * s.height)


def test_long_texts_stay_on_the_card() -> None:
    long = "Το λιμάνι το πρωί " * 30
    marks = tuple(PrintMark("burn", long, long, (0, 0, 0.01, 0.01)) for _ in range(1)) + tuple(
        PrintMark("dodge", "漢字" * 40, long) for _ in range(11)
    )
    record = PrintRecord(long, long, 1, long, long, long, 1, long, marks, long, long)
    frame = FrameToPrint("Found in the attic box after the second move of house 7" * 3, "36A", FULL, long, long)
    for paper in PAPERS:
        card = print_card(frame, record, paper, link=LINK)
        assert_tidy(card.sheet, PAPERS[paper])
        said = words((card.sheet,))
        assert "frame 36A" in said[0] or any(t.endswith("frame 36A") for t in said)
        assert any("card printed 2031-05-01" in t for t in said)


def test_the_picture_is_faint_and_the_next_one_too(tmp_path: Path) -> None:
    Image.new("L", (360, 240), 0).save(tmp_path / "dark.jpg")
    frame = FrameToPrint("2031-014", "7", FULL, picture=str(tmp_path / "dark.jpg"))
    made = print_cards_pdf([(frame, None, LINK), (frame, RECORD, "")], archive_name="Wenlow archive", printed_on=ON)
    again = print_cards_pdf([(frame, None, LINK), (frame, RECORD, "")], archive_name="Wenlow archive", printed_on=ON)
    assert made.pdf == again.pdf
    sketch = print_card(frame, None, link=LINK).sketch
    for page in pypdfium2.PdfDocument(made.pdf):
        seen = np.asarray(page.render(scale=2, grayscale=True).to_numpy()).squeeze()
        x, y = (sketch.x + sketch.width * 0.8) * 2 * MM, (sketch.y + sketch.height * 0.9) * 2 * MM
        assert 150 < seen[round(y), round(x)] < 190  # black at an opacity of 0.35 leaves 0.65 of the paper's white: 166
        assert seen.min() < 20  # type stays black
    with pdfplumber.open(BytesIO(made.pdf)) as read:
        (box,) = (r for r in read.pages[0].rects if r["width"] / MM > 100)
        assert box["width"] / box["height"] == pytest.approx(36 / 24, abs=0.001)
        assert len(read.pages[0].images) == 1


def test_codes_read_from_sharp_and_blurred_rasters_and_fonts_are_embedded() -> None:
    frame = FrameToPrint("2031-014", "7", FULL)
    tank_pdf = tank_card_pdf(WORK, printed_on=ON, link=LINK).pdf
    print_pdf = print_cards_pdf([(frame, RECORD, LINK)], archive_name="Wenlow archive", printed_on=ON).pdf
    for pdf in (tank_pdf, print_pdf):
        for dpi, blur in ((300, 0), (150, 0.7)):
            image = pypdfium2.PdfDocument(pdf)[0].render(scale=dpi / 72, grayscale=True).to_pil()
            seen = image.filter(ImageFilter.GaussianBlur(blur)) if blur else image
            assert [c.text for c in zxingcpp.read_barcodes(seen)] == [LINK]
        for page in pypdf.PdfReader(BytesIO(pdf)).pages:
            fonts = [font.get_object() for font in page["/Resources"]["/Font"].values()]  # type: ignore[index]
            assert fonts
            assert all("/FontFile2" in font["/FontDescriptor"].get_object() for font in fonts)


def test_impossible_records_are_refused() -> None:
    with pytest.raises(InvalidInput, match="0 to 1"):
        PrintMark("burn", area=(0.8, 0, 0.4, 0.1))
    with pytest.raises(InvalidInput, match="neither burn nor dodge"):
        PrintMark("bleach")  # type: ignore[arg-type]
    with pytest.raises(InvalidInput, match="5000 mm"):
        PrintRecord(height_mm=5000)
    with pytest.raises(InvalidInput, match="base time of 0 s"):
        PrintRecord(base_time_s=0)
    with pytest.raises(InvalidInput, match="more than 12"):
        PrintRecord(marks=(PrintMark("burn"),) * 13)
    with pytest.raises(NotFound, match="No frame was chosen"):
        print_cards_pdf([], archive_name="A", printed_on=ON)
