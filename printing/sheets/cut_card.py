"""The cut card: the film on paper at life size with its cut lines, to lay beside the uncut film before the scissors.

Pure layout. Along the film, millimetres count from the head of the roll as in
the cut plan; on a sheet from its top left corner. The film runs in bands, head
at the left, and equal letters at two ends join them: the ends lie over one
another by the length printed there. Bands end at cuts where that is possible,
so that a strip is seen whole, and else in gaps, so that a picture is.
"""

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from catalogue.errors import DoesNotFit, InvalidInput
from catalogue.film.formats import FilmFormat
from catalogue.paper.sizes import PAPERS, Paper
from catalogue.sleeves.cut_plan import CutFrame, CutPlan, check_frames
from catalogue.sleeves.geometry import TOLERANCE_MM, Rect
from printing.canvas.items import Box, Item, Line, Measure, Sheet, Text, first_fitting, fitted
from printing.sheets.film_cuts import (
    END_PIECE_MM,
    Cut,
    Join,
    StripOnFilm,
    cuts_on_film,
    never_cut,
    never_cut_runs,
    pieces_of_film,
    strips_on_film,
)
from printing.sheets.strip_list import frame_range, true_size_rule
from printing.sheets.tank_card import HEAD_MM, card_head, roll_words

LABEL_MM = 7.0
"""Type size of what is read at arm's length: figures and capitals stand 0.714 of it high (Noto Sans), so 5 mm."""
_COLUMN = 10.0  # beside each end of a band, for its letter
_ABOVE, _NEVER, _BELOW, _BETWEEN, _FOOT = 8.6, 10.2, 8.8, 2.6, 11.5
CUT_WIDTH_MM = 1.2
CAUTION = "Cut on a flat surface, fingers away from the blade."


@dataclass(frozen=True)
class Band:
    """A part of the film on one sheet (from 1): `film` is its rectangle there, width along and height across the film."""

    sheet: int
    from_mm: float
    to_mm: float
    film: Rect
    before: Join | None
    after: Join | None


@dataclass(frozen=True)
class CutCard:
    """The sheets, always at true size, and what is on them in numbers."""

    sheets: tuple[Sheet, ...]
    bands: tuple[Band, ...]
    cuts: tuple[Cut, ...]
    strips: tuple[StripOnFilm, ...]
    film_mm: tuple[float, float]
    """Where the film shown begins and ends."""
    never_mm: tuple[float, ...]
    """Places between two frames that must not be cut."""


