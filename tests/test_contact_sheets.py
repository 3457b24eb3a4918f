"""Contact sheets seen from behind, enlarged, marked and with boxes to tick: planned on every page, read back, and as a raster."""

import itertools
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from io import BytesIO
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pdfplumber
import pypdf
import pypdfium2
import pytest
from numpy.typing import NDArray
from PIL import Image
from reportlab.pdfgen.canvas import Canvas

from catalogue.errors import DoesNotFit, InvalidInput
from catalogue.film.formats import BUILT_IN_FORMATS, FilmFormat
from catalogue.paper.sizes import PAPERS, Paper
from catalogue.sleeves.from_behind import seen_from_behind
from catalogue.sleeves.geometry import Rect
from catalogue.sleeves.layouts import BUILT_IN_LAYOUTS, SleeveLayout
from catalogue.sleeves.page_plan import FrameOnStrip, StripInSlot, plan_page
from catalogue.views import FrameChoice, PageView, RollSummary
from printing.canvas.items import Box, Code, Line, Picture, Sheet, Text
from printing.canvas.paint import measure
from printing.contact.film import seen_film
from printing.contact.fit import windows
from printing.contact.marks import MARK_WORDS, crop_as_seen
from printing.contact.options import ContactOptions
from printing.contact.sheet import NO_CHOICES, explanation, lay_out, paint, paper_advice
from printing.sheets import documents
from printing.sheets.documents import contact_sheet_pdf

MM = 72 / 25.4
LINK, ON, ROLL = "http://127.0.0.1:8000/rolls/2031-014", date(2031, 5, 1), "2031-014"
SMALL_BOX = 3.2
WHOLE = ContactOptions(marks=True, boxes=True)


def a_page(layout: str = "135-7x5", film: str = "135-24x36", per: int = 0, strips: int = 0, **more: object) -> PageView:
    """A page full of one roll, made without an archive: frames are numbered from 1, which are their keys too."""
    shape, form = BUILT_IN_LAYOUTS[layout], BUILT_IN_FORMATS[film]
    return page_of(shape, form, per or shape.frames_per_slot(form), strips or shape.slot_count, **more)


def page_of(shape: SleeveLayout, form: FilmFormat, per: int, strips: int, picture: str | None = None, **lying: bool) -> PageView:
    lead = (form.pitch_mm - form.frame_along_mm) / 2
    placed = []
    for n in range(strips):
        keys = range(n * per + 1, n * per + per + 1)
        frames = tuple(
            FrameOnStrip(
                str(key), lead + form.pitch_mm * at, form.frame_along_mm, form.frame_across_mm, picture=picture, frame_id=key
            )
            for at, key in enumerate(keys)
        )
        placed.append(StripInSlot(n + 1, ROLL, n + 1, 0, form.pitch_mm * per, form.gauge_width_mm, frames, **lying))  # type: ignore[arg-type]
    plan = plan_page(shape, placed)
    summary = RollSummary(ROLL, form.name, "Tarn 100", "Fenn 2", "2031-05", "Harbour", f"1-{strips * per}")
    return PageView(1, 1, "Binder 1", 3, shape, "left", False, "", tuple(placed), plan, (summary,), (), "The Wenlow archive")


class Made(NamedTuple):
    sheets: tuple[Sheet, ...]
    scale: float
    explanation: str
    paper: Paper


def planned(
    page: PageView,
    options: ContactOptions,
    paper: str = "A4",
    fit: str = "two sheets",
    choices: Mapping[int, FrameChoice] = NO_CHOICES,
) -> Made:
    plan = lay_out(page, PAPERS[paper], fit=fit, options=options)
    sheets = paint(plan, printed_on=ON, link=LINK, measure=measure, choices=choices)
    return Made(sheets, plan.scale, explanation(plan, choices), plan.paper)


def covers(item: object) -> Rect:
    """What an item covers on paper, half its line included."""
    if isinstance(item, Picture | Code):
        return item.rect
    if isinstance(item, Box):
        return item.rect.inset(-item.width / 2)
    if isinstance(item, Line):
        x, y, half = min(item.x1, item.x2), min(item.y1, item.y2), item.width / 2
        across, down = abs(item.x2 - item.x1), abs(item.y2 - item.y1)
        return Rect(x, y - half, across, 2 * half) if across else Rect(x - half, y, 2 * half, down)
    assert isinstance(item, Text)
    width = measure(item.text, item.size, item.bold)
    return Rect(item.x - (width if item.align == "right" else 0), item.y - 0.72 * item.size, width, 0.95 * item.size)


