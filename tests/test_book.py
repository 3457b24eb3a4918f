"""The book of a binder: leaves, check letters, index, links, and what a PDF reader finds in it."""

import io
import itertools
from collections import Counter
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pdfplumber
import pypdf
import pypdfium2
import pytest
from builders import registered
from PIL import Image
from sqlmodel import Session

from catalogue.errors import InvalidInput, NotFound
from catalogue.rolls.change import get_roll
from catalogue.rolls.file import add_binder, get_page
from catalogue.rolls.move import take_out
from catalogue.rolls.number import renumber_roll
from catalogue.rolls.process import ProcessInput
from catalogue.sleeves.geometry import Rect
from catalogue.store.engine import open_archive
from printing.book.binder_record import (
    BinderRecord,
    NumberWithoutRoll,
    StripNotThere,
    span_words,
    where_words,
    why_uncertain,
)
from printing.book.documents import book_pdf, planned_book, write_book
from printing.book.index import build_index, letter_of, sort_key, terms
from printing.book.leaves import LETTERS, Block, LeafShape, check_letters, flow, wrapped
from printing.book.plan import BookPlan, draw_leaves, plan_book, roman
from printing.canvas.items import Box, Item, Jump, Line, Mark, Picture, Text
from printing.canvas.paint import Painter, StreamingPainter, measure

ON = date(2031, 9, 14)
MM = 72 / 25.4


