"""The parts of a book around its rolls: title, the leaf for heirs, page list, what isn't there, dates, former numbers."""

from catalogue.film.dates import date_words
from catalogue.sleeves.address import ordinal
from catalogue.sleeves.geometry import Rect
from catalogue.views import FrameView, PageView
from printing.book.binder_record import BinderRecord, dated, span_words, where_words, why_uncertain
from printing.book.leaves import Block, Leaf, LeafShape, flow, heading, prose, row
from printing.canvas.items import Box, Item, Line, Measure, Text, counted


def title_leaf(record: BinderRecord, shape: LeafShape, measure: Measure) -> list[Leaf]:
    """What the book is of, how much there is, what is in it, and how it is kept up."""
    width = shape.body.width
    frames = sum(len(roll.frames) for roll in record.rolls)
    span = span_words([roll.exposed for roll in record.rolls])
    amount = [counted(len(record.pages), "sleeve page"), counted(len(record.rolls), "roll"), counted(frames, "frame")]
    blocks = [
        *prose(f"A book of the negatives in {record.binder}", width, measure, size=4.2, after=5),
        *prose(f"Archive: {record.archive}", width, measure, size=3.4),
        *prose(f"{', '.join(amount)}{f'; taken {span}' if span else ''}.", width, measure, size=3.4, after=4),
        *prose(record.notes, width, measure, size=3.2, after=4),
        heading("What is in this book", width, measure),
        *prose(
            "How to find a negative without any program; the pages of the binder; every roll with its frames; numbers that "
            "no roll bears, and strips that are out; dates that aren't certain; former numbers; an index of places and one "
            "of subjects, people and keywords.",
            width,
            measure,
        ),
        heading("How this book is kept", width, measure),
        *prose(
            "It is printed leaf by leaf. At the foot of every leaf stand its name and six check letters. The contents list "
            "both for the whole book: a leaf belongs to it when name and letters agree, whatever its number or printing "
            "date. When film is added, only the leaves whose letters have changed are printed again, and the contents. "
            "Take out an old leaf of the same name when you put the new one in.",
            width,
            measure,
        ),
    ]
    heads = (record.archive, record.binder)
    return flow("title", record.binder, blocks, shape, measure, heads=heads, section="Title")


def _example(record: BinderRecord) -> tuple[FrameView, PageView, str] | None:
    """A frame in the middle of a strip of this binder, with its page and address, to show the way by."""
    pages = {page.number: page for page in record.pages}
    found = [
        (frame, pages[frame.address.page])
        for roll in record.in_order()
        for frame in roll.frames
        if frame.address and frame.address.binder == record.binder and frame.address.page in pages and not frame.address.out
    ]
    if not found:
        return None
    frame, page = max(found, key=lambda pair: (min(pair[0].address.slot, 3), min(pair[0].address.place, 4)))  # type: ignore[union-attr]
    return frame, page, where_words(frame, record)


def _page_drawing(page: PageView, frame: FrameView, measure: Measure) -> Block:
    """The sleeve page small, its frames as outlines, the sought one with a heavy edge and the ring side named."""
    scale = min(78.0 / page.plan.size.width, 92.0 / page.plan.size.height)
    left = 14.0

    def small(r: Rect) -> Rect:
        return Rect(left + r.x * scale, 1 + r.y * scale, r.width * scale, r.height * scale)

    whole = small(Rect(0, 0, page.plan.size.width, page.plan.size.height))
    items: list[Item] = [Box(whole, 0.25)]
    for x, y, d in page.plan.ring_holes:
        items.append(Box(small(Rect(x - d / 2, y - d / 2, d, d)), 0.2))
    items += [Box(small(slot.rect), 0.08, 0.6) for slot in page.plan.slots]
    for placed in page.plan.frames:
        sought = (placed.roll, placed.label) == (frame.roll, frame.label)
        items.append(Box(small(placed.rect), 0.8 if sought else 0.12, 0.0 if sought else 0.4))
        if sought:
            across = whole.right + 3
            y = small(placed.rect).y + small(placed.rect).height / 2
            items += [
                Line(small(placed.rect).right, y, across, y, 0.25),
                Text(across + 1.2, y + 0.9, 2.6, f"frame {frame.label} of roll {frame.roll}"),
            ]
    side = f"ring side ({page.plan.ring_side})"
    at = whole.x if page.plan.ring_side == "left" else whole.right
    items.append(Text(at, whole.bottom + 4, 2.6, side, align="left" if page.plan.ring_side == "left" else "right"))
    return Block(whole.bottom + 7, tuple(items))


