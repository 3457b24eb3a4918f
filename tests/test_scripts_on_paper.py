"""Text in any script on paper: joined, in reading order, as wide as measured, readable again, and told where it can't be."""

import io
import itertools
import shutil
import subprocess
import unicodedata
from pathlib import Path

import fontpkg
import numpy as np
import pdfplumber
import pypdf
import pypdfium2
import pytest
import uharfbuzz
from bidi import get_display
from hypothesis import given, settings
from hypothesis import strategies as st

from printing.canvas import direction, fonts
from printing.canvas.items import Sheet, Text, fitted
from printing.canvas.paint import Painter, StreamingPainter, measure
from printing.canvas.typesetting import Glyph, SetLine, set_line

MM = 72 / 25.4
VILLAGE = "قرية عين الزيتون 2031"
POINTED = "בָּרָא שַׁבָּת"
TEXTS = (
    VILLAGE,
    POINTED,
    "قرية 2031-014 (صيف)",
    "קניון (A-12/3) צילום 5°C",
    "صورة: السَّلَامُ عَلَيْكُمْ لا",
    "می\u200cخواهم ۱۲۳",
    "नमस्ते क्षत्रिय",
    "ที่น้ำตก",
    "Ünïcødé Tiếng Việt Ελληνικά Кириллица m̄",
)


def printed(*texts: Text, width: float = 120) -> tuple[bytes, Painter]:
    painter = Painter("Scripts")
    painter.draw([Sheet(width, 40, texts)])
    return painter.finish(), painter


def chars_of(pdf: bytes) -> list[dict[str, object]]:
    """The characters on the first page from left to right, as an independent reader finds them."""
    with pdfplumber.open(io.BytesIO(pdf)) as opened:
        return sorted(opened.pages[0].chars, key=lambda char: (char["x0"], char["x1"]))


def from_left(text: str) -> str:
    return "".join(str(char["text"]) for char in chars_of(printed(Text(10, 20, 5, text))[0]))


def line_of(text: str, bold: bool = False) -> SetLine:
    return fonts.set_text(text, bold)


def glyphs_of(text: str) -> list[Glyph]:
    return [glyph for run in line_of(text).runs for glyph in run.glyphs or ()]


class Plain:
    """A face that has every character, one as wide as another, and never shapes."""

    fontName, bold, shaper = "Plain", False, None

    def has(self, char: str) -> bool:
        return True

    def advance(self, text: str) -> float:
        return float(len(text))

    def character(self, glyph: Glyph) -> str:
        return glyph.text


def reference(text: str, package: str, *, leftward: bool, weight: int = 400) -> list[tuple[int, int]]:
    """Glyph numbers and advances from left to right, shaped by HarfBuzz straight from the packaged file."""
    font = uharfbuzz.Font(uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(fontpkg.path(package, weight=weight)))))
    font.set_variations({"wght": weight})
    buffer = uharfbuzz.Buffer()
    buffer.add_str(text)
    buffer.guess_segment_properties()
    buffer.language = "und"
    assert buffer.direction == ("rtl" if leftward else "ltr")
    uharfbuzz.shape(font, buffer, {"liga": False, "dlig": False})
    return [(i.codepoint, p.x_advance) for i, p in zip(buffer.glyph_infos, buffer.glyph_positions, strict=True)]


@pytest.mark.parametrize(
    ("text", "package", "leftward"),
    [
        *((word, "amiri", True) for word in ("قرية", "بيت", "لا", "دار", "عَلَيْكُمْ", "می\u200cخواهم", "ٹھنڈا", "پیام")),
        *((word, "heebo", True) for word in ("קניון", "בָּרָא", "שַׁבָּת")),
        *((word, "noto-sans-thai", False) for word in ("ที่", "น้ำตก", "กำ")),
        *((word, "noto-sans", False) for word in ("m̄n", "क्षत्रिय", "नमस्ते")),
    ],
)
@pytest.mark.parametrize("bold", [False, True])
def test_glyphs_are_those_of_harfbuzz_from_the_same_file(text: str, package: str, leftward: bool, bold: bool) -> None:
    """Order, forms and widths; the reference has the file at its variable weight, the print a copy of fixed weight."""
    expected = reference(text, package, leftward=leftward, weight=700 if bold else 400)
    (face,) = {run.face for run in line_of(text, bold).runs}
    glyphs = [glyph for run in line_of(text, bold).runs for glyph in run.glyphs or ()]
    ignored = {face.shaper.get_nominal_glyph(0x200C), face.shaper.get_nominal_glyph(0x20)}
    assert [g.number for g in glyphs] == [number for number, width in expected if width or number not in ignored]
    assert sum(g.advance for g in glyphs) * face.shaper.face.upem == pytest.approx(
        sum(w for _, w in expected), abs=1 + len(glyphs)
    )


