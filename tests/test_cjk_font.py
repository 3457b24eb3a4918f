"""Captions in Chinese, Japanese and Korean: a TrueType font that has the characters is embedded in the PDF."""

import io
from collections.abc import Iterator
from pathlib import Path

import pypdf
import pytest
from fontTools.fontBuilder import FontBuilder
from fontTools.pens.ttGlyphPen import TTGlyphPen

from printing import canvas
from printing.items import Sheet, Text

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
def wide_font(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A font that STRIPLEAF_CJK_FONT names, for the length of one test."""
    _font(tmp_path / "boxes.ttf", WORDS)
    monkeypatch.setenv("STRIPLEAF_CJK_FONT", str(tmp_path / "boxes.ttf"))
    canvas._fonts.cache_clear()
    yield
    monkeypatch.undo()
    canvas._fonts.cache_clear()


@pytest.mark.usefixtures("wide_font")
def test_the_named_font_is_embedded_and_what_it_lacks_is_told() -> None:
    painter = canvas.Painter("Captions")
    painter.draw([Sheet(100, 50, (Text(10, 20, 5, f"A {WORDS} 犬"),))])
    (page,) = pypdf.PdfReader(io.BytesIO(painter.finish())).pages
    fonts = {str(f["/BaseFont"]).partition("+")[2]: f for f in (x.get_object() for x in page["/Resources"]["/Font"].values())}
    (boxes,) = (f for name, f in fonts.items() if name.startswith("Boxes"))
    assert "/FontFile2" in boxes["/FontDescriptor"].get_object()
    assert WORDS in page.extract_text()
    assert painter.missing == {"犬"}
