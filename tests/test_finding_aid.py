"""The finding aid: counts that agree at every level, ISAD(G)'s elements, plain HTML, and leaves."""

import io
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser

import pypdf
import pytest
from builders import registered

from catalogue.errors import InvalidInput
from catalogue.rolls.change import get_roll
from catalogue.rolls.file import add_binder, get_page
from catalogue.store.engine import open_archive
from printing.book.binder_record import BinderRecord, NumberWithoutRoll
from printing.book.documents import book_pdf
from printing.book.finding_aid import ELEMENTS, LEVELS, Counts, Description, as_html, finding_aid
from printing.book.finding_aid_leaves import plan_finding_aid
from printing.book.plan import draw_leaves
from printing.canvas.items import Line, Text
from printing.canvas.paint import measure

ON = date(2031, 9, 14)
X = "{http://www.w3.org/1999/xhtml}"
SLY = "<script>alert('x')</script> & \"quay\" \x0b夜"


@pytest.fixture(scope="module")
def records(tmp_path_factory: pytest.TempPathFactory) -> tuple[BinderRecord, ...]:
    """Two binders: a roll over two pages and another beside its end; one roll with sly texts."""
    archive = open_archive(tmp_path_factory.mktemp("archive"))
    with archive.session() as session:
        add_binder(session, "Small")
        long = registered(session, 40, layout="135-7x5", exposed="2029-05-01", subject="Long shore", place="Skarvholm")
        short = registered(session, 4, page_id=long.page_ids[1], exposed="2030~", subject="Beeches")
        add_binder(session, "Large", "Medium format, kept apart.")
        sly = registered(session, 12, format="120-6x6", layout="120-6x6", binder="Large", subject=SLY, captions={"3": SLY})
        made = []
        for rolls in ((long.number, short.number), (sly.number,)):
            views = tuple(get_roll(session, number) for number in rolls)
            pages = tuple(get_page(session, key) for key in dict.fromkeys(key for view in views for key in view.page_ids))
            gaps = (NumberWithoutRoll("2031-003", "never used"),)
            made.append(BinderRecord(pages[0].archive_name, pages[0].binder, "", pages, views, gaps))
    archive.close()
    return made[0], replace(made[1], notes="Medium format, kept apart.")


@pytest.fixture(scope="module")
def tree(records: tuple[BinderRecord, ...]) -> Description:
    """Their finding aid."""
    return finding_aid(records, described_on=ON, creator="Ines <Marovel>", code="XX-7")


def units(unit: Description) -> Iterator[Description]:
    yield unit
    for part in unit.parts:
        yield from units(part)


def test_counts_agree_at_every_level(tree: Description, records: tuple[BinderRecord, ...]) -> None:
    assert tree.counts == Counts(2, 3, 3, 56)  # 40 + 4 + 12 frames
    assert tree.element("Extent and medium of the unit of description").startswith(
        "2 binders, 3 sleeve pages, 3 rolls, 56 frames"
    )
    for unit in units(tree):
        if unit.parts:
            assert unit.counts.frames == sum(part.counts.frames for part in unit.parts), unit.element("Title")
    small, large = tree.parts
    assert small.counts == Counts(0, 2, 2, 44) and large.counts == Counts(0, 1, 1, 12)
    assert [page.counts for page in small.parts] == [Counts(0, 0, 1, 35), Counts(0, 0, 2, 9)]  # 7 strips of 5, then 5 + 4
    (first,) = small.parts[0].parts
    assert first.element("Extent and medium of the unit of description").startswith("35 of 40 frames")
    assert first.element("Related units of description") == "5 more frames lie elsewhere"
    placed = sum(len({(f.roll, f.label) for f in p.plan.frames}) for record in records for p in record.pages)
    assert sum(unit.level == 4 for unit in units(tree)) == placed