def plan_cut_card(
    plan: CutPlan,
    frames: Sequence[CutFrame],
    film: FilmFormat,
    *,
    roll: str,
    archive_name: str,
    printed_on: date,
    measure: Measure,
    kept_together: Sequence[Sequence[str]] = (),
    pages: Mapping[int, str] | None = None,
    paper: Paper = PAPERS["A4"],
    landscape: bool = True,
    link: str = "",
) -> CutCard:
    """Plans the cut card of one uncut roll.

    `pages` names the plan's pages (by ordinal) as the binder does, "Binder 2,
    page 14"; `link` makes a QR code. Raises `InvalidInput` for film that isn't
    cut and for a plan of other frames, `DoesNotFit` for a paper too small.
    """
    check_frames(frames)
    if film.kind != "strip":
        raise InvalidInput(f"{film.name} comes in single pieces, so there is nothing to cut and no cut card of it.")
    strips = strips_on_film(plan, frames)
    if not strips:
        raise InvalidInput("This plan has no strips, so nothing is to be cut. Choose a page with free slots first.")
    cuts = cuts_on_film(strips, frames)
    never = never_cut(frames, cuts, kept_together)
    width, height = paper.turned(landscape)
    m = paper.margin_mm
    room = width - 2 * m - 2 * _COLUMN
    tallest = _ABOVE + film.gauge_width_mm + (_NEVER if never else 0) + _BELOW
    if room < 120 or tallest > height - 2 * m - HEAD_MM - _FOOT:
        raise DoesNotFit(
            f"A band of this film is {tallest:.0f} mm high and needs 120 mm along; {paper.name}, {width:g} × {height:g} mm, "
            f"leaves {height - 2 * m - HEAD_MM - _FOOT:.0f} mm and {room:.0f} mm. Choose a larger paper."
        )
    last = max(f.start_mm + f.length_mm for f in frames)
    start, stop = strips[0].from_mm - END_PIECE_MM, max(last, strips[-1].to_mm) + END_PIECE_MM
    bands: list[Band] = []
    sheet, y, before = 1, m + HEAD_MM, None
    for from_mm, to_mm, after in pieces_of_film(start, stop, room, frames, cuts):
        lane = _NEVER if any(from_mm <= at <= to_mm for at in never) else 0.0
        tall = _ABOVE + film.gauge_width_mm + lane + _BELOW
        if y + tall > height - m - _FOOT + TOLERANCE_MM:
            sheet, y = sheet + 1, m + HEAD_MM
        rect = Rect(m + _COLUMN, y + _ABOVE, to_mm - from_mm, film.gauge_width_mm)
        bands.append(Band(sheet, from_mm, to_mm, rect, before, after))
        y, before = y + tall + _BETWEEN, after
    card = CutCard((), tuple(bands), cuts, strips, (start, stop), never)
    title = [f"Cut card: roll {name}" for name in roll_words(roll)]
    facts = [f"{film.name} · {plan.explanation}", f"{film.name} · {len(frames)} frames, {len(strips)} strips"]
    sheets = []
    for number in range(1, sheet + 1):
        ends = f"printed {printed_on.isoformat()} · sheet {number} of {sheet} · true size, print at 100 %"
        where = [f"{archive_name} · {ends}", ends]
        items = card_head(Rect(m, m, width - 2 * m, HEAD_MM), title, facts, where, measure, link)
        for band in bands:
            if band.sheet == number:
                items += _band(card, band, plan, frames, film, pages or {}, measure)
        items += _foot(Rect(m, height - m - _FOOT, width - 2 * m, _FOOT), len(bands) > 1, measure)
        sheets.append(Sheet(width, height, tuple(items)))
    return replace(card, sheets=tuple(sheets))


def _foot(area: Rect, joined: bool, measure: Measure) -> list[Item]:
    text, size = fitted(CAUTION, area.width, 4.4, 2.5, measure, True)
    items: list[Item] = [Text(area.x, area.y + 5.4, size, text, True)]
    used = area.x + measure(text, size, True) + 5
    lay, joins = "Lay it beside the film, head at the left.", "Equal letters join"
    words = [lay, "Head at the left."]
    if joined:
        words = [f"{lay} {joins}; the ends lie over one another by the length named.", f"{lay} {joins}.", f"{joins}."]
    if area.right - used > 20:
        text, size = first_fitting(words, area.right - used, 3.4, 2.8, measure)
        items.append(Text(used, area.y + 5.4, size, text))
    return [*items, *true_size_rule(area.x, area.bottom - 1.0, area.width, measure)]


