"""Captions in Chinese, Japanese and Korean: a TrueType font that has the characters is always embedded in the PDF."""

import io
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pypdf
import pypdfium2
import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.areaPen import AreaPen
from fontTools.pens.ttGlyphPen import TTGlyphPen
from fontTools.ttLib import TTFont

from printing.canvas import fonts
from printing.canvas import paint as canvas
from printing.canvas.east_asian import manners
from printing.canvas.items import Sheet, Text
from printing.sheets.documents import font_words

WORDS = "富士山の朝"


def _font(path: Path, characters: str) -> None:
    """A font of plain boxes, one for each character: enough to see which font a text is set in."""
    names = [".notdef", *(f"u{ord(c):04X}" for c in characters)]
    pen = TTGlyphPen(None)
    for point in ((100, 0), (900, 0), (900, 800), (100, 800)):
        (pen.lineTo if pen.points else pen.moveTo)(point)
    pen.closePath()
    box = pen.glyph()
    builder = FontBuilder(1000, isTTF=True)
    builder.setupGlyphOrder(names)
    builder.setupCharacterMap({ord(c): f"u{ord(c):04X}" for c in characters})
    builder.setupGlyf(dict.fromkeys(names, box))
    builder.setupHorizontalMetrics(dict.fromkeys(names, (1000, 100)))
    builder.setupHorizontalHeader(ascent=800, descent=-200)
    builder.setupNameTable({"familyName": "Boxes", "styleName": "Regular", "psName": "Boxes-Regular"})
    builder.setupOS2()
    builder.setupPost()
    builder.save(path)


@pytest.fixture
def named(monkeypatch: pytest.MonkeyPatch) -> Iterator[pytest.MonkeyPatch]:
    """Lets a test name a font; what it names is forgotten after it."""
    yield monkeypatch
    monkeypatch.undo()
    fonts.forget()


@pytest.fixture
def wide_font(tmp_path: Path, named: pytest.MonkeyPatch) -> None:
    """A font that STRIPLEAF_CJK_FONT names, for the length of one test."""
    _font(tmp_path / "boxes.ttf", WORDS)
    named.setenv("STRIPLEAF_CJK_FONT", str(tmp_path / "boxes.ttf"))
    fonts.forget()


def embedded(pdf: bytes) -> dict[str, Any]:
    """The fonts of the first page by name, each of which must lie in the file."""
    (page,) = pypdf.PdfReader(io.BytesIO(pdf)).pages
    found = {str(f["/BaseFont"]).partition("+")[2]: f for f in (x.get_object() for x in page["/Resources"]["/Font"].values())}
    assert all("/FontFile2" in font["/FontDescriptor"].get_object() for font in found.values())
    return found


def printed(*texts: str) -> tuple[bytes, canvas.Painter]:
    painter = canvas.Painter("Captions")
    painter.draw([Sheet(100, 50, tuple(Text(10, 10 + 8 * n, 5, text) for n, text in enumerate(texts)))])
    return painter.finish(), painter


@pytest.mark.usefixtures("wide_font")
def test_the_named_font_is_embedded_and_what_it_lacks_comes_from_the_packaged_one() -> None:
    pdf, painter = printed(f"A {WORDS} 犬 \U000140a5")
    assert {name.partition("-")[0] for name in embedded(pdf)} >= {"Boxes", "NotoSans", "NotoSansJP"}
    assert WORDS in pypdf.PdfReader(io.BytesIO(pdf)).pages[0].extract_text()
    assert painter.missing == {"\U000140a5"}  # an Anatolian hieroglyph


@pytest.mark.parametrize(
    ("text", "manner"),
    [
        ("富士山の朝", "JP"),
        ("カメラ", "JP"),
        ("渋谷駅", "JP"),
        ("简体 北京", "SC"),
        ("臺灣國語", "TC"),
        ("한국어 서울 漢江", "KR"),
        ("乭", "KR"),
    ],
)
def test_each_language_has_its_own_forms_and_lies_in_the_file(text: str, manner: str) -> None:
    # By the national lists of characters, in Python's codecs: 渋 and 駅 are in JIS X 0208 alone of the four, 简 in GB 2312,
    # 臺 in Big5 but not in GB 2312, 乭 in KS X 1001.
    assert manners(text)[0] == manner
    for bold in (False, True):
        runs = [run for run in fonts.set_text(text, bold).runs if run.text.strip()]
        assert {run.face.fontName for run in runs} == {f"NotoSans{manner}" + "-Bold" * bold}
    pdf, painter = printed(text)
    assert painter.missing == set()
    assert f"NotoSans{manner}" in embedded(pdf)
    assert pypdfium2.PdfDocument(pdf)[0].get_textpage().get_text_range().split() == text.split()


