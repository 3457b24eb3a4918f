"""The cut card: true to the millimetre, whole pictures, every cut shown, nothing over anything else."""

import itertools
import shutil
import subprocess
from datetime import date
from functools import lru_cache
from io import BytesIO
from pathlib import Path

import fontpkg
import numpy as np
import pdfplumber
import pypdf
import pypdfium2
import pytest
import zxingcpp
from fontTools.ttLib import TTFont
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageFilter

from catalogue.errors import DoesNotFit, InvalidInput
from catalogue.film.formats import BUILT_IN_FORMATS, FilmFormat, find_format
from catalogue.paper.sizes import PAPERS, Paper
from catalogue.sleeves.cut_plan import CutFrame, CutPlan, FreeSlot, PlannedStrip, evenly_spaced, own_cuts, plan_cuts
from catalogue.sleeves.geometry import Rect
from catalogue.sleeves.layouts import default_layout, find_layout
from printing.canvas import paint as canvas
from printing.canvas.items import Box, Code, Line, Sheet, Text
from printing.sheets.card_documents import cut_card_pdf
from printing.sheets.cut_card import CUT_WIDTH_MM, LABEL_MM, CutCard, plan_cut_card

MM = 72 / 25.4
measure = lru_cache(maxsize=None)(canvas.measure)  # the same words are measured on every paper
FULL = find_format("135-24x36")
ON = date(2031, 5, 1)
LINK = "http://127.0.0.1:8000/rolls/2031-014"
NAMED = {"roll": "2031-014", "archive_name": "Wenlow archive", "printed_on": ON}


def labels(count: int) -> list[str]:
    return [str(n) for n in range(1, count + 1)]


def card(plan: CutPlan, frames: list[CutFrame] | tuple[CutFrame, ...], film: FilmFormat = FULL, **more: object) -> CutCard:
    return plan_cut_card(plan, frames, film, measure=measure, **{**NAMED, **more})  # type: ignore[arg-type]


def roll_of(count: int, film: FilmFormat = FULL, layout: str = "7x6") -> tuple[CutPlan, tuple[CutFrame, ...]]:
    frames = evenly_spaced(labels(count), film)
    return plan_cuts(frames, film, find_layout(layout)), frames


def words(made: CutCard) -> list[str]:
    return [i.text for sheet in made.sheets for i in sheet.items if isinstance(i, Text)]


def extent(item: object) -> Rect:
    """What an item covers; capitals stand 0.75 of the type size, tails hang 0.23."""
    if isinstance(item, Text):
        wide = measure(item.text, item.size, item.bold)
        x = item.x - {"left": 0.0, "middle": wide / 2, "right": wide}[item.align]
        return Rect(x, item.y - 0.75 * item.size, wide, 0.98 * item.size)
    if isinstance(item, Line):
        x, y, wide, high = min(item.x1, item.x2), min(item.y1, item.y2), abs(item.x2 - item.x1), abs(item.y2 - item.y1)
        # Ends are cut off square, so a line is thick across and not along.
        across, down = (item.width / 2, 0) if high > wide else (0, item.width / 2)
        return Rect(x - across, y - down, wide + 2 * across, high + 2 * down)
    assert isinstance(item, Box | Code)
    return item.rect


def assert_tidy(sheet: Sheet, paper: Paper) -> None:
    """Inside the printable area; no text over another, none over a bold line."""
    m = paper.margin_mm - 0.65
    area = Rect(m, m, sheet.width_mm - 2 * m, sheet.height_mm - 2 * m)
    assert all(area.contains(extent(item)) for item in sheet.items), paper.key
    texts = [item for item in sheet.items if isinstance(item, Text)]
    bold = [extent(i) for i in sheet.items if isinstance(i, Line) and i.width >= 0.4]
    codes = [i.rect for i in sheet.items if isinstance(i, Code)]
    covered = [(text, extent(text).inset(0.05)) for text in texts]
    for (one, a), (two, b) in itertools.combinations(covered, 2):
        assert not a.overlaps(b), (one, two)
    for text, a in covered:
        assert not any(a.overlaps(rect) for rect in (*bold, *codes)), text


