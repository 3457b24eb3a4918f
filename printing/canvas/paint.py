"""The one module that paints: placed items in mm become PDF, texts in the fonts of `printing.canvas.fonts`, all of them embedded.

Each glyph in the PDF names its characters. Glyphs follow each other as they lie on paper, from left to right; programs that
read PDFs turn right-to-left words back into reading order.
"""

import re
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any, BinaryIO

import segno
from reportlab import rl_config
from reportlab.lib.units import mm
from reportlab.pdfbase import pdfdoc
from reportlab.pdfbase.pdfutils import readJPEGInfo
from reportlab.pdfgen.canvas import Canvas

from printing.canvas.fonts import ONE_AT_A_TIME, measure, set_text
from printing.canvas.items import Box, Code, Jump, Line, Mark, Picture, Sheet, Text
from printing.canvas.typesetting import Run

__all__ = ["Painter", "StreamingPainter", "measure"]

_DARK = re.compile(rb"\x01+")
rl_config.useA85 = 0  # JPEG files are then embedded as they are


def _size_of(path: str) -> tuple[int, int]:
    """Width and height of a picture in pixels, from its head alone; the file is embedded as it is. Raises `OSError`."""
    with Path(path).open("rb") as file:
        if file.read(3) == b"\xff\xd8\xff":  # a JPEG, as previews are: ReportLab reads its head faster than Pillow does
            file.seek(0)
            with suppress(Exception):  # it complains in several ways; Pillow's complaint is the one that is understood
                wide, high = readJPEGInfo(file)[:2]
                return int(wide), int(high)
    from PIL import Image

    with Image.open(path) as image:
        return image.size


def _pt(length_mm: float) -> str:
    """A length in mm as points, to a hundred-thousandth: what is 107 mm must not be read back as less."""
    return f"{length_mm * mm:.5f}"


