"""The contact sheet: strips and frames where the sleeve page has them, at true size or enlarged.

Pure layout. At true size the strips keep their places relative to one another
exactly, so the sheet lies over the page and matches; the page's empty margins
may be cut. `lay_out` decides what goes where; `paint` places the items.
"""

from collections.abc import Mapping, Sequence
from datetime import date
from types import MappingProxyType

from catalogue.paper.sizes import PAPERS, Paper
from catalogue.sleeves.geometry import Rect
from catalogue.sleeves.page_plan import PlacedFrame
from catalogue.views import FrameChoice, PageView
from printing.canvas.items import Box, Item, Measure, Picture, Sheet, Text, first_fitting
from printing.contact.enlarged import LABEL_MM, plan_enlarged
from printing.contact.film import ContactPlan, Piece, Rolls, SeenFilm, seen_film, wanted
from printing.contact.fit import FOOT_MM, HEAD_MM, paper_advice, room, way_that_fits, windows
from printing.contact.head import foot_items, head_items
from printing.contact.marks import mark_items
from printing.contact.options import PLAIN, ContactOptions

__all__ = ["explanation", "lay_out", "paint", "paper_advice"]

NO_CHOICES: Mapping[int, FrameChoice] = MappingProxyType({})


def lay_out(
    page: PageView,
    paper: Paper,
    *,
    fit: str,
    roll: Rolls = None,
    options: ContactOptions = PLAIN,
    papers: Sequence[Paper] = tuple(PAPERS.values()),
) -> ContactPlan:
    """Decides paper, scale and what goes on which sheet; nothing is measured or drawn yet. Another paper is one of `papers`.

    `fit` says what is done where one sheet of this paper doesn't hold true size; an enlarged sheet goes on as many
    sheets as it takes, and raises `DoesNotFit` where a picture is larger than the paper.
    """
    film = seen_film(page, roll, options)
    if options.percent > 100 and film.frames:
        return plan_enlarged(film, paper, roll, options)
    need = film.extent

    def planned(on: Paper, landscape: bool, parts: list[Rect], why: str, scale: float = 1.0) -> ContactPlan:
        width, _ = on.turned(landscape)
        top = on.margin_mm + HEAD_MM
        sheets = tuple((Piece(part, (width - part.width * scale) / 2, top),) for part in parts)
        return ContactPlan(film, on, landscape, scale, sheets, why, options, wanted(roll))

    if not film.strips:
        return planned(paper, False, [need], "No film lies on this page yet.")
    one = way_that_fits(paper, need)
    if one is not None:
        return planned(paper, one, [need], f"True size on one sheet of {paper.name}, {'landscape' if one else 'portrait'}.")
    reason = f"The strips take {need.width:.0f} × {need.height:.0f} mm"
    larger = sorted(papers, key=lambda p: p.width_mm * p.height_mm)
    other = next((p for p in larger if way_that_fits(p, need) is not None), None)
    if fit == "another paper" and other is not None:
        why = f"{reason}, more than one sheet of {paper.name} holds, so {other.name} is used, at true size."
        return planned(other, bool(way_that_fits(other, need)), [need], why)
    if fit == "another paper":
        reason += ", more than any paper known here holds on one sheet"
    if fit != "fit":
        parts, landscape = windows(paper, film)
        if len(parts) == 1:
            cut = "all pictures go on it at true size and the ends of the strips are left off."
            return planned(paper, landscape, parts, f"{reason}, more than one sheet of {paper.name} holds; {cut}")
        if parts:
            why = f"{reason}, more than one sheet of {paper.name} holds, so they go on {len(parts)} sheets, at true size."
            return planned(paper, landscape, parts, why)
        reason += f", and one picture is larger than a sheet of {paper.name}"
    scales = {way: min(room(paper, way)[0] / need.width, room(paper, way)[1] / need.height) for way in (False, True)}
    landscape = scales[True] > scales[False]
    scale = min(1.0, int(scales[landscape] * 1000) / 1000)
    why = f"{reason}; one sheet of {paper.name} holds them at {scale:.1%} of true size. It will not lie over the page."
    if other is not None:
        why += f" {other.name} holds them at true size."
    return planned(paper, landscape, [need], why, scale)


def explanation(plan: ContactPlan, choices: Mapping[int, FrameChoice] = NO_CHOICES) -> str:
    """Why the sheets are as they are, and what of the wishes they couldn't meet."""
    words, options, frames = plan.why, plan.options, plan.film.frames
    if options.side == "emulsion":
        words += " Seen from behind: it lies over the page turned over." if plan.scale == 1 else " Seen from behind."
    without = sum(tick is None for tick in plan.film.ticks)
    if options.boxes and frames and without:
        which = "No frame has" if without == len(frames) else f"{without} of {len(frames)} frames don't have"
        words += f" {which} room for a box to tick: 4.2 mm free of pictures are needed and {plan.film.spare_mm:.1f} mm are there."
    if options.marks and frames and not any(_marked(f, choices) for f in frames):
        words += " No frame on it is marked as a select or cropped."
    return words