def test_arabic_letters_change_form_where_they_join() -> None:
    # The Unicode Standard, section 9.2: beh, yeh, teh, qaf join on both sides, reh, dal and alef on the right only;
    # lam and alef join into one stroke. A form that joins is another glyph than the letter alone, whatever the font.
    def alone(text: str) -> list[int]:
        return [glyph.number for letter in reversed(text) for glyph in glyphs_of(letter)]

    assert all(a != b for a, b in zip([g.number for g in glyphs_of("بيت")], alone("بيت"), strict=True))
    assert [g.number for g in glyphs_of("دار")] == alone("دار")
    joined = [g.number for g in glyphs_of("قرية")]
    assert not set(joined) & set(alone("قرية"))
    assert [g.number for g in glyphs_of("لا")] != alone("لا")
    assert [g.number for g in glyphs_of("ل\u200cا")] == alone("لا")  # a non-joiner keeps them apart


@pytest.mark.parametrize(
    ("memory", "display"),
    [
        ("car means CAR.", "car means RAC."),
        ("\u2067car MEANS CAR.\u2069", ".RAC SNAEM car"),
        ("he said “\u2067car MEANS CAR\u2069.”", "he said “RAC SNAEM car.”"),
        ("\u2067DID YOU SAY ’\u2066he said “\u2067car MEANS CAR\u2069”\u2069‘?\u2069", "?‘he said “RAC SNAEM car”’ YAS UOY DID"),
    ],
)
def test_the_worked_examples_of_the_standard(memory: str, display: str) -> None:
    # UAX #9, section 3.4, the four examples under rule L2, cited from memory; capitals stand for right-to-left letters.
    # The base direction that they state is set by isolates here.
    hebrew = str.maketrans(dict(zip("CARMENSDIYOU", "אבגדהוזחטיכל", strict=True)))
    placed = "".join(run.text if run.glyphs is None else run.text[::-1] for run in line_of(memory.translate(hebrew)).runs)
    assert placed == display.translate(hebrew)


@pytest.mark.parametrize(
    ("text", "on_paper"),
    [
        ("קניון שמש", "שמש ןוינק"),
        ("abc קניון def", "abc ןוינק def"),
        ("צילום 2031", "2031 םוליצ"),
        ("קניון (A) צילום", "םוליצ (A) ןוינק"),
        ("דף [3]!", "![3] ףד"),
    ],
)
def test_hebrew_lies_from_right_to_left_and_latin_within_it_does_not(text: str, on_paper: str) -> None:
    # Written out by hand after UAX #9, rules W1–L4.
    assert from_left(text) == on_paper


@settings(max_examples=400, deadline=None)
@given(st.text("abאבגجدה 12٣٤,.:+%$·!()[]«»\u05b8\u0301\u2066\u2067\u2069", max_size=14), st.sampled_from("LR"))
def test_the_order_is_that_of_another_program(text: str, base: str) -> None:
    # Reference: the Rust crate unicode-bidi, which `get_display` calls; the rules used here are python-bidi's older own ones
    # with brackets and isolates added.
    text = unicodedata.normalize("NFC", f"{'a' if base == 'L' else 'א'}{text}.")
    while text.count("\u2069") < text.count("\u2066") + text.count("\u2067"):
        text += "\u2069"
    text = {"L": "abc def ", "R": "אבג גבא "}[base] * 4 + text
    if direction._NUMBER.search(text) or " · " in text:
        return  # held together, and held apart, on purpose
    placed = "".join(run.text for run in set_line(text, [Plain()]).runs)
    expected = get_display(text, base_dir=base) if any(map(direction.is_leftward, text)) else text
    assert placed == "".join(char for char in expected if char not in direction.SIGNS)


