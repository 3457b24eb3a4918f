"""The strip list: each line beside its slot, turned and re-punched as the page is, at true size."""

import itertools
from datetime import date
from functools import lru_cache
from io import BytesIO

import pdfplumber
import pypdfium2
import pytest
import zxingcpp
from PIL import ImageFilter

from catalogue.errors import DoesNotFit
from catalogue.film.formats import BUILT_IN_FORMATS, FilmFormat, find_format
from catalogue.paper.sizes import PAPERS, Paper
from catalogue.sleeves.geometry import Rect
from catalogue.sleeves.layouts import BUILT_IN_LAYOUTS, SleeveLayout, find_layout
from catalogue.sleeves.page_plan import FrameOnStrip, StripInSlot, plan_page
from catalogue.views import PageView, RollSummary
from printing.canvas import paint as canvas
from printing.canvas.items import Box, Code, Line, Text
from printing.sheets.card_documents import strip_list_pdf
from printing.sheets.strip_list import StripList, frame_range, plan_strip_list

MM = 72 / 25.4
ON = date(2031, 5, 1)
LINK = "http://127.0.0.1:8000/pages/14"
FULL = find_format("135-24x36")
measure = lru_cache(maxsize=None)(canvas.measure)


def strip(
    number: int, slot: int, labels: list[str], film: FilmFormat = FULL, roll: str = "2031-014", **more: object
) -> StripInSlot:
    frames = tuple(
        FrameOnStrip(label, 1 + film.pitch_mm * n, film.frame_along_mm, film.frame_across_mm) for n, label in enumerate(labels)
    )
    facts = {"offset_mm": 0.0, **more}
    length = film.pitch_mm * len(labels)
    return StripInSlot(number, roll, slot, length_mm=length, gauge_width_mm=film.gauge_width_mm, frames=frames, **facts)  # type: ignore[arg-type]


def page_of(strips: list[StripInSlot], layout: SleeveLayout, *, turned: bool = False, ring: str | None = None) -> PageView:
    rolls = sorted({s.roll for s in strips})
    return PageView(
        id=1, binder_id=1, binder="Binder 2", number=14, layout=layout, turned=turned, notes="",
        ring_side=ring or layout.ring_side,
        strips=tuple(strips), plan=plan_page(layout, strips, ring_side=ring, turned=turned),
        rolls=tuple(RollSummary(r, "35 mm", "Tarn 100", "Fenn", "2031-04", "Harbour", "1–36") for r in rolls),
        free_slots=(), archive_name="Wenlow archive",
    )  # fmt: skip


def six_by_six() -> list[StripInSlot]:
    return [strip(n, n, [str(6 * n - 5 + k) for k in range(6)]) for n in range(1, 7)]


def planned(page: PageView, **more: object) -> StripList:
    return plan_strip_list(page, printed_on=ON, measure=measure, **more)  # type: ignore[arg-type]


def beside(made: StripList, page: PageView) -> dict[int, list[str]]:
    """The slip's words by slot: those whose middle lies between the slot's edges, laid on the page."""
    found: dict[int, list[str]] = {}
    for piece in made.pieces:
        for item in made.sheet.items:
            if isinstance(item, Text) and piece.rect.x <= item.x < piece.rect.right:
                y = item.y - 0.36 * item.size - piece.rect.y + piece.top_mm
                for slot in page.plan.slots:
                    if slot.rect.y <= y <= slot.rect.bottom and slot.number in piece.slots:
                        found.setdefault(slot.number, []).append(item.text)
    return found


def extent(item: object) -> Rect:
    """What an item covers; capitals stand 0.75 of the type size, tails hang 0.23."""
    if isinstance(item, Text):
        return Rect(item.x, item.y - 0.75 * item.size, measure(item.text, item.size, item.bold), 0.98 * item.size)
    if isinstance(item, Line):
        return Rect(min(item.x1, item.x2), min(item.y1, item.y2), abs(item.x2 - item.x1), abs(item.y2 - item.y1))
    assert isinstance(item, Box | Code)
    return item.rect


