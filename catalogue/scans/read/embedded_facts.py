"""What a picture file says of itself: its size, samples, dates, copy stand, resolution and colour profile.

Tags are laid out alike in a TIFF, in the Exif part of a JPEG and in the eXIf part of a PNG, so one reader serves
all three. Tag numbers: TIFF 6.0 and Exif 2.32, from memory. Nothing here decodes a pixel.
"""

import re
import struct
import zlib
from calendar import monthrange
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from io import BytesIO
from typing import BinaryIO

from catalogue.errors import UnreadablePicture
from catalogue.scans.read.file_kinds import PictureKind

Value = tuple[float, ...] | bytes
"""A tag's numbers (rationals as quotients, 0 for a denominator of 0), or its bytes where it holds text or anything else."""

TYPES = {3: "H", 4: "I", 8: "h", 9: "i", 11: "f", 12: "d", 13: "I", 16: "Q", 17: "q", 18: "Q"}
WANTED = frozenset((256, 257, 258, 259, 262, 271, 272, 274, 277, 282, 283, 296, 306, 338, 339, 0x8769, 34675, 50706)) | frozenset(
    (0x9003, 0x9004, 0x9010, 0x9011, 0x9012, 0x9290, 0x9291, 0x9292)
)
EXIF_DIRECTORY = 0x8769
MAX_TAG_BYTES = 8_000_000
"""The largest colour profiles are of about 3 MB; a tag that claims more is passed over."""
MAX_TAGS = 4096
MAX_PAGES = 1000
CM_PER_INCH = 2.54
COLOURS = {0: "grey", 1: "grey", 2: "RGB", 3: "palette", 5: "CMYK", 6: "RGB"}
"""TIFF's photometric interpretation; YCbCr (6) is handed out as RGB."""
PNG_COLOURS = {0: ("grey", 1), 2: ("RGB", 3), 3: ("palette", 1), 4: ("grey", 2), 6: ("RGB", 4)}
"""PNG's colour types (PNG 11.2.1), with the samples to a pixel."""


@dataclass(frozen=True)
class EmbeddedDate:
    """A date of the file: as found, and in ISO 8601 as far as it is known; `iso` is empty where it makes no sense."""

    found: str
    iso: str


@dataclass(frozen=True)
class EmbeddedFacts:
    """What the tags say. `stand_camera` made this file: the camera on the copy stand or the scanner, never the taking camera.

    `original` is Exif's DateTimeOriginal, `digitized` its DateTimeDigitized, `changed` DateTime. `orientation` is
    Exif's 1 to 8. `resolution_ppi` is pixels per inch along and across the picture as it is stored.
    """

    original: EmbeddedDate | None = None
    digitized: EmbeddedDate | None = None
    changed: EmbeddedDate | None = None
    stand_camera: str = ""
    orientation: int = 1
    resolution_ppi: tuple[float, float] | None = None


@dataclass(frozen=True)
class Header:
    """A picture file's head. Pixels as stored, before turning upright; `bits` to a sample, `channels` with any alpha."""

    kind: PictureKind
    width: int
    height: int
    bits: int
    channels: int
    colour: str
    embedded: EmbeddedFacts
    profile: bytes = b""
    pages: int = 1
    compression: int = 1
    photometric: int = 2


class _TagReader:
    """Reads tag directories of a TIFF or BigTIFF; offsets count from the start of the file handed in."""

    def __init__(self, file: BinaryIO) -> None:
        self.file = file
        head = self._at(0, 16)
        self.order = "<" if head[:2] == b"II" else ">"
        self.big = head[2:4] in (b"+\0", b"\0+")
        self.word, self.entry = ("Q", "HHQ8s") if self.big else ("I", "HHI4s")
        self.first = self._word(head[8:16] if self.big else head[4:8])

    def _at(self, offset: int, size: int) -> bytes:
        self.file.seek(offset)
        return self.file.read(size)

    def _word(self, data: bytes) -> int:
        return int(struct.unpack(self.order + self.word, data)[0])

    def directory(self, offset: int) -> tuple[dict[int, Value], int]:
        """The wanted tags of the directory at `offset`, and the offset of the next one (0: none)."""
        counted = "Q" if self.big else "H"
        start = struct.calcsize(counted)
        (count,) = struct.unpack(self.order + counted, self._at(offset, start))
        if count > MAX_TAGS:
            raise ValueError(f"{count} tags")
        size = struct.calcsize(self.order + self.entry)
        entries = self._at(offset + start, count * size + struct.calcsize(self.word))
        tags = {}
        for at in range(0, count * size, size):
            tag, kind, many, inline = struct.unpack_from(self.order + self.entry, entries, at)
            if tag in WANTED and (value := self._value(kind, many, inline)) is not None:
                tags[tag] = value
        following = entries[count * size :]
        # Exif parts written by some cameras end without the last word.
        return tags, self._word(following) if len(following) == struct.calcsize(self.word) else 0

    def _value(self, kind: int, many: int, inline: bytes) -> Value | None:
        letter = TYPES.get(kind, "2I" if kind == 5 else "2i" if kind == 10 else "B")
        size = struct.calcsize(self.order + letter) * many
        if size > MAX_TAG_BYTES:
            return None
        data = inline[:size] if size <= len(inline) else self._at(self._word(inline), size)
        if len(data) < size:
            return None
        if letter == "B":
            return data if kind != 1 else tuple(data)
        numbers = struct.unpack(f"{self.order}{many * len(letter.lstrip('2')) * (2 if '2' in letter else 1)}{letter[-1]}", data)
        if "2" in letter:
            return tuple(a / b if b else 0.0 for a, b in zip(numbers[::2], numbers[1::2], strict=True))
        return numbers

    def all_tags(self) -> dict[int, Value]:
        """The first directory's tags together with its Exif directory's; a broken Exif directory is left out."""
        tags, _ = self.directory(self.first)
        if exif := _whole(tags, EXIF_DIRECTORY):
            try:
                tags = self.directory(exif)[0] | tags
            except (struct.error, ValueError, OSError):
                return tags
        return tags

    def pages(self) -> int:
        """The number of directories in the chain; a chain that runs in a ring or breaks off is counted up to there."""
        seen: set[int] = set()
        offset = self.first
        while offset and offset not in seen and len(seen) < MAX_PAGES:
            seen.add(offset)
            try:
                _, offset = self.directory(offset)
            except (struct.error, ValueError, OSError):
                break
        return max(1, len(seen))