def test_golden_bands_of_36_frames() -> None:
    # Six strips of 6 × 38 = 228 mm; A4 leaves 297 - 2 × 5 - 2 × 10 = 267 mm along, so a band is a strip and 5 mm at each join.
    made = card(*roll_of(36))
    assert [(b.sheet, b.from_mm, b.to_mm) for b in made.bands] == [
        (1, -20, 233), (1, 223, 461), (1, 451, 689), (2, 679, 917), (2, 907, 1145), (2, 1135, 1388),
    ]  # fmt: skip
    assert [b.after.letter if b.after else "" for b in made.bands] == ["A", "B", "C", "D", "E", ""]
    assert all(b.before == a.after for a, b in itertools.pairwise(made.bands))
    assert [c.at_mm for c in made.cuts] == [0, 228, 456, 684, 912, 1140, 1368]
    assert {c.clear_mm for c in made.cuts} == {2}


@pytest.mark.parametrize("paper", ["A4", "Letter", "8x10in"])
@pytest.mark.parametrize("film", [f for f in BUILT_IN_FORMATS.values() if f.kind == "strip"], ids=lambda f: f.key)
def test_every_format_on_every_paper(film: FilmFormat, paper: str) -> None:
    frames = evenly_spaced(labels(min(film.usual_exposures[-1], 24)), film)
    plan = plan_cuts(frames, film, default_layout(film))
    for landscape in (True, False):
        made = card(plan, frames, film, paper=PAPERS[paper], landscape=landscape, link=LINK)
        for sheet in made.sheets:
            assert_tidy(sheet, PAPERS[paper])
        whole = [
            i.rect
            for sheet in made.sheets
            for i in sheet.items
            if isinstance(i, Box) and i.rect.height == pytest.approx(film.frame_across_mm)
        ]
        room = PAPERS[paper].turned(landscape)[0] - 2 * PAPERS[paper].margin_mm - 20
        if film.frame_along_mm + 15 < room:
            assert len(whole) == len(frames)
            assert all(r.width == pytest.approx(film.frame_along_mm) for r in whole)
        held = [b.film.bottom for b in made.bands]
        assert len(held) == len(made.bands) and {b.sheet for b in made.bands} == set(range(1, len(made.sheets) + 1))
        said = words(made)
        assert sum(t.startswith("cut") and t.endswith("ends") for t in said) == len(plan.strips)
        assert sum(t.startswith("This line is 100 mm") or t.startswith("True size. This line") for t in said) == len(made.sheets)


@settings(max_examples=25, deadline=None)
@given(
    gaps=st.lists(st.sampled_from([-12.0, 0.5, 1.0, 2.0, 2.0, 2.0, 2.0, 9.0, 30.0, 300.0]), min_size=1, max_size=30),
    head=st.sampled_from([1.0, 80.0]),
)
def test_uneven_film_is_shown_whole(gaps: list[float], head: float) -> None:
    starts = [head]
    for gap in gaps:
        starts.append(starts[-1] + 36 + gap)
    frames = [CutFrame(str(n), start, 36) for n, start in enumerate(starts, 1)]
    plan = plan_cuts(frames, FULL, find_layout("7x6"))
    if not plan.strips:
        return
    made = card(plan, frames)
    for sheet in made.sheets:
        assert_tidy(sheet, PAPERS["A4"])
    covered = sum(b.to_mm - b.from_mm for b in made.bands) - sum(b.after.overlap_mm for b in made.bands if b.after)
    assert covered == pytest.approx(made.film_mm[1] - made.film_mm[0])
    assert all(any(b.from_mm <= f.start_mm and f.start_mm + 36 <= b.to_mm for b in made.bands) for f in frames)
    assert all(any(b.from_mm <= c.at_mm <= b.to_mm for b in made.bands) for c in made.cuts)
    overlaps = [f.start_mm + (36 + g) - g / 2 for f, g in zip(frames, gaps, strict=False) if g < 0]
    cut_at = [c.at_mm for c in made.cuts]
    assert set(made.never_mm) == {o for o in overlaps if not any(abs(o - at) < 0.01 for at in cut_at)}


