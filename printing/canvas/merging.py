"""PDFs of many things put into one file, each under an entry of the outline; and a checksum of what a sheet shows."""

import hashlib
import json
import re
from collections.abc import Sequence
from io import BytesIO
from typing import Any, BinaryIO

from pypdf import PageObject, PdfReader, PdfWriter
from pypdf.generic import ArrayObject, DictionaryObject, NameObject

MM = 72 / 25.4
_KEPT = "/StripleafPrint"
_PICTURE = re.compile(rb"/FormXob\.[0-9a-f]+")


def sheet_sizes(source: PdfReader) -> list[tuple[float, float]]:
    """Width and height of every sheet, in mm."""
    return [(float(page.mediabox.width) / MM, float(page.mediabox.height) / MM) for page in source.pages]


def drawn_checksums(pdf: bytes) -> list[str]:
    """A checksum of what shows on each sheet, wherever the archive lies: strokes, letters, and the pictures' own bytes."""
    return [_drawn(page) for page in PdfReader(BytesIO(pdf)).pages]


def _drawn(page: PageObject) -> str:
    found = hashlib.sha256(f"{page.mediabox.width} {page.mediabox.height}".encode())
    resources: Any = page.get("/Resources", {})
    pictures: dict[bytes, bytes] = {}
    for name, thing in resources.get("/XObject", {}).items():
        # A picture is named after its path, which changes when the archive is moved; its content isn't.
        pictures[name.encode()] = hashlib.sha256(thing.get_object().get_data()).hexdigest().encode()
    contents = page.get_contents()
    drawn = contents.get_data() if contents is not None else b""
    found.update(_PICTURE.sub(lambda m: pictures.get(m[0], m[0]), drawn))
    for name, font in sorted(resources.get("/Font", {}).items()):
        # Letters are written by their number in a font made for this file; which letters those are stands here.
        letters = font.get_object().get("/ToUnicode")
        if letters is not None:
            found.update(name.encode() + letters.get_object().get_data())
    return found.hexdigest()[:24]


class Gathered:
    """One PDF to be, of many; true size, with an entry of the outline for each thing."""

    def __init__(self, title: str) -> None:
        self._writer = PdfWriter()
        self._writer.add_metadata({"/Title": title, "/Creator": "Stripleaf"})
        self.sheets = 0

    def add(self, source: PdfReader, title: str, sheets: Sequence[int]) -> None:
        """Adds these sheets of a PDF, counted from 0, under an entry; the PDF's own outline goes below it."""
        _bind_links(source)
        self._writer.append(source, outline_item=title, pages=list(sheets), import_outline=True)
        self.sheets += len(sheets)

    def write(self, out: BinaryIO, kept: Any) -> None:
        """Writes the PDF; `kept` (plain JSON) goes with it and is read back by `kept_in`."""
        self._writer.create_viewer_preferences()
        preferences = self._writer.viewer_preferences
        if preferences is not None:
            preferences[NameObject("/PrintScaling")] = NameObject("/None")
        self._writer.root_object[NameObject("/PageMode")] = NameObject("/UseOutlines")
        self._writer.add_metadata({_KEPT: json.dumps(kept, separators=(",", ":"))})
        self._writer.write(out)

    def close(self) -> None:
        """Lets go of everything that was gathered."""
        self._writer.close()


def _bind_links(source: PdfReader) -> None:
    """Links by name become links to the sheet itself: two books have leaves of the same names."""
    names = source.named_destinations
    for page in source.pages if names else ():
        for each in page.get("/Annots", ArrayObject()):
            link = each.get_object()
            if not isinstance(link, DictionaryObject) or link.get("/Subtype") != "/Link":
                continue
            to = names.get(str(link.get("/Dest", "")))
            if to is not None:
                link[NameObject("/Dest")] = to.dest_array


def kept_in(source: BinaryIO) -> Any:
    """What was written with a PDF, or None where there is nothing that can be read."""
    try:
        about: Any = PdfReader(source).metadata or {}
        return json.loads(str(about[_KEPT])) if _KEPT in about else None
    except Exception:  # anybody may put any file into the folder; whatever is wrong with it, it isn't ours
        return None
