"""Read models built from the tables: page, roll and frame as handed outward."""

from collections import defaultdict
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path

from sqlmodel import Session, col, select

from catalogue.errors import InvalidInput, NotFound
from catalogue.film.formats import FilmFormat
from catalogue.film.frame_numbers import FrameNumber, frames_text
from catalogue.own_shapes import format_of, layout_of
from catalogue.scans.rows import Positives, picture_path, scan_view, scans_of
from catalogue.settings_store import archive_name, scan_folder
from catalogue.sleeves.address import Address, address_of
from catalogue.sleeves.page_plan import FrameOnStrip, StripInSlot, plan_page
from catalogue.store.tables import (
    Binder,
    FormerNumber,
    Frame,
    Page,
    ProcessRecord,
    Roll,
    Strip,
    StripFrame,
)
from catalogue.views import FrameView, PageView, ProcessView, RollSummary, RollView, StripView


def film_of(session: Session, roll: Roll) -> FilmFormat:
    """The roll's format with its own measured values."""
    return format_of(session, roll.format_key).measured(
        frame_along_mm=roll.measured_along_mm,
        frame_across_mm=roll.measured_across_mm,
        pitch_mm=roll.measured_pitch_mm,
    )


def range_of(labels: Sequence[str]) -> str:
    """The labels as a range text, such as 00-36A."""
    return frames_text([FrameNumber.parse(label) for label in labels])


def roll_row(session: Session, number: str) -> Roll:
    """The roll of this number or former number; raises `NotFound`."""
    found = session.exec(select(Roll).where(Roll.number == number)).first()
    if found is None:
        found = session.exec(
            select(Roll).join(FormerNumber, col(FormerNumber.roll_id) == col(Roll.id)).where(FormerNumber.number == number)
        ).first()
    if found is None:
        raise NotFound(f"There is no roll {number[:40]}. Look it up under Find.")
    return found


def frame_row(session: Session, roll: Roll, label: str) -> Frame:
    """The frame of a roll with this label in any writing ("07", "12a"); raises `NotFound`."""
    found = session.exec(select(Frame).where(Frame.roll_id == roll.id, Frame.label == label)).first()
    if found is None:
        with suppress(InvalidInput):
            plain = FrameNumber.parse(label).text
            found = session.exec(select(Frame).where(Frame.roll_id == roll.id, Frame.label == plain)).first()
    if found is None:
        raise NotFound(f"Roll {roll.number} has no frame {label[:20]}.")
    return found


def page_row(session: Session, page_id: int) -> Page:
    """The page; raises `NotFound`."""
    found = session.get(Page, page_id)
    if found is None:
        raise NotFound(f"There is no page {page_id}. Look for it in its binder.")
    return found


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


def roll_view(session: Session, number: str) -> RollView:
    """A roll with everything known of it; raises `NotFound`."""
    roll = roll_row(session, number)
    film = film_of(session, roll)
    strips = session.exec(select(Strip).where(Strip.roll_id == roll.id).order_by(col(Strip.position))).all()
    page_ids = dict.fromkeys(s.page_id for s in strips if s.page_id is not None)  # each page is read once
    pages = {page_id: page_view(session, page_id) for page_id in page_ids}
    frames = session.exec(select(Frame).where(Frame.roll_id == roll.id).order_by(col(Frame.position))).all()
    scans = scans_of(session, [f.id or 0 for f in frames])
    scans_lie_in = scan_folder(session)
    labels: dict[int, list[str]] = defaultdict(list)
    holder: dict[str, Strip] = {}
    by_id = {f.id: f for f in frames}
    links = select(StripFrame).where(col(StripFrame.strip_id).in_([s.id for s in strips])).order_by(col(StripFrame.position))
    strip_by_id = {s.id: s for s in strips}
    for link in session.exec(links):
        label = by_id[link.frame_id].label
        labels[link.strip_id].append(label)
        if label not in holder or link.part == "head":
            holder[label] = strip_by_id[link.strip_id]

    def where(label: str) -> tuple[Address | None, int | None]:
        strip = holder.get(label)
        if strip is None or strip.page_id is None:
            return None, None
        return address_on(pages[strip.page_id], roll.number, label, film, strip.out_reason), strip.page_id

    frame_views = []
    for f in frames:
        address, page_id = where(f.label)
        frame_views.append(
            FrameView(
                id=f.id or 0, roll=roll.number, label=f.label, position=f.position, state=f.state, caption=f.caption,
                subject=f.subject, place=f.place, keywords=f.keywords, lens=f.lens, exposed=f.exposed, notes=f.notes,
                start_mm=f.start_mm, length_mm=f.length_mm, address=address, page_id=page_id,
                scans=tuple(scan_view(pair, scans_lie_in, film, f.length_mm) for pair in scans.get(f.id or 0, ())),
            )
        )  # fmt: skip
    strip_views = []
    for s in strips:
        own_labels = tuple(labels[s.id or 0])
        view = pages.get(s.page_id) if s.page_id is not None else None
        words = "not filed"
        if view:
            first = address_on(view, roll.number, own_labels[0], film)
            piece = {"sheet": "sheet", "mount": "slide"}.get(film.kind, "strip")
            words = f"{view.binder}, page {view.number}, slot {first.slot} from the top"
            if piece != "strip":
                words = first.words
        strip_views.append(
            StripView(
                id=s.id or 0, labels=own_labels, length_mm=s.length_mm, page_id=s.page_id,
                binder=view.binder if view else None, page_number=view.number if view else None, slot=s.slot,
                offset_mm=s.offset_mm, upside_down=s.upside_down, turned_over=s.turned_over, out=s.out,
                out_reason=s.out_reason, address_words=words, position=s.position, due=s.due,
            )
        )  # fmt: skip
    process = session.get(ProcessRecord, roll.id)
    former = session.exec(select(FormerNumber.number).where(FormerNumber.roll_id == roll.id)).all()
    return RollView(
        id=roll.id or 0, number=roll.number, format=film, stock=roll.stock, camera=roll.camera, lens=roll.lens,
        exposed=roll.exposed, processed=roll.processed, sleeved=roll.sleeved, subject=roll.subject, place=roll.place,
        keywords=roll.keywords, notes=roll.notes, frame_range=range_of([f.label for f in frames]),
        frames=tuple(frame_views), strips=tuple(strip_views),
        process=ProcessView(**process.model_dump(exclude={"roll_id"})) if process else None,
        former_numbers=tuple(former), page_ids=tuple(pages),
    )  # fmt: skip