def outlines(sheet: Sheet) -> list[Rect]:
    return [i.rect for i in sheet.items if isinstance(i, Box) and (i.width, i.grey) == (0.1, 0.3)]


def ticks(sheet: Sheet) -> list[Rect]:
    return [i.rect for i in sheet.items if isinstance(i, Box) and i.width == 0.25]


def check_sheets(made: Made) -> int:
    """Nothing outside the printable area; texts, pictures, boxes to tick and heavy frames apart; the pictures drawn."""
    count = 0
    for sheet in made.sheets:
        edge = made.paper.margin_mm - 0.08  # half a tick of the ruler
        inside = Rect(edge, edge, sheet.width_mm - 2 * edge, sheet.height_mm - 2 * edge)
        assert all(inside.contains(covers(i)) for i in sheet.items), next(
            i for i in sheet.items if not inside.contains(covers(i))
        )
        pictures, boxes = outlines(sheet), ticks(sheet)
        texts = [covers(i) for i in sheet.items if isinstance(i, Text | Code)]
        heavy = [covers(i) for i in sheet.items if isinstance(i, Box) and i.grey == 0 and i.width > 0.5]
        for some, others in ((pictures, pictures), (texts, texts), (boxes, boxes)):
            assert not any(a.overlaps(b) for a, b in itertools.combinations(some, 2)), (some, others)
        for some, others in ((texts, pictures), (boxes, pictures), (boxes, texts), (heavy, texts), (heavy, boxes)):
            assert not any(a.overlaps(b) for a in some for b in others)
        count += len(pictures)
    return count


CASES = [
    (layout.key, next(f.key for f in BUILT_IN_FORMATS.values() if f.gauge in layout.gauges and layout.frames_per_slot(f)))
    for layout in BUILT_IN_LAYOUTS.values()
]


@pytest.mark.parametrize(("layout", "film"), CASES)
def test_every_page_from_both_sides_stays_on_the_sheet_and_apart(layout: str, film: str) -> None:
    page = a_page(layout, film)
    crop = (0.0, 0.25, 0.5, 1.0)
    choices = {f.frame_id: FrameChoice(f.frame_id % 2 == 0, crop) for f in page.plan.frames}
    for side, paper, fit in (("base", "A4", "two sheets"), ("emulsion", "8x10in", "two sheets"), ("emulsion", "A4", "fit")):
        made = planned(page, replace(WHOLE, side=side), paper, fit, choices=choices)
        assert check_sheets(made) == len(page.plan.frames)
        if made.scale == 1:
            assert sum(len(ticks(sheet)) for sheet in made.sheets) == len(page.plan.frames)


def test_a_sheet_from_behind_lies_over_the_page_turned_over() -> None:
    page = a_page()
    behind = seen_from_behind(page.plan)
    assert seen_from_behind(behind) == page.plan
    (front,), (back,) = planned(page, ContactOptions()).sheets, planned(page, ContactOptions(side="emulsion")).sheets
    # Turned over about its upright middle, a sheet of 210 mm has at x what lay at 210 - x.
    turned = [Rect(210 - r.right, r.y, r.width, r.height) for r in outlines(front)]
    for a, b in zip(turned, outlines(back), strict=True):
        assert (a.x, a.y, a.width, a.height) == pytest.approx((b.x, b.y, b.width, b.height))
    words = [t.text for t in back.items if isinstance(t, Text)]
    assert "seen from behind, emulsion side up" in words
    assert any("Rings at the right" in text for text in words)
    assert any("Rings at the left, base side up" in t.text for t in front.items if isinstance(t, Text))


def test_film_turned_over_is_said_to_lie_otherwise() -> None:
    page = a_page(strips=2)
    strips = (page.strips[0], replace(page.strips[1], turned_over=True))
    page = replace(page, strips=strips, plan=plan_page(page.layout, strips))
    words = [t.text for t in planned(page, ContactOptions(side="emulsion")).sheets[0].items if isinstance(t, Text)]
    assert any("base side up, but emulsion side up in slot 1 from the top" in text for text in words)
    assert [f.mirrored for f in seen_film(page, None, ContactOptions(side="emulsion")).frames] == [True] * 5 + [False] * 5


