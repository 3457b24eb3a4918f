"""Finished PDFs: the index label of a page, and contact sheets."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from catalogue.errors import InvalidInput, NotFound
from catalogue.views import PageView
from printing.canvas import READER_FONT, Painter, measure
from printing.contact_sheet import FITS, ContactSheet, PaperFit, paper_advice, plan_contact_sheet
from printing.page_label import plan_page_label
from printing.paper import find_paper

__all__ = ["FITS", "PaperFit", "PrintedPdf", "contact_sheet_pdf", "page_label_pdf", "paper_advice"]


@dataclass(frozen=True)
class PrintedPdf:
    """A PDF and what is to be known of it; `missing` lists characters that no font had."""

    pdf: bytes
    scale: float
    sheets: int
    explanation: str
    fonts_used: tuple[str, ...]
    missing: tuple[str, ...]


def page_label_pdf(page: PageView, *, printed_on: date, link: str) -> PrintedPdf:
    """The index label of a page, at true size."""
    painter = Painter(f"Index label: {page.binder}, page {page.number}")
    painter.draw([plan_page_label(page, printed_on=printed_on, link=link, measure=measure)])
    area = page.layout.index_area
    words = f"Index label of {area.width:g} × {area.height:g} mm, true size."
    return finished(painter, 1.0, 1, words)


def contact_sheet_pdf(
    pages: Sequence[PageView],
    *,
    paper: str = "A4",
    fit: str = "two sheets",
    roll: str | None = None,
    printed_on: date,
    link: str,
) -> PrintedPdf:
    """Contact sheets of these pages, of one roll or of all that lies on them."""
    if not pages:
        raise NotFound("This roll lies on no page yet, so there is no contact sheet of it. File it first.")
    if fit not in FITS:
        raise InvalidInput(f"“{fit[:20]}” is no way to fit a sheet. Choose one of: {', '.join(FITS)}.")
    size = find_paper(paper)
    title = f"Contact sheet: {roll}" if roll else f"Contact sheet: {pages[0].binder}, page {pages[0].number}"
    painter = Painter(title)
    sheets, words, scale = 0, [], 1.0

    def planned(page: PageView, before: int = 0, total: int | None = None) -> ContactSheet:
        return plan_contact_sheet(
            page, size, fit=fit, printed_on=printed_on, link=link, measure=measure, roll=roll, before=before, total=total
        )

    total = sum(len(planned(page).sheets) for page in pages)
    for page in pages:
        plan = planned(page, sheets, total)
        painter.draw(plan.sheets)
        sheets += len(plan.sheets)
        scale = min(scale, plan.scale)
        words.append(f"Page {page.number}: {plan.explanation}" if len(pages) > 1 else plan.explanation)
    return finished(painter, scale, sheets, " ".join(words))


def font_words(painter: Painter) -> str:
    """A sentence, with a blank before it, for every text that may not be read on what was painted; or nothing."""
    words = ""
    if painter.missing:
        words += f" No font here has {' '.join(sorted(painter.missing))}; each is printed as “?”."
    if READER_FONT in painter.fonts:
        words += (
            " Chinese, Japanese and Korean text is left to the PDF reader's own font and may stay blank; "
            "install or name a TrueType font for it (STRIPLEAF_CJK_FONT)."
        )
    return words


def finished(painter: Painter, scale: float, sheets: int, words: str) -> PrintedPdf:
    """The PDF, with a sentence for every text that may not be read on it."""
    words += font_words(painter)
    return PrintedPdf(painter.finish(), scale, sheets, words, tuple(sorted(painter.fonts)), tuple(sorted(painter.missing)))
