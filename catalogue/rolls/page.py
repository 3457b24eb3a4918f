"""A sleeve page as handed outward: its strips in their slots, its plan, and the addresses on it."""

from collections import defaultdict
from collections.abc import Sequence
from pathlib import Path

from sqlmodel import Session, col, select

from catalogue.film.formats import FilmFormat
from catalogue.own_shapes import format_of, layout_of
from catalogue.rolls.rows import film_of, page_row, range_of, roll_row
from catalogue.scans.rows import Positives, picture_path, scans_of
from catalogue.settings import archive_name, scan_folder
from catalogue.sleeves.address import Address, address_of
from catalogue.sleeves.page_plan import FrameOnStrip, StripInSlot, plan_page
from catalogue.store.tables.rolls import Binder, Frame, ProcessRecord, Roll, Strip, StripFrame
from catalogue.views import PageView, RollSummary


def strips_in_slots(session: Session, strips: Sequence[Strip]) -> tuple[StripInSlot, ...]:
    """Strips with their frames as the page plan takes them; a handful of queries in all."""
    ids = [s.id for s in strips]
    rolls = {r.id: r for r in session.exec(select(Roll).where(col(Roll.id).in_({s.roll_id for s in strips})))}
    films = {key: film_of(session, roll) for key, roll in rolls.items()}
    on_strip: dict[int, list[tuple[StripFrame, Frame]]] = defaultdict(list)
    query = (
        select(StripFrame, Frame)
        .join(Frame, col(Frame.id) == col(StripFrame.frame_id))
        .where(col(StripFrame.strip_id).in_(ids))
        .order_by(col(StripFrame.position))
    )
    for link, frame in session.exec(query):
        on_strip[link.strip_id].append((link, frame))
    scans = scans_of(session, [frame.id or 0 for pairs in on_strip.values() for _, frame in pairs])
    positives = Positives(session, [strip.roll_id for strip in strips]) if scans else None
    folder, scans_lie_in = Path(session.info["folder"]), scan_folder(session)
    placed = []
    for strip in strips:
        film = films[strip.roll_id]
        frames = []
        for link, frame in on_strip[strip.id or 0]:
            along = frame.length_mm or film.frame_along_mm
            picture = None
            if positives and (pairs := scans.get(frame.id or 0)):
                inversion = positives.inversion(pairs[0][0], strip.roll_id, strip.id)
                picture = picture_path(folder, scans_lie_in, pairs[0], inversion, along)
            frames.append(
                FrameOnStrip(
                    frame.label,
                    link.start_mm,
                    along if link.part == "whole" else along / 2,
                    film.frame_across_mm,
                    frame.state,  # type: ignore[arg-type]  # a CHECK holds it to the known states
                    frame.caption,
                    picture if link.part == "whole" else None,
                    link.part,  # type: ignore[arg-type]
                    frame.id or 0,
                )
            )
        placed.append(
            StripInSlot(
                strip.id or 0, rolls[strip.roll_id].number, strip.slot or 0, strip.offset_mm, strip.length_mm,
                film.gauge_width_mm, tuple(frames), strip.upside_down, strip.turned_over, strip.out,
            )
        )  # fmt: skip
    return tuple(placed)


def page_view(session: Session, page_id: int) -> PageView:
    """A page with its plan; raises `NotFound`."""
    page = page_row(session, page_id)
    binder = session.get_one(Binder, page.binder_id)
    layout = layout_of(session, page.layout_key)
    strips = session.exec(select(Strip).where(Strip.page_id == page_id).order_by(col(Strip.slot), col(Strip.offset_mm))).all()
    placed = strips_in_slots(session, strips)
    taken = {s.slot for s in strips}
    numbers = list(dict.fromkeys(s.roll for s in placed))
    rolls = session.exec(select(Roll).where(col(Roll.number).in_(numbers))).all()
    return PageView(
        id=page_id,
        binder_id=page.binder_id,
        binder=binder.name,
        number=page.number,
        layout=layout,
        ring_side=page.ring_side,
        turned=page.turned,
        notes=page.notes,
        strips=placed,
        plan=plan_page(layout, placed, ring_side=page.ring_side, turned=page.turned),
        rolls=roll_summaries(session, sorted(rolls, key=lambda roll: numbers.index(roll.number))),
        free_slots=tuple(n for n in range(1, layout.slot_count + 1) if n not in taken),
        archive_name=archive_name(session),
    )


def roll_summaries(session: Session, rolls: Sequence[Roll]) -> tuple[RollSummary, ...]:
    """One line about each roll, in the order given; two queries however many there are."""
    ids = {r.id for r in rolls}
    # Every roll is asked for at once where the ids would be too many for one statement.
    few = len(ids) <= 500
    frames = select(Frame.roll_id, Frame.label).order_by(col(Frame.roll_id), col(Frame.position))
    records = select(ProcessRecord)
    if few:
        frames = frames.where(col(Frame.roll_id).in_(ids))
        records = records.where(col(ProcessRecord.roll_id).in_(ids))
    labels: dict[int, list[str]] = defaultdict(list)
    for roll_id, label in session.exec(frames):
        labels[roll_id].append(label)
    process = {record.roll_id: record.process for record in session.exec(records)}
    return tuple(
        RollSummary(
            number=roll.number,
            format_name=format_of(session, roll.format_key).name,
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


def address_on(view: PageView, roll: str, label: str, film: FilmFormat, reason: str = "") -> Address:
    """The address of a frame on a page view."""
    return address_of(view.plan, roll, label, binder=view.binder, page=view.number, piece=film.kind, out_reason=reason)


def frame_address(session: Session, roll: Roll, frame: Frame, pages: dict[int, PageView]) -> tuple[Address | None, int | None]:
    """The address of a frame and its page, or (None, None) while it isn't filed.

    Page views are taken from `pages` by id and kept there, so each page is planned once.
    """
    strip = session.exec(
        select(Strip)
        .join(StripFrame, col(StripFrame.strip_id) == col(Strip.id))
        .where(StripFrame.frame_id == frame.id)
        .order_by(col(Strip.position))
    ).first()
    if strip is None or strip.page_id is None:
        return None, None
    if strip.page_id not in pages:
        pages[strip.page_id] = page_view(session, strip.page_id)
    view = pages[strip.page_id]
    return address_on(view, roll.number, frame.label, film_of(session, roll), strip.out_reason), strip.page_id


def roll_pages(session: Session, number: str) -> tuple[str, tuple[PageView, ...]]:
    """The roll's present number and the pages it lies on, in film order; raises `NotFound`."""
    roll = roll_row(session, number)
    ids = session.exec(
        select(Strip.page_id).where(Strip.roll_id == roll.id, col(Strip.page_id).is_not(None)).order_by(col(Strip.position))
    )
    return roll.number, tuple(page_view(session, key) for key in dict.fromkeys(ids) if key is not None)