def heirs_leaves(record: BinderRecord, shape: LeafShape, measure: Measure) -> list[Leaf]:
    """For whoever finds the binder: what it holds and how a negative is found with this book and two hands."""
    width = shape.body.width
    example = _example(record)
    texts = [
        "These binders hold photographs on film: negatives or slides, the originals. Prints and computer files of them are "
        "copies. You need no computer and no program to find one, only this book and the binder of the same name: "
        f"{record.binder}.",
        "Every roll of film has a number of its own, and every picture on it a frame number, which is often printed on the "
        "edge of the film too. Both together say what a picture is. A number never changes and is never given twice. Where "
        "a roll bore another number once, the list of former numbers says so.",
    ]
    steps = [
        "1. Look for a place, a person or a subject in the index at the end, or leaf through the small pictures of the rolls. "
        "You get a roll number and frame numbers.",
        "2. Look up the roll in the contents; its leaf shows every frame and, under it, where it lies.",
        "3. Open the binder at that page. Page numbers are on the label at the edge of each sleeve page.",
        "4. Lay the page as it hangs in the binder, front towards you. Count the strips from the top. Then count the frames "
        "along the strip, beginning at the side where the rings are.",
        "5. Hold the page to a window. Compare the picture with the small one in this book before you pull the strip out.",
        "6. Touch film at its edges only, with clean dry hands or cotton gloves. Put the strip back in the same slot, the "
        "same way round, at once.",
    ]
    after = [
        "A strip that isn't in its slot may be listed under “Strips that are out”, with the reason. A number without a roll "
        "is listed under “Numbers that no roll bears”.",
        "Keep the binders dry, dark and cool, standing upright. Please keep this book with them.",
    ]
    blocks: list[Block] = []
    for text in texts:
        blocks += prose(text, width, measure, size=3.3, after=2.2)
    blocks.append(heading("How to find a negative", width, measure))
    for step in steps:
        blocks += prose(step, width, measure, size=3.3, after=1.8)
    if example is not None:
        frame, page, words = example
        blocks.append(heading("For example", width, measure))
        told = prose(f"Frame {frame.label} of roll {frame.roll}: {words}.", width, measure, size=3.3, after=1.4)
        blocks += [Block(b.height, b.items, keep=True) for b in told]
        blocks.append(_page_drawing(page, frame, measure))
    for text in after:
        blocks += prose(text, width, measure, size=3.3, after=2.2)
    title = "For whoever finds these negatives"
    return flow("for heirs", title, blocks, shape, measure, heads=(record.archive, record.binder), section=title)


def free_words(page: PageView) -> str:
    """The free slots of a page, counted from the top as the hand counts them."""
    if not page.free_slots:
        return "none"
    if page.layout.columns > 1:
        return f"{len(page.free_slots)} of {page.layout.slot_count}"
    tops = sorted(slot.from_top for slot in page.plan.slots if slot.number in page.free_slots)
    if len(tops) == page.layout.slot_count:
        return f"all {len(tops)}" if len(tops) > 1 else "its only one"
    return f"{', '.join(ordinal(n) for n in tops)} from the top"


def page_list(record: BinderRecord, shape: LeafShape, measure: Measure) -> list[Leaf]:
    """Every sleeve page: its kind, the rolls on it and what is free."""
    width = shape.body.width
    at = (0.0, 12.0, 58.0, width - 42.0)

    def line(page: str, kind: str, rolls: str, free: str, *, head: bool = False) -> Block:
        cells = [(at[0], 11.0, page), (at[1], 44.0, kind), (at[2], at[3] - at[2] - 2, rolls), (at[3], 42.0, free)]
        return row(cells, measure, size=2.4 if head else 2.7, bold_first=not head, grey=0.35 if head else 0.0)

    blocks = []
    for page in sorted(record.pages, key=lambda p: p.number):
        rolls = "; ".join(f"{roll.number}  {roll.frame_range}".strip() for roll in page.rolls) or "no film"
        kind = page.layout.name + (", turned head to foot" if page.turned else "")
        blocks.append(line(str(page.number), kind, f"{rolls}\n{page.notes}", free_words(page)))
    if not blocks:
        blocks = prose("This binder has no pages yet.", width, measure)
    title = "The pages of this binder"
    head = line("Page", "Kind of sleeve page", "Rolls", "Free slots", head=True)
    heads = (record.archive, record.binder)
    return flow("pages", title, blocks, shape, measure, heads=heads, section=title, repeat=head)


