"""An enlarged contact sheet: strip by strip in rows, over as many sheets as it takes, never cutting a picture."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from catalogue.errors import DoesNotFit, InvalidInput
from catalogue.film.frame_numbers import FrameNumber, frames_text
from catalogue.paper.sizes import Paper
from catalogue.sleeves.geometry import Rect
from catalogue.sleeves.page_plan import PlacedFrame, PlacedStrip
from printing.canvas.items import counted
from printing.contact.film import ContactPlan, Piece, Rolls, SeenFilm, around, seen_film, wanted
from printing.contact.fit import HEAD_MM, room
from printing.contact.options import ContactOptions

LABEL_MM, APART_MM, EDGE_MM = 4.2, 3.0, 1.2
"""Height of a row's label, between rows and pieces, and beside a run of pictures, on paper."""


@dataclass(frozen=True)
class _Run:
    """Frames of one strip that lie side by side in a row."""

    row: int
    window: Rect
    strip_id: int
    label: str


def _range(frames: list[PlacedFrame]) -> str:
    labels = list(dict.fromkeys(f.label for f in frames))
    try:
        return frames_text(sorted(FrameNumber.parse(label) for label in labels))
    except InvalidInput:
        return ", ".join(labels)


def _label(film: SeenFilm, strip: PlacedStrip, row: int, whole: list[PlacedFrame], part: list[PlacedFrame]) -> str:
    named = f"{strip.roll} / " if len(film.page.rolls) > 1 else ""
    columns = film.page.layout.columns > 1
    words = f"row {row}, place {part[0].place} from the ring side" if columns else f"slot {row} from the top"
    if len(whole) == 1:
        return f"{words} · {named}{whole[0].label}"
    words += f" · strip {named}{_range(whole)}"
    return words if len(part) == len(whole) else f"{words}, here {_range(part)}"


def _parts(whole: list[PlacedFrame], most: float) -> list[list[PlacedFrame]]:
    """The frames of a strip in the fewest parts no longer than `most`, alike in number where that fits too."""
    parts: list[list[PlacedFrame]] = []
    for frame in whole:
        if parts and frame.rect.right - parts[-1][0].rect.x <= most:
            parts[-1].append(frame)
        else:
            parts.append([frame])
    each = -(-len(whole) // len(parts)) if parts else 1
    even = [whole[n : n + each] for n in range(0, len(whole), each)]
    fits = all(part[-1].rect.right - part[0].rect.x <= most for part in even)
    return even if fits and len(even) == len(parts) else parts


def _runs(film: SeenFilm, width: float, scale: float) -> Iterator[_Run]:
    """The strips in the order of the page, each in runs of whole frames that the width holds."""
    slots = {slot.number: slot for slot in film.page.plan.slots}
    boxes = {id(f): tick for f, tick in zip(film.frames, film.ticks, strict=True)}
    for strip in sorted(film.strips, key=lambda s: (slots[s.slot].from_top, s.rect.x)):
        whole = sorted((f for f in film.frames if f.strip_id == strip.strip_id), key=lambda f: f.rect.x)
        for part in _parts(whole, (width - 2 * EDGE_MM + 1e-6) / scale):
            seen = around([f.rect for f in part])
            left, right = max(strip.rect.x, seen.x - EDGE_MM / scale), min(strip.rect.right, seen.right + EDGE_MM / scale)
            bottom = max([strip.rect.bottom, *(box.bottom for f in part if (box := boxes[id(f)]))])
            window = Rect(left, strip.rect.y, right - left, bottom - strip.rect.y)
            row = slots[strip.slot].from_top
            yield _Run(row, window, strip.strip_id, _label(film, strip, row, whole, part))


def _sheets(film: SeenFilm, paper: Paper, landscape: bool, scale: float) -> tuple[tuple[Piece, ...], ...]:
    """The pieces of every sheet; () where a picture doesn't fit."""
    width, height = room(paper, landscape)
    rows: list[list[_Run]] = []
    for run in _runs(film, width, scale):
        if run.window.width * scale > width + 1e-6 or run.window.height * scale + LABEL_MM > height + 1e-6:
            return ()
        taken = sum(r.window.width * scale + APART_MM for r in rows[-1]) if rows else 0.0
        if rows and rows[-1][0].row == run.row and taken + run.window.width * scale <= width + 1e-6:
            rows[-1].append(run)
        else:
            rows.append([run])
    widest = max(sum(r.window.width * scale + APART_MM for r in row) for row in rows) - APART_MM
    left = (paper.turned(landscape)[0] - widest) / 2
    top = paper.margin_mm + HEAD_MM
    sheets: list[list[Piece]] = []
    y = float("inf")
    for row in rows:
        high = max(run.window.height for run in row) * scale + LABEL_MM
        if y + high > top + height + 1e-6:
            sheets.append([])
            y = top
        x = left
        for run in row:
            sheets[-1].append(Piece(run.window, x, y + LABEL_MM, run.strip_id, run.label))
            x += run.window.width * scale + APART_MM
        y += high + APART_MM
    return tuple(tuple(sheet) for sheet in sheets)


def plan_enlarged(film: SeenFilm, paper: Paper, roll: Rolls, options: ContactOptions) -> ContactPlan:
    """The sheets of an enlarged page, the paper lying as it takes fewer of them.

    Raises `DoesNotFit` where a picture is larger than the paper, with the largest percentage that fits.
    """
    scale = options.percent / 100
    ways = {way: _sheets(film, paper, way, scale) for way in (False, True)}
    possible = [way for way in (False, True) if ways[way]]
    if not possible:
        raise DoesNotFit(_refusal(film, paper, roll, options))
    way = min(possible, key=lambda w: len(ways[w]))
    count = len(ways[way])
    words = f"Enlarged to {options.percent:g} % of true size on {counted(count, 'sheet')} of {paper.name}, "
    words += f"{'landscape' if way else 'portrait'}, strip by strip with every picture whole. It will not lie over the page."
    return ContactPlan(film, paper, way, scale, ways[way], words, options, wanted(roll))


def _refusal(film: SeenFilm, paper: Paper, roll: Rolls, options: ContactOptions) -> str:
    def possible(percent: int) -> bool:
        # Boxes to tick keep their size on paper, so they are placed anew; the page is seen from its side already.
        smaller = replace(options, percent=percent, side="base")
        again = seen_film(film.page, roll, smaller)
        return any(_sheets(again, paper, way, percent / 100) for way in (False, True))

    largest = next((p for p in range(int(options.percent), 99, -1) if possible(p)), None)
    frame = max(film.frames, key=lambda f: f.rect.width * f.rect.height)
    strip = film.strip_of(frame)
    scale = options.percent / 100
    width, height = room(paper, False)
    words = (
        f"Frame {frame.label} is {frame.rect.width:g} × {frame.rect.height:g} mm on film {strip.rect.height:g} mm wide; at "
        f"{options.percent:g} % that is {frame.rect.width * scale:.0f} × {frame.rect.height * scale:.0f} mm on film "
        f"{strip.rect.height * scale:.0f} mm wide, and {paper.name} has room for {width:.0f} × {height:.0f} mm. "
    )
    if largest is None:
        return f"{words}Not even 100 % fits as a labelled row: choose a larger paper, or a sheet at true size."
    return f"{words}The largest percentage that fits is {largest} %; or choose a larger paper."
