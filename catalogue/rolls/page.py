"""Sleeve pages as handed outward: strips in their slots, the plan, and where frames lie; the same few queries for one or many."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, select

from catalogue.errors import NotFound
from catalogue.own_shapes import formats_of, layouts_of
from catalogue.rolls.rows import films_of, range_of, roll_row, shelved_pages
from catalogue.rolls.scan_rows import shown_scans
from catalogue.settings import archive_name
from catalogue.sleeves.address import Address, address_of
from catalogue.sleeves.page_plan import FrameOnStrip, StripInSlot, plan_page
from catalogue.store.tables.rolls import Frame, ProcessRecord, Roll, Strip, StripFrame
from catalogue.views import PageView, RollSummary


@dataclass(frozen=True)
class Place:
    """Where a frame is found, and the page it lies on."""

    address: Address
    page_id: int


def strips_in_slots(session: Session, strips: Sequence[Strip]) -> tuple[StripInSlot, ...]:
    """Strips with their frames as the page plan takes them, each frame with the key of the scan to show; a handful of queries."""
    rolls = {r.id: r for r in session.exec(select(Roll).where(col(Roll.id).in_({s.roll_id for s in strips})))}
    films = films_of(session, rolls.values())
    on_strip: dict[int, list[FrameOnStrip]] = defaultdict(list)
    of_roll = {s.id: s.roll_id for s in strips}
    ids = sorted(key for key in of_roll if key)
    query = (
        select(StripFrame.strip_id, StripFrame.start_mm, StripFrame.part, Frame.id, Frame.label, Frame.length_mm)  # type: ignore[call-overload]
        .add_columns(col(Frame.state), col(Frame.caption))
        .join(Frame, col(Frame.id) == col(StripFrame.frame_id))
        .where(col(StripFrame.strip_id).in_(ids))
        .order_by(col(StripFrame.position))
    )
    lying = session.exec(query).all()
    scans = shown_scans(session, [row[3] for row in lying])
    for strip_id, start, part, frame_id, label, length, state, caption in lying:
        film = films[of_roll[strip_id]]
        along = length or film.frame_along_mm
        on_strip[strip_id].append(
            FrameOnStrip(
                label, start, along if part == "whole" else along / 2, film.frame_across_mm, state, caption,
                part=part, frame_id=frame_id, scan_id=scans.get(frame_id),
            )
        )  # fmt: skip
    return tuple(
        StripInSlot(
            s.id or 0, rolls[s.roll_id].number, s.slot or 0, s.offset_mm, s.length_mm, films[s.roll_id].gauge_width_mm,
            tuple(on_strip[s.id or 0]), s.upside_down, s.turned_over, s.out,
        )
        for s in strips
    )  # fmt: skip


def _on_pages(session: Session, strips: Sequence[Strip]) -> dict[int, list[StripInSlot]]:
    """Strips that are filed, by the page they lie on, in the order given; a page without any has none."""
    found: dict[int, list[StripInSlot]] = defaultdict(list)
    for strip, placed in zip(strips, strips_in_slots(session, strips), strict=True):
        found[strip.page_id or 0].append(placed)
    return found


def page_views(session: Session, page_ids: Iterable[int]) -> dict[int, PageView]:
    """Pages with their plans, in the order given; raises `NotFound`. As many queries for a hundred pages as for one."""
    wanted = list(dict.fromkeys(page_ids))
    pages = shelved_pages(session, wanted)
    for key in wanted:
        if key not in pages:
            raise NotFound(f"There is no page {key}. Look for it in its binder.")
    layouts = layouts_of(session, {page.layout_key for page, _ in pages.values()})
    strips = session.exec(
        select(Strip).where(col(Strip.page_id).in_(wanted)).order_by(col(Strip.slot), col(Strip.offset_mm))
    ).all()
    on_page = _on_pages(session, strips)
    rolls = session.exec(select(Roll).where(col(Roll.id).in_({s.roll_id for s in strips}))).all()
    told = {one.number: one for one in roll_summaries(session, rolls)}
    name = archive_name(session)
    views = {}
    for key in wanted:
        page, binder = pages[key]
        layout, lying = layouts[page.layout_key], tuple(on_page[key])
        taken = {s.slot for s in lying}
        views[key] = PageView(
            id=key, binder_id=page.binder_id, binder=binder, number=page.number, layout=layout, ring_side=page.ring_side,
            turned=page.turned, notes=page.notes, strips=lying,
            plan=plan_page(layout, lying, ring_side=page.ring_side, turned=page.turned),
            rolls=tuple(told[number] for number in dict.fromkeys(s.roll for s in lying)),
            free_slots=tuple(n for n in range(1, layout.slot_count + 1) if n not in taken), archive_name=name,
        )  # fmt: skip
    return views


def page_view(session: Session, page_id: int) -> PageView:
    """A page with its plan; raises `NotFound`."""
    return page_views(session, [page_id])[page_id]


def roll_summaries(session: Session, rolls: Sequence[Roll]) -> tuple[RollSummary, ...]:
    """One line about each roll, in the order given; a few queries however many there are."""
    ids = {r.id for r in rolls}
    # Every roll is asked for at once where the ids would be too many for one statement.
    few = len(ids) <= 500
    frames = select(Frame.roll_id, Frame.label).order_by(col(Frame.roll_id), col(Frame.position))
    records = select(ProcessRecord.roll_id, ProcessRecord.process)
    if few:
        frames = frames.where(col(Frame.roll_id).in_(ids))
        records = records.where(col(ProcessRecord.roll_id).in_(ids))
    labels: dict[int, list[str]] = defaultdict(list)
    for roll_id, label in session.exec(frames):
        labels[roll_id].append(label)
    process = dict(session.exec(records).all())
    formats = formats_of(session, {roll.format_key for roll in rolls})
    return tuple(
        RollSummary(
            number=roll.number,
            format_name=formats[roll.format_key].name,
            stock=roll.stock,
            camera=roll.camera,
            exposed=roll.exposed,
            subject=roll.subject,
            frame_range=range_of(labels[roll.id or 0]),
            process=process.get(roll.id or 0, ""),
            processed=roll.processed,
            place=roll.place,
        )
        for roll in rolls
    )


def places_of(session: Session, frame_ids: Collection[int]) -> dict[int, Place]:
    """Where frames lie, by their keys; one that isn't filed isn't in it. As many queries for a thousand frames as for one.

    Of a frame cut in two it is the head. Only what lies in the same slots is looked at: places are counted there.
    """
    query = (
        select(StripFrame.frame_id, Frame.label, Strip)
        .join(Strip, col(Strip.id) == col(StripFrame.strip_id))
        .join(Frame, col(Frame.id) == col(StripFrame.frame_id))
        .where(col(StripFrame.frame_id).in_(frame_ids))
        .order_by(col(Strip.position).desc())  # the earlier strip, which has the head, is kept
    )
    holders = {frame: (label, strip) for frame, label, strip in session.exec(query)}
    holders = {frame: held for frame, held in holders.items() if held[1].page_id is not None}
    if not holders:
        return {}
    page_ids = {strip.page_id or 0 for _, strip in holders.values()}
    pages = shelved_pages(session, page_ids)
    layouts = layouts_of(session, {page.layout_key for page, _ in pages.values()})

    def row(strip: Strip) -> tuple[int, int]:
        page = strip.page_id or 0
        return page, layouts[pages[page][0].layout_key].row_of(strip.slot or 0)

    sought = {row(strip) for _, strip in holders.values()}
    lying = session.exec(select(Strip).where(col(Strip.page_id).in_(page_ids)).order_by(col(Strip.slot), col(Strip.offset_mm)))
    beside = [strip for strip in lying if row(strip) in sought]
    on_page = _on_pages(session, beside)
    rolls = session.exec(select(Roll).where(col(Roll.id).in_({strip.roll_id for _, strip in holders.values()}))).all()
    numbers, films = {r.id: r.number for r in rolls}, films_of(session, rolls)
    plans = {
        key: plan_page(layouts[page.layout_key], on_page[key], ring_side=page.ring_side, turned=page.turned)
        for key, (page, _) in pages.items()
    }
    found = {}
    for frame, (label, strip) in holders.items():
        page, binder = pages[strip.page_id or 0]
        address = address_of(
            plans[page.id or 0], numbers[strip.roll_id], label, binder=binder, page=page.number,
            piece=films[strip.roll_id].kind, out_reason=strip.out_reason,
        )  # fmt: skip
        found[frame] = Place(address, page.id or 0)
    return found


def roll_pages(session: Session, number: str) -> tuple[str, tuple[PageView, ...]]:
    """The roll's present number and the pages it lies on, in film order; raises `NotFound`."""
    roll = roll_row(session, number)
    ids = session.exec(
        select(Strip.page_id).where(Strip.roll_id == roll.id, col(Strip.page_id).is_not(None)).order_by(col(Strip.position))
    )
    return roll.number, tuple(page_views(session, [key for key in ids if key is not None]).values())