def test_elements_and_levels_are_those_of_isad_g(tree: Description) -> None:
    # ISAD(G), second edition, 3.1.1 to 3.1.5, from memory: these identify a unit; six are called essential.
    essential = ("Reference code", "Title", "Name of creator", "Date(s)", "Extent and medium of the unit of description")
    assert all(tree.element(name) for name in (*essential, "Level of description"))
    for unit in units(tree):
        names = [name for name, _ in unit.elements]
        assert names == [name for name in ELEMENTS if name in names]
        assert all(text for _, text in unit.elements)
        assert unit.element("Level of description") == LEVELS[unit.level]
        for part in unit.parts:  # 2.3: a code leads from the general to the particular
            assert part.element("Reference code").startswith(unit.element("Reference code") + " / ")
            # 2.4: what holds above isn't said again below.
            assert not part.element("Name of creator") and not part.element("Rules or conventions")
    codes = [unit.element("Reference code") for unit in units(tree)]
    assert len(set(codes)) == len(codes)


def test_dates_are_ranges_in_words_and_say_what_is_not_known(tree: Description) -> None:
    small, large = tree.parts
    assert tree.element("Date(s)") == small.element("Date(s)") == "2029 to 2030"
    assert large.element("Date(s)") == "not known"
    assert small.parts[1].parts[1].element("Date(s)") == "about 2030"
    assert tree.element("Note") == "no roll 2031-003: never used"


class Plain(HTMLParser):
    """Collects tags and text, and the headings with their levels."""

    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.headings: list[int] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        assert not any(name.startswith("on") or name in ("src", "href") for name, _ in attrs)
        if len(tag) == 2 and tag[0] == "h" and tag[1].isdigit():
            self.headings.append(int(tag[1]))

    def handle_data(self, data: str) -> None:
        self.text += data


def test_the_html_is_plain_whole_and_escaped(tree: Description) -> None:
    html = as_html(tree)
    root = ElementTree.fromstring(html)  # well-formed: every tag closed, everything escaped
    assert root.tag == f"{X}html" and root.get("lang") == "en"
    assert root.find(f"{X}head/{X}title") is not None
    plain = Plain()
    plain.feed(html)
    assert set(plain.tags) <= {"html", "head", "meta", "title", "style", "body", "main", "section", "dl", "dt", "dd",
                               "h1", "h2", "h3", "h4", "h5"}  # fmt: skip
    assert plain.headings == [unit.level + 1 for unit in units(tree)]
    assert "<script>alert('x')</script> & \"quay\"  夜" in plain.text and "\x0b" not in html
    assert "Ines <Marovel>" in plain.text
    for pairs in root.iter(f"{X}dl"):
        assert [child.tag for child in pairs] == [f"{X}dt", f"{X}dd"] * (len(pairs) // 2)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_leaves_hold_every_frame_inside_their_edges(tree: Description, paper: str) -> None:
    plan = plan_finding_aid(tree, paper=paper, measure=measure)
    frames = 0
    for leaf, sheet in draw_leaves(plan, printed_on=ON, measure=measure):
        for item in sheet.items:
            if isinstance(item, Text):
                wide = measure(item.text, item.size, item.bold)
                left = item.x - (wide if item.align == "right" else 0)
                assert left >= 19.9 and left + wide <= sheet.width_mm - 10.9 and item.y <= sheet.height_mm - 9, (leaf.name, item)
                frames += item.text.startswith("Frame ") and not item.bold
            elif isinstance(item, Line):
                assert min(item.x1, item.x2) >= 19.9 and max(item.x1, item.x2) <= sheet.width_mm - 10.9
    assert frames == tree.counts.frames


def test_the_pdf_names_levels_and_is_bookmarked(tree: Description) -> None:
    plan = plan_finding_aid(tree, measure=measure)
    reader = pypdf.PdfReader(io.BytesIO(book_pdf(plan, printed_on=ON)), strict=True)
    assert [entry.title for entry in reader.outline if not isinstance(entry, list)] == ["Title", "Contents", "Small", "Large"]
    text = "\n".join(page.extract_text() for page in reader.pages)
    for level in LEVELS[:4]:
        assert level in text
    assert "third strip from the top, first frame from the ring side" in " ".join(text.split())


def test_what_can_not_be_described_is_refused(records: tuple[BinderRecord, ...], tree: Description) -> None:
    with pytest.raises(InvalidInput, match="no binder came"):
        finding_aid([], described_on=ON)
    with pytest.raises(InvalidInput, match="2 archives came"):
        finding_aid([records[0], replace(records[1], archive="Another")], described_on=ON)
    with pytest.raises(InvalidInput, match="level 0 can't lie in a unit of level 0"):
        Description(0, (), Counts(), (tree,))
