"""Finished PDFs: the index label of a page, and contact sheets."""

import unicodedata
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from catalogue.errors import NotFound
from catalogue.paper.sizes import PAPERS, Paper, find_paper
from catalogue.views import FrameChoice, PageView
from printing.canvas.fonts import named_font_trouble
from printing.canvas.paint import Painter, measure
from printing.contact.film import wanted
from printing.contact.options import FITS, PLAIN, ContactOptions, known_fit
from printing.contact.sheet import NO_CHOICES, explanation, lay_out, paint, paper_advice
from printing.sheets.page_label import plan_page_label

__all__ = [
    "FITS", "ContactOptions", "PrintedPdf", "contact_sheet_pdf", "contact_sheet_words", "page_label_pdf",
    "paper_advice",
]  # fmt: skip


@dataclass(frozen=True)
class PrintedPdf:
    """A PDF and what is to be known of it; `missing` lists characters that no font had."""

    pdf: bytes
    scale: float
    sheets: int
    explanation: str
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
    paper: str | Paper = "A4",
    papers: Sequence[Paper] = tuple(PAPERS.values()),
    fit: str = "two sheets",
    roll: str | Collection[str] | None = None,
    printed_on: date,
    link: str,
    options: ContactOptions = PLAIN,
    choices: Mapping[int, FrameChoice] = NO_CHOICES,
) -> PrintedPdf:
    """Contact sheets of these pages, of one roll, several, or all that lies on them.

    Another paper is one of `papers`. `choices` (what was marked, by the frames' keys) are drawn where `options` ask
    for marks.
    Raises `DoesNotFit` where an enlarged picture is larger than the paper.
    """
    if not pages:
        raise NotFound("This roll lies on no page yet, so there is no contact sheet of it. File it first.")
    known_fit(fit)
    size = find_paper(paper)
    rolls = ", ".join(wanted(roll) or ())
    painter = Painter(f"Contact sheet: {rolls}" if rolls else f"Contact sheet: {pages[0].binder}, page {pages[0].number}")
    plans = [lay_out(page, size, fit=fit, roll=roll, options=options, papers=papers) for page in pages]
    total = sum(len(plan.sheets) for plan in plans)
    before, words = 0, []
    for page, plan in zip(pages, plans, strict=True):
        painter.draw(paint(plan, printed_on=printed_on, link=link, measure=measure, choices=choices, before=before, total=total))
        before += len(plan.sheets)
        said = explanation(plan, choices)
        words.append(f"Page {page.number}: {said}" if len(pages) > 1 else said)
    scale = max((plan.scale for plan in plans), key=lambda drawn: abs(drawn - 1))
    return finished(painter, scale, total, " ".join(words))


def contact_sheet_words(
    page: PageView,
    *,
    paper: str | Paper,
    fit: str,
    roll: str | Collection[str] | None = None,
    options: ContactOptions = PLAIN,
    papers: Sequence[Paper] = tuple(PAPERS.values()),
) -> str:
    """What the contact sheet of a page will be like, without making it. Raises as `contact_sheet_pdf` does."""
    plan = lay_out(page, find_paper(paper), fit=known_fit(fit), roll=roll, options=options, papers=papers)
    return explanation(replace(plan, options=replace(options, marks=False)))


def font_words(painter: Painter) -> str:
    """A sentence, with a blank before it, for every text that may not be read on what was painted; or nothing."""
    words = ""
    marks = {char for char in painter.missing if unicodedata.category(char).startswith("M")}
    if letters := painter.missing - marks:
        words += f" No font here has {' '.join(sorted(letters))}; each is printed as “?”."
    if marks:  # shown on a dotted circle, as in Unicode's charts: alone they would sit on the blank before them
        words += f" No font here has the marks {' '.join(f'◌{mark}' for mark in sorted(marks))}; they are left out."
    if trouble := named_font_trouble():
        words += f" {trouble}"
    return words


def finished(painter: Painter, scale: float, sheets: int, words: str) -> PrintedPdf:
    """The PDF, with a sentence for every text that may not be read on it."""
    words += font_words(painter)
    return PrintedPdf(painter.finish(), scale, sheets, words, tuple(sorted(painter.missing)))
