"""A finding aid by level: the archive, its binders, their pages, the rolls on each and their frames.

Names of elements and their order follow ISAD(G), second edition (General
International Standard Archival Description, International Council on Archives,
2000), from memory, as does its rule to describe from the general to the
particular and to say a thing once, at the level that it holds for. A binder is
described as a series, a sleeve page as a sub-series, a roll as a file and a
frame as an item; that assignment is this project's own. A roll that lies on
several pages is described on each with the frames that are there.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from html import escape

from catalogue.errors import InvalidInput
from catalogue.film.dates import date_words
from catalogue.views import FrameView, PageView, RollView
from printing.book.binder_record import BinderRecord, dated, span_words, where_words
from printing.book.rolls import process_words
from printing.canvas.items import counted, joined

ELEMENTS = (
    "Reference code",
    "Title",
    "Date(s)",
    "Level of description",
    "Extent and medium of the unit of description",
    "Name of creator",
    "Archival history",
    "Scope and content",
    "System of arrangement",
    "Conditions governing access",
    "Language/scripts of material",
    "Physical characteristics and technical requirements",
    "Finding aids",
    "Existence and location of originals",
    "Existence and location of copies",
    "Related units of description",
    "Note",
    "Rules or conventions",
    "Date(s) of descriptions",
)
"""The elements used here, in the order of ISAD(G) 3.1.1 to 3.7.3 (from memory); others are left out, none is renamed."""

LEVELS = ("Fonds", "Series", "Sub-series", "File", "Item")
"""ISAD(G)'s levels, from memory, for archive, binder, page, roll and frame."""


@dataclass(frozen=True)
class Counts:
    """What is there, counted: frames by their number on film, a frame cut in two once."""

    binders: int = 0
    pages: int = 0
    rolls: int = 0
    frames: int = 0

    @property
    def words(self) -> str:
        """The counts above nothing, largest unit first."""
        each = ((self.binders, "binder"), (self.pages, "sleeve page"), (self.rolls, "roll"), (self.frames, "frame"))
        return ", ".join(counted(n, name) for n, name in each if n)


@dataclass(frozen=True)
class Description:
    """One unit at one level; `elements` are (name, text) in ISAD(G)'s order, without empty ones."""

    level: int
    elements: tuple[tuple[str, str], ...]
    counts: Counts
    parts: tuple["Description", ...] = ()

    def __post_init__(self) -> None:
        if not 0 <= self.level < len(LEVELS):
            raise InvalidInput(f"Level {self.level} is none of the {len(LEVELS)} levels of a finding aid. Use 0 to 4.")
        for part in self.parts:
            if part.level <= self.level:
                raise InvalidInput(f"A part of level {part.level} can't lie in a unit of level {self.level}. It must be deeper.")

    def element(self, name: str) -> str:
        """The text of an element; empty where it isn't given."""
        return dict(self.elements).get(name, "")


def _unit(level: int, given: Mapping[str, str], counts: Counts, parts: Sequence[Description] = ()) -> Description:
    texts = {"Level of description": LEVELS[level], **given}
    unknown = set(texts) - set(ELEMENTS)
    if unknown:
        raise InvalidInput(f"{', '.join(sorted(unknown))}: no element of a finding aid. Use one of {', '.join(ELEMENTS)}.")
    return Description(level, tuple((name, texts[name]) for name in ELEMENTS if texts.get(name)), counts, tuple(parts))