def measured_pdf() -> tuple[bytes, CutCard]:
    plan, frames = roll_of(36)
    return cut_card_pdf(plan, frames, FULL, link=LINK, **NAMED).pdf, card(plan, frames, link=LINK)  # type: ignore[arg-type]


def test_the_pdf_measures_true() -> None:
    pdf, made = measured_pdf()
    found = []
    with pdfplumber.open(BytesIO(pdf)) as read:
        for page in read.pages:
            assert (float(page.width) / MM, float(page.height) / MM) == (
                pytest.approx(297, abs=0.01),
                pytest.approx(210, abs=0.01),
            )
            frames = [r for r in page.rects if abs(r["height"] / MM - 24) < 0.1]
            assert all(r["width"] / MM == pytest.approx(36, abs=0.1) for r in frames)
            found += [(page.page_number, r["x0"] / MM, r["top"] / MM) for r in frames]
            rules = [line for line in page.lines if abs(line["width"] / MM - 100) < 0.1]
            assert len(rules) == 1
            for thing in (*page.chars, *page.lines, *page.rects):
                edge = 4.3  # bold lines and outlines may reach half their width over the margin of 5 mm
                assert thing["x0"] / MM > edge and thing["x1"] / MM < 297 - edge
                assert thing["top"] / MM > edge and thing["bottom"] / MM < 210 - edge
    assert len(found) == 36
    rows = [[x for n, x, y in found if n == b.sheet and abs(y - b.film.y - (34.975 - 24) / 2) < 0.1] for b in made.bands]
    assert all(b - a == pytest.approx(38, abs=0.1) for row in rows for a, b in itertools.pairwise(sorted(row)))
    # Film width 34.975 mm: ISO 1007, from memory.
    assert {round(b.film.height, 3) for b in made.bands} == {34.975}


def test_the_raster_shows_cuts_half_way_and_labels_5_mm_high() -> None:
    pdf, made = measured_pdf()
    page = pypdfium2.PdfDocument(pdf)[0]
    dark = np.asarray(page.render(scale=300 / 72, grayscale=True).to_numpy()).squeeze() < 128
    per_mm = 300 / 25.4
    band = made.bands[0]
    # In the rebate above the pictures only the cuts cross the film.
    row = dark[round((band.film.y + 2.5) * per_mm)]
    cut = [x for x in np.flatnonzero(row) / per_mm if abs(x - (band.film.x + 20)) < 2]
    assert sum(cut) / len(cut) == pytest.approx(band.film.x + 20, abs=0.1)
    assert (cut[-1] - cut[0]) == pytest.approx(CUT_WIDTH_MM, abs=0.2)
    # Frame 1 runs from 21 to 57 mm of the band; its figure stands in the middle.
    x, y = band.film.x + 21, band.film.y + (34.975 - 24) / 2
    figure = dark[round((y + 1) * per_mm) : round((y + 23) * per_mm), round((x + 8) * per_mm) : round((x + 28) * per_mm)]
    rows = np.flatnonzero(figure.any(axis=1))
    assert (rows[-1] - rows[0] + 1) / per_mm >= 4.95
    face = TTFont(fontpkg.path("noto-sans"))
    assert LABEL_MM * face["OS/2"].sCapHeight / face["head"].unitsPerEm >= 4.99


def test_what_must_be_read_from_afar_is_large() -> None:
    made = card(*roll_of(36))
    large = [i for s in made.sheets for i in s.items if isinstance(i, Text) and (i.text.startswith(("cut", "strip ")))]
    assert len(large) == 7 + 6  # 7 cuts; the slots of 6 strips
    assert all(i.size >= LABEL_MM for i in large)
    assert "strip 1, frames 1–6, into slot 1" in [i.text for i in large]
    assert sum(t.startswith("same cut: strip") for t in words(made)) == 5


