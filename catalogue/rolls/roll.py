"""A roll as handed outward, with everything known of it, and its strips; a few queries however long it is."""

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import replace

from sqlmodel import Session, col, select

from catalogue.own_shapes import layouts_of
from catalogue.rolls.page import places_of
from catalogue.rolls.rows import films_of, range_of, roll_row, shelved_pages
from catalogue.rolls.scan_rows import scan_view, scans_of
from catalogue.settings import scan_folder
from catalogue.store.tables.rolls import FormerNumber, Frame, ProcessRecord, Roll, Strip, StripFrame
from catalogue.views import FrameView, ProcessView, RollView, StripView


def strip_views(session: Session, strips: Sequence[Strip]) -> tuple[tuple[str, StripView], ...]:
    """Strips as handed outward, each with its roll's number, in the order given; a few queries however many there are."""
    rolls = session.exec(select(Roll).where(col(Roll.id).in_({s.roll_id for s in strips}))).all()
    films, numbers = films_of(session, rolls), {roll.id: roll.number for roll in rolls}
    labels: dict[int, list[str]] = defaultdict(list)
    links = (
        select(StripFrame.strip_id, Frame.label)
        .join(Frame, col(Frame.id) == col(StripFrame.frame_id))
        .where(col(StripFrame.strip_id).in_([s.id for s in strips]))
        .order_by(col(StripFrame.position))
    )
    for strip_id, label in session.exec(links):
        labels[strip_id].append(label)
    pages = shelved_pages(session, {s.page_id for s in strips})
    layouts = layouts_of(session, {page.layout_key for page, _ in pages.values()})
    # A sheet or a slide is spoken of by its row and its place in it, a strip by its slot.
    apart = [s.id for s in strips if films[s.roll_id].kind in ("sheet", "mount") and s.page_id is not None]
    first = select(StripFrame.strip_id, StripFrame.frame_id).where(col(StripFrame.strip_id).in_(apart))
    pieces = dict(session.exec(first.order_by(col(StripFrame.position).desc())).all())
    places = places_of(session, set(pieces.values())) if pieces else {}
    found = []
    for s in strips:
        page, binder = pages.get(s.page_id or 0, (None, None))
        words = "not filed"
        if s.id in pieces:
            words = replace(places[pieces[s.id]].address, out_reason="").words
        elif page is not None:
            layout = layouts[page.layout_key]
            row = layout.row_of(s.slot or 0)
            words = f"{binder}, page {page.number}, slot {layout.rows + 1 - row if page.turned else row} from the top"
        view = StripView(
            id=s.id or 0, labels=tuple(labels[s.id or 0]), length_mm=s.length_mm, page_id=s.page_id, binder=binder,
            page_number=page.number if page else None, slot=s.slot, offset_mm=s.offset_mm, upside_down=s.upside_down,
            turned_over=s.turned_over, out=s.out, out_reason=s.out_reason, address_words=words, position=s.position, due=s.due,
        )  # fmt: skip
        found.append((numbers[s.roll_id], view))
    return tuple(found)


def roll_view(session: Session, number: str) -> RollView:
    """A roll with everything known of it; raises `NotFound`."""
    return roll_views(session, [roll_row(session, number)])[0]


def roll_views(session: Session, rolls: Sequence[Roll]) -> tuple[RollView, ...]:
    """Rolls with everything known of them, in the order given; as many queries for a binder's as for one."""
    ids = [roll.id or 0 for roll in rolls]
    films, scans_lie_in = films_of(session, rolls), scan_folder(session)
    frames = session.exec(select(Frame).where(col(Frame.roll_id).in_(ids)).order_by(col(Frame.position))).all()
    keys = [f.id or 0 for f in frames]
    places, scans = places_of(session, keys), scans_of(session, keys)
    strips = session.exec(select(Strip).where(col(Strip.roll_id).in_(ids)).order_by(col(Strip.position))).all()
    lying: dict[int, list[StripView]] = defaultdict(list)
    for strip, (_, shown) in zip(strips, strip_views(session, strips), strict=True):
        lying[strip.roll_id].append(shown)
    records = session.exec(select(ProcessRecord).where(col(ProcessRecord.roll_id).in_(ids))).all()
    process = {record.roll_id: ProcessView(**record.model_dump(exclude={"roll_id"})) for record in records}
    former: dict[int, list[str]] = defaultdict(list)
    before = select(FormerNumber.roll_id, FormerNumber.number).where(col(FormerNumber.roll_id).in_(ids))
    for roll_id, number in session.exec(before.order_by(col(FormerNumber.id))):
        former[roll_id].append(number)
    numbers = {roll.id: roll.number for roll in rolls}
    shown_frames: dict[int, list[FrameView]] = defaultdict(list)
    for f in frames:
        place, film = places.get(f.id or 0), films[f.roll_id]
        shown_frames[f.roll_id].append(
            FrameView(
                id=f.id or 0, roll=numbers[f.roll_id], label=f.label, position=f.position, state=f.state, caption=f.caption,
                subject=f.subject, place=f.place, keywords=f.keywords, lens=f.lens, exposed=f.exposed, notes=f.notes,
                start_mm=f.start_mm, length_mm=f.length_mm, address=place.address if place else None,
                page_id=place.page_id if place else None,
                scans=tuple(scan_view(pair, scans_lie_in, film, f.length_mm) for pair in scans.get(f.id or 0, ())),
            )
        )  # fmt: skip
    return tuple(
        RollView(
            id=roll.id or 0, number=roll.number, format=films[roll.id or 0], stock=roll.stock, camera=roll.camera,
            lens=roll.lens, exposed=roll.exposed, processed=roll.processed, sleeved=roll.sleeved, subject=roll.subject,
            place=roll.place, keywords=roll.keywords, notes=roll.notes,
            frame_range=range_of([f.label for f in shown_frames[roll.id or 0]]), frames=tuple(shown_frames[roll.id or 0]),
            strips=tuple(lying[roll.id or 0]), process=process.get(roll.id or 0), former_numbers=tuple(former[roll.id or 0]),
            page_ids=tuple(dict.fromkeys(s.page_id for s in lying[roll.id or 0] if s.page_id is not None)),
        )
        for roll in rolls
    )  # fmt: skip


def rolls_numbered(session: Session, numbers: Collection[str]) -> tuple[RollView, ...]:
    """The rolls that have these numbers at present, in the order given."""
    rows = {roll.number: roll for roll in session.exec(select(Roll).where(col(Roll.number).in_(numbers)))}
    return roll_views(session, [rows[number] for number in numbers if number in rows])
