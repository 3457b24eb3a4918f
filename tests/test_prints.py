"""PDFs measured: read back by independent libraries and from a raster; QR read back; fonts embedded."""

import itertools
import shutil
import subprocess
from dataclasses import replace
from datetime import date
from io import BytesIO
from pathlib import Path

import numpy as np
import pdfplumber
import pypdf
import pypdfium2
import pytest
import zxingcpp
from builders import filed
from sqlmodel import Session

from catalogue.errors import InvalidInput
from catalogue.film.formats import BUILT_IN_FORMATS
from catalogue.paper.sizes import PAPERS
from catalogue.rolls.file import get_page
from catalogue.rolls.plan import NewRoll
from catalogue.sleeves.geometry import Rect
from catalogue.sleeves.layouts import BUILT_IN_LAYOUTS
from catalogue.sleeves.page_plan import plan_page
from catalogue.views import PageView
from printing.canvas.items import Box, Code, Line, Picture, Sheet, Text, fitted
from printing.canvas.paint import Painter, measure
from printing.contact.sheet import lay_out, paint
from printing.sheets.documents import FITS, contact_sheet_pdf, page_label_pdf, paper_advice

MM = 72 / 25.4
LINK = "http://127.0.0.1:8000/rolls/2031-014"
ON = date(2031, 5, 1)


def a_page(session: Session, film: str = "135-24x36", layout: str = "135-7x5", frames: int = 35, **more: object) -> PageView:
    roll = filed(session, NewRoll(format=film, layout=layout, frames=frames, **more))  # type: ignore[arg-type]
    return get_page(session, roll.page_ids[0])


def test_iso_216_sizes() -> None:
    # ISO 216, from memory: A4 210 × 297, A3 297 × 420; each is the other folded, ratio √2.
    a4, a3 = PAPERS["A4"], PAPERS["A3"]
    assert (a4.width_mm, a4.height_mm) == (210, 297)
    assert (a3.width_mm, a3.height_mm) == (297, 420)
    assert a4.height_mm / a4.width_mm == pytest.approx(2**0.5, rel=0.003)


def test_a_frame_measures_36_by_24_on_paper(session: Session) -> None:
    made = contact_sheet_pdf([a_page(session)], paper="A4", printed_on=ON, link=LINK)
    assert (made.scale, made.sheets) == (1.0, 1)
    with pdfplumber.open(BytesIO(made.pdf)) as pdf:
        page = pdf.pages[0]
        assert float(page.width) / MM == pytest.approx(210, abs=0.01)
        rects = [r for r in page.rects if abs(r["width"] / MM - 36) < 0.1 and abs(r["height"] / MM - 24) < 0.1]
        assert len(rects) == 35
        xs = sorted({round(r["x0"] / MM, 2) for r in rects})
        ys = sorted({round(r["top"] / MM, 2) for r in rects})
    assert all(b - a == pytest.approx(38, abs=0.1) for a, b in itertools.pairwise(xs))  # frame pitch
    assert all(b - a == pytest.approx(39, abs=0.1) for a, b in itertools.pairwise(ys))  # slot pitch of the layout


def test_the_raster_at_300_dpi_agrees(session: Session) -> None:
    made = contact_sheet_pdf([a_page(session)], paper="A4", printed_on=ON, link=LINK)
    page = pypdfium2.PdfDocument(made.pdf)[0]
    dark = np.asarray(page.render(scale=300 / 72, grayscale=True).to_numpy()).squeeze() < 190
    with pdfplumber.open(BytesIO(made.pdf)) as pdf:
        box = next(r for r in pdf.pages[0].rects if abs(r["width"] / MM - 36) < 0.1)
    per_mm = 300 / 25.4
    row = round((box["top"] + box["bottom"]) / 2 / MM * per_mm)
    x0, x1 = box["x0"] / MM * per_mm, box["x1"] / MM * per_mm
    columns = np.flatnonzero(dark[row, round(x0) - 8 : round(x1) + 9]) + round(x0) - 8
    left = columns[columns < x0 + 6].mean()
    right = columns[columns > x1 - 6].mean()
    assert (right - left) / per_mm == pytest.approx(36, abs=0.1)


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm (poppler-utils) is not installed")
def test_qr_and_fonts(session: Session, tmp_path: Path) -> None:
    page = a_page(session)
    for name, made in (
        ("sheet", contact_sheet_pdf([page], printed_on=ON, link=LINK)),
        ("label", page_label_pdf(page, printed_on=ON, link=LINK)),
    ):
        file = tmp_path / f"{name}.pdf"
        file.write_bytes(made.pdf)
        subprocess.run(["pdftoppm", "-r", "150", "-gray", "-png", "-singlefile", file, tmp_path / name], check=True)
        from PIL import Image

        codes = zxingcpp.read_barcodes(Image.open(tmp_path / f"{name}.png"))
        assert [c.text for c in codes] == [LINK]
        fonts = subprocess.run(["pdffonts", file], check=True, capture_output=True, text=True).stdout.splitlines()[2:]
        assert fonts
        assert all(line.split()[-5] == "yes" for line in fonts)  # the column "emb"