def _band(
    card: CutCard, band: Band, plan: CutPlan, frames: Sequence[CutFrame], film: FilmFormat, pages: Mapping[int, str],
    measure: Measure,
) -> Iterator[Item]:  # fmt: skip
    """One band: the film's edges and ends, pictures, cuts, and the words above and below."""
    r = band.film

    def x(mm: float) -> float:
        return r.x + mm - band.from_mm

    for edge in (r.y, r.bottom):
        yield Line(r.x, edge, r.right, edge, 0.35)
    for join, end, side in ((band.before, r.x, -1), (band.after, r.right, 1)):
        yield Line(end, r.y, end, r.bottom, 0.15, 0.3, True)
        if join:
            middle = end + side * _COLUMN / 2
            text, size = fitted(join.letter, _COLUMN - 1.5, LABEL_MM, 2, measure, True)
            yield Text(middle, r.y + r.height / 2, size, text, True, "middle")
            text, size = fitted(f"{join.overlap_mm:.0f} mm", _COLUMN - 2.5, 2.8, 1.8, measure)
            yield Text(middle, r.y + r.height / 2 + 4.5, size, text, False, "middle")
            if not any(abs(cut.at_mm - join.at_mm) < 0.5 for cut in card.cuts):
                yield Line(x(join.at_mm), r.y, x(join.at_mm), r.bottom, 0.15, 0.3, True)
    yield from _pictures(band, frames, [cut.at_mm for cut in card.cuts], film, measure)
    yield from _bare(card, band, frames, measure)
    shown = [cut for cut in card.cuts if band.from_mm - 0.01 <= cut.at_mm <= band.to_mm + 0.01]
    for cut in shown:
        at, thick = x(cut.at_mm), CUT_WIDTH_MM
        on_film = min(thick, max(0.4, cut.clear_mm * 0.6))  # where the gap is thin the line must not hide the pictures' edges
        yield Line(at, r.y - 1.6, at, r.y, thick)
        yield Line(at, r.y, at, r.bottom, on_film)
        yield Line(at, r.bottom, at, r.bottom + 1.6, thick)
    outer = (r.x - _COLUMN, r.right + _COLUMN)
    yield from _lane([(x(c.at_mm), _cut_words(card, band, c)) for c in shown], *outer, r.y - 3.2, True, measure)
    below = r.bottom
    runs = never_cut_runs([at for at in card.never_mm if band.from_mm <= at <= band.to_mm], frames)
    if runs:
        for first, end_mm in runs:
            left, right = max(r.x, x(first) - 6), min(r.right, x(end_mm) + 6)
            for at in (left, right):
                yield Line(at, below + 0.6, at, below + 2.4, 0.5)
            yield Line(left, below + 2.4, right, below + 2.4, 0.5)
        words = ("never cut here", "never cut")
        yield from _lane([(x((a + b) / 2), words) for a, b in runs], *outer, below + 8.4, False, measure)
        below += _NEVER
    yield from _destinations(card, band, plan, below + 6.9, pages, measure)


def _cut_words(card: CutCard, band: Band, cut: Cut) -> tuple[str, ...]:
    """The cut's wording; where the band before shows it as well, what begins there instead, so that nobody cuts twice."""
    if band.before is None or cut.at_mm > band.before.right_mm:
        return cut.words
    begins = next((s.number for s in card.strips if abs(s.from_mm - cut.at_mm) < 0.01), None)
    if begins is None:
        return ("same cut",)
    return (f"same cut: strip {begins} begins", f"same cut: {begins} begins", "same cut")


def _lane(
    marks: Sequence[tuple[float, Sequence[str]]], low: float, high: float, y: float, bold: bool, measure: Measure
) -> Iterator[Item]:
    """Texts beside one another, each as near its place as its neighbours let it be, fullest wording that has room."""
    for n, (at, words) in enumerate(marks):
        left = low if n == 0 else (marks[n - 1][0] + at) / 2 + 1
        right = high if n == len(marks) - 1 else (at + marks[n + 1][0]) / 2 - 1
        text, size = readable(words, right - left, measure, bold)
        width = measure(text, size, bold)
        yield Text(min(max(at - width / 2, left), right - width), y, size, text, bold)


def readable(words: Sequence[str], width: float, measure: Measure, bold: bool = False) -> tuple[str, float]:
    """The fullest wording that has room at `LABEL_MM`; only the shortest is ever set smaller."""
    for text in words[:-1]:
        if measure(text, LABEL_MM, bold) <= width:
            return text, LABEL_MM
    return fitted(words[-1], width, LABEL_MM, 1.5, measure, bold)