def _whole(tags: Mapping[int, Value], tag: int, otherwise: int = 0) -> int:
    value = tags.get(tag, ())
    return int(value[0]) if value and not isinstance(value, bytes) else otherwise


def _text(tags: Mapping[int, Value], tag: int) -> str:
    """A text tag on one line, up to 100 characters; bytes above 127 as UTF-8 (Exif 3.0) or else as Latin-1 (habit)."""
    value = tags.get(tag, b"")
    data = value.split(b"\0", 1)[0] if isinstance(value, bytes) else b""
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())[:100]


def iso_date(found: str, second_part: str = "", offset: str = "") -> str:
    """An Exif date "YYYY:MM:DD HH:MM:SS" as ISO 8601; blanks, which mean "not known" there, shorten it.

    `second_part` holds the digits behind the second's point, `offset` the distance from UTC as ±HH:MM. Gives ""
    for what is no date of the calendar: nothing is guessed.
    """
    parts = re.fullmatch(
        r"(\d{4})(?:[:\-](\d\d|\s*)(?:[:\-](\d\d|\s*)(?:[T\s]+(\d\d|\s*):(\d\d|\s*)(?::(\d\d|\s*)(?:\.\d+)?)?.*)?)?)?\s*", found
    )
    if not parts:
        return ""
    known: list[int] = []
    for part in parts.groups():
        if part is None or not part.strip():
            break
        known.append(int(part))
    limits = ((1, 9999), (1, 12), (1, 31), (0, 23), (0, 59), (0, 60))
    if not all(low <= value <= high for value, (low, high) in zip(known, limits, strict=False)):
        return ""
    if len(known) > 2 and known[2] > monthrange(known[0], known[1])[1]:
        return ""
    if len(known) == 4:  # an hour alone is no time in ISO's extended form with seconds
        known = known[:3]
    day = "-".join(f"{value:0{4 if at == 0 else 2}d}" for at, value in enumerate(known[:3]))
    if len(known) < 5:
        return day
    time = ":".join(f"{value:02d}" for value in known[3:])
    if len(known) == 6 and second_part.isdecimal():
        time += f".{second_part[:6]}"
    zone = offset if re.fullmatch(r"[+-](0\d|1[0-4]):[0-5]\d", offset) else ""
    return f"{day}T{time}{zone}"


def _date(tags: Mapping[int, Value], tag: int, second_part: int, offset: int) -> EmbeddedDate | None:
    found = _text(tags, tag)
    raw = tags.get(tag, b"")
    # Blanks count in the layout of a date, so it is parsed as it stands and not with them run together.
    as_stands = raw.split(b"\0", 1)[0].decode("latin-1") if isinstance(raw, bytes) else ""
    if not found.strip(" :-0"):
        return None
    return EmbeddedDate(found, iso_date(as_stands.strip("\0"), _text(tags, second_part), _text(tags, offset)))