@pytest.fixture(scope="module")
def picture(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A picture file that all frames with a picture show."""
    file = tmp_path_factory.mktemp("pictures") / "harbour.jpg"
    Image.effect_noise((240, 160), 60).save(file)
    return file


@pytest.fixture(scope="module")
def record(tmp_path_factory: pytest.TempPathFactory, picture: Path) -> BinderRecord:
    """Three rolls on three pages, one picture each, two slides on a fourth page, one strip out, one former number."""
    archive = open_archive(tmp_path_factory.mktemp("archive"))
    with archive.session() as session:
        add_binder(session, "Binder 1")
        made = recorded(session, picture)
    archive.close()
    return made


def recorded(session: Session, picture: Path) -> BinderRecord:
    """The same from a session on an empty binder."""
    process = ProcessInput(process="C-41", temperature_c=37.8, time_s=195, done_by="Ines")
    first = registered(
        session, 36, subject="Harbour; Ines, Corin", place="Skarvholm", exposed="2031-05-14", process=process, camera="Fenn 2"
    )
    second = registered(session, "00-36A", subject="Élan", place="Île de Verrande", exposed="2030-22", notes="Kept damp. " * 40)
    third = registered(session, 12, subject="harbour", exposed="2029~", captions={"3": "Quay " * 30, "4": "夜の電車" * 12})
    slides = [registered(session, 1, format="slide-50x50", layout="slides-20", subject="Slide one")]
    slides.append(registered(session, 1, format="slide-50x50", page_id=slides[0].page_ids[0], subject="Slide two"))
    renumber_roll(session, third.number, "2029-900")
    take_out(session, second.strips[2].id, "printing", "2031-10")
    numbers = (first.number, second.number, "2029-900", *(slide.number for slide in slides))
    rolls = tuple(get_roll(session, number) for number in numbers)
    rolls = (replace(rolls[0], former_numbers=("B-7",)), *rolls[1:])
    pages = tuple(get_page(session, page_id) for page_id in dict.fromkeys(key for roll in rolls for key in roll.page_ids))
    given = []
    for page in pages:
        frames = tuple(replace(f, picture=str(picture) if f.label == "2" else None) for f in page.plan.frames)
        given.append(replace(page, plan=replace(page.plan, frames=frames)))
    out = (StripNotThere(second.number, "11–16", "printing", "2031-09-01", "2031-10", "page 2, third strip from the top"),)
    gaps = (NumberWithoutRoll("2031-003", "Blank roll, the film never left the cassette."),)
    return BinderRecord(pages[0].archive_name, pages[0].binder, "Small format.", tuple(given), rolls, gaps, out)


def texts(items: tuple[Item, ...]) -> str:
    return "\n".join(item.text for item in items if isinstance(item, Text))


def leaf_texts(plan: BookPlan, start: str) -> str:
    found = [leaf for leaf in plan.leaves if leaf.name.startswith(start)]
    assert found, [leaf.name for leaf in plan.leaves]
    return "\n".join(texts(leaf.items) for leaf in found)


def edges(item: Item) -> tuple[float, float, float, float] | None:
    if isinstance(item, Text):
        wide = measure(item.text, item.size, item.bold)
        x = item.x - {"left": 0.0, "middle": wide / 2, "right": wide}[item.align]
        return x, item.y - item.size * 0.75, x + wide, item.y
    if isinstance(item, Line):
        return item.x1, min(item.y1, item.y2), item.x2, max(item.y1, item.y2)
    return None if isinstance(item, Mark) else (item.rect.x, item.rect.y, item.rect.right, item.rect.bottom)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_everything_lies_inside_the_leaf_and_no_text_overlaps(record: BinderRecord, paper: str) -> None:
    plan = planned_book(record, paper=paper)
    for leaf, sheet in draw_leaves(plan, printed_on=ON, measure=measure):
        lying = [(item, at) for item in sheet.items if (at := edges(item)) is not None]
        for item, (x0, y0, x1, y1) in lying:
            assert x0 >= 19.9 and y0 >= 5, (leaf.name, item)  # 18 mm at the left would meet the holes: 12 + 6 / 2
            assert x1 <= sheet.width_mm - 10.9 and y1 <= sheet.height_mm - 5, (leaf.name, item)
        words = [(item, Rect(x0, y0, x1 - x0, y1 - y0)) for item, (x0, y0, x1, y1) in lying if isinstance(item, Text)]
        for (one, a), (two, b) in itertools.combinations(words, 2):
            assert not a.inset(min(0.1, a.width / 3)).overlaps(b), (leaf.name, one, two)
        for item, at in lying:
            if isinstance(item, Picture):
                assert not any(item.rect.overlaps(at) for _, at in words), leaf.name
                assert at[3] <= plan.shape.body.bottom


def test_every_roll_frame_and_reason_is_in_the_book(record: BinderRecord) -> None:
    plan = planned_book(record)
    for roll in record.rolls:
        if len(roll.frames) > 4:
            labels = [t.text for leaf in plan.leaves if leaf.name.startswith(f"roll {roll.number},") for t in leaf.items
                      if isinstance(t, Text) and t.bold and t.size == 2.9]  # fmt: skip
            assert labels.count("Strips") == 1
            assert labels[1:] == [frame.label for frame in roll.frames]
    pictures = [item for leaf in plan.leaves for item in leaf.items if isinstance(item, Picture)]
    assert len(pictures) == sum(frame.picture is not None for page in record.pages for frame in page.plan.frames) == 3
    heirs = leaf_texts(plan, "for heirs")
    assert "Touch film at its edges only" in heirs and "third strip from the top, fourth frame from the ring side" in heirs
    first = leaf_texts(plan, f"roll {record.rolls[0].number},")
    assert "14 May 2031" in first and "C-41 · 37.8 °C · 3 min 15 s · by Ines" in first
    missing = leaf_texts(plan, "what isn't there")
    assert "2031-003" in missing and "Blank roll" in missing and "printing" in missing and "October 2031" in missing
    dates = leaf_texts(plan, "uncertain dates")
    assert "summer 2030" in dates and "only the season" in dates and "about 2029" in dates and "14 May 2031" not in dates
    former = leaf_texts(plan, "former numbers")
    assert "B-7" in former and "2029-900" in former
    short = leaf_texts(plan, "short rolls of page 4")
    assert "Slide one" in short and "Slide two" in short
    pages = leaf_texts(plan, "pages")
    assert "third, fourth, fifth, sixth, seventh" in pages.replace("\n", " ")  # 12 frames lie in two of seven strips
    assert "18 of 20" in pages
    title = leaf_texts(plan, "title")
    assert "4 sleeve pages, 5 rolls, 89 frames" in title.replace("\n", " ")  # 36 + (00, 0, 1 to 36, 36A) + 12 + 1 + 1


def test_contents_name_every_leaf_with_its_letters_and_number(record: BinderRecord) -> None:
    plan = planned_book(record)
    body = plan.leaves[plan.front :]
    contents = leaf_texts(plan, "contents").split("\n")
    for number, leaf in enumerate(body, 1):
        assert leaf.checksum in contents and str(number) in contents
    assert len({leaf.name for leaf in plan.leaves}) == len(plan.leaves)


def test_only_leaves_whose_matter_changed_are_printed_again(record: BinderRecord) -> None:
    printed = planned_book(record).checksums

    def changed(plan: BookPlan) -> list[str]:
        return [name for name, letters in plan.checksums.items() if printed.get(name) != letters]

    assert changed(planned_book(record)) == []
    assert all(len(letters) == 6 and set(letters) <= set(LETTERS) for letters in printed.values())
    roll = record.rolls[0]
    noted = replace(roll, notes="The second frame was printed for Corin.")
    later = planned_book(replace(record, rolls=(noted, *record.rolls[1:])))
    assert changed(later) == ["contents, 1", f"roll {roll.number}, 1"]
    # Another roll in front moves every number after it, and no other roll's leaf.
    added = replace(roll, id=99, number="2031-900", frames=roll.frames[:6], strips=(), former_numbers=())
    summary = replace(record.pages[0].rolls[0], number="2031-900")
    page = replace(record.pages[0], rolls=(summary, *record.pages[0].rolls))
    more = planned_book(replace(record, rolls=(added, *record.rolls), pages=(page, *record.pages[1:])))
    again = {name.rsplit(", ", 1)[0] for name in changed(more)}
    places, subjects = "index of places", "index of subjects"
    assert again == {"title", "contents", "pages", "roll 2031-900", places, subjects}
    fewer = planned_book(replace(record, rolls=record.rolls[:4] + record.rolls[4:], gaps=()))
    assert changed(fewer) == ["contents, 1", "what isn't there, 1"]


def test_check_letters_ignore_printing_day_number_and_folder() -> None:
    items = (Text(1, 2, 3, "quay"), Picture(Rect(0, 0, 3, 2), "/home/ines/previews/ab.jpg"))
    moved = (items[0], Picture(Rect(0, 0, 3, 2), "/srv/archive/previews/ab.jpg"), Mark("m"), Jump(Rect(0, 0, 1, 1), "m"))
    assert check_letters(["A"], items) == check_letters(["A"], moved)
    assert check_letters(["A"], items) != check_letters(["B"], items)
    other = (items[0], Picture(Rect(0, 0, 3, 2), "/home/ines/previews/cd.jpg"))
    assert check_letters(["A"], items) != check_letters(["A"], other)
    # SHA-256 of "abc" begins ba7816bf (FIPS 180-4, from memory); its low 30 bits in fives are 29 7 16 5 21 31.
    assert check_letters(["abc"], []) == "".join(LETTERS[n] for n in (29, 7, 16, 5, 21, 31))


def test_the_pdf_has_outline_labels_links_title_and_language(record: BinderRecord) -> None:
    plan = planned_book(record)
    reader = pypdf.PdfReader(io.BytesIO(book_pdf(plan, printed_on=ON)), strict=True)
    assert len(reader.pages) == len(plan.leaves)
    body = len(plan.leaves) - plan.front
    assert reader.page_labels == [*(roman(n + 1) for n in range(plan.front)), *(str(n + 1) for n in range(body))]
    assert reader.metadata is not None and reader.metadata.title == plan.title
    root = reader.trailer["/Root"]
    assert root["/Lang"] == "en"  # type: ignore[index]
    assert root["/ViewerPreferences"]["/DisplayDocTitle"]  # type: ignore[index]
    top = [entry.title for entry in reader.outline if not isinstance(entry, list)]
    assert top[:5] == ["Title", "Contents", "For whoever finds these negatives", "The pages of this binder", "Rolls"]
    rolls = next(entry for entry in reader.outline if isinstance(entry, list))
    assert len(rolls) == 4  # three rolls and the slides of one page
    pages = {leaf.name: n for n, leaf in enumerate(plan.leaves)}
    for entry in rolls:
        assert plan.leaves[reader.get_destination_page_number(entry)].outline == entry.title
    leads = links(reader, pages["contents, 1"])
    assert set(leads) >= set(range(plan.front, len(plan.leaves)))
    index = links(reader, pages["index of places, 1"])
    assert {pages[f"roll {record.rolls[0].number}, 1"], pages[f"roll {record.rolls[1].number}, 1"]} <= set(index)
    for leaf, page in zip(plan.leaves, reader.pages, strict=True):
        text = page.extract_text()
        assert f"check {leaf.checksum}" in text and "printed 2031-09-14" in text and record.archive in text


def links(reader: pypdf.PdfReader, number: int) -> list[int]:
    """The pages that the links of a page lead to."""
    order = {page.indirect_reference.idnum: n for n, page in enumerate(reader.pages)}  # type: ignore[union-attr]
    notes = [note.get_object() for note in reader.pages[number]["/Annots"]]  # type: ignore[attr-defined]
    return [order[note["/Dest"][0].idnum] for note in notes]


def test_some_leaves_only_keep_their_numbers_and_lead_nowhere_else(record: BinderRecord) -> None:
    plan = planned_book(record)
    names = [plan.leaves[1].name, plan.leaves[3].name, plan.leaves[6].name]
    reader = pypdf.PdfReader(io.BytesIO(book_pdf(plan, printed_on=ON, only=names)))
    assert reader.page_labels == ["ii", str(4 - plan.front), str(7 - plan.front)]
    assert sorted(set(links(reader, 0))) == [1, 2]
    with pytest.raises(NotFound, match="none has changed"):
        book_pdf(plan, printed_on=ON, only=[])


def test_geometry_pictures_and_fonts_are_as_planned(record: BinderRecord, picture: Path, tmp_path: Path) -> None:
    plan = planned_book(record)
    file = tmp_path / "book.pdf"
    heard: list[tuple[int, int]] = []
    with file.open("wb") as out:
        made = write_book(plan, out, printed_on=ON, progress=lambda done, of: heard.append((done, of)))
    assert heard == [(n + 1, len(plan.leaves)) for n in range(len(plan.leaves))]
    assert dict(made.leaves) == plan.checksums
    with pdfplumber.open(file) as pdf:
        for leaf, page in zip(plan.leaves, pdf.pages, strict=True):
            boxes = sorted((round(i.rect.x, 1), round(i.rect.y, 1)) for i in leaf.items if isinstance(i, Box))
            seen = sorted((round(r["x0"] / MM, 1), round(r["top"] / MM, 1)) for r in page.rects)
            assert all(abs(a - c) < 0.11 and abs(b - d) < 0.11 for (a, b), (c, d) in zip(boxes, seen, strict=True))
        raw = picture.read_bytes()
        images = [image["stream"].get_rawdata() for page in pdf.pages for image in page.images]
    assert len(images) == 3 and all(image.rstrip(b"\r\n") == raw.rstrip(b"\r\n") for image in images)
    assert file.read_bytes().count(raw) == 1  # the file as it is, and once
    fonts = [font.get_object() for page in pypdf.PdfReader(file).pages for font in page["/Resources"]["/Font"].values()]  # type: ignore[index]
    assert all("/FontFile2" in font["/FontDescriptor"] for font in fonts if font["/Subtype"] == "/TrueType")


def test_written_as_drawn_a_pdf_looks_as_if_gathered_first(record: BinderRecord) -> None:
    plan = planned_book(record)
    names = [leaf.name for leaf in plan.leaves if any(isinstance(item, Picture) for item in leaf.items)]
    gathered = Painter(plan.title)
    gathered.draw([sheet for _, sheet in draw_leaves(plan, printed_on=ON, measure=measure, only=names)])
    one = pypdfium2.PdfDocument(gathered.finish())
    two = pypdfium2.PdfDocument(book_pdf(plan, printed_on=ON, only=names))
    assert len(one) == len(two) == len(names)
    for a, b in zip(one, two, strict=True):
        seen = np.asarray(a.render(scale=0.5).to_numpy())
        assert seen.std() > 5
        assert (seen == np.asarray(b.render(scale=0.5).to_numpy())).all()
    with pytest.raises(RuntimeError, match="close it instead"):
        StreamingPainter("book", io.BytesIO()).finish()


def test_the_binder_is_named_only_where_it_is_another(record: BinderRecord) -> None:
    frame = record.rolls[0].frames[0]
    assert frame.address is not None
    near = "page 1, first strip from the top, first frame from the ring side"
    assert where_words(frame, record) == near
    for name in ("Fog, page 3, and rain", "2"):
        there = replace(frame, address=replace(frame.address, binder=name))
        assert where_words(there, record) == f"Binder {name}, {near}"
        pages = tuple(replace(page, binder=name) for page in record.pages)
        assert where_words(there, replace(record, binder=name, pages=pages)) == near
    assert where_words(replace(frame, address=None), record) == near  # found on the page itself
    assert where_words(replace(frame, address=None), replace(record, pages=())) == ""


def test_the_same_record_gives_the_same_bytes(record: BinderRecord) -> None:
    one, two = (book_pdf(planned_book(record, paper="Letter"), printed_on=ON) for _ in range(2))
    assert one == two


# Unicode Collation Algorithm, UTS #10, table of comparison levels, from memory:
# base letters before accents before case.
@pytest.mark.parametrize("ordered", [["role", "roles", "rule"], ["role", "rôle", "roles"], ["role", "Role", "rôle"]])
def test_words_are_sorted_by_the_levels_of_uts_10(ordered: list[str]) -> None:
    for shuffled in itertools.permutations(ordered):
        assert sorted(shuffled, key=sort_key) == ordered


def test_words_of_any_script_have_a_place_and_a_heading() -> None:
    words = ["夜", "Łódka", "Зима", "Pier 10", "“Quay”", "Pier 2", "Νησί", "مرفأ", "łuk", "Ostrelund", "7 bridges", "Öre", "…"]
    ordered = ["…", "7 bridges", "Łódka", "łuk", "Öre", "Ostrelund", "Pier 2", "Pier 10", "“Quay”", "Νησί", "Зима", "مرفأ", "夜"]
    assert sorted(words, key=sort_key) == ordered
    assert [letter_of(w) for w in ordered] == [
        "Other",
        "0–9",
        "L",
        "L",
        "O",
        "O",
        "P",
        "P",
        "Q",
        "Ν",
        "З",
        "م",
        "Chinese characters",
    ]
    assert terms("Ines, Corin;harbour、夜\n、 ,") == ["Ines", "Corin", "harbour", "夜"]


def test_the_index_joins_spellings_and_neighbours(record: BinderRecord) -> None:
    first, third = record.rolls[0], record.rolls[2]
    marked = tuple(replace(f, keywords="gulls" if f.label in ("2", "3", "4", "9") else "") for f in first.frames)
    told = replace(record, rolls=(replace(first, frames=marked), *record.rolls[1:]))
    (_, places), (_, subjects) = build_index(told)
    words = {entry.word: entry.references for entry in subjects}
    assert [text for text, _ in words["gulls"]] == [f"{first.number}: 2–4, 9"]
    assert words["gulls"][0][1] == f"{first.number}/2"
    assert [text for text, _ in words["Harbour"]] == sorted([third.number, first.number])  # "Harbour" and "harbour"
    assert [entry.word for entry in places] == ["Île de Verrande", "Skarvholm"]
    assert {"Ines", "Corin", "Élan"} <= set(words)


def test_a_word_with_many_references_goes_on(record: BinderRecord) -> None:
    many = tuple(
        replace(record.rolls[0], id=500 + n, number=f"2040-{n:03}", place="Skarvholm", frames=(), strips=(), former_numbers=())
        for n in range(400)
    )
    plan = planned_book(replace(record, rolls=(*record.rolls, *many)))
    told = leaf_texts(plan, "index of places")
    assert all(f"2040-{n:03}" in told for n in range(400))
    for leaf in plan.leaves:
        bottoms = [at[3] for item in leaf.items if (at := edges(item)) is not None]
        assert max(bottoms) <= plan.shape.body.bottom + 0.5, leaf.name


def test_lines_fit_and_lose_nothing() -> None:
    text = "Harbour at low tide, with a word " + "W" * 80 + " and 夜の電車が橋を渡る" * 6 + " हिन्दी में"
    lines = wrapped(text, 40, 2.9, measure)
    assert all(measure(line, 2.9) <= 40.01 for line in lines)
    assert "".join("".join(lines).split()) == "".join(text.split())
    cut = wrapped(text, 40, 2.9, measure, most=2)
    assert len(cut) == 2 and cut[-1].endswith("…") and measure(cut[-1], 2.9) <= 40.01


def test_a_heading_is_never_left_alone_at_the_foot() -> None:
    shape = LeafShape.on("A4")
    line = Block(10, (Text(0, 5, 3, "line"),))
    head = Block(10, (Text(0, 5, 3, "head"),), keep=True)
    room = int((shape.body.height - 9.6) // 10)
    leaves = flow("n", "Title", [line] * (room - 1) + [head, line], shape, measure)
    assert [leaf.name for leaf in leaves] == ["n, 1", "n, 2"]
    counts = [Counter(i.text for i in leaf.items if isinstance(i, Text)) for leaf in leaves]
    assert counts[0]["line"] == room - 1 and counts[0]["head"] == 0
    assert counts[1]["head"] == counts[1]["line"] == 1


# EDTF marks as in ISO 8601-2:2019 (from memory).
@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("2031-05-14", ""),
        ("2031-05-14/2031-05-20", ""),
        ("2031-05-14?", "not sure"),
        ("2031~", "about, only the year"),
        ("2031-22", "only the season"),
        ("203X", "a figure isn't known"),
        ("2031-05", "only the month"),
        ("2031-05-01/..", "one end isn't known"),
        ("", "no date was noted"),
        ("spring", "not a date that can be sorted"),
    ],
)
def test_what_is_uncertain_is_said(text: str, words: str) -> None:
    assert why_uncertain(text) == words


def test_spans_and_roman_numbers() -> None:
    assert span_words(["2031-05", "2028~", "", "spring"]) == "2028 to 2031"
    assert span_words(["2031-05", "2031"]) == "2031" and span_words(["", "nothing"]) == ""
    # Roman numerals, common knowledge: no published source.
    assert [roman(n) for n in (1, 4, 9, 14, 40, 90, 399, 1994)] == ["i", "iv", "ix", "xiv", "xl", "xc", "cccxcix", "mcmxciv"]


def test_a_record_that_contradicts_itself_is_refused(record: BinderRecord) -> None:
    with pytest.raises(InvalidInput, match="wasn't handed in"):
        replace(record, rolls=record.rolls[1:])
    with pytest.raises(InvalidInput, match="Page 1 was handed in more than once"):
        replace(record, pages=(*record.pages, record.pages[0]))
    with pytest.raises(InvalidInput, match="not in Binder 9"):
        replace(record, binder="Binder 9")
    with pytest.raises(InvalidInput, match="A4 or Letter, not on A3"):
        plan_book(record, paper="A3", measure=measure)


def test_an_empty_binder_has_a_book(record: BinderRecord) -> None:
    plan = planned_book(replace(record, pages=(), rolls=(), gaps=(), out=()))
    told = "\n".join(texts(leaf.items) for leaf in plan.leaves)
    for sentence in ("This binder has no pages yet.", "Every strip is in its slot.", "No roll here ever had another number."):
        assert sentence in told
    assert book_pdf(plan, printed_on=ON).startswith(b"%PDF")
