"""The fonts of all that is printed, which of them a text needs, and how each gets into a PDF: embedded, without exception.

Noto Sans, and fonts for the scripts that it lacks, come from packages. Those for Chinese, Japanese and Korean are large and
loaded when a text first needs them. Paper looks the same on every machine: fonts that happen to be installed are not used.
"""

import itertools
import os
import unicodedata
from functools import lru_cache
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from threading import RLock
from typing import Any

import fontpkg
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFError, TTFont

from printing.canvas.east_asian import manners
from printing.canvas.typesetting import Glyph, SetLine, cleaned, has_character, instance, set_line, shaper_of

LATIN = "NotoSans"
_SCRIPTS = {LATIN: "noto-sans", "Amiri": "amiri", "Heebo": "heebo", "NotoSansThai": "noto-sans-thai"}
"""Fonts and their packages, in the order in which they are asked for a character. Amiri is Arabic, Heebo is Hebrew."""
_PRIVATE = 0xF0000  # Plane 15: while a PDF is made, glyphs that no single character stands for have codes here
_NOTHING = "200B"  # a zero-width space, for a glyph that is but part of a character: left out, readers show its code
ONE_AT_A_TIME = RLock()
"""Held while fonts are loaded, which is done once, and while they are written: a font file has one reading position."""


class Embedded(TTFont):  # type: ignore[misc]
    """A TrueType font whose glyphs can also be painted by number; the PDF then tells what characters each stands for."""

    def __init__(self, name: str, file: Path, weight: int | None = None) -> None:
        """Weight None takes the file as it is. Raises `TTFError` where the file is no font with TrueType outlines."""
        data = file.read_bytes() if weight is None else instance(file, weight)
        super().__init__(name, BytesIO(data))
        # Two fonts of one face name would be one to ReportLab, and a file says Regular at every weight.
        self.face.name = self.face.name + b"-" + name.encode() if weight is None else name.encode()
        self.bold = weight is not None and weight > 400
        self.shaper = shaper_of(data)
        self._texts: dict[int, str] = {}
        self._codes: dict[tuple[int, str], str] = {}
        self._free = itertools.count(_PRIVATE)

    def has(self, char: str) -> bool:
        """Whether the font has a glyph for this character; none has one for a private character of plane 15 or 16."""
        return ord(char) < _PRIVATE and bool(self.face.charToGlyph.get(ord(char), 0))

    def advance(self, text: str) -> float:
        """Width of the text, character by character, in parts of the type size."""
        return float(self.stringWidth(text, 1))

    def character(self, glyph: Glyph) -> str:
        """The character that paints this glyph."""
        if len(glyph.text) == 1 and self.face.charToGlyph.get(ord(glyph.text)) == glyph.number:
            return glyph.text
        text = glyph.text
        if len(text) == 1 and unicodedata.mirrored(text):  # a bracket turned round is read as what it looks like
            text = chr(self.face.glyphToChar.get(glyph.number, [ord(text)])[0])
        key = (glyph.number, text)
        if key not in self._codes:
            code = next(self._free)
            self.face.charToGlyph[code] = glyph.number
            self.face.charWidths[code] = self.shaper.get_glyph_h_advance(glyph.number) * 1000 / self.face.unitsPerEm
            self._texts[code] = text
            self._codes[key] = chr(code)
        return self._codes[key]

    def addObjects(self, doc: Any) -> None:
        """Writes the font into the PDF, then puts the glyphs' own characters into its tables for reading text back."""
        subsets = {self.getSubsetInternalName(n, doc)[1:]: list(s) for n, s in enumerate(self.state[doc].subsets)}
        super().addObjects(doc)
        for name, codes in subsets.items():
            table = doc.idToObject[doc.idToObject[name].ToUnicode.name]
            for n, code in enumerate(codes):
                if code in self._texts:
                    own = self._texts[code].encode("utf-16-be").hex().upper()
                    table.content = table.content.replace(f"<{n:02X}> <{code:04X}>", f"<{n:02X}> <{own or _NOTHING}>")


def set_text(text: str, bold: bool = False) -> SetLine:
    """A text set in one line, in the fonts of its weight."""
    with ONE_AT_A_TIME:
        fonts = fonts_for(text, bool(bold))
    return _set_in(text, fonts)


def measure(text: str, size: float, bold: bool = False) -> float:
    """Width in mm of a text at a type size in mm."""
    return set_text(text, bold).width * size


def named_font_trouble() -> str:
    """A sentence where STRIPLEAF_CJK_FONT names what can't be used; else nothing."""
    with ONE_AT_A_TIME:
        return _named()[1]


def forget() -> None:
    """Drops all loaded fonts, for the settings to be read anew."""
    for kept in (_set_in, fonts_for, _script, _named, _east_asian, _characters):
        kept.cache_clear()


@lru_cache(maxsize=4096)
def _set_in(text: str, fonts: tuple[Embedded, ...]) -> SetLine:
    return set_line(text, fonts)


@lru_cache(maxsize=4096)
def fonts_for(text: str, bold: bool) -> tuple[Embedded, ...]:
    """The fonts in the order in which they are asked for the text's characters; the first is Noto Sans."""
    found = [_script(name, bold) for name in _SCRIPTS]
    named = _named()[0]
    lacking = {char for char in cleaned(text) if char != " " and not any(font.has(char) for font in found)}
    if lacking and named is not None:
        found.append(named)
        lacking = {char for char in lacking if not named.has(char)}
    for manner in manners(text) if lacking else ():
        had = {char for char in lacking if has_character(_characters(manner), char)}
        if had:
            found.append(_east_asian(manner, bold))
            lacking -= had
    return tuple(found)


@lru_cache
def _script(name: str, bold: bool) -> Embedded:
    weight = 700 if bold else 400
    return _registered(Embedded(_called(name, bold), Path(fontpkg.path(_SCRIPTS[name], weight=weight)), weight))


@lru_cache(maxsize=1)
def _named() -> tuple[Embedded | None, str]:
    file = os.environ.get("STRIPLEAF_CJK_FONT", "")
    if not file:
        return None, ""
    try:
        return _registered(Embedded("Named", Path(file))), ""
    except OSError:
        trouble = "which can't be read"
    except TTFError:
        trouble = "which is no font with TrueType outlines"
    return None, f"STRIPLEAF_CJK_FONT names {file}, {trouble}; the font that comes with the program is used."


def _east_asian_file(manner: str) -> Path:
    (file,) = Path(str(files("justmytype_intl_cjk") / "fonts" / "ofl" / f"notosans{manner.lower()}")).glob("*.ttf")
    return file


@lru_cache
def _characters(manner: str) -> Any:
    """Tells which characters a font has, without loading it."""
    return shaper_of(_east_asian_file(manner))


@lru_cache
def _east_asian(manner: str, bold: bool) -> Embedded:
    return _registered(Embedded(_called(LATIN + manner, bold), _east_asian_file(manner), 700 if bold else 400))


def _called(name: str, bold: bool) -> str:
    return f"{name}-Bold" if bold else name


def _registered(font: Embedded) -> Embedded:
    if font.fontName in pdfmetrics.getRegisteredFontNames():  # loaded anew: ReportLab would go on with the old one
        pdfmetrics.getFont(font.fontName).unregister()
    pdfmetrics.registerFont(font)
    return font