@settings(max_examples=400, deadline=None)
@given(st.text("aאج1٣ -(\u05b8\u200d\u200f\u202b\u202e\u202c\u2066\u2067\u2068\u2069\u0378\ufe0f\U000e0041\n", max_size=10))
def test_no_sign_stops_a_text_and_no_letter_is_lost(text: str) -> None:
    kept = [c for c in unicodedata.normalize("NFC", text) if unicodedata.category(c) != "Cf" and c != "\ufe0f"]
    placed = "".join(run.text for run in set_line(text, [Plain()]).runs)
    assert sorted(placed) == sorted("".join(kept).replace("\n", " "))
    assert line_of(text).width >= 0


def test_a_roll_number_is_never_turned_round() -> None:
    # By UAX #9 alone the digits after Arabic letters become 014-2031 (rules W2 and W4); HL4 lets a program hold them together.
    assert get_display("قرية 2031-014").startswith("014-2031")
    for text in ("قرية 2031-014", "2031-014 قرية", "קניון 2031-014, 1–35", "صورة 2031-05-01"):
        assert line_of(text).missing == frozenset()
        assert any(number in from_left(text) for number in ("2031-014", "2031-05-01"))
    assert "1–35" in from_left("קניון 2031-014, 1–35")


def test_a_line_in_english_keeps_its_direction_around_an_arabic_name() -> None:
    line = from_left("ملف, page 14 · sheet 1 of 2")
    assert line.endswith(", page 14 · sheet 1 of 2")
    assert from_left("35 mm, 24 × 36 · קניון, שמש").startswith("35 mm, 24 × 36 · ")
    assert from_left("قرية عين الزيتون, page").startswith("page ,")


def test_fields_between_middle_dots_keep_their_order() -> None:
    # UAX #9, HL4: each part of a structured text may be ordered by itself.
    line = from_left("35 mm · קניון · שמש (A-12/3) · end")
    assert line == f"35 mm · {'קניון'[::-1]} · (A-12/3) {'שמש'[::-1]} · end"
    assert from_left("קניון · שמש") == f"{'שמש'[::-1]} · {'קניון'[::-1]}"  # a line that is Hebrew throughout begins on the right
    for text in ("a · קניון", "קניון · ", " · קניון · · 12"):
        assert len(direction.levels(text)) == len(text)


def test_directions_can_be_set_by_hand() -> None:
    assert from_left("abc \u2067קניון, a\u2069 d") == "abc a ,ןוינק d"
    assert from_left("abc \u2068קניון, א\u2069 d") == "abc א ,ןוינק d"
    assert from_left("35 mm · \u2068קניון 7\u2069 · \u2068שמש\u2069") == "35 mm · 7 ןוינק · שמש".replace("שמש", "שמש"[::-1])
    assert from_left("\u2066abc 1\u2069 קניון") == "ןוינק abc 1"


@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("align", ["left", "middle", "right"])
@pytest.mark.parametrize("text", [VILLAGE, "קניון (A-12/3)", "abc عين 12", "Roll 2031-014"])
def test_a_text_is_as_wide_as_measured_and_lies_where_it_is_asked_for(text: str, align: str, bold: bool) -> None:
    pdf, _ = printed(Text(60, 20, 5, text, bold, align))
    chars = chars_of(pdf)
    width = measure(text, 5, bold)
    left = 60 - {"left": 0, "middle": width / 2, "right": width}[align]
    assert chars[0]["x0"] / MM == pytest.approx(left, abs=0.05)
    assert max(char["x1"] for char in chars) / MM == pytest.approx(left + width, abs=0.05)
    dark = np.asarray(pypdfium2.PdfDocument(pdf)[0].render(scale=300 / 72, grayscale=True).to_numpy()).squeeze() < 160
    inked = np.flatnonzero(dark.any(axis=0)) / (300 / 25.4)
    assert left - 0.3 < inked[0] < left + 0.8
    assert left + width - 0.8 < inked[-1] < left + width + 0.3