def test_enlarged_to_150_percent_a_frame_measures_54_by_36() -> None:
    page = a_page()
    made = contact_sheet_pdf([page], roll=ROLL, printed_on=ON, link=LINK, options=replace(WHOLE, percent=150))
    # 24 × 36 mm times 1.5; a strip of five is 284.4 mm long with its edges and A4 upright holds 200: three and two a row.
    assert (made.scale, made.sheets) == (1.5, 3)  # on its side: 287 mm hold all five, and three rows of 59.7 mm 183 mm
    seen = 0
    with pdfplumber.open(BytesIO(made.pdf)) as pdf:
        for number, sheet in enumerate(pdf.pages, 1):
            rects = [r for r in sheet.rects if abs(r["width"] / MM - 54) < 0.1 and abs(r["height"] / MM - 36) < 0.1]
            xs = sorted({round(r["x0"] / MM, 2) for r in rects})
            assert all(b - a == pytest.approx(57, abs=0.1) for a, b in itertools.pairwise(xs))  # the pitch of 38, enlarged
            seen += len(rects)
            text = sheet.extract_text()
            assert f"sheet {number} of 3" in text and "enlarged to 150 % of true size" in text
            boxes = [r for r in sheet.rects if abs(r["width"] / MM - SMALL_BOX) < 0.1 and abs(r["height"] / MM - SMALL_BOX) < 0.1]
            assert len(boxes) == len(rects)  # boxes to tick keep their size on paper
    assert seen == 35
    assert "slot 1 from the top · strip 1-5" in pypdf.PdfReader(BytesIO(made.pdf)).pages[0].extract_text()


@pytest.mark.parametrize(
    ("layout", "film", "percent", "side"),
    [("135-7x6", "135-24x36", 150, "emulsion"), ("120-6x6", "120-6x6", 120, "base"), ("slides-20", "slide-50x50", 200, "base"),
     ("sheet-4x5", "sheet-4x5", 110, "emulsion"), ("135-7x6", "135-18x24", 237.5, "base")],
)  # fmt: skip
def test_enlarged_sheets_hold_every_picture_whole_in_order(layout: str, film: str, percent: float, side: str) -> None:
    page = a_page(layout, film)
    choices = {f.frame_id: FrameChoice(True, (0.1, 0, 1, 0.9)) for f in page.plan.frames}
    made = planned(page, replace(WHOLE, percent=percent, side=side), choices=choices)
    assert check_sheets(made) == len(page.plan.frames)
    labels: list[str] = []
    for sheet in made.sheets:
        numbers = [t for t in sheet.items if isinstance(t, Text) and t.text.isdecimal()]
        labels += [t.text for t in sorted(numbers, key=lambda t: (round(t.y, 3), t.x))]
    order = sorted(seen_film(page, None, ContactOptions(side=side)).frames, key=lambda f: (f.slot_from_top, f.rect.x))
    if page.layout.columns == 1:
        assert labels == [f.label for f in order]
    assert sorted(labels, key=int) == sorted((f.label for f in order), key=int)


def test_a_picture_larger_than_the_paper_is_refused_with_the_largest_percentage() -> None:
    page = a_page("120-6x6", "120-6x6")
    # 56 mm of picture and 1.2 mm at both edges in 200 mm: 197.6 / 56 = 3.528, lower than 270 - 4.2 over 61.5 mm of film.
    with pytest.raises(DoesNotFit, match=r"at 400 % that is 224 × 224 mm .* largest percentage that fits is 352 %"):
        planned(page, ContactOptions(percent=400))
    assert planned(page, ContactOptions(percent=352)).scale == 3.52
    with pytest.raises(DoesNotFit, match="352"):
        planned(page, ContactOptions(percent=353))
    with pytest.raises(DoesNotFit, match="Not even 100 %"):
        planned(a_page("sheet-8x10", "sheet-8x10"), ContactOptions(percent=150))
    for wrong in (99, 401, float("nan")):
        with pytest.raises(InvalidInput, match="100 to 400 %"):
            ContactOptions(percent=wrong)
    for odd in ({"side": "front"}, {"balance": "some"}):
        with pytest.raises(InvalidInput, match="Choose one of"):
            ContactOptions(**odd)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("rotated", "mirrored", "expected"),
    [(False, False, (0.1, 0.2, 0.6, 0.9)), (True, False, (0.4, 0.1, 0.9, 0.8)),
     (False, True, (0.4, 0.2, 0.9, 0.9)), (True, True, (0.1, 0.1, 0.6, 0.8))],
)  # fmt: skip
def test_a_crop_goes_with_its_frame(rotated: bool, mirrored: bool, expected: tuple[float, ...]) -> None:
    assert crop_as_seen((0.1, 0.2, 0.6, 0.9), rotated=rotated, mirrored=mirrored) == pytest.approx(expected)