def test_same_input_same_bytes_and_no_scaling_asked(session: Session) -> None:
    page = a_page(session)
    one, two = (contact_sheet_pdf([page], printed_on=ON, link=LINK).pdf for _ in range(2))
    assert one == two
    assert pypdf.PdfReader(BytesIO(one)).viewer_preferences.print_scaling == "/None"


def test_seven_by_six_on_a4_as_chosen(session: Session) -> None:
    page = a_page(session, layout="135-7x6", frames=42)
    two = contact_sheet_pdf([page], fit="two sheets", printed_on=ON, link=LINK)
    assert (two.sheets, two.scale) == (2, 1.0)
    other = contact_sheet_pdf([page], fit="another paper", printed_on=ON, link=LINK)
    assert (other.sheets, other.scale) == (1, 1.0)
    assert "9.5 × 12 in" in other.explanation  # 241.3 × 304.8 holds 228 × 269
    small = contact_sheet_pdf([page], fit="fit", printed_on=ON, link=LINK)
    assert small.scale < 1
    assert f"{small.scale:.1%}" in small.explanation
    text = pypdf.PdfReader(BytesIO(small.pdf)).pages[0].extract_text()
    assert f"{small.scale:.1%}" in text
    assert any(words.startswith("A4: 28.0 mm across") for words in paper_advice(page))  # 228 - (210 - 2 × 5) in portrait
    with pytest.raises(InvalidInput):
        contact_sheet_pdf([page], fit="magic", printed_on=ON, link=LINK)


def test_the_index_label_has_the_size_of_the_index_area(session: Session) -> None:
    page = a_page(session, subject="Harbour and " * 30, camera="Fenn " * 20, stock="Tarn 100")
    made = page_label_pdf(page, printed_on=ON, link=LINK)
    area = page.layout.index_area
    with pdfplumber.open(BytesIO(made.pdf)) as pdf:
        box = pdf.pages[0].rects[0]
        assert box["width"] / MM == pytest.approx(area.width, abs=0.1)
        assert box["height"] / MM == pytest.approx(area.height, abs=0.1)
        inside = [c for c in pdf.pages[0].chars if c["x0"] >= box["x0"] and c["x1"] <= box["x1"]]
        assert len(inside) == len(pdf.pages[0].chars)
        assert page.rolls[0].number in pdf.pages[0].extract_text()


def test_text_shrinks_then_shortens() -> None:
    assert fitted("Harbour", 100, 3, 2, measure) == ("Harbour", 3)
    shown, size = fitted("Harbour at dusk", measure("Harbour at dusk", 2.5, False), 3, 2, measure)
    assert shown == "Harbour at dusk"
    assert 2 <= size < 3
    shown, size = fitted("Harbour at dusk", 12, 3, 2, measure)
    assert shown.endswith("…")
    assert measure(shown, size, False) <= 12


def test_characters_without_a_glyph_are_listed(session: Session) -> None:
    made = page_label_pdf(a_page(session, subject="Ɂ 𓀀 Το λιμάνι Bến tàu"), printed_on=ON, link=LINK)
    assert made.missing == ("𓀀",)


CASES = [
    (
        layout.key,
        next(f.key for f in BUILT_IN_FORMATS.values() if f.gauge in layout.gauges and layout.frames_per_slot(f)),
    )
    for layout in BUILT_IN_LAYOUTS.values()
]