def test_points_and_vowel_signs_take_no_room_of_their_own() -> None:
    def bare(text: str) -> str:
        return "".join(char for char in text if unicodedata.category(char) != "Mn")

    assert measure(POINTED, 5) == pytest.approx(measure(bare(POINTED), 5), abs=0.01)
    for text in (POINTED, "عَلَيْكُمْ"):  # some fonts spread letters to make room for marks; the marks themselves have no width
        marks = [glyph for glyph in glyphs_of(text) if glyph.text and not bare(glyph.text)]
        assert len(marks) >= 4
        assert {glyph.advance for glyph in marks} == {0.0}
    # A qamats hangs under its letter and a fatha stands over it: the mark's box lies within the letter's.
    letters = {str(c["text"]): c for c in chars_of(printed(Text(10, 20, 5, "רָ"))[0])}
    assert letters["ר"]["x0"] - 0.5 < letters["ָ"]["x0"] < letters["ר"]["x1"]


def test_text_shrinks_then_is_cut_and_never_overflows() -> None:
    for text in (VILLAGE * 3, POINTED * 4, "קניון (A-12/3) " * 5):
        for room in (60, 25, 8):
            shown, size = fitted(text, room, 4, 2.5, measure)
            assert 0 < measure(shown, size) <= room
            assert max(char["x1"] for char in chars_of(printed(Text(5, 20, size, shown))[0])) / MM <= 5 + room + 0.05


@pytest.mark.parametrize("text", TEXTS)
def test_every_character_can_be_read_out_of_the_pdf_again(text: str) -> None:
    def counted(found: str) -> list[str]:
        return sorted(char for char in unicodedata.normalize("NFD", found) if char.isprintable() and not char.isspace())

    pdf, painter = printed(Text(10, 20, 5, text))
    assert painter.missing == set()
    assert counted(pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()) == counted(text)
    assert counted("".join(str(char["text"]) for char in chars_of(pdf))) == counted(text)


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="pdftotext (poppler-utils) is not installed")
@pytest.mark.parametrize("text", [VILLAGE, "קניון שמש 12", "خواهم لا پیام", "abc קניון def"])
def test_a_reader_of_pdfs_gives_the_letters_in_reading_order(text: str, tmp_path: Path) -> None:
    (tmp_path / "a.pdf").write_bytes(printed(Text(10, 20, 5, text, bold=True))[0])
    found = subprocess.run(["pdftotext", tmp_path / "a.pdf", "-"], check=True, capture_output=True, text=True).stdout
    # Spaces are guessed by readers from the gaps, so they are left out here.
    assert "".join(c for c in found if unicodedata.category(c) not in ("Cf", "Cc", "Zs")) == text.replace(" ", "")


@pytest.mark.parametrize("bold", [False, True])
def test_no_box_stands_for_a_glyph_that_a_font_lacks(bold: bool) -> None:
    runic, rare_mark = "ᚠ", "\u05bd"  # the meteg is the one common point that the Hebrew font lacks
    for text in (*TEXTS, f"A{runic}", f"א{rare_mark}", f"قر{runic}ية"):
        line = line_of(text, bold)
        assert line.missing == {char for char in text if char in (runic, rare_mark)}
        for run in line.runs:
            assert all(glyph.number for glyph in run.glyphs or ())
            assert run.glyphs is not None or all(char == " " or run.face.has(char) for char in run.text)
        assert sum(run.text.count("?") for run in line.runs) == text.count(runic)


def test_bold_is_a_weight_of_its_own() -> None:
    pdf, painter = printed(*(Text(10, y, 5, "Roll 2031-014 قرية קניון", bold) for y, bold in ((15, False), (30, True))))
    assert {"NotoSans-Bold", "Amiri-Bold", "Heebo-Bold"} < painter.fonts
    dark = 255 - np.asarray(pypdfium2.PdfDocument(pdf)[0].render(scale=300 / 72, grayscale=True).to_numpy()).squeeze()
    half = dark.shape[0] // 2
    assert dark[half:].sum() > 1.25 * dark[:half].sum()
    # OpenType: advance widths of Noto Sans Bold in units of 1000 to the em, read by another library from the same file.
    from fontTools.ttLib import TTFont
    from fontTools.varLib.instancer import instantiateVariableFont

    with TTFont(fontpkg.path("noto-sans")) as font:
        for table in ("GSUB", "GPOS", "GDEF", "glyf", "gvar", "loca"):
            del font[table]
        wide = instantiateVariableFont(font, {"wght": 700, "wdth": 100})["hmtx"]
        assert measure("R8", 1000, True) == pytest.approx(wide["R"][0] + wide["eight"][0], abs=2)