def test_a_crop_over_a_frame_cut_in_two_is_on_both_its_pieces() -> None:
    crop = (0.25, 0.1, 0.75, 0.9)
    assert crop_as_seen(crop, rotated=False, mirrored=False, part="head") == (0.5, 0.1, 1.5, 0.9)
    assert crop_as_seen(crop, rotated=False, mirrored=False, part="tail") == (-0.5, 0.1, 0.5, 0.9)
    assert crop_as_seen((0, 0, 0.4, 1), rotated=False, mirrored=False, part="tail") is None


@pytest.fixture
def cornered(tmp_path: Path) -> str:
    """A light picture with a dark block from 10 to 40 % across and 20 to 50 % down."""
    picture = Image.new("L", (720, 480), 230)
    picture.paste(40, (72, 96, 288, 240))
    picture.save(tmp_path / "block.jpg", quality=95)
    return str(tmp_path / "block.jpg")


def raster(pdf: bytes, rect: Rect) -> NDArray[np.uint8]:
    """A rectangle of the first page, in mm, at 300 dpi."""
    seen = np.asarray(pypdfium2.PdfDocument(pdf)[0].render(scale=300 / 72, grayscale=True).to_numpy()).squeeze()
    x0, y0, x1, y1 = (round(v * 300 / 25.4) for v in (rect.x, rect.y, rect.right, rect.bottom))
    return np.asarray(seen[y0:y1, x0:x1])


def dark_part(seen: NDArray[np.uint8]) -> tuple[float, float, float, float]:
    """Where the block is, in parts of the picture: left, top, right, bottom."""
    dark = seen < 90
    down, across = np.flatnonzero(dark.mean(axis=1) > 0.15), np.flatnonzero(dark.mean(axis=0) > 0.15)
    high, wide = seen.shape
    return float(across[0] / wide), float(down[0] / high), float((across[-1] + 1) / wide), float((down[-1] + 1) / high)


@pytest.mark.parametrize("side", ["base", "emulsion"])
@pytest.mark.parametrize("lying", [{}, {"upside_down": True}, {"turned_over": True}])
def test_at_300_dpi_picture_and_crop_are_turned_alike(cornered: str, side: str, lying: dict[str, bool]) -> None:
    page = a_page(strips=1, per=3, picture=cornered, **lying)
    options, crop = ContactOptions(side=side), (0.1, 0.2, 0.4, 0.5)
    plain = contact_sheet_pdf([page], printed_on=ON, link=LINK, options=options).pdf
    rect = outlines(planned(page, options).sheets[0])[0]
    found = dark_part(raster(plain, rect.inset(0.2)))
    over, down = bool(lying.get("turned_over")), bool(lying.get("upside_down")) != bool(lying.get("turned_over"))
    left = (0.6 if down else 0.1) if over == (side == "emulsion") else (0.1 if down else 0.6)
    assert found == pytest.approx((left, 0.5 if down else 0.2, left + 0.3, 0.8 if down else 0.5), abs=0.012)
    key = page.plan.frames[0].frame_id
    marked = planned(page, replace(options, marks=True), choices={key: FrameChoice(False, crop)}).sheets[0]
    lines = [i for i in marked.items if isinstance(i, Line) and i.width == 0.15 and i.grey == 0 and rect.contains(covers(i))]
    assert len(lines) == 4
    xs, ys = [x for i in lines for x in (i.x1, i.x2)], [y for i in lines for y in (i.y1, i.y2)]
    drawn = [(min(xs) - rect.x) / 36, (min(ys) - rect.y) / 24, (max(xs) - rect.x) / 36, (max(ys) - rect.y) / 24]
    assert drawn == pytest.approx(list(found), abs=0.015)


