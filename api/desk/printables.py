"""Everything that is printed: views of the archive put into what the paper needs; routes and commands call the same.

Where a paper is named, "" takes the usual one of those in the house (`catalogue.desk.papers.paper_named`).
"""

from dataclasses import replace
from datetime import date
from math import ceil, floor

from sqlmodel import Session

from catalogue.bench.bottles.entry_words import ml_words
from catalogue.bench.bottles.shelf import bottle_view
from catalogue.darkroom.print_records import length_words, prints_of_frame, size_words
from catalogue.darkroom.print_views import PrintRecordView
from catalogue.desk.papers import paper_named
from catalogue.errors import DoesNotFit, NotFound
from catalogue.film.dates import date_words, parse_date
from catalogue.paper.label_sheets import StockUse
from catalogue.rolls.change import get_roll, list_rolls
from catalogue.rolls.choices import turns_of_frame
from catalogue.rolls.file import get_binder, get_page, list_binders
from catalogue.rolls.move import strips_away
from catalogue.rolls.number import gaps, next_roll_numbers
from catalogue.rolls.page import roll_summaries
from catalogue.rolls.register import NewRoll, prepare
from catalogue.rolls.rows import roll_row
from catalogue.scans.look.frame_pictures import frame_picture
from catalogue.settings import archive_name, get_units
from catalogue.sleeves.geometry import Size
from catalogue.units import Units
from printing.book.binder_record import BinderRecord, FormerNumber, Gap, StripOut
from printing.book.documents import book_pdf, planned_book, planned_finding_aid
from printing.book.finding_aid import Description, finding_aid
from printing.book.leaves import BOOK_PAPERS
from printing.book.plan import BookPlan
from printing.labels.documents import (
    bottle_tags_pdf,
    out_slips_pdf,
    printer_test_pdf,
    roll_labels_pdf,
    spines_pdf,
    stickers_pdf,
)
from printing.labels.plans import BinderSpine, RollLabel
from printing.labels.slips import MOST_ROLLS, BottleTag, OutSlip
from printing.sheets.card_documents import cut_card_pdf, print_cards_pdf, strip_list_pdf
from printing.sheets.documents import PrintedPdf, page_label_pdf
from printing.sheets.print_card import FrameToPrint, PrintMark, PrintRecord

SPINE_HEIGHT_MM = 190.0


def page_label(session: Session, page_id: int, link: str) -> PrintedPdf:
    """The index label of a page."""
    return page_label_pdf(get_page(session, page_id), printed_on=date.today(), link=link)


def cut_card(session: Session, new: NewRoll, paper: str = "") -> PrintedPdf:
    """The cut card of a roll before it is cut; nothing is stored."""
    ready = prepare(session, new)
    pages = {1: f"{ready.page.binder}, page {ready.page.number}"} if ready.page else {}
    return cut_card_pdf(
        ready.plan, ready.frames, ready.film, roll=new.number or "the next roll", archive_name=archive_name(session),
        printed_on=date.today(), kept_together=new.kept_together, pages=pages or None,
        paper=paper_named(session, paper),
    )  # fmt: skip


def strip_list(session: Session, page_id: int, link: str, paper: str = "", *, on: date | None = None) -> PrintedPdf:
    """The slip for the ring edge of a page."""
    page = get_page(session, page_id)
    reasons = {s.strip_id: s.reason for s in strips_away(session)}
    return strip_list_pdf(page, printed_on=on or date.today(), out_reasons=reasons, paper=paper_named(session, paper), link=link)