def test_a_text_of_several_languages_has_each_character_in_a_font_that_has_it() -> None:
    line = fonts.set_text("渋谷の朝, 简, 한글, ㄅ")
    assert line.missing == frozenset()
    assert {run.face.fontName for run in line.runs} == {"NotoSansJP", "NotoSans", "NotoSansSC", "NotoSansKR"}
    for run in line.runs:
        assert all(glyph.number for glyph in run.glyphs or ())


def test_a_font_is_loaded_only_when_a_text_needs_it(named: pytest.MonkeyPatch) -> None:
    fonts.forget()
    fonts.measure("Roll 2031-014 · Ж Ω ế ½", 5)
    assert fonts._east_asian.cache_info().currsize == 0
    fonts.measure("朝の", 5)
    assert fonts._east_asian.cache_info().currsize == 1


@pytest.mark.parametrize(("weight", "bold"), [(400, False), (700, True)])
def test_characters_are_as_wide_and_as_heavy_as_another_library_makes_them(weight: int, bold: bool) -> None:
    # Reference: fontTools, which reads the weight out of the same file. The file's own weight is Thin, 100.
    (font,) = {run.face for run in fonts.set_text(WORDS, bold).runs}
    with TTFont(fonts._east_asian_file("JP")) as file, TTFont(io.BytesIO(font.face._ttf_data)) as own:
        theirs, ours = file.getGlyphSet(location={"wght": weight}), own.getGlyphSet()
        for char in WORDS:
            one, other = theirs[file.getBestCmap()[ord(char)]], ours[own.getBestCmap()[ord(char)]]
            areas = []
            for glyph, glyphs in ((one, theirs), (other, ours)):
                pen = AreaPen(glyphs)
                glyph.draw(pen)
                areas.append(abs(pen.value))
            assert areas[0] == pytest.approx(areas[1], rel=0.01)
            assert font.advance(char) * 1000 == pytest.approx(one.width, abs=1)


@pytest.mark.skipif(shutil.which("pdffonts") is None, reason="pdffonts (poppler-utils) is not installed")
def test_no_font_is_left_to_the_reader(tmp_path: Path) -> None:
    (tmp_path / "a.pdf").write_bytes(printed("富士山の朝 ｶﾒﾗ", "简体 臺灣", "한국어 서울", "قرية קניון", "Ế น้ำ Ж Ω ☺ ①")[0])
    lines = subprocess.run(["pdffonts", tmp_path / "a.pdf"], check=True, capture_output=True, text=True).stdout.splitlines()
    emb = lines[0].index("emb")
    assert len(lines) > 8
    assert {line[emb : emb + 3] for line in lines[2:]} == {"yes"}


def test_what_is_printed_in_place_of_a_missing_character_is_told_as_it_is() -> None:
    _, painter = printed("A \U000140a5 b", "A\U0001e8d0")  # a hieroglyph, and a mark of a script that no font here has
    assert painter.missing == {"\U000140a5", "\U0001e8d0"}
    assert font_words(painter) == (
        " No font here has \U000140a5; each is printed as “?”. No font here has the marks ◌\U0001e8d0; they are left out."
    )
    text = pypdf.PdfReader(io.BytesIO(printed("A \U000140a5 b", "A\U0001e8d0")[0])).pages[0].extract_text()
    assert text.split() == ["A", "?", "b", "A"]
    assert font_words(printed("A Ж 朝 한 קניון قرية Ế น้ำ")[1]) == ""


def test_a_private_character_is_no_glyph_of_another_text() -> None:
    printed("السَّلَامُ عَلَيْكُمْ")  # gives glyphs codes of plane 15 for a while
    codes = {chr(0xF0000 + n) for n in range(20)}
    assert fonts.set_text("قرية " + "".join(sorted(codes))).missing == codes


@pytest.mark.parametrize(
    ("content", "trouble"), [(None, "can't be read"), (b"OTTO" + bytes(60), "TrueType outlines"), (b"no", "TrueType")]
)
def test_a_named_font_that_is_none_is_told_and_the_packaged_one_used(
    content: bytes | None, trouble: str, tmp_path: Path, named: pytest.MonkeyPatch
) -> None:
    if content is not None:
        (tmp_path / "a.otf").write_bytes(content)
    named.setenv("STRIPLEAF_CJK_FONT", str(tmp_path / "a.otf"))
    fonts.forget()
    pdf, painter = printed(WORDS)
    assert "NotoSansJP" in embedded(pdf)
    assert trouble in font_words(painter)
    assert "the font that comes with the program is used" in font_words(painter)


def test_order_and_repetition_change_no_byte() -> None:
    texts = ("富士山の朝", "简体 北京", "臺灣國語", "한국어")
    first = printed(*texts)[0]
    fonts.forget()
    printed(*texts[::-1])
    assert printed(*texts)[0] == first