def _table(
    columns: list[tuple[str, float]], rows: list[list[str]], nothing: str, shape: LeafShape, measure: Measure
) -> list[Block]:
    """A table with its head, or a sentence that there is nothing; a column is (head, share of the width)."""
    if not rows:
        return prose(nothing, shape.body.width, measure)
    whole = sum(share for _, share in columns)
    cells, x = [], 0.0
    for _, share in columns:
        wide = shape.body.width * share / whole
        cells.append((x, wide - 3))
        x += wide
    head = row([(x, w, t) for (x, w), (t, _) in zip(cells, columns, strict=True)], measure, size=2.4, grey=0.35)
    lines = [row([(x, w, t) for (x, w), t in zip(cells, line, strict=True)], measure, size=2.7, bold_first=True) for line in rows]
    return [Block(head.height, head.items, keep=True), *lines]


def missing_leaves(record: BinderRecord, shape: LeafShape, measure: Measure) -> list[Leaf]:
    """Numbers without a roll, and strips that aren't in their slots, each with its reason."""
    width = shape.body.width
    gaps = [[gap.number, gap.reason or "no reason noted"] for gap in record.gaps]
    out = [
        [
            s.roll,
            s.frames,
            s.place,
            s.reason or "no reason noted",
            date_words(s.since) or "not noted",
            date_words(s.due) or "not set",
        ]
        for s in record.out
    ]
    out_columns = [("Roll", 3.0), ("Frames", 2.0), ("Belongs", 4.0), ("Why it is out", 4.0), ("Since", 2.4), ("Due back", 2.4)]
    blocks = [
        heading("Numbers that no roll bears", width, measure),
        *_table([("Number", 1.0), ("Why", 4.0)], gaps, "Every number up to the last one has its roll.", shape, measure),
        Block(3),
        heading("Strips that are out", width, measure),
        *_table(out_columns, out, "Every strip is in its slot.", shape, measure),
    ]
    title = "What isn't there, and why"
    return flow("what isn't there", title, blocks, shape, measure, heads=(record.archive, record.binder), section=title)


def date_leaves(record: BinderRecord, shape: LeafShape, measure: Measure) -> list[Leaf]:
    """Every date of a roll or frame that isn't certain to the day, with what is uncertain about it."""
    rows = []
    for roll in record.in_order():
        if why := why_uncertain(roll.exposed):
            rows.append([roll.number, "whole roll", dated(roll.exposed), why])
        for frame in roll.frames:
            if frame.exposed and frame.exposed != roll.exposed and (why := why_uncertain(frame.exposed)):
                rows.append([roll.number, f"frame {frame.label}", dated(frame.exposed), why])
    columns = [("Roll", 2.0), ("What", 1.5), ("Taken", 3.0), ("What isn't certain", 3.0)]
    blocks = _table(columns, rows, "Every date of this binder is certain to the day.", shape, measure)
    title = "Dates that aren't certain"
    return flow("uncertain dates", title, blocks, shape, measure, heads=(record.archive, record.binder), section=title)


def former_leaves(record: BinderRecord, shape: LeafShape, measure: Measure) -> list[Leaf]:
    """Numbers that rolls of this binder bore once."""
    rows = [list(pair) for pair in sorted({(old, roll.number) for roll in record.rolls for old in roll.former_numbers})]
    blocks = _table([("Once", 1.0), ("Now", 1.0)], rows, "No roll here ever had another number.", shape, measure)
    title = "Former numbers"
    return flow("former numbers", title, blocks, shape, measure, heads=(record.archive, record.binder), section=title)