def assert_tidy(made: StripList, paper: Paper) -> None:
    m = paper.margin_mm - 0.1
    area = Rect(m, m, made.sheet.width_mm - 2 * m, made.sheet.height_mm - 2 * m)
    assert all(area.contains(extent(item)) for item in made.sheet.items)
    texts = [(i, extent(i).inset(0.02)) for i in made.sheet.items if isinstance(i, Text)]
    for (one, a), (two, b) in itertools.combinations(texts, 2):
        assert not a.overlaps(b), (one, two)
    for piece in made.pieces:
        inside = [(i, e) for i, e in texts if piece.rect.x <= i.x < piece.rect.right]
        assert all(piece.rect.contains(e) for _, e in inside), inside


@pytest.mark.parametrize("layout", BUILT_IN_LAYOUTS.values(), ids=lambda x: x.key)
def test_every_page_turned_and_punched_either_way(layout: SleeveLayout) -> None:
    film = next(f for f in BUILT_IN_FORMATS.values() if f.gauge in layout.gauges and layout.frames_per_slot(f))
    held = layout.frames_per_slot(film)
    strips = [
        strip(n, n, [str((n - 1) * held + k + 1) for k in range(held)], film, f"2031-{n:03d}", out=n % 3 == 0)
        for n in range(1, layout.slot_count + 1)
    ]
    for turned, ring, paper in itertools.product((False, True), ("left", "right"), ("A4", "8x10in")):
        page = page_of(strips, layout, turned=turned, ring=ring)
        made = planned(page, paper=PAPERS[paper], out_reasons={3: "lent for an exhibition at the harbour hall"}, link=LINK)
        assert_tidy(made, PAPERS[paper])
        words = beside(made, page)
        rows = {slot.number: slot.from_top for slot in page.plan.slots}
        for s in strips:
            row = [text for n, said in words.items() if rows[n] == rows[s.slot] for text in said]
            labels = [f.label for f in sorted((f for f in page.plan.frames if f.strip_id == s.strip_id), key=lambda f: f.place)]
            ends = (frame_range(labels), frame_range(labels).removesuffix(" by halves"), f"{labels[0]}…{labels[-1]}")
            assert any(text in ends for text in row), (s.slot, row)
            assert s.roll in row or len(strips) == 1
            assert any(text.startswith("out") for text in row) or not s.out
        assert sorted(n for piece in made.pieces for n in piece.slots) == list(range(1, layout.slot_count + 1))
        # Joined edge to edge, the pieces reach from the first slot's top to the last slot's bottom.
        rects = [slot.rect for slot in page.plan.slots]
        assert sum(p.rect.height for p in made.pieces) == pytest.approx(max(r.bottom for r in rects) - min(r.y for r in rects))


def test_golden_slip_of_seven_slots() -> None:
    # Slots 37 mm high at a pitch of 39 mm: 6 × 39 + 37 = 271 mm.
    made = planned(page_of(six_by_six(), find_layout("135-7x6")))
    (piece,) = made.pieces
    assert (piece.rect.width, piece.rect.height, piece.top_mm) == (14, 271, 33)
    said = beside(made, page_of(six_by_six(), find_layout("135-7x6")))
    assert [said[n][-1] if n != 1 else said[n][2] for n in range(1, 7)] == ["1–6", "7–12", "13–18", "19–24", "25–30", "31–36"]
    assert said[7] == ["2031-05-01", "7", "free"]
    assert said[1][0] == "Binder 2, page 14"
    lines = {i.text: i.y for i in made.sheet.items if isinstance(i, Text)}
    assert lines["13–18"] - lines["7–12"] == pytest.approx(39)
    assert lines["19–24"] - lines["13–18"] == pytest.approx(39)


def test_a_turned_page_begins_with_its_last_slot_and_reads_from_the_rings() -> None:
    layout = find_layout("135-7x6")
    turned = page_of(six_by_six(), layout, turned=True)
    said = beside(planned(turned), turned)
    assert said[7][:2] == ["Binder 2, page 14", "1"]  # slot 7 lies on top
    assert "7" in said[1] and "1–6" in said[1]
    punched = page_of(six_by_six(), layout, ring="right")
    assert "6–1" in beside(planned(punched), punched)[1]  # the open end is at frame 1 now
    text = " ".join(i.text for i in planned(turned).sheet.items if isinstance(i, Text))
    assert "It is turned head to foot." in text