def finding_aid(
    records: Sequence[BinderRecord],
    *,
    described_on: date,
    creator: str = "",
    history: str = "",
    scope: str = "",
    access: str = "",
    code: str = "",
) -> Description:
    """The whole archive described by level from its binders; texts that a program can't know are handed in.

    `code` begins every reference code (a country and repository code where there is one). Raises `InvalidInput`
    where there is no binder or where binders are of different archives.
    """
    names = {record.archive for record in records}
    if len(names) != 1:
        said = f"{len(names)} archives" if names else "no binder"
        raise InvalidInput(f"A finding aid describes one archive, and {said} came. Hand in the binders of one archive.")
    (archive,) = names
    parts = [_binder(record, code) for record in records]
    rolls = {roll.number: roll for record in records for roll in record.rolls}
    frames = sum(len(roll.frames) for roll in rolls.values())
    counts = Counts(len(records), sum(len(r.pages) for r in records), len(rolls), frames)
    gaps = {gap.number: gap.reason for record in records for gap in record.gaps}
    given = {
        "Reference code": code or archive,
        "Title": archive,
        "Date(s)": span_words([roll.exposed for roll in rolls.values()]) or "not known",
        "Extent and medium of the unit of description": f"{counts.words}; photographs on film",
        "Name of creator": creator,
        "Archival history": history,
        "Scope and content": scope or _subjects(list(rolls.values())),
        "System of arrangement": (
            "Film lies in sleeve pages in binders, in the order in which it was filed. A roll's number says what it is and "
            "stays; binder, page and place say where it lies. The order is kept as it was found, also where it is odd."
        ),
        "Conditions governing access": access,
        "Finding aids": "This list by level; a printed book for every binder, with pictures and an index.",
        "Note": "; ".join(f"no roll {number}: {reason or 'no reason noted'}" for number, reason in sorted(gaps.items())),
        "Rules or conventions": "Elements named as in ISAD(G), second edition. Dates kept as EDTF (ISO 8601-2), told in words.",
        "Date(s) of descriptions": date_words(described_on.isoformat()),
    }
    return _unit(0, given, counts, parts)


def _subjects(rolls: Sequence[RollView]) -> str:
    """What the rolls are of, from their own subjects and places, each said once."""
    texts = dict.fromkeys(joined(roll.subject, roll.place) for roll in rolls)
    return "; ".join(text for text in texts if text)


def _binder(record: BinderRecord, code: str) -> Description:
    mine = f"{code or record.archive} / {record.binder}"
    pages = sorted(record.pages, key=lambda page: page.number)
    parts = [_page(page, record, mine) for page in pages]
    shown = {(f.roll, f.label) for page in pages for f in page.plan.frames}
    there = {roll for roll, _ in shown}
    rolls = [roll for roll in record.in_order() if roll.number in there]
    kinds = dict.fromkeys(page.layout.material for page in pages)
    out = "; ".join(
        joined(f"frames {s.frames} of {s.roll} are out", s.reason, f"due back {date_words(s.due)}" if s.due else "")
        for s in record.out
    )
    counts = Counts(0, len(pages), len(there), len(shown))
    given = {
        "Reference code": mine,
        "Title": record.binder,
        "Date(s)": span_words([roll.exposed for roll in rolls]) or "not known",
        "Extent and medium of the unit of description": counts.words or "empty",
        "Scope and content": record.notes or _subjects(rolls),
        "Physical characteristics and technical requirements": f"Sleeve pages of {', '.join(kinds)}" if any(kinds) else "",
        "Note": out,
    }
    return _unit(1, given, counts, parts)


def _page(page: PageView, record: BinderRecord, above: str) -> Description:
    mine = f"{above} / page {page.number}"
    by_number = {roll.number: roll for roll in record.rolls}
    labels: dict[str, dict[str, None]] = {}
    for placed in page.plan.frames:
        labels.setdefault(placed.roll, {})[placed.label] = None
    order = [summary.number for summary in page.rolls] + [n for n in labels if n not in {s.number for s in page.rolls}]
    parts = [_roll(by_number[n], labels[n], record, mine, page.number) for n in order if n in labels]
    counts = Counts(0, 0, len(labels), sum(len(each) for each in labels.values()))
    given = {
        "Reference code": mine,
        "Title": f"Page {page.number}: {', '.join(labels) or 'no film'}",
        "Date(s)": span_words([by_number[n].exposed for n in labels]) or "not known",
        "Extent and medium of the unit of description": counts.words or "empty",
        "System of arrangement": "Turned head to foot; the last slot lies on top" if page.turned else "",
        "Physical characteristics and technical requirements": page.layout.name,
        "Note": page.notes,
    }
    return _unit(2, given, counts, parts)