class Painter:
    """Draws sheets into one PDF; remembers which fonts were used and which characters none had."""

    def __init__(self, title: str) -> None:
        measure("", 1)  # loads the fonts
        self._out = BytesIO()
        self._pdf = Canvas(self._out, invariant=1, pageCompression=1, lang="en", initialFontName="NotoSans")
        self._pdf.setTitle(title)
        self._pdf.setViewerPreference("PrintScaling", "None")
        self.fonts: set[str] = set()
        self.missing: set[str] = set()

    def draw(self, sheets: Sequence[Sheet]) -> None:
        """Adds one PDF page a sheet."""
        for sheet in sheets:
            self._pdf.setPageSize((sheet.width_mm * mm, sheet.height_mm * mm))
            for item in sheet.items:
                self._item(item, sheet.height_mm)
            self._pdf.showPage()

    def finish(self) -> bytes:
        """The PDF's bytes."""
        with ONE_AT_A_TIME:
            self._pdf.save()
        return self._out.getvalue()

    def _item(self, item: object, height: float) -> None:
        # What there is most of says all that it needs in operators of its own and changes nothing for what follows:
        # the library formats each number by hand and keeps a copy of its state for each item.
        if isinstance(item, Line | Box):
            self._line(item, height)
            return
        if isinstance(item, Text) and not item.turn and self._plain_text(item, height):
            return
        pdf = self._pdf
        pdf.saveState()
        if isinstance(item, Text):
            self._text(item, height)
        elif isinstance(item, Picture):
            self._picture(item, height)
        elif isinstance(item, Code):
            self._code(item, height)
        elif isinstance(item, Mark):
            self._mark(item, height)
        elif isinstance(item, Jump):
            self._jump(item, height)
        pdf.restoreState()

    def _line(self, item: Line | Box, height: float) -> None:
        if isinstance(item, Line):
            path = f"{_pt(item.x1)} {_pt(height - item.y1)} m {_pt(item.x2)} {_pt(height - item.y2)} l"
        else:
            r = item.rect
            path = f"{_pt(r.x)} {_pt(height - r.bottom)} {_pt(r.width)} {_pt(r.height)} re"
        drawn = f"{item.grey:g} G {_pt(item.width)} w {path} S"
        self._pdf._code.append(f"q [{_pt(1.2)} {_pt(1.2)}] 0 d {drawn} Q" if item.dashed else drawn)

    def _plain_text(self, item: Text, height: float) -> bool:
        """Paints a text whose characters are drawn as they come; says whether it was one."""
        line = set_text(item.text, item.bold)
        if any(run.glyphs is not None or (item.bold and not run.face.bold) for run in line.runs):
            return False
        self.missing |= line.missing
        x = item.x - {"left": 0.0, "middle": 0.5, "right": 1.0}[item.align] * line.width * item.size
        doc, ink = self._pdf._doc, [f"{item.grey:g} g BT {_pt(x)} {_pt(height - item.y)} Td"]
        for run in line.runs:
            face: Any = run.face  # of printing.canvas.fonts, and thus a ReportLab font as well
            self.fonts.add(face.fontName)
            for subset, codes in face.splitString(run.text, doc):
                name = face.getSubsetInternalName(subset, doc)
                ink.append(f"{name} {_pt(item.size)} Tf ({self._pdf._escape(codes)}) Tj")
        self._pdf._code.append(" ".join((*ink, "ET")))
        return True

    def _text(self, item: Text, height: float) -> None:
        line = set_text(item.text, item.bold)
        self.missing |= line.missing
        x = item.x - {"left": 0.0, "middle": 0.5, "right": 1.0}[item.align] * line.width * item.size
        self._pdf.setFillGray(item.grey)
        if item.turn:
            self._pdf.translate(item.x * mm, (height - item.y) * mm)
            self._pdf.rotate(-90 * item.turn)
            x, height, item = x - item.x, 0.0, replace(item, y=0.0)
        for run in line.runs:
            self.fonts.add(run.face.fontName)
            ink = self._pdf.beginText(x * mm, (height - item.y) * mm)
            ink.setFont(run.face.fontName, item.size * mm)
            if item.bold and not run.face.bold:  # a font without a bold weight gets a thin outline
                self._pdf.setStrokeGray(item.grey)
                self._pdf.setLineWidth(item.size * 0.035 * mm)
                ink.setTextRenderMode(2)
            if run.glyphs is None:
                ink.textOut(run.text)
            else:
                self._glyphs(ink, run, x * mm, (height - item.y) * mm, item.size * mm)
            self._pdf.drawText(ink)
            x += run.width * item.size

    def _glyphs(self, ink: Any, run: Run, x: float, y: float, size: float) -> None:
        """Paints a shaped run from this point on, all in points; the pen is set anew where a glyph lies off the line."""
        together, pen = "", (0.0, 0.0)
        for glyph in run.glyphs or ():
            char = run.face.character(glyph)
            place = (x + glyph.dx * size, y + glyph.dy * size)
            if not together or abs(place[0] - pen[0]) > 1e-3 or abs(place[1] - pen[1]) > 1e-3:
                ink.textOut(together)
                ink.setTextOrigin(*place)
                together = ""
            together += char
            pen = (place[0] + run.face.advance(char) * size, place[1])
            x += glyph.advance * size
        ink.textOut(together)

    def _picture(self, item: Picture, height: float) -> None:
        r, pdf = item.rect, self._pdf
        path = item.path if isinstance(item.path, str) else item.path.made()
        if path is None:
            return
        try:
            wide, high = _size_of(path)
        except OSError:  # gone or broken since the page was read: the outline and label still say which frame it is
            return
        across, down = r.width, r.height
        # A picture taken with the camera turned: its long side lies along the frame's.
        upright = (wide > high) != (across > down) and wide != high and abs(across - down) > 0.5
        if upright:
            across, down = down, across
        scale = max(across / wide, down / high)
        w, h = wide * scale * mm, high * scale * mm
        pdf._code.append(f"{_pt(r.x)} {_pt(height - r.bottom)} {_pt(r.width)} {_pt(r.height)} re W n")
        if item.opacity < 1:
            pdf.setFillAlpha(item.opacity)
        middle = ((r.x + r.width / 2) * mm, (height - r.y - r.height / 2) * mm)
        if not (item.mirrored or item.rotated or upright):
            pdf.drawImage(path, middle[0] - w / 2, middle[1] - h / 2, w, h)
            return
        pdf.translate(*middle)
        if item.mirrored:
            pdf.scale(-1, 1)
        if item.rotated:
            pdf.rotate(180)
        if upright:
            pdf.rotate(90)
        pdf.drawImage(path, -w / 2, -h / 2, w, h)

    def _code(self, item: Code, height: float) -> None:
        rows = [bytes(row) for row in segno.make(item.text, error="m", micro=False, mask=3).matrix_iter(border=4)]
        module = item.rect.width / len(rows)
        # Drawn as operators of its own: a code has hundreds of rectangles, and the library formats each number by hand.
        left, bottom, side = item.rect.x * mm, (height - item.rect.y) * mm, module * mm
        runs = []
        for y, row in enumerate(rows, 1):
            for run in _DARK.finditer(row):  # dark modules side by side are one rectangle
                wide = (run.end() - run.start()) * side
                runs.append(f"{left + run.start() * side:.3f} {bottom - y * side:.3f} {wide:.3f} {side:.3f} re")
        self._pdf.setFillGray(0)
        self._pdf._code.append("\n".join((*runs, "f")))

    def _mark(self, item: Mark, height: float) -> None:
        self._pdf.bookmarkHorizontalAbsolute(item.name, (height - item.y) * mm)
        if item.title:
            self._pdf.addOutlineEntry(item.title, item.name, item.level)

    def _jump(self, item: Jump, height: float) -> None:
        r = item.rect
        area = (r.x * mm, (height - r.bottom) * mm, r.right * mm, (height - r.y) * mm)
        self._pdf.linkAbsolute(item.name, item.name, area)

    def label(self, number: int, *, roman: bool = False) -> None:
        """Numbers the PDF page to be drawn next, and those after it, from this number on."""
        self._pdf.addPageLabel(self._pdf.getPageNumber() - 1, style="ROMAN_LOWER" if roman else "ARABIC", start=number)


