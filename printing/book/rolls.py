"""The leaves of a book that are about rolls: facts, process, where the strips lie, and every frame with its picture."""

from collections.abc import Sequence

from catalogue.film.dates import date_words
from catalogue.sleeves.geometry import Rect
from catalogue.views import FrameView, ProcessView, RollView
from printing.book.binder_record import BinderRecord, Pictures, piece_of, where_words, without_home
from printing.book.leaves import LEADING, Block, Leaf, LeafShape, flow, heading, prose, row, wrapped
from printing.canvas.items import Box, Item, Measure, Picture, Text, fitted, joined

LABEL_MM = 21.0
CELL_TEXT_MM = 2.2
PICTURE_MM = (14.0, 12.5, 11.0)
"""Heights of the small pictures to choose from: the largest that needs the fewest leaves."""
SHORT_FRAMES = 4
"""Rolls of no more frames (single slides, test strips) share leaves when they lie on one page."""


def process_words(process: ProcessView | None) -> str:
    """How a roll was processed, in one sentence without verbs; empty where nothing was noted."""
    if process is None:
        return ""
    time = ""
    if process.time_s is not None:
        time = f"{process.time_s // 60} min {process.time_s % 60:02} s"
    warmth = f"{process.temperature_c:g} °C" if process.temperature_c is not None else ""
    push = ""
    if process.push_stops:
        push = f"{'pushed' if process.push_stops > 0 else 'pulled'} by {abs(process.push_stops):g} stops"
    by = f"by {process.done_by}" if process.done_by else ""
    return joined(
        process.process, process.developer, process.dilution, warmth, time, push, date_words(process.done_on), by, process.notes
    )


def places_of(roll: RollView, record: BinderRecord) -> list[str]:
    """Where the strips lie, in film order, in words; the binder is named where it is another one."""
    words = []
    for strip in sorted(roll.strips, key=lambda s: s.position):
        span = (
            strip.labels[0] if len(strip.labels) == 1 else f"{strip.labels[0]}–{strip.labels[-1]}" if strip.labels else "no frame"
        )
        place = without_home(strip.address_words, record) or "not filed"
        out = f"OUT: {strip.out_reason or 'no reason noted'}" if strip.out and "is out" not in place else ""
        words.append(joined(f"{span}: {place}", out))
    return words


def _facts(pairs: Sequence[tuple[str, str]], width: float, measure: Measure) -> list[Block]:
    """Label and value, two pairs a row where both are short."""
    half = width / 2
    rows: list[list[tuple[str, str]]] = []
    for label, value in (pair for pair in pairs if pair[1]):
        short = measure(value, 2.7, False) <= half - LABEL_MM - 3
        if short and rows and len(rows[-1]) == 1 and measure(rows[-1][0][1], 2.7, False) <= half - LABEL_MM - 3:
            rows[-1].append((label, value))
        else:
            rows.append([(label, value)])
    blocks = []
    for cells in rows:
        room = half - LABEL_MM - 3 if len(cells) == 2 else width - LABEL_MM
        items: list[Item] = []
        deepest = 1
        for n, (label, value) in enumerate(cells):
            lines = wrapped(value, room, 2.7, measure, most=30)
            deepest = max(deepest, len(lines))
            items.append(Text(n * half, 2.7, 2.3, label, grey=0.35))
            items += [Text(n * half + LABEL_MM, 2.7 + 2.7 * LEADING * k, 2.7, line) for k, line in enumerate(lines)]
        blocks.append(Block(2.7 * LEADING * deepest + 0.3, tuple(items)))
    return blocks


def _frame_lines(
    frame: FrameView, roll: RollView, record: BinderRecord, width: float, measure: Measure
) -> list[tuple[str, float]]:
    """What stands beside a picture: (text, grey) from the top; the number is drawn apart."""
    state = {"picture": "", "double": "double exposure"}.get(frame.state, frame.state)
    own = [frame.caption or frame.subject, frame.subject if frame.caption else ""]
    about = joined(
        state,
        date_words(frame.exposed) if frame.exposed != roll.exposed else "",
        frame.place if frame.place != roll.place else "",
    )
    lines = [(line, 0.0) for text in own for line in wrapped(text, width, CELL_TEXT_MM, measure, most=4)]
    lines += [(line, 0.0) for line in wrapped(about, width, CELL_TEXT_MM, measure, most=3)]
    where = where_words(frame, record) or "not filed"
    return [*lines, *((line, 0.35) for line in wrapped(where, width, CELL_TEXT_MM * 0.92, measure, most=5))]