@pytest.mark.skipif(shutil.which("pdftoppm") is None, reason="pdftoppm (poppler-utils) is not installed")
def test_code_fonts_and_equal_bytes(tmp_path: Path) -> None:
    pdf, _ = measured_pdf()
    assert measured_pdf()[0] == pdf
    assert pypdf.PdfReader(BytesIO(pdf)).viewer_preferences.print_scaling == "/None"
    file = tmp_path / "card.pdf"
    file.write_bytes(pdf)
    for dpi, blur in ((300, 0), (150, 0.7)):
        at = tmp_path / f"card{dpi}"
        subprocess.run(["pdftoppm", "-r", str(dpi), "-gray", "-png", "-singlefile", file, at], check=True)
        with Image.open(f"{at}.png") as image:
            seen = image.filter(ImageFilter.GaussianBlur(blur)) if blur else image
            assert [c.text for c in zxingcpp.read_barcodes(seen)] == [LINK]
    fonts = subprocess.run(["pdffonts", file], check=True, capture_output=True, text=True).stdout.splitlines()[2:]
    assert fonts
    assert all(line.split()[-5] == "yes" for line in fonts)  # the column "emb"


def test_overlaps_and_kept_groups_are_never_to_be_cut() -> None:
    frames = list(evenly_spaced(labels(12), FULL, {"9": "overlapped", "10": "overlapped"}))
    frames = [CutFrame(f.label, f.start_mm - (20 if n >= 4 else 0), 36, f.state) for n, f in enumerate(frames)]
    kept = [["1", "2", "3"]]
    plan = plan_cuts(frames, FULL, find_layout("7x6"), kept_together=kept)
    made = card(plan, frames, kept_together=kept)
    # Middles: the two kept gaps, the overlap of 4 and 5 (133 to 151 mm), the pair marked as overlapped.
    assert made.never_mm == (38, 76, 142, 322)
    assert sum(t.startswith("never cut") for t in words(made)) == 3  # the kept group is one mark
    assert "overlapped" in words(made)


def test_wide_clear_film_is_left_out_between_two_cuts() -> None:
    frames = [CutFrame("1", 1, 36), CutFrame("2", 39, 36), CutFrame("3", 115, 36), CutFrame("4", 153, 36)]
    slots = [FreeSlot(1, 1, 100), FreeSlot(2, 4, 100)]
    made = card(plan_cuts(frames, FULL, find_layout("7x6"), free_slots=slots), frames)
    # 6 mm of clear film stay on each strip: 75 + 6 and 115 - 6.
    assert [c.at_mm for c in made.cuts] == [0, 81, 109, 190]
    assert "left out" in words(made)
    assert any("page 2, slot 4" in t or "p. 2, slot 4" in t for t in words(made))


def test_a_frame_cut_in_two_is_cut_in_its_middle() -> None:
    frames = evenly_spaced(labels(4), FULL)
    slots = [FreeSlot(1, n, 234) for n in (1, 2)]
    made = card(own_cuts([["1", "2"], ["2", "3", "4"]], frames, FULL, find_layout("7x6"), slots), frames)
    assert [c.at_mm for c in made.cuts] == [0, 39 + 18, 152]  # frame 2 runs from 39 to 75 mm
    assert made.cuts[1].clear_mm == 0
    assert any("through 2" in t for t in words(made))
    assert_tidy(made.sheets[0], PAPERS["A4"])


