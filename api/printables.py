"""What is printed beside labels and contact sheets: views of the archive put into what the paper needs."""

from datetime import date

from sqlmodel import Session

from catalogue.errors import NotFound
from catalogue.filing import get_binder, get_page, list_binders
from catalogue.moving import strips_away
from catalogue.numbering import gaps, next_roll_numbers
from catalogue.reading import roll_row, roll_summaries
from catalogue.registering import NewRoll, prepare
from catalogue.rolls import get_roll, list_rolls
from catalogue.scans.frame_pictures import frame_picture
from catalogue.settings_store import archive_name
from catalogue.sleeves.geometry import Size
from printing.binder_record import BinderRecord, FormerNumber, Gap, StripOut
from printing.card_documents import cut_card_pdf, print_cards_pdf, strip_list_pdf
from printing.documents import PrintedPdf
from printing.label_documents import out_slips_pdf, printer_test_pdf, roll_labels_pdf, spines_pdf, stickers_pdf
from printing.label_slips import OutSlip
from printing.label_stock import PrintOffset, StockUse, find_stock
from printing.labels import BinderSpine, RollLabel
from printing.print_card import FrameToPrint

SPINE_HEIGHT_MM = 190.0


def cut_card(session: Session, new: NewRoll, paper: str = "A4") -> PrintedPdf:
    """The cut card of a roll before it is cut; nothing is stored."""
    ready = prepare(session, new)
    pages = {1: f"{ready.page.binder}, page {ready.page.number}"} if ready.page else {}
    return cut_card_pdf(
        ready.plan, ready.frames, ready.film, roll=new.number or "the next roll", archive_name=archive_name(session),
        printed_on=date.today(), kept_together=new.kept_together, pages=pages or None, paper=paper,
    )  # fmt: skip


def strip_list(session: Session, page_id: int, link: str, paper: str = "A4") -> PrintedPdf:
    """The slip for the ring edge of a page."""
    page = get_page(session, page_id)
    reasons = {s.strip_id: s.reason for s in strips_away(session)}
    return strip_list_pdf(page, printed_on=date.today(), out_reasons=reasons, paper=paper, link=link)


def print_card(session: Session, number: str, label: str, link: str, paper: str = "A4") -> PrintedPdf:
    """The card that goes into the darkroom with a frame."""
    roll = get_roll(session, number)
    frame = next((f for f in roll.frames if f.label == label), None)
    if frame is None:
        raise NotFound(f"Roll {roll.number} has no frame {label[:20]}.")
    picture = str(frame_picture(session, frame.id, large=True)) if frame.scans else None
    where = frame.address.words if frame.address else ""
    asked = FrameToPrint(roll.number, frame.label, roll.format, where, frame.caption, picture)
    return print_cards_pdf([(asked, None, link)], archive_name=archive_name(session), printed_on=date.today(), paper=paper)


def use_of(stock: str, start: int, dx: float = 0.0, dy: float = 0.0) -> StockUse:
    """The label sheet in the printer, the first label still on it, and the printer's correction in mm."""
    return StockUse(find_stock(stock), start, PrintOffset(dx, dy))


def roll_label(session: Session, number: str, use: StockUse, link: str, waiting: str = "") -> PrintedPdf:
    """A label for the can of a roll, or for its negatives waiting to be cut."""
    (roll,) = roll_summaries(session, [roll_row(session, number)])
    return roll_labels_pdf([RollLabel(roll, archive_name(session), date.today(), link, waiting)], use)


def cassette_numbers(session: Session, count: int, use: StockUse, copies: int = 1) -> PrintedPdf:
    """The next numbers, printed ahead for cassettes; none of them is issued by that."""
    numbers = next_roll_numbers(session, count)
    return stickers_pdf(numbers, use, archive=archive_name(session), printed_on=date.today(), copies=copies)


def label_test(session: Session, use: StockUse) -> PrintedPdf:
    """The sheet from which a printer's correction is read."""
    return printer_test_pdf(use, archive=archive_name(session), printed_on=date.today())


def spine(session: Session, binder_id: int, width_mm: float) -> PrintedPdf:
    """The back of a binder with the range it holds."""
    binder = get_binder(session, binder_id)
    inside = {number for page in binder.pages for number in page.rolls}
    rolls = [r for r in list_rolls(session) if r.number in inside]
    dates = sorted(r.exposed for r in rolls if r.exposed)
    made = BinderSpine(
        binder.name, archive_name(session), date.today(), rolls[0].number if rolls else "", rolls[-1].number if rolls else "",
        dates[0] if dates else "", dates[-1] if dates else "", len(binder.pages),
    )  # fmt: skip
    return spines_pdf([made], Size(width_mm, SPINE_HEIGHT_MM))


def out_slips(session: Session) -> PrintedPdf:
    """A slip for every strip that is out, to stay in its slot; they fit the smallest of those slots."""
    away = strips_away(session)
    if not away:
        raise NotFound("No strip is out, so there is no slip to print.")
    name = archive_name(session)
    layouts = [get_page(session, s.page_id).layout for s in away if s.page_id]
    if not layouts:
        raise NotFound("The strips that are out are filed nowhere, so no slot waits for a slip.")
    slot = Size(min(x.slot_length_mm for x in layouts), min(x.slot_width_mm for x in layouts))
    slips = [OutSlip(s.roll, s.frame_range, name, date.today(), s.address_words, s.reason, "", s.since[:10], s.due) for s in away]
    return out_slips_pdf(slips, slot)


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
