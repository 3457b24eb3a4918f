"""Finished PDFs of the cards: cut card, strip list, tank card and print cards."""

from collections.abc import Mapping, Sequence
from datetime import date

from catalogue.errors import NotFound
from catalogue.film.formats import FilmFormat
from catalogue.paper.sizes import Paper, find_paper
from catalogue.sleeves.cut_plan import CutFrame, CutPlan
from catalogue.views import PageView
from printing.canvas.paint import Painter, measure
from printing.sheets.cut_card import plan_cut_card
from printing.sheets.documents import PrintedPdf, finished
from printing.sheets.print_card import FrameToPrint, PrintRecord, plan_print_card
from printing.sheets.strip_list import SLIP_WIDTH_MM, plan_strip_list
from printing.sheets.tank_card import TankWork, plan_tank_card

__all__ = ["cut_card_pdf", "print_cards_pdf", "strip_list_pdf", "tank_card_pdf"]


def _sheets(count: int) -> str:
    return "one sheet" if count == 1 else f"{count} sheets"


def cut_card_pdf(
    plan: CutPlan,
    frames: Sequence[CutFrame],
    film: FilmFormat,
    *,
    roll: str,
    archive_name: str,
    printed_on: date,
    kept_together: Sequence[Sequence[str]] = (),
    pages: Mapping[int, str] | None = None,
    paper: str | Paper = "A4",
    landscape: bool = True,
    link: str = "",
) -> PrintedPdf:
    """The cut card of an uncut roll, at true size. Errors as `plan_cut_card`, and `InvalidInput` for an unknown paper."""
    card = plan_cut_card(
        plan, frames, film, roll=roll, archive_name=archive_name, printed_on=printed_on, measure=measure,
        kept_together=kept_together, pages=pages, paper=find_paper(paper), landscape=landscape, link=link,
    )  # fmt: skip
    painter = Painter(f"Cut card: {roll}")
    painter.draw(card.sheets)
    bands = "one band" if len(card.bands) == 1 else f"{len(card.bands)} bands"
    words = f"{len(card.strips)} strips, {len(card.cuts)} cuts, in {bands} on {_sheets(len(card.sheets))}, true size."
    return finished(painter, 1.0, len(card.sheets), words)


def strip_list_pdf(
    page: PageView,
    *,
    printed_on: date,
    out_reasons: Mapping[int, str] | None = None,
    paper: str | Paper = "A4",
    link: str = "",
) -> PrintedPdf:
    """The slip for the ring edge of a page, at true size; `out_reasons` by strip id."""
    made = plan_strip_list(
        page, printed_on=printed_on, measure=measure, out_reasons=out_reasons, paper=find_paper(paper), link=link
    )
    painter = Painter(f"Strip list: {page.binder}, page {page.number}")
    painter.draw([made.sheet])
    pieces = "one piece" if len(made.pieces) == 1 else f"{len(made.pieces)} pieces to join"
    long = sum(piece.rect.height for piece in made.pieces)
    return finished(painter, 1.0, 1, f"A slip of {SLIP_WIDTH_MM:g} × {long:g} mm in {pieces}, true size.")


def tank_card_pdf(work: TankWork, *, printed_on: date, paper: str | Paper = "A4", link: str = "") -> PrintedPdf:
    """The tank card of one tank's work; nothing on it is drawn to a scale."""
    sheets = plan_tank_card(work, printed_on=printed_on, measure=measure, paper=find_paper(paper), link=link)
    painter = Painter("Tank card")
    painter.draw(sheets)
    return finished(painter, 1.0, len(sheets), f"{len(work.steps)} steps on {_sheets(len(sheets))}.")


def print_cards_pdf(
    frames: Sequence[tuple[FrameToPrint, PrintRecord | None, str]],
    *,
    archive_name: str,
    printed_on: date,
    paper: str | Paper = "A4",
) -> PrintedPdf:
    """One card a frame: the frame, its record or None for an empty card, and the link for its QR code or "".

    Raises `NotFound` for no frames.
    """
    if not frames:
        raise NotFound("No frame was chosen, so there is no print card. Choose at least one.")
    size = find_paper(paper)
    painter = Painter("Print cards" if len(frames) > 1 else f"Print card: {frames[0][0].roll}, frame {frames[0][0].label}")
    for frame, record, link in frames:
        card = plan_print_card(
            frame, record, archive_name=archive_name, printed_on=printed_on, measure=measure, paper=size, link=link
        )
        painter.draw([card.sheet])
    return finished(painter, 1.0, len(frames), f"{len(frames)} print {'card' if len(frames) == 1 else 'cards'}.")