def _marked(frame: PlacedFrame, choices: Mapping[int, FrameChoice]) -> bool:
    choice = choices.get(frame.frame_id)
    return choice is not None and (choice.selected or choice.crop is not None)


def paint(
    plan: ContactPlan,
    *,
    printed_on: date,
    link: str,
    measure: Measure,
    choices: Mapping[int, FrameChoice] = NO_CHOICES,
    before: int = 0,
    total: int | None = None,
) -> tuple[Sheet, ...]:
    """The items of every sheet; numbered on from `before` others, `total` in all."""
    width, height = plan.paper.turned(plan.landscape)
    m = plan.paper.margin_mm
    inside = Rect(m, m + HEAD_MM, width - 2 * m, height - 2 * m - HEAD_MM - FOOT_MM)
    marked = plan.options.marks and any(_marked(f, choices) for f in plan.film.frames)
    sheets = []
    for number, pieces in enumerate(plan.sheets, before + 1):
        items = [item for piece in pieces for item in _piece(plan, piece, measure, choices, inside)]
        items += head_items(plan, width, number, total or before + len(plan.sheets), printed_on, link, measure)
        items += foot_items(plan, width, height, measure, marked=marked)
        sheets.append(Sheet(width, height, tuple(items)))
    return tuple(sheets)


def _piece(
    plan: ContactPlan, piece: Piece, measure: Measure, choices: Mapping[int, FrameChoice], inside: Rect
) -> list[Item]:  # fmt: skip
    film, scale = plan.film, plan.scale
    items: list[Item] = []
    if piece.label:
        text, size = first_fitting([piece.label], piece.window.width * scale, 2.6, 1.6, measure)
        items.append(Text(piece.x, piece.y - LABEL_MM + 3.0, size, text))
    for strip in film.strips:
        seen = piece.cut(strip.rect) if piece.strip_id in (None, strip.strip_id) else None
        if seen is not None:
            items.append(Box(piece.on_sheet(seen, scale), 0.1, 0.6, strip.out))
    drawn = [
        (frame, piece.on_sheet(frame.rect, scale), piece.on_sheet(tick, scale) if tick else None)
        for frame, tick in zip(film.frames, film.ticks, strict=True)
        if piece.strip_id in (None, frame.strip_id) and piece.window.contains(frame.rect)
    ]
    taken: dict[int, list[Rect]] = {}
    for n, (frame, rect, tick) in enumerate(drawn):
        label = _label(frame, rect, film, scale, measure, len(film.page.rolls) > 1)
        items += [*_picture(frame, rect), label]
        shown = Rect(label.x, label.y - 0.72 * label.size, measure(label.text, label.size, label.bold), 0.95 * label.size)
        taken[n] = [rect, shown, *([tick] if tick else [])]
    items += [Box(tick, 0.25) for *_, tick in drawn if tick]
    if plan.options.marks:
        for n, (frame, rect, _) in enumerate(drawn):
            choice = choices.get(frame.frame_id)
            if choice is not None:
                others = [other for key, rects in taken.items() for other in (rects if key != n else rects[1:])]
                items += mark_items(
                    choice, rect, rotated=frame.rotated, mirrored=frame.mirrored, part=frame.part, inside=inside, taken=others
                )
    return items


def _picture(frame: PlacedFrame, rect: Rect) -> list[Item]:
    items: list[Item] = []
    if frame.picture and not frame.out:
        items.append(Picture(rect, frame.picture, frame.rotated, frame.mirrored))
    return [*items, Box(rect, 0.1, 0.3, frame.out)]


def _label(frame: PlacedFrame, rect: Rect, film: SeenFilm, scale: float, measure: Measure, name_roll: bool) -> Text:
    rebate = (film.strip_of(frame).rect.height * scale - rect.height) / 2
    size = max(1.0, min(2.4, rebate * 0.98))
    words = {"picture": "", "double": "double exposure"}.get(frame.state, frame.state)
    own = f"{frame.label}  {'out' if frame.out else words}".strip()
    texts = [own, frame.label]
    if name_roll:
        texts = [f"{frame.roll} / {own}", f"…{frame.roll[-9:]} / {own}", *texts]
    text, size = first_fitting(texts, rect.width, size, size * 0.6, measure)
    # Capitals stand 0.72 of the size high and tails hang 0.22 below: both stay in the rebate.
    return Text(rect.x, rect.y - max(0.23 * size, (rebate - size * 0.72) / 2), size, text)