def _pictures(
    band: Band, frames: Sequence[CutFrame], cuts: Sequence[float], film: FilmFormat, measure: Measure
) -> Iterator[Item]:
    r = band.film
    top, across = r.y + (r.height - film.frame_across_mm) / 2, film.frame_across_mm
    centres = [f.start_mm + f.length_mm / 2 for f in frames]
    for n, frame in enumerate(frames):
        start, end = frame.start_mm, frame.start_mm + frame.length_mm
        a, b = max(start, band.from_mm), min(end, band.to_mm)
        if b - a <= TOLERANCE_MM:
            continue
        left, right = r.x + a - band.from_mm, r.x + b - band.from_mm
        whole = b - a > frame.length_mm - TOLERANCE_MM
        if whole:
            yield Box(Rect(left, top, right - left, across), 0.25)
        else:  # open where the band ends
            for y in (top, top + across):
                yield Line(left, y, right, y, 0.25)
            if a == start or b == end:
                yield Line(left if a == start else right, top, left if a == start else right, top + across, 0.25)
        if b - a < 0.45 * frame.length_mm:
            continue  # the other band names it
        # Pictures that overlap share the room between their middles.
        low = max(a, (centres[n - 1] + centres[n]) / 2) if n else a
        high = min(b, (centres[n] + centres[n + 1]) / 2) if n + 1 < len(frames) else b
        # A cut through the picture leaves the label whole on the wider side.
        edges = [low, *(at for at in cuts if low < at < high), high]
        low, high = max(itertools.pairwise(edges), key=lambda side: side[1] - side[0])
        middle, wide = r.x + (low + high) / 2 - band.from_mm, max(1.0, high - low - 1.5)
        size = max(LABEL_MM, min(12.0, across / 4))
        text, size = fitted(frame.label, wide, size, 1.5, measure, True)
        base = top + across / 2 + size * 0.36 - (2.0 if frame.state != "picture" else 0)
        yield Text(middle, base, size, text, True, "middle")
        if frame.state != "picture":
            text, small = fitted(frame.state, wide, 3.4, 1.5, measure)
            yield Text(middle, base + 4.2, small, text, False, "middle")


def _bare(card: CutCard, band: Band, frames: Sequence[CutFrame], measure: Measure) -> Iterator[Item]:
    """What the film is where no strip lies: head, tail, and clear film that is left out."""
    edges = [frames[-1].start_mm + frames[-1].length_mm, card.strips[-1].to_mm]
    pieces = [("head", card.strips[0].from_mm - END_PIECE_MM, card.strips[0].from_mm), ("tail", max(edges), band.to_mm)]
    pieces += [("left out", one.to_mm, two.from_mm) for one, two in itertools.pairwise(card.strips)]
    for word, start, end in pieces:
        a, b = max(start, band.from_mm), min(end, band.to_mm)
        if b - a > 4 and (word != "tail" or band.after is None):
            text, size = fitted(word, b - a - 2, LABEL_MM, 1.5, measure)
            middle = band.film.x + (a + b) / 2 - band.from_mm
            yield Text(middle, band.film.y + band.film.height / 2 + size * 0.36, size, text, False, "middle")


def _destinations(
    card: CutCard, band: Band, plan: CutPlan, y: float, pages: Mapping[int, str], measure: Measure
) -> Iterator[Item]:
    """Below each strip the slot it goes into."""
    several = len({strip.page for strip in card.strips}) > 1
    parts: list[tuple[float, float, tuple[str, ...]]] = []
    for s in card.strips:
        page = pages.get(s.page, f"page {s.page}")
        slot = f"{page}, slot {s.slot}" if several or pages else f"slot {s.slot}"
        # Of two pages the shortest wording still says which; a long name is cut at its end, behind the slot.
        short = f"slot {s.slot}" if not several else f"slot {s.slot}, {page}" if pages else f"p. {s.page}, slot {s.slot}"
        said = frame_range(s.frames)
        held = f"frames {said}" if len(s.frames) > 1 else f"frame {said}"
        words = (f"strip {s.number}, {held}, into {slot}", f"strip {s.number} into {slot}", f"{s.number} into {slot}")
        parts.append((s.from_mm, s.to_mm, (*words, f"{s.number}: {short}", short)))
    if plan.left_over:
        left = f"no place in this plan: {frame_range(plan.left_over)}"
        parts.append((card.strips[-1].to_mm, card.film_mm[1] - END_PIECE_MM, (left, "no place")))
    for start, end, wordings in parts:
        a, b = max(start, band.from_mm), min(end, band.to_mm)
        if b - a < 0.3 * (end - start) and b - a < 60:
            continue
        text, size = readable(wordings, b - a - 2, measure)
        yield Text(band.film.x + (a + b) / 2 - band.from_mm, y, size, text, False, "middle")