def print_card(
    session: Session, number: str, label: str, link: str, paper: str = "", record: int | None = None, *, on: date | None = None
) -> PrintedPdf:
    """The card that goes into the darkroom with a frame, filled from its latest print or from the record asked for."""
    roll = get_roll(session, number)
    frame = next((f for f in roll.frames if f.label == label), None)
    if frame is None:
        raise NotFound(f"Roll {roll.number} has no frame {label[:20]}.")
    picture = str(frame_picture(session, frame.id, large=True)) if frame.scans else None
    where = frame.address.words if frame.address else ""
    # It stands where the picture as shown lies a quarter off a frame that lies, or as one that stands on the film.
    along, across = roll.format.frame_along_mm, roll.format.frame_across_mm
    upright = (along < across) != bool(turns_of_frame(session, frame.id) % 2)
    asked = FrameToPrint(roll.number, frame.label, roll.format, where, frame.caption, picture, upright)
    prints = prints_of_frame(session, roll.number, frame.label)
    if record is not None and record not in {p.id for p in prints}:
        raise NotFound(f"Frame {frame.label} of roll {roll.number} has no print record {record}. Look at its prints.")
    done = next((p for p in prints if record in (None, p.id)), None)
    filled = recorded(done, get_units(session)) if done else None
    return print_cards_pdf(
        [(asked, filled, link)],
        archive_name=archive_name(session),
        printed_on=on or date.today(),
        paper=paper_named(session, paper),
    )


def recorded(done: PrintRecordView, units: Units) -> PrintRecord:
    """A print as its card has it, lengths in the person's unit."""
    return PrintRecord(
        enlarger=done.enlarger, lens=done.lens, height_mm=done.height_mm, aperture=done.aperture, paper=done.paper,
        grade=done.grade, base_time_s=done.base_time_s, developer=done.developer, notes=done.notes,
        marks=tuple(PrintMark("burn" if m.kind == "burn" else "dodge", m.where, m.change, m.area) for m in done.marks),
        printed=date_words(done.printed), size=size_words(done.size_mm, units) if done.size_mm else "",
        height_words=length_words(done.height_mm, units) if done.height_mm is not None else "",
    )  # fmt: skip


def roll_label(session: Session, number: str, use: StockUse, link: str, waiting: str = "") -> PrintedPdf:
    """A label for the can of a roll, or for its negatives waiting to be cut."""
    return roll_labels_pdf([roll_label_view(session, number, link, waiting)], use)


def roll_label_view(session: Session, number: str, link: str, waiting: str = "", *, on: date | None = None) -> RollLabel:
    """What stands on the label of a roll; several go onto one sheet."""
    (roll,) = roll_summaries(session, [roll_row(session, number)])
    return RollLabel(roll, archive_name(session), on or date.today(), link, waiting)


def bottle_tag(session: Session, bottle_id: int, use: StockUse, link: str) -> PrintedPdf:
    """The tag of a bottle: what is in it, its dates, and a box a roll, those used up ticked (part of a roll as one)."""
    view = bottle_view(session, bottle_id)
    bath = view.bath
    if bath is None:
        raise NotFound(f"{view.name} is empty, so its tag would say nothing. Fill it first.")
    facts, boxes = bath.facts, floor(bath.facts.capacity_units or 0)
    boxes = boxes if boxes <= MOST_ROLLS else 0
    what = [f"in {view.name}", ml_words(facts.mixed_ml, get_units(session)), "use once" if facts.one_shot else ""]
    tag = BottleTag(
        facts.chemical, ", ".join(text for text in what if text), archive_name(session), date.today(), facts.mixed_on.isoformat(),
        bath.open_since.isoformat() if bath.open_since else "", bath.discard_on.isoformat() if bath.discard_on else "", boxes,
        min(boxes, ceil(bath.used_units)), link,
    )  # fmt: skip
    try:
        return bottle_tags_pdf([tag], use)
    except DoesNotFit:
        return bottle_tags_pdf([replace(tag, link="")], use)  # a small tag needs the room of the code for its boxes


def cassette_numbers(session: Session, count: int, use: StockUse, copies: int = 1, *, on: date | None = None) -> PrintedPdf:
    """The next numbers, printed ahead for cassettes; none of them is issued by that."""
    numbers = next_roll_numbers(session, count)
    return stickers_pdf(numbers, use, archive=archive_name(session), printed_on=on or date.today(), copies=copies)


def label_test(session: Session, use: StockUse) -> PrintedPdf:
    """The sheet from which a printer's correction is read."""
    return printer_test_pdf(use, archive=archive_name(session), printed_on=date.today())


