"""PDFs measured: read back by independent libraries and from a raster; QR read back; fonts embedded."""

import itertools
import shutil
import subprocess
from datetime import date
from io import BytesIO
from pathlib import Path

import numpy as np
import pdfplumber
import pypdf
import pypdfium2
import pytest
import zxingcpp
from sqlmodel import Session

from catalogue.errors import InvalidInput
from catalogue.filing import get_page
from catalogue.film.formats import BUILT_IN_FORMATS
from catalogue.registering import NewRoll, register_roll
from catalogue.sleeves.layouts import BUILT_IN_LAYOUTS
from catalogue.views import PageView
from printing.canvas import measure
from printing.contact_sheet import plan_contact_sheet
from printing.documents import FITS, contact_sheet_pdf, page_label_pdf, paper_advice
from printing.items import Box, Code, Line, Picture, Text, fitted
from printing.paper import PAPERS

MM = 72 / 25.4
LINK = "http://127.0.0.1:8000/rolls/2031-014"
ON = date(2031, 5, 1)


def a_page(session: Session, film: str = "135-24x36", layout: str = "135-7x5", frames: int = 35, **more: object) -> PageView:
    roll = register_roll(session, NewRoll(format=film, layout=layout, frames=frames, **more))  # type: ignore[arg-type]
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
    a4 = next(a for a in paper_advice(page) if a.paper.key == "A4")
    assert "28.0 mm across" in a4.words  # 228 - (210 - 2 × 5) in portrait
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
            plan = plan_contact_sheet(page, paper, fit=fit, printed_on=ON, link=LINK, measure=measure)
            edge = plan.paper.margin_mm - 0.2
            drawn = 0
            for sheet in plan.sheets:
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