def test_marks_and_boxes_lie_where_they_are_meant_to() -> None:
    page = a_page()
    choices = {1: FrameChoice(True), 2: FrameChoice(False, (0.25, 0.25, 0.75, 0.75)), 99: FrameChoice(True)}
    made = contact_sheet_pdf([page], printed_on=ON, link=LINK, options=WHOLE, choices=choices)
    with pdfplumber.open(BytesIO(made.pdf)) as pdf:
        sheet = pdf.pages[0]
        frames = [r for r in sheet.rects if abs(r["width"] / MM - 36) < 0.1 and abs(r["height"] / MM - 24) < 0.1]
        # A heavy line of 0.7 mm runs 0.12 mm outside the picture: its middle measures 36 + 2 × 0.47 by 24 + 2 × 0.47.
        (select,) = [r for r in sheet.rects if abs(r["width"] / MM - 36.94) < 0.05 and abs(r["height"] / MM - 24.94) < 0.05]
        assert (select["linewidth"] / MM, frames[0]["x0"] / MM - select["x0"] / MM) == pytest.approx((0.7, 0.47), abs=0.01)
        boxes = [r for r in sheet.rects if abs(r["width"] / MM - SMALL_BOX) < 0.05 and abs(r["height"] / MM - SMALL_BOX) < 0.05]
        assert len(boxes) == len(frames) == 35
        for frame, box in zip(frames, boxes, strict=True):
            assert (frame["x1"] - box["x1"]) / MM == pytest.approx(0.2, abs=0.02)
            # In the middle of the rebate: (34.975 - 24) / 2 = 5.4875, less 3.2, halved.
            assert (box["top"] - frame["bottom"]) / MM == pytest.approx(1.14375, abs=0.02)
        thin = [
            line for line in sheet.lines if abs(line["linewidth"] / MM - 0.15) < 0.01 and abs(line["x1"] - line["x0"]) / MM > 15
        ]
        assert sorted(round((i["x0"] - frames[1]["x0"]) / MM, 1) for i in thin if i["stroking_color"] == 0.0) == [
            9.0,
            9.0,
        ]
        assert "Heavy frame: select. Corner marks: crop." in sheet.extract_text()
    assert (
        "Heavy frame"
        not in pypdf.PdfReader(BytesIO(contact_sheet_pdf([page], printed_on=ON, link=LINK).pdf)).pages[0].extract_text()
    )
    unmarked = contact_sheet_pdf([page], printed_on=ON, link=LINK, options=WHOLE)
    assert "No frame on it is marked as a select or cropped." in unmarked.explanation


def test_boxes_go_between_strips_or_their_lack_is_said() -> None:
    page = a_page("120-6x6", "120-6x6")
    film = seen_film(page, None, WHOLE)
    # The rebate of 120 is (61.5 - 56) / 2 = 2.75 mm; 67 - 61.5 = 5.5 mm are free between two strips.
    assert film.ticks[0] == Rect(film.frames[0].rect.right - 3.4, film.strips[0].rect.bottom + 0.5, 3.2, 3.2)
    tight = page_of(
        replace(page.layout, row_pitch_mm=64, slot_width_mm=62, index_area=Rect(18, 1, 20, 20)), BUILT_IN_FORMATS["120-6x6"], 3, 4
    )
    made = planned(tight, WHOLE)
    assert len(ticks(made.sheets[0])) == 3  # below the last strip nothing lies
    assert (
        "9 of 12 frames don't have room for a box to tick: 4.2 mm free of pictures are needed and 2.8 mm are there."
        in made.explanation
    )
    assert check_sheets(made) == 12


def test_papers_are_advised_with_what_each_edge_loses() -> None:
    a4 = Paper("A4", "A4", 210, 297)
    (found,) = paper_advice(a_page("135-7x6"), papers=[a4])
    # 6 × 38 = 228 mm in 200: 28 short; the blank 1 mm at both ends goes first, the other 26 from the open side;
    # the last frame of each of seven strips is cut.
    assert found == (
        "A4: 28.0 mm across short of one sheet at true size; portrait and printed anyway it loses "
        "1.0 mm at the ring side and 27.0 mm at the open side and cuts 7 of 42 pictures."
    )
    page = a_page("135-7x6")
    behind = replace(page, plan=plan_page(page.layout, page.strips, ring_side="right"))
    # The ring side is the other one, twice.
    assert paper_advice(behind, papers=[a4], options=ContactOptions(side="emulsion")) == (found,)
    mounts = a_page("slides-20", "slide-50x50")
    (slides,) = paper_advice(mounts, papers=[a4])
    # Four mounts of 50 mm, 55 mm apart, are 215 mm across in 200; 7.5 mm beside the outer pictures of 35 mm are blank.
    assert "loses 7.5 mm at the ring side and 7.5 mm at the open side, all of it blank film." in slides
    (wide,) = paper_advice(a_page("135-7x6", per=6, strips=3), papers=[a4])
    assert wide.startswith("A4, landscape: true size on one sheet, with 59.0 mm across and")
    assert wide.endswith("portrait is 28.0 mm across short.")
    assert len(paper_advice(page)) == len(PAPERS)