def test_fonts_are_embedded_and_the_same_text_gives_the_same_bytes() -> None:
    def sheet() -> bytes:
        return printed(*(Text(5, 5 + 3 * n, 2.5, text, bool(n % 2)) for n, text in enumerate(TEXTS)))[0]

    first = sheet()
    printed(Text(10, 20, 5, "بيت آخر وصور كثيرة"))  # glyphs that no sheet has had before
    assert sheet() == first
    fonts.forget()
    printed(Text(10, 20, 5, "صور كثيرة"))
    assert sheet() == first
    (page,) = pypdf.PdfReader(io.BytesIO(first)).pages
    held = [font.get_object() for font in page["/Resources"]["/Font"].values()]
    assert len({font["/BaseFont"] for font in held}) == len(held) == 6
    assert all("/FontFile2" in font["/FontDescriptor"].get_object() for font in held)
    assert all("/ToUnicode" in font for font in held)


def test_joined_letters_touch_on_paper() -> None:
    # "بيت" is one stroke along the line: no white column between its ends, as there is between letters that don't join.
    def gaps(text: str) -> int:
        pdf, _ = printed(Text(10, 20, 8, text), width=60)
        dark = np.asarray(pypdfium2.PdfDocument(pdf)[0].render(scale=600 / 72, grayscale=True).to_numpy()).squeeze() < 128
        columns = np.flatnonzero(dark.any(axis=0))
        return sum(b - a > 1 for a, b in itertools.pairwise(columns))

    assert gaps("بيت") == 0
    assert gaps("دار") == 2


@pytest.mark.parametrize("package", ["amiri", "heebo", "noto-sans-thai"])
def test_no_character_of_a_font_becomes_a_box_when_it_is_shaped(package: str) -> None:
    shaper = uharfbuzz.Font(uharfbuzz.Face(uharfbuzz.Blob.from_file_path(str(fontpkg.path(package)))))
    letters = [chr(code) for code in sorted(shaper.face.unicodes) if unicodedata.category(chr(code))[0] in "LMN"]
    assert len(letters) > 80
    for text in ("".join(letters[n : n + 50]) for n in range(0, len(letters), 50)):
        line = line_of(text)
        assert line.missing == frozenset()
        assert all(glyph.number for run in line.runs for glyph in run.glyphs or ())


def test_plain_text_is_as_wide_as_the_packaged_file_says() -> None:
    # OpenType: advance widths of the file as it is, whose own weight is Regular; layouts made for them stay as they were.
    from fontTools.ttLib import TTFont

    with TTFont(fontpkg.path("noto-sans")) as font:
        widths, cmap, em = font["hmtx"], font.getBestCmap(), font["head"].unitsPerEm
        for text in ("Roll 2031-014, frames 1–36A", "35 mm · 24 × 36 mm", "Ünïcødé Tiếng Việt", "Ελληνικά", "Кириллица"):
            text = unicodedata.normalize("NFC", text)
            assert measure(text, 5) == pytest.approx(sum(widths[cmap[ord(char)]][0] for char in text) * 5 / em, abs=0.02)


def test_a_pdf_written_page_by_page_has_the_same_text_and_fonts() -> None:
    out = io.BytesIO()
    painter = StreamingPainter("Book", out)
    texts = (VILLAGE, POINTED, "ที่น้ำตก", "富士山の朝", "한국어", "Tiếng Việt m̄")
    for text in texts:
        painter.draw([Sheet(120, 40, [Text(10, 20, 5, text), Text(10, 30, 5, text, bold=True)])])
    painter.close()
    whole = Painter("Book")
    whole.draw([Sheet(120, 40, [Text(10, 20, 5, text), Text(10, 30, 5, text, bold=True)]) for text in texts])
    pages, others = (pypdf.PdfReader(io.BytesIO(pdf)).pages for pdf in (out.getvalue(), whole.finish()))
    assert [page.extract_text() for page in pages] == [page.extract_text() for page in others]
    found = pypdfium2.PdfDocument(out.getvalue())
    assert found[3].get_textpage().get_text_range().split() == ["富士山の朝"] * 2
    assert painter.missing == set()
