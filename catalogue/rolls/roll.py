"""A roll as handed outward, with everything known of it."""

from collections import defaultdict

from sqlmodel import Session, col, select

from catalogue.rolls.page import address_on, page_view
from catalogue.rolls.rows import film_of, range_of, roll_row
from catalogue.scans.rows import scan_view, scans_of
from catalogue.settings import scan_folder
from catalogue.sleeves.address import Address
from catalogue.store.tables.rolls import FormerNumber, Frame, ProcessRecord, Strip, StripFrame
from catalogue.views import FrameView, ProcessView, RollView, StripView


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