def _roll(roll: RollView, labels: Mapping[str, None], record: BinderRecord, above: str, page: int) -> Description:
    frames = [frame for frame in roll.frames if frame.label in labels]
    mine = f"{above} / {roll.number}"
    elsewhere = len(roll.frames) - len(frames)
    masters = sum(any(scan.role == "master" for scan in frame.scans) for frame in frames)
    given = {
        "Reference code": mine,
        "Title": joined(f"Roll {roll.number}", roll.subject),
        "Date(s)": dated(roll.exposed),
        "Extent and medium of the unit of description": joined(
            f"{len(frames)} of {len(roll.frames)} frames" if elsewhere else Counts(frames=len(frames)).words,
            roll.format.name,
            roll.stock,
        ),
        "Scope and content": joined(roll.place, roll.keywords),
        "Physical characteristics and technical requirements": joined(
            f"camera {roll.camera}" if roll.camera else "", roll.lens, process_words(roll.process)
        ),
        "Existence and location of copies": f"Scans of {masters} of {len(frames)} frames" if frames else "",
        "Related units of description": f"{elsewhere} more frames lie elsewhere" if elsewhere else "",
        "Note": joined(
            f"formerly numbered {', '.join(roll.former_numbers)}" if roll.former_numbers else "", roll.notes.replace("\n", " ")
        ),
    }
    counts = Counts(0, 0, 0, len(frames))
    return _unit(3, given, counts, [_frame(frame, roll, record, mine) for frame in frames])


def _frame(frame: FrameView, roll: RollView, record: BinderRecord, above: str) -> Description:
    own = frame.exposed and frame.exposed != roll.exposed
    state = "" if frame.state == "picture" else frame.state
    given = {
        "Reference code": f"{above} / {frame.label}",
        "Title": joined(f"Frame {frame.label}", frame.caption or frame.subject),
        "Date(s)": date_words(frame.exposed) if own else "",
        "Scope and content": joined(
            frame.subject if frame.caption else "", frame.place if frame.place != roll.place else "", frame.keywords
        ),
        "Physical characteristics and technical requirements": state,
        "Existence and location of originals": where_words(frame, record),
        "Note": frame.notes.replace("\n", " "),
    }
    return _unit(4, given, Counts(frames=1))


_STYLE = """
body { font: 11pt/1.4 sans-serif; color: #111; background: #fff; max-width: 52rem; margin: 1.5rem auto; padding: 0 1rem; }
h1, h2, h3, h4, h5 { line-height: 1.2; margin: 1.2em 0 0.3em; break-after: avoid; }
h5 { margin: 0.7em 0 0.1em; }
dl { display: grid; grid-template-columns: 15rem 1fr; gap: 0.1rem 1rem; margin: 0; break-inside: avoid; }
dt { color: #444; } dd { margin: 0; overflow-wrap: anywhere; }
@media (max-width: 40rem) { dl { display: block; } dd { margin-bottom: 0.3rem; } }
@media print { body { font-size: 9pt; max-width: none; margin: 0; } @page { margin: 15mm; } }
"""


def as_html(tree: Description) -> str:
    """The finding aid as one plain page without scripts or anything loaded; also well-formed as XML.

    Headings follow the levels: h1 the archive down to h5 a frame. Everything typed is escaped; control characters,
    which no HTML may hold, become spaces.
    """
    title = _safe(tree.element("Title"))
    lines = [
        "<!DOCTYPE html>",
        '<html lang="en" xmlns="http://www.w3.org/1999/xhtml">',
        '<head><meta charset="utf-8"/><meta name="viewport" content="width=device-width"/>',
        f"<title>Finding aid: {title}</title><style>{_STYLE}</style></head>",
        "<body><main>",
    ]
    _html(tree, lines)
    return "\n".join([*lines, "</main></body>", "</html>", ""])


def _html(unit: Description, lines: list[str]) -> None:
    number = unit.level + 1
    lines.append(f"<section><h{number}>{_safe(unit.element('Title'))}</h{number}><dl>")
    lines += [f"<dt>{_safe(name)}</dt><dd>{_safe(text)}</dd>" for name, text in unit.elements if name != "Title"]
    lines.append("</dl>")
    for part in unit.parts:
        _html(part, lines)
    lines.append("</section>")


def _safe(text: str) -> str:
    """Escaped for text and attributes; what XML 1.0 allows in no document becomes a space or U+FFFD."""
    plain = "".join(
        " " if ord(c) < 0x20 else "\ufffd" if 0xD800 <= ord(c) <= 0xDFFF or ord(c) in (0xFFFE, 0xFFFF) else c for c in text
    )
    return escape(plain, quote=True)