def embedded_in(tags: Mapping[int, Value]) -> EmbeddedFacts:
    """The facts in a set of tags; what makes no sense is left out."""
    make, model = _text(tags, 271), _text(tags, 272)
    stand = model if model.casefold().startswith(make.casefold()) else f"{make} {model}".strip()
    orientation = _whole(tags, 274, 1)
    per_inch = {2: 1.0, 3: CM_PER_INCH}.get(_whole(tags, 296, 2))
    along, across = tags.get(282, ()), tags.get(283, ())
    resolution = None
    if per_inch and along and across and not isinstance(along, bytes) and not isinstance(across, bytes):
        x, y = round(along[0] * per_inch, 3), round(across[0] * per_inch, 3)
        resolution = (x, y) if 0 < x < 1e6 and 0 < y < 1e6 else None
    return EmbeddedFacts(
        original=_date(tags, 0x9003, 0x9291, 0x9011),
        digitized=_date(tags, 0x9004, 0x9292, 0x9012),
        changed=_date(tags, 306, 0x9290, 0x9010),
        stand_camera=stand,
        orientation=orientation if 1 <= orientation <= 8 else 1,
        resolution_ppi=resolution,
    )


def _exif(data: bytes) -> EmbeddedFacts:
    try:
        return embedded_in(_TagReader(BytesIO(data.removeprefix(b"Exif\0\0"))).all_tags())
    except (struct.error, ValueError, OSError):  # the picture can be read without them
        return EmbeddedFacts()


def jpeg_header(file: BinaryIO) -> Header:
    """The head of a JPEG file, by Pillow's reader of it."""
    from PIL import JpegImagePlugin  # the class itself, so that Pillow's warning about large pictures stays out of it

    file.seek(0)
    image = JpegImagePlugin.JpegImageFile(file)
    embedded = _exif(image.info.get("exif", b""))
    if embedded.resolution_ppi is None and "dpi" in image.info:
        x, y = (round(float(value), 3) for value in image.info["dpi"])
        embedded = replace(embedded, resolution_ppi=(x, y) if 0 < x < 1e6 and 0 < y < 1e6 else None)
    colour = {"L": "grey", "RGB": "RGB", "CMYK": "CMYK"}[image.mode]
    profile = image.info.get("icc_profile") or b""
    return Header(PictureKind.JPEG, image.width, image.height, 8, len(image.getbands()), colour, embedded, profile)


def png_header(file: BinaryIO) -> Header:
    """The head of a PNG file, chunk by chunk to its end (PNG 5.3); raises for one that is cut short."""
    file.seek(8)
    embedded, profile, resolution, shape = EmbeddedFacts(), b"", None, b""
    while True:
        length, name = struct.unpack(">I4s", file.read(8))
        if name == b"IEND":
            break
        if name in (b"IHDR", b"iCCP", b"eXIf", b"pHYs") and length <= MAX_TAG_BYTES:
            data = file.read(length)
            if name == b"IHDR":
                shape = data
            elif name == b"iCCP":
                with suppress(zlib.error):
                    profile = zlib.decompressobj().decompress(data.partition(b"\0")[2][1:], MAX_TAG_BYTES)
            elif name == b"eXIf":
                embedded = _exif(data)
            else:
                x, y, unit = struct.unpack(">IIB", data)
                inch = 0.0254 if unit == 1 else 0.0
                resolution = (round(x * inch, 3), round(y * inch, 3)) if x * inch and y * inch else None
            file.seek(4, 1)
        else:
            file.seek(length + 4, 1)
    width, height, bits, colour_type = struct.unpack(">IIBB", shape[:10])
    colour, channels = PNG_COLOURS[colour_type]
    if embedded.resolution_ppi is None:
        embedded = replace(embedded, resolution_ppi=resolution)
    return Header(PictureKind.PNG, width, height, bits, channels, colour, embedded, profile)


def tiff_header(file: BinaryIO, name: str) -> Header:
    """The head of a TIFF or BigTIFF file, first page. One with a DNG version is a raw file.

    Raises `UnreadablePicture` for samples that are no whole numbers of 1, 2, 4, 8 or 16 bits, and for Lab and the like.
    """
    reader = _TagReader(file)
    tags = reader.all_tags()
    bits, channels = _whole(tags, 258, 1), _whole(tags, 277, 1)
    kind = PictureKind.RAW if 50706 in tags else PictureKind.TIFF
    photometric = _whole(tags, 262, 1)
    if kind is PictureKind.TIFF:
        sample = {2: "signed whole numbers", 3: "floating-point numbers"}.get(_whole(tags, 339, 1))
        if sample or bits not in (1, 2, 4, 8, 16):
            raise UnreadablePicture(
                f"{name} holds {bits}-bit {sample or 'whole numbers'}; whole numbers of 8 or 16 bits are read. "
                "Save a copy with 16 bits and link that."
            )
        if photometric not in COLOURS:
            raise UnreadablePicture(
                f"{name} holds its colours in a way that isn't read (TIFF photometric interpretation {photometric}). "
                "Save a copy in RGB and link that."
            )
    profile = tags.get(34675, b"")
    return Header(
        kind,
        _whole(tags, 256),
        _whole(tags, 257),
        bits,
        channels,
        COLOURS.get(photometric, "colour mosaic"),
        embedded_in(tags),
        profile if isinstance(profile, bytes) else b"",
        reader.pages(),
        _whole(tags, 259, 1),
        photometric,
    )