def typed_bottle_tag(
    session: Session, use: StockUse, name: str, what: str = "", mixed: str = "", opened: str = "", discard_after: str = "",
    rolls: int = 0,
) -> PrintedPdf:  # fmt: skip
    """A tag for a bottle: dates in EDTF or "" for a line to write on, and a box to tick for each of so many rolls."""
    for text in (mixed, opened, discard_after):
        if text:
            parse_date(text)
    tag = BottleTag(name, what, archive_name(session), date.today(), mixed, opened, discard_after, rolls)
    return bottle_tags_pdf([tag], use)


def spine(session: Session, binder_id: int, width_mm: float, paper: str = "") -> PrintedPdf:
    """The back of a binder with the range it holds."""
    return spines_pdf([spine_view(session, binder_id)], Size(width_mm, SPINE_HEIGHT_MM), paper=paper_named(session, paper))


def spine_view(session: Session, binder_id: int, *, on: date | None = None) -> BinderSpine:
    """What stands on the back of a binder; several go onto one sheet."""
    binder = get_binder(session, binder_id)
    inside = {number for page in binder.pages for number in page.rolls}
    rolls = [r for r in list_rolls(session) if r.number in inside]
    dates = sorted(r.exposed for r in rolls if r.exposed)
    today = on or date.today()
    return BinderSpine(
        binder.name, archive_name(session), today, rolls[0].number if rolls else "", rolls[-1].number if rolls else "",
        dates[0] if dates else "", dates[-1] if dates else "", len(binder.pages),
    )  # fmt: skip


def out_slips(session: Session, paper: str = "", *, on: date | None = None) -> PrintedPdf:
    """A slip for every strip that is out, to stay in its slot; they fit the smallest of those slots."""
    away = strips_away(session)
    if not away:
        raise NotFound("No strip is out, so there is no slip to print.")
    name = archive_name(session)
    layouts = [get_page(session, s.page_id).layout for s in away if s.page_id]
    if not layouts:
        raise NotFound("The strips that are out are filed nowhere, so no slot waits for a slip.")
    slot = Size(min(x.slot_length_mm for x in layouts), min(x.slot_width_mm for x in layouts))
    slips = [
        OutSlip(s.roll, s.frame_range, name, on or date.today(), s.address_words, s.reason, "", s.since[:10], s.due) for s in away
    ]
    return out_slips_pdf(slips, slot, paper=paper_named(session, paper))


def binder_record(session: Session, binder_id: int) -> BinderRecord:
    """Everything of one binder for its book."""
    binder = get_binder(session, binder_id)
    pages = tuple(get_page(session, p.id) for p in binder.pages)
    numbers = dict.fromkeys(number for p in binder.pages for number in p.rolls)
    rolls = tuple(get_roll(session, number) for number in numbers)
    former = tuple(FormerNumber(before, roll.number) for roll in rolls for before in roll.former_numbers)
    out = tuple(
        StripOut(s.roll, s.frame_range, s.reason, s.since[:10], s.due, s.address_words)
        for s in strips_away(session)
        if s.page_id in {p.id for p in pages}
    )
    known = tuple(Gap(number, reason) for number, reason in gaps(session))
    return BinderRecord(archive_name(session), binder.name, binder.notes, pages, rolls, known, former, out)


def all_records(session: Session) -> tuple[BinderRecord, ...]:
    """Every binder that has a page."""
    return tuple(binder_record(session, b.id) for b in list_binders(session) if b.pages)


def book_plan(session: Session, binder_id: int, paper: str = "") -> BookPlan:
    """The leaves of a binder's book, to be drawn into a file or into memory."""
    return planned_book(binder_record(session, binder_id), paper=paper_named(session, paper, BOOK_PAPERS))


def finding_aid_tree(session: Session) -> Description:
    """The whole archive described by level."""
    return finding_aid(all_records(session), described_on=date.today())


def finding_aid_plan(session: Session, paper: str = "") -> BookPlan:
    """The leaves of the finding aid."""
    return planned_finding_aid(finding_aid_tree(session), paper=paper_named(session, paper, BOOK_PAPERS))


def finding_aid_pdf(session: Session, paper: str = "") -> bytes:
    """The finding aid on paper."""
    return book_pdf(finding_aid_plan(session, paper), printed_on=date.today())
