"""What stands above and below the film on a contact sheet: whose it is, which side is up, what the marks mean."""

from datetime import date

from catalogue.film.dates import date_words
from catalogue.sleeves.geometry import Rect
from printing.canvas.items import Code, Item, Measure, Text, first_fitting, place_words, ruler
from printing.contact.film import ContactPlan, SeenFilm
from printing.contact.marks import MARK_WORDS
from printing.contact.options import BALANCE_WORDS

CODE_MM = 12.5


def side_words(film: SeenFilm) -> str:
    """Which side of the film is up, as it really lies: strips may be turned over, and so may the page."""
    both = {"base": [f for f in film.frames if not f.mirrored], "emulsion": [f for f in film.frames if f.mirrored]}
    name, other = sorted(both, key=lambda side: -len(both[side]))
    fewer = both[other]
    if not fewer:
        return f"{name} side up"
    slots = ", ".join(str(n) for n in sorted({f.slot_from_top for f in fewer}))
    return f"{name} side up, but {other} side up in slot {slots} from the top"


def scale_words(scale: float) -> str:
    """The scale as it is said on a sheet."""
    if scale == 1.0:
        return "true size, print at 100 %"
    return f"enlarged to {scale * 100:g} % of true size" if scale > 1 else f"reduced to {scale:.1%} of true size"


def head_items(
    plan: ContactPlan, width: float, number: int, total: int, printed_on: date, link: str, measure: Measure
) -> list[Item]:
    """Three lines of text and a QR code."""
    page, m = plan.film.page, plan.paper.margin_mm
    x, y, room = m, m, width - 2 * m - CODE_MM - 2
    items: list[Item] = [Code(Rect(width - m - CODE_MM, y, CODE_MM, CODE_MM), link)]
    title_room = room
    if plan.options.side == "emulsion":
        words = [f"seen from behind, {side_words(plan.film)}"]
        shown, size = first_fitting(words, room * 0.45, 3.2, 1.9, measure, True)
        items.append(Text(x + room, y + 4.0, size, shown, True, "right"))
        title_room -= measure(shown, size, True) + 3
    rolls = [r for r in page.rolls if plan.rolls is None or r.number in plan.rolls]
    titles = ["  ".join(f"{r.number}  {r.frame_range}" for r in rolls) or "empty page", "  ".join(r.number for r in rolls)]
    if len(rolls) > 1:
        titles.append(f"{len(rolls)} rolls: {rolls[0].number} … {rolls[-1].number}")
    facts = []  # fullest first: dates survive longest, then stock and format, camera, subject
    for kept in (6, 5, 4, 1):
        each = ((date_words(r.exposed), r.format_name, r.stock, r.process, r.camera, r.subject)[:kept] for r in rolls)
        facts.append(" | ".join(" · ".join(t for t in texts if t) for texts in each))
    said = [f"printed {printed_on.isoformat()}", f"sheet {number} of {total}", scale_words(plan.scale)]
    if plan.options.balance != "as set" and any(f.picture for f in plan.film.frames):
        said.append(BALANCE_WORDS[plan.options.balance])
    where = place_words(page.binder, page.number, page.archive_name, " · ".join(said))
    for texts, baseline, largest, bold, space in (
        (titles, 4.0, 4.2, True, title_room),
        (facts, 7.8, 2.8, False, room),
        (where, 11.2, 2.5, False, room),
    ):
        shown, fits = first_fitting(texts, space, largest, largest * 0.62, measure, bold)
        items.append(Text(x, y + baseline, fits, shown, bold))
    return items


def foot_items(plan: ContactPlan, width: float, height: float, measure: Measure, *, marked: bool) -> list[Item]:
    """A line of 100 mm to check the print by, where the rings are, and what the marks mean."""
    x, y = plan.paper.margin_mm, height - plan.paper.margin_mm - 1.2
    check = "This line is 100 mm: if not, print at 100 %."
    if plan.scale != 1.0:
        drawn = f"{plan.scale * 100:g} %" if plan.scale > 1 else f"{plan.scale:.1%}"
        check = f"This line is 100 mm; the frames are drawn at {drawn}."
    rings = f" Rings at the {plan.film.page.plan.ring_side}"
    texts = [f"{check}{rings}, {side_words(plan.film)}.", f"{check}{rings}.", check]
    if marked:
        texts = [*(f"{text} {MARK_WORDS}" for text in texts[:2]), *texts]
    shown, size = first_fitting(texts, width - plan.paper.margin_mm - (x + 102), 2.2, 1.6, measure)
    return [*ruler(x, y), Text(x + 102, y, size, shown)]