@pytest.mark.parametrize(("layout", "film"), CASES)
def test_every_layout_on_every_paper_stays_on_the_sheet(session: Session, layout: str, film: str) -> None:
    shape = BUILT_IN_LAYOUTS[layout]
    full = shape.frames_per_slot(BUILT_IN_FORMATS[film]) * shape.slot_count
    page = a_page(session, film, layout, full)
    for paper in PAPERS.values():
        for fit in FITS:
            plan = lay_out(page, paper, fit=fit)
            edge = plan.paper.margin_mm - 0.2
            drawn = 0
            for sheet in paint(plan, printed_on=ON, link=LINK, measure=measure):
                for item in sheet.items:
                    if isinstance(item, Box | Picture | Code):
                        x0, y0, x1, y1 = item.rect.x, item.rect.y, item.rect.right, item.rect.bottom
                    elif isinstance(item, Line):
                        x0, y0, x1, y1 = item.x1, min(item.y1, item.y2), item.x2, max(item.y1, item.y2)
                    else:
                        assert isinstance(item, Text)
                        x0, x1 = item.x, item.x + measure(item.text, item.size, item.bold)
                        y0, y1 = item.y - item.size * 0.75, item.y
                    assert x0 >= edge and y0 >= edge, (paper.key, fit, item)
                    assert x1 <= sheet.width_mm - edge and y1 <= sheet.height_mm - edge, (
                        paper.key,
                        fit,
                        item,
                    )
                drawn += sum(isinstance(i, Box) and i.width == 0.1 and i.grey == 0.3 for i in sheet.items)
            assert drawn == len(page.plan.frames), (paper.key, fit)


def on_slides(session: Session, count: int) -> PageView:
    """One page that holds slides of as many rolls."""
    page_id = None
    for _ in range(count):
        place = {"page_id": page_id} if page_id else {"layout": "slides-20"}
        roll = filed(session, NewRoll(format="slide-50x50", frames=1, exposed="2030-22", **place))  # type: ignore[arg-type]
        page_id = roll.page_ids[0]
    assert page_id is not None
    return get_page(session, page_id)


def test_dates_are_printed_in_words(session: Session) -> None:
    # ISO 8601-2 level 1: month 22 is summer. Paper is read where no program explains it.
    page = a_page(session, exposed="2030-22")
    for made in (page_label_pdf(page, printed_on=ON, link=LINK), contact_sheet_pdf([page], printed_on=ON, link=LINK)):
        text = pypdf.PdfReader(BytesIO(made.pdf)).pages[0].extract_text()
        assert "summer 2030" in text and "2030-22" not in text


def test_many_rolls_share_a_readable_label(session: Session) -> None:
    page = on_slides(session, 20)
    with pdfplumber.open(BytesIO(page_label_pdf(page, printed_on=ON, link=LINK).pdf)) as pdf:
        chars, text = pdf.pages[0].chars, pdf.pages[0].extract_text()
    assert all(roll.number in text for roll in page.rolls)
    assert min(c["size"] for c in chars) / MM >= 1.5
    sheet = contact_sheet_pdf([page], printed_on=ON, link=LINK)
    head = pypdf.PdfReader(BytesIO(sheet.pdf)).pages[0].extract_text()
    assert page.rolls[0].number in head and page.rolls[-1].number in head
    assert "sheet 1 of" in head and "true size" in head


def test_frame_labels_keep_their_number_and_stay_off_the_pictures(session: Session) -> None:
    number = "Found in the attic box after the move 7"
    page = a_page(session, "135-18x24", "135-7x6", 24, number=number, frame_states={"3": "partial"})
    other = filed(session, NewRoll(format="110-13x17", frames=12, page_id=page.id))
    page = get_page(session, other.page_ids[0])
    (sheet,) = paint(lay_out(page, PAPERS["A3"], fit="two sheets"), printed_on=ON, link=LINK, measure=measure)
    boxes = [i.rect for i in sheet.items if isinstance(i, Box) and i.grey == 0.3]
    texts = [i for i in sheet.items if isinstance(i, Text)]
    for frame, box in zip(page.plan.frames, boxes, strict=True):
        label = next(t for t in texts if t.x == box.x and 0 < box.y - t.y < 6)
        words = label.text.replace("  partial", "")
        assert words.split(" / ")[-1] == frame.label
        assert label.y + 0.22 * label.size <= box.y
        assert label.size >= 1.3
    assert any("3  partial" in t.text for t in texts)