class StreamingPainter(Painter):
    """Writes every picture and page to a file as soon as it is drawn, so that a long book needs no more memory.

    `out` is written from start to end and never read. What a PDF can only say
    at its end (pages, fonts, outline, links) is written by `close`.
    """

    def __init__(self, title: str, out: BinaryIO) -> None:
        super().__init__(title)
        self._pdf.setViewerPreference("DisplayDocTitle", "true")
        self._doc: Any = self._pdf._doc
        self._file, self._offset, self._seen = out, 0, 0
        self._add(b"%%PDF-%d.%d\n%%\xe2\xe3\xcf\xd3\n" % tuple(self._doc._pdfVersion))

    def draw(self, sheets: Sequence[Sheet]) -> None:
        """Adds one PDF page a sheet and writes its pictures and content."""
        for sheet in sheets:
            super().draw([sheet])
            self._write_drawn()

    def finish(self) -> bytes:
        """Not for a file already half written: raises `RuntimeError`; use `close`."""
        raise RuntimeError("This PDF goes to a file as it is drawn; close it instead.")

    def close(self) -> None:
        """Writes what is left and the table of objects; the file itself stays open."""
        self._doc.format = self._write_rest
        self._doc.GetPDFData(self._pdf)

    def _add(self, data: bytes) -> None:
        self._file.write(data)
        self._offset += len(data)

    def _write_object(self, key: str, thing: Any) -> None:
        self._doc.idToOffset[key] = self._offset
        self._add(pdfdoc.PDFIndirectObject(key, thing).format(self._doc))

    def _write_drawn(self) -> None:
        """Writes the pictures and the content of the page just drawn, and keeps their numbers only."""
        ids, objects = self._doc.numberToId, self._doc.idToObject
        page = None
        for number in range(self._seen + 1, len(ids) + 1):
            thing = objects[ids[number]]
            if isinstance(thing, pdfdoc.PDFImageXObject):
                self._write_object(ids[number], thing)
                thing.streamContent, thing.XObjects = b"", None  # the second names all pictures drawn before it
            elif isinstance(thing, pdfdoc.PDFPage):
                page = thing
        self._seen = len(ids)
        if page is not None:
            page.check_format(self._doc)
            key = self._doc.Reference(page.Contents).name
            self._write_object(key, page.Contents)
            page.stream, page.Contents.content = "", ""

    def _write_rest(self) -> bytes:
        """Takes the place of the library's own writer, which would gather the whole PDF in memory first."""
        doc = self._doc
        doc.encrypt.prepare(doc)
        catalog, info = doc.Reference(doc.Catalog), doc.Reference(doc.info)
        number, keys = 1, []
        while number in doc.numberToId:  # writing an object may add more
            key = doc.numberToId[number]
            if key not in doc.idToOffset:
                self._write_object(key, doc.idToObject[key])
            keys.append(key)
            number += 1
        table = pdfdoc.PDFCrossReferenceTable()
        table.addsection(0, keys)
        start = self._offset
        self._add(table.format(doc))
        trailer = pdfdoc.PDFTrailer(startxref=start, Size=number, Root=catalog, Info=info, Encrypt=None, ID=doc.ID())
        self._add(trailer.format(doc))
        return b""