def frame_blocks(
    roll: RollView, record: BinderRecord, width: float, measure: Measure, pictures: Pictures, high_mm: float
) -> list[Block]:
    """The frames of a roll, three a row, each with its picture if it has one, its words and its address."""
    columns, gap = 3, 3.0
    cell = (width - gap * (columns - 1)) / columns
    along, across = roll.format.frame_along_mm, roll.format.frame_across_mm
    has = any((roll.number, frame.label) in pictures for frame in roll.frames)
    scale = min(high_mm * 1.5 / along, high_mm / across)
    wide, high = (along * scale, across * scale) if has else (0.0, 0.0)
    left = wide + 1.6 if has else 0.0
    blocks = []
    for first in range(0, len(roll.frames), columns):
        items: list[Item] = []
        deepest = high
        in_row = roll.frames[first : first + columns]
        for n, frame in enumerate(in_row):
            x = n * (cell + gap)
            rect = Rect(x, 0.5, wide, high)
            path = pictures.get((roll.number, frame.label))
            if path:
                items.append(Picture(rect, path))
            if has:
                items.append(Box(rect, 0.1, 0.3 if path else 0.6, dashed=path is None))
            number, size = fitted(frame.label, cell - left, 2.9, 1.6, measure, True)
            items.append(Text(x + left, 2.9, size, number, True))
            lines = _frame_lines(frame, roll, record, cell - left, measure)
            step = CELL_TEXT_MM * 1.24
            items += [
                Text(x + left, 2.9 + step * (k + 1), CELL_TEXT_MM * (0.92 if grey else 1), line, grey=grey)
                for k, (line, grey) in enumerate(lines)
            ]
            deepest = max(deepest, 2.9 + step * len(lines) + 0.4)
        holds = tuple(f"{roll.number}/{frame.label}" for frame in in_row)
        blocks.append(Block(deepest + 1.4, tuple(items), holds=holds))
    return blocks


def roll_title(roll: RollView) -> str:
    """Number, frames and subject: what stands in the contents."""
    return joined(f"{roll.number}   {roll.frame_range}".strip(), roll.subject or roll.place)


def roll_blocks(
    roll: RollView, record: BinderRecord, width: float, measure: Measure, pictures: Pictures, high_mm: float
) -> list[Block]:
    """All that is known of one roll, from its facts to its last frame."""
    facts = [
        ("Taken", date_words(roll.exposed) or "no date noted"),
        ("Frames", f"{len(roll.frames)}: {roll.frame_range}"),
        ("Stock", joined(roll.stock, roll.format.name)),
        ("Camera", joined(roll.camera, roll.lens)),
        ("Subject", roll.subject),
        ("Place", roll.place),
        ("Keywords", roll.keywords),
        ("Processed", process_words(roll.process) or date_words(roll.processed)),
        ("Sleeved", date_words(roll.sleeved)),
        ("Was numbered", ", ".join(roll.former_numbers)),
    ]
    blocks = [Block(0.1, holds=(roll.number,)), *_facts(facts, width, measure), Block(1.0)]
    if roll.notes:
        blocks += [row([(0, width, "Notes")], measure, size=2.3, grey=0.35, ruled=False)]
        blocks += prose(roll.notes, width, measure, size=2.7)
    places = places_of(roll, record)
    if places and piece_of(roll) == "strip":  # of sheets and slides every frame says where it lies
        blocks.append(heading("Strips" if len(places) > 1 else "Strip", width, measure, size=2.9))
        half = (len(places) + 1) // 2 if len(places) > 3 else len(places)
        for n in range(half):
            pair = [places[n], *places[n + half : n + half + 1]] if half < len(places) else [places[n]]
            room = width / 2 - 3 if half < len(places) else width
            blocks.append(
                row([(k * width / 2, room, text) for k, text in enumerate(pair)], measure, size=2.3, ruled=False, most=4)
            )
    frames = frame_blocks(roll, record, width, measure, pictures, high_mm)
    return [*blocks, Block(1.6), *frames]


def roll_leaves(record: BinderRecord, shape: LeafShape, measure: Measure) -> list[Leaf]:
    """One leaf or more a roll, in the order of the pages; very short rolls of one page follow on the same leaves."""
    pictures, heads, width = record.pictures, (record.archive, record.binder), shape.body.width
    first_pages = record.first_pages
    groups: dict[int, list[RollView]] = {}
    for roll in record.in_order():
        page = first_pages.get(roll.number)
        if page is not None and len(roll.frames) <= SHORT_FRAMES:
            groups.setdefault(page.number, []).append(roll)
    leaves: list[Leaf] = []
    for roll in record.in_order():
        page = first_pages.get(roll.number)
        group = groups.get(page.number, []) if page is not None and len(roll.frames) <= SHORT_FRAMES else []
        section = "" if leaves else "Rolls"
        if len(group) < 2:
            tried: list[list[Leaf]] = []
            for high in PICTURE_MM:
                blocks = roll_blocks(roll, record, width, measure, pictures, high)
                name, title = f"roll {roll.number}", roll_title(roll)
                tried.append(flow(name, f"Roll {title}", blocks, shape, measure, heads=heads, section=section, outline=title))
                if len(tried[-1]) == 1:
                    break
            fewest: list[Leaf] = min(tried, key=len)
            leaves += fewest
        elif roll is group[0] and page is not None:
            title = f"Page {page.number}: {len(group)} short rolls"
            blocks = []
            for each in group:
                blocks += [
                    heading(roll_title(each), width, measure),
                    *roll_blocks(each, record, width, measure, pictures, PICTURE_MM[0]),
                    Block(3),
                ]
            name = f"short rolls of page {page.number}"
            leaves += flow(name, title, blocks, shape, measure, heads=heads, section=section, outline=title)
    return leaves