def test_film_without_a_gap_to_end_a_band_in_still_runs_on() -> None:
    # 6 × 17 pictures are 168 mm long and this paper leaves 150 - 2 × 5 - 2 × 10 = 120 mm.
    film, narrow = find_format("6x17"), Paper("narrow", "narrow", 150, 300)
    frames = evenly_spaced(labels(2), film)
    made = card(plan_cuts(frames, film, find_layout("120-6x17")), frames, film, paper=narrow, landscape=False)
    assert all(b.to_mm - b.from_mm <= 120 + 1e-6 for b in made.bands)
    joins = [b.after for b in made.bands if b.after]
    assert all(j.overlap_mm == pytest.approx(10) for j in joins)
    assert all(
        (a.to_mm, b.from_mm) == (j.right_mm, j.left_mm) for a, b, j in zip(made.bands, made.bands[1:], joins, strict=False)
    )
    for sheet in made.sheets:
        assert_tidy(sheet, narrow)
    said = words(made)
    assert "1" in said and "2" in said
    # Upper and lower edge of each picture, in pieces that overlap by 10 mm at each join within it.
    edges = [i for s in made.sheets for i in s.items if isinstance(i, Line) and i.width == 0.25 and i.y1 == i.y2]
    inside = sum(any(f.start_mm < j.at_mm < f.start_mm + 168 for f in frames) for j in joins)
    assert sum(i.x2 - i.x1 for i in edges) >= 2 * (2 * 168 + 10 * inside)


def test_frames_without_a_place_are_said() -> None:
    frames = evenly_spaced(labels(36), FULL)
    made = card(plan_cuts(frames, FULL, find_layout("7x5"), one_page=True), frames)
    assert any(t.startswith("no place") for t in words(made))
    assert "36" in words(made)


def test_pages_are_named_as_the_binder_does() -> None:
    plan, frames = roll_of(12)
    said = words(card(plan, frames, pages={1: "Binder 2, page 14"}))
    assert any("Binder 2, page 14, slot 1" in t for t in said)
    assert any("fingers away from the blade" in t for t in said)
    assert any(t.startswith("Wenlow archive · printed 2031-05-01 · sheet 1 of 1 · true size") for t in said)


def test_of_two_pages_even_a_short_strip_says_which() -> None:
    frames = evenly_spaced(labels(3), FULL)
    slots = [FreeSlot(1, 7, 40), FreeSlot(2, 1, 80)]
    plan = plan_cuts(frames, FULL, find_layout("7x6"), free_slots=slots)
    said = words(card(plan, frames, pages={1: "Binder 2, page 14", 2: "Binder 2, page 15"}))
    assert {"slot 7, Binder 2, page 14", "slot 1, Binder 2, page 15"} <= set(said)
    assert {"1: p. 1, slot 7", "p. 1, slot 7"} & set(words(card(plan, frames)))


def test_long_names_in_any_script_stay_on_the_sheet() -> None:
    plan, frames = roll_of(12)
    number = "Found in the attic box after the second move of house 7"
    made = card(
        plan, frames, roll=number, archive_name="Το αρχείο του λιμανιού " * 12, pages={1: "Ordner für alles " * 8}, link=LINK
    )
    assert_tidy(made.sheets[0], PAPERS["A4"])
    assert any(number[-9:] in t for t in words(made))
    assert any("printed 2031-05-01" in t for t in words(made))


def test_what_cannot_be_cut_is_refused_with_a_reason() -> None:
    sheet_film = find_format("sheet-4x5")
    frames = evenly_spaced(["1"], sheet_film)
    with pytest.raises(InvalidInput, match="single pieces"):
        card(plan_cuts(frames, sheet_film, find_layout("sheet-4x5")), frames, sheet_film)
    plan, frames = roll_of(12)
    with pytest.raises(InvalidInput, match="holds frame 5, which isn't on this film"):
        card(plan, frames[:4])
    shifted = [CutFrame(f.label, f.start_mm + (300 if n >= 3 else 0), 36) for n, f in enumerate(frames)]
    with pytest.raises(InvalidInput, match="as measured now"):
        card(plan, shifted)
    with pytest.raises(InvalidInput, match="no strips"):
        card(CutPlan((), "", False, (), 0), frames)
    with pytest.raises(DoesNotFit, match="Choose a larger paper"):
        card(plan, frames, paper=Paper("small", "small", 60, 90))
    backwards = CutPlan(tuple(PlannedStrip((str(n),), 38, 1, n, 1) for n in (2, 1)), "", True, (), 1)
    with pytest.raises(InvalidInput, match="Plan the cuts again"):
        card(backwards, frames)