def test_rolls_are_named_only_where_several_share_the_page() -> None:
    layout = find_layout("135-7x6")
    one = page_of(six_by_six(), layout)
    assert all("2031-014" not in said for said in beside(planned(one), one).values())
    both = page_of(
        [*six_by_six(), strip(9, 7, ["1", "2"], roll="2031-015"), strip(10, 7, ["5"], roll="2031-016", offset_mm=100)], layout
    )
    said = beside(planned(both), both)
    assert "2031-014" in said[1]
    assert said[7][-5:] == ["7", "2031-015", "1, 2", "2031-016", "5"]


def test_a_long_number_keeps_its_end_and_a_reason_is_said() -> None:
    layout = find_layout("135-7x6")
    number = "Found in the attic box after the second move of house 7"
    strips = [strip(1, 1, ["1", "3", "7", "9A"], roll=number * 3, out=True), strip(2, 2, ["1"], roll="B")]
    page = page_of(strips, layout)
    made = planned(page, out_reasons={1: "printing"})
    assert_tidy(made, PAPERS["A4"])
    said = beside(made, page)[1]
    assert any(text.endswith("house 7") or text.endswith(" 7") for text in said)
    assert "out:" in " ".join(said) and "printing" in " ".join(said)
    assert "1, 3, 7, 9A" in said


@pytest.mark.parametrize(
    ("labels", "words"),
    [
        (["1", "2", "3", "4"], "1–4"),
        (["4", "3", "2", "1"], "4–1"),
        (["00", "0", "1", "2"], "00–2"),
        (["35", "36", "36A"], "35–36A"),
        (["9A", "7", "3", "2", "1"], "9A, 7, 3–1"),
        (["1", "1A", "2", "2A"], "1–2A by halves"),
        (["2A", "2", "1A", "1"], "2A–1 by halves"),
        (["5"], "5"),
        (["αʹ", "βʹ"], "αʹ, βʹ"),
    ],
)
def test_ranges_run_as_the_film_lies(labels: list[str], words: str) -> None:
    assert frame_range(labels) == words


def test_the_pdf_measures_true_and_its_code_reads() -> None:
    page = page_of(six_by_six(), find_layout("135-7x6"))
    made = strip_list_pdf(page, printed_on=ON, link=LINK)
    assert made.pdf == strip_list_pdf(page, printed_on=ON, link=LINK).pdf
    assert (made.sheets, made.explanation) == (1, "A slip of 14 × 271 mm in one piece, true size.")
    with pdfplumber.open(BytesIO(made.pdf)) as read:
        (sheet,) = read.pages
        (slip,) = (r for r in sheet.rects if r["height"] / MM > 30)
        assert (slip["width"] / MM, slip["height"] / MM) == (pytest.approx(14, abs=0.1), pytest.approx(271, abs=0.1))
        assert [round(line["width"] / MM, 1) for line in sheet.lines].count(100.0) == 1
        across = sorted({round(line["top"] / MM, 2) for line in sheet.lines if abs(line["width"] / MM - 14) < 0.1})
        top = slip["top"] / MM
        # The edges of the slots: 37 mm high, 2 mm apart.
        assert across == [
            pytest.approx(top + e, abs=0.1) for e in sorted([37 + 39 * n for n in range(6)] + [39 * n for n in range(1, 7)])
        ]
    for dpi, blur in ((300, 0), (150, 0.7)):
        image = pypdfium2.PdfDocument(made.pdf)[0].render(scale=dpi / 72, grayscale=True).to_pil()
        seen = image.filter(ImageFilter.GaussianBlur(blur)) if blur else image
        assert [c.text for c in zxingcpp.read_barcodes(seen)] == [LINK]


def test_what_is_out_of_range_is_refused() -> None:
    with pytest.raises(DoesNotFit, match="Choose larger paper"):
        planned(page_of([], find_layout("sheet-8x10")), paper=Paper("small", "small", 150, 180))
