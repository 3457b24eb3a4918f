"""What paper costs beside drawing the same things bare with ReportLab: a contact sheet, and label sheets with QR codes.

Run by hand; prints ratios and judges nothing. The bare drawings put the same pictures, texts and codes on as many pages, with
no layout, no measuring and no choice of font.
"""

import io
import random
import statistics
import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

import segno
from PIL import Image
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from small_scans import tied_by_name

from catalogue.paper.label_sheets import LABEL_STOCKS, StockUse
from catalogue.rolls.file import add_binder, get_page
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.register import register_roll
from catalogue.store.engine import open_archive
from catalogue.views import RollSummary
from printing.labels.documents import roll_labels_pdf
from printing.labels.plans import RollLabel
from printing.sheets.documents import contact_sheet_pdf

SHEETS = 1000
ON = date(2031, 9, 14)


def median_ms(work: Callable[[], object], times: int) -> float:
    """The median processor time of so many runs, after one that warms up."""
    work()
    took = []
    for _ in range(times):
        began = time.process_time()
        work()
        took.append((time.process_time() - began) * 1000)
    return statistics.median(took)


def contact_sheet() -> str:
    """A page of 36 ready pictures: read from a page view that is at hand, as a JPEG each."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        archive = open_archive(folder / "archive")
        scans = folder / "archive" / "scans" / "2031-001"
        scans.mkdir(parents=True)
        random.seed(4)
        for n in range(1, 37):
            Image.effect_noise((1200, 800), 40 + n).convert("RGB").save(scans / f"{n}.jpg", quality=85)
        with archive.session() as session:
            add_binder(session, "Binder 1")
            register_roll(session, NewRoll(number="2031-001", frames=36, layout="135-6x6"))
            tied_by_name(session, "2031-001", "2031-001")
            page = get_page(session, 1)
        pictures = [f.picture for f in page.plan.frames if f.picture]

        def bare() -> None:
            pdf = Canvas(io.BytesIO(), invariant=1)
            for n, path in enumerate(pictures):
                pdf.drawImage(path, (n % 6) * 38 * mm, (n // 6) * 39 * mm, 36 * mm, 24 * mm)
            pdf.save()

        ours = median_ms(lambda: contact_sheet_pdf([page], paper="A3", printed_on=ON, link="http://x/1"), 15)
        plain = median_ms(bare, 15)
        archive.close()
    return f"contact sheet of {len(pictures)} ready pictures: {ours:.1f} ms, the pictures bare {plain:.1f} ms: {ours / plain:.2f}"


def label_sheets(sheets: int) -> str:
    """Roll labels with QR codes, 24 to a sheet."""
    stock = LABEL_STOCKS["a4-3x8"]
    labels = [
        RollLabel(
            RollSummary(f"2031-{n:05}", "35 mm, 24 × 36", "Hazelgrain 200", "Orlo 35", "2031-05-14", "the weir", "1-36", "C-41"),
            "Archive", ON, f"http://localhost/rolls/2031-{n:05}",
        )
        for n in range(sheets * stock.count)
    ]  # fmt: skip

    def bare() -> None:
        pdf = Canvas(io.BytesIO(), invariant=1, pageCompression=1, pagesize=(210 * mm, 297 * mm))
        for n, label in enumerate(labels):
            place = stock.label(n % stock.count + 1)
            x, y = place.x * mm, (297 - place.bottom) * mm
            path = pdf.beginPath()
            rows = list(segno.make(label.link, error="m", micro=False).matrix_iter(border=4))
            for down, row in enumerate(rows):
                for across, dark in enumerate(row):
                    if dark:
                        path.rect(x + across * 0.5 * mm, y - down * 0.5 * mm, 0.5 * mm, 0.5 * mm)
            pdf.drawPath(path, stroke=0, fill=1)
            for line, text in enumerate((label.roll.number, label.roll.stock, label.roll.camera, label.roll.subject)):
                pdf.setFont("Helvetica", 9)
                pdf.drawString(x + 40, y + 12 * line, text)
            if n % stock.count == stock.count - 1:
                pdf.showPage()
        pdf.save()

    began = time.process_time()
    roll_labels_pdf(labels, StockUse(stock))
    ours = time.process_time() - began
    began = time.process_time()
    bare()
    plain = time.process_time() - began
    return f"{sheets} label sheets with {len(labels)} codes: {ours:.1f} s, bare {plain:.1f} s: {ours / plain:.2f}"


if __name__ == "__main__":
    print(contact_sheet())
    print(label_sheets(SHEETS))