def test_each_page_is_laid_out_once_and_the_same_input_gives_the_same_bytes(monkeypatch: pytest.MonkeyPatch) -> None:
    pages = [a_page(strips=2), replace(a_page(strips=3), id=2, number=4)]
    calls: list[int] = []
    real = documents.lay_out

    def counted(page: PageView, *args: object, **more: object) -> object:
        calls.append(page.id)
        return real(page, *args, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(documents, "lay_out", counted)
    options = replace(WHOLE, side="emulsion", percent=130, balance="common")
    made = [
        contact_sheet_pdf(pages, roll=[ROLL], printed_on=ON, link=LINK, options=options, choices={2: FrameChoice(True)})
        for _ in range(2)
    ]
    assert calls == [1, 2, 1, 2]
    assert made[0].pdf == made[1].pdf
    texts = [sheet.extract_text() for sheet in pypdf.PdfReader(BytesIO(made[0].pdf)).pages]
    assert [f"sheet {n} of {made[0].sheets}" in text for n, text in enumerate(texts, 1)] == [True] * made[0].sheets


def test_several_rolls_of_a_page_leave_the_others_off() -> None:
    page = a_page(strips=3)
    names = ("2031-014", "2031-015", "2031-016")
    strips = tuple(replace(s, roll=name) for s, name in zip(page.strips, names, strict=True))
    rolls = tuple(replace(page.rolls[0], number=name) for name in names)
    page = replace(page, strips=strips, rolls=rolls, plan=plan_page(page.layout, strips))
    made = contact_sheet_pdf([page], roll=names[:2], printed_on=ON, link=LINK)
    text = pypdf.PdfReader(BytesIO(made.pdf)).pages[0].extract_text()
    assert [name in text for name in names] == [True, True, False]
    with pdfplumber.open(BytesIO(made.pdf)) as pdf:
        assert sum(abs(r["width"] / MM - 36) < 0.1 for r in pdf.pages[0].rects) == 10


@pytest.mark.parametrize(
    ("balance", "words"), [("each", "each picture balanced by itself"), ("common", "one exposure for all pictures")]
)
def test_the_sheet_says_how_its_pictures_are_balanced(cornered: str, balance: str, words: str) -> None:
    made = contact_sheet_pdf(
        [a_page(strips=1, picture=cornered)], printed_on=ON, link=LINK, options=ContactOptions(balance=balance)
    )
    assert words in pypdf.PdfReader(BytesIO(made.pdf)).pages[0].extract_text()


def test_strips_longer_than_the_paper_lie_the_way_that_holds_them() -> None:
    """Pictures some 84 mm long where 82 mm are printable across: upright not one goes on, lying down each strip does."""
    film = seen_film(a_page("120-6x4.5", "120-6x9", 2, 2), None, ContactOptions())
    paper = Paper("narrow", "Narrow", 92.0, 400.0, 5.0)
    parts, landscape = windows(paper, film)
    assert landscape and len(parts) == 2
    assert all(any(part.contains(f.rect) for part in parts) for f in film.frames)


@pytest.mark.parametrize("marks", [True, False])
def test_the_foot_says_what_marks_mean_only_where_they_are_drawn(marks: bool) -> None:
    sheet = planned(a_page(), ContactOptions(marks=marks), choices={1: FrameChoice(True, None)}).sheets[0]
    assert any(isinstance(item, Text) and MARK_WORDS in item.text for item in sheet.items) is marks


def test_the_private_part_of_the_pdf_library_is_there() -> None:
    """`Canvas._code`: the page's operators as a list of text, to which the painter adds a clip of its own."""
    pdf = Canvas(BytesIO())
    operators = getattr(pdf, "_code", None)
    assert isinstance(operators, list), "Canvas._code is gone: paint.py clips pictures through it"
    pdf.rect(0, 0, 1, 1)
    assert all(isinstance(one, str) for one in operators) and len(operators) > 0 and operators is pdf._code