def test_sheets_of_a_roll_over_two_pages_are_counted_through(session: Session) -> None:
    roll = filed(session, NewRoll(format="135-24x36", layout="135-7x5", frames=40))
    pages = [get_page(session, page_id) for page_id in roll.page_ids]
    assert len(pages) == 2
    made = contact_sheet_pdf(pages, roll=roll.number, printed_on=ON, link=LINK)
    texts = [p.extract_text() for p in pypdf.PdfReader(BytesIO(made.pdf)).pages]
    assert [f"sheet {n} of {made.sheets}" in t for n, t in enumerate(texts, 1)] == [True] * made.sheets


def test_what_one_sheet_and_no_sheet_holds_is_said(session: Session) -> None:
    page = on_slides(session, 20)  # four whole mounts are 215 mm across and their pictures 200, as A4 between its margins
    whole = [replace(s, length_mm=50.0, frames=(replace(s.frames[0], start_mm=7.5),)) for s in page.strips]
    mounts = contact_sheet_pdf([replace(page, plan=plan_page(page.layout, whole))], printed_on=ON, link=LINK)
    assert (mounts.sheets, mounts.scale) == (1, 1.0)
    assert "1 sheets" not in mounts.explanation
    assert "ends of the strips are left off" in mounts.explanation
    huge = contact_sheet_pdf([a_page(session, "sheet-8x10", "sheet-8x10", 1)], printed_on=ON, link=LINK)
    assert huge.scale < 1
    assert "one picture is larger than a sheet of A4" in huge.explanation
    assert "9.5 × 12 in holds them at true size" in huge.explanation  # the smallest paper whose inside takes 252 × 202


def test_an_empty_page_is_said_to_be_empty(session: Session) -> None:
    page = a_page(session, layout="135-7x6", frames=6)
    bare = replace(page, strips=(), rolls=(), plan=plan_page(page.layout, ()))
    made = contact_sheet_pdf([bare], printed_on=ON, link=LINK)
    assert (made.sheets, made.scale) == (1, 1.0)
    assert made.explanation == "No film lies on this page yet."


def test_a_picture_gone_since_leaves_its_outline(session: Session) -> None:
    page = a_page(session)
    frames = tuple(replace(f, picture="/nowhere/gone.jpg") for f in page.plan.frames)
    made = contact_sheet_pdf([replace(page, plan=replace(page.plan, frames=frames))], printed_on=ON, link=LINK)
    with pdfplumber.open(BytesIO(made.pdf)) as pdf:
        assert sum(abs(r["width"] / MM - 36) < 0.1 for r in pdf.pages[0].rects) == 35


def test_unseen_characters_print_nothing_and_missing_ones_are_said(session: Session) -> None:
    page = a_page(session)
    (roll,) = page.rolls
    odd = replace(page, rolls=(replace(roll, subject="Quay\nat\tnoon\u200b\u202e\ufe0f 𓀀"),))
    made = page_label_pdf(odd, printed_on=ON, link=LINK)
    assert made.missing == ("𓀀",)
    assert "No font here has 𓀀" in made.explanation
    assert "Quay at noon" in pypdf.PdfReader(BytesIO(made.pdf)).pages[0].extract_text()


@pytest.mark.parametrize(("rotated", "mirrored", "dark"), [(0, 0, 0), (0, 1, 1), (1, 1, 2), (1, 0, 3)])
def test_pictures_are_turned_as_the_film_lies(tmp_path: Path, rotated: int, mirrored: int, dark: int) -> None:
    # The dark corner of an upright picture is top left: 0 top left, 1 top right, 2 bottom left, 3 bottom right.
    from PIL import Image

    picture = Image.new("L", (360, 240), 255)
    picture.paste(0, (0, 0, 120, 80))
    picture.save(tmp_path / "corner.jpg", quality=95)
    painter = Painter("corner")
    item = Picture(Rect(0, 0, 36, 24), str(tmp_path / "corner.jpg"), bool(rotated), bool(mirrored))
    painter.draw([Sheet(36, 24, (item,))])
    seen = pypdfium2.PdfDocument(painter.finish())[0].render(scale=3, grayscale=True).to_numpy().squeeze()
    high, wide = seen.shape
    corners = [seen[y, x] for y in (high // 8, high * 7 // 8) for x in (wide // 8, wide * 7 // 8)]
    assert [int(np.argmin(corners)), int(sum(c < 90 for c in corners))] == [dark, 1]
