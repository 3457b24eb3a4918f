"""Reading one picture file: facts, previews and a small grey picture in one go. The file is opened for reading only.

A file of up to `SMALL_FILE_BYTES` is read from disk once, then hashed and decoded in memory. A larger one is hashed
in bites, so that memory stays bounded, and then decoded from the same open file; that second pass comes out of the
operating system's cache of the file. Pillow is imported where it is used.
"""

import hashlib
import os
import threading
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from io import BufferedReader, BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO

from catalogue.errors import ArchiveProblem, InvalidInput, UnreadablePicture
from catalogue.scans.read.decoding import decode, profile_description, raw_shape, shrink
from catalogue.scans.read.embedded_facts import EmbeddedFacts, Header, jpeg_header, png_header, tiff_header
from catalogue.scans.read.file_kinds import FIRST_BYTES, PictureKind, kind_of, odd_file

if TYPE_CHECKING:
    import numpy
    from PIL import Image

PREVIEW_PX = 1600
THUMBNAIL_PX = 400
SMALL_PX = 256
QUALITY = 85
MAX_PIXELS = 170_000_000
"""A 6×9 scanned at 4500 pixels an inch."""
MAX_BYTES = 2_000_000_000
SMALL_FILE_BYTES = 32 * 1024 * 1024


@dataclass(frozen=True)
class GreyPicture:
    """A small grey picture standing upright, for fingerprints: rows from the top, one byte a pixel, 0 is black."""

    width_px: int
    height_px: int
    pixels: bytes

    def __post_init__(self) -> None:
        if self.width_px < 1 or self.height_px < 1 or self.width_px * self.height_px != len(self.pixels):
            raise ValueError(f"{len(self.pixels)} bytes can't be {self.width_px} × {self.height_px} pixels.")

    def array(self) -> "numpy.ndarray[Any, numpy.dtype[numpy.uint8]]":
        """The pixels as a read-only array of shape (height, width)."""
        import numpy

        return numpy.frombuffer(self.pixels, numpy.uint8).reshape(self.height_px, self.width_px)


@dataclass(frozen=True)
class FileFacts:
    """What was read from a picture file.

    `width_px`, `height_px` and `embedded.resolution_ppi` are along the picture's sides as it stands upright;
    `bits_per_sample` and `channels` as stored (a raw file's are its sensor's). `profile` is what the colour profile
    calls itself, None without one. `file_date` is the file's own date in UTC. `small` is at most `SMALL_PX` long and
    the same whenever the file is read. `notes` are sentences on what was read in part only.
    """

    sha256: str
    byte_size: int
    file_date: str
    kind: PictureKind
    width_px: int
    height_px: int
    bits_per_sample: int
    channels: int
    colour: str
    pages: int
    profile: str | None
    embedded: EmbeddedFacts
    small: GreyPicture
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.width_px < 1 or self.height_px < 1 or self.byte_size < 1:
            raise ValueError(f"{self.width_px} × {self.height_px} pixels in {self.byte_size} bytes are no picture.")
        if not 1 <= self.bits_per_sample <= 16 or self.channels < 1 or self.pages < 1:
            raise ValueError(f"{self.bits_per_sample} bits, {self.channels} channels and {self.pages} pages are no picture.")


def _place(archive_folder: Path, sha256: str, longest_px: int) -> Path:
    if len(sha256) != 64 or not set(sha256) <= set("0123456789abcdef"):
        raise InvalidInput(f"“{sha256[:70]}” is no SHA-256; that has 64 digits, 0 to 9 and a to f.")
    return archive_folder / "previews" / sha256[:2] / f"{sha256}-{longest_px}.jpg"


def large_preview_path(archive_folder: Path, sha256: str) -> Path:
    """Where the preview of at most `PREVIEW_PX` pixels lies for the file with this SHA-256."""
    return _place(archive_folder, sha256, PREVIEW_PX)


def thumbnail_path(archive_folder: Path, sha256: str) -> Path:
    """Where the thumbnail of at most `THUMBNAIL_PX` pixels lies for the file with this SHA-256."""
    return _place(archive_folder, sha256, THUMBNAIL_PX)


def sha256_of(path: Path) -> str:
    """The file's SHA-256, read in bites."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def read_file(path: Path, archive_folder: Path) -> FileFacts:
    """Reads a picture whole, makes its preview and thumbnail where there are none, and tells its facts.

    A file whose previews are there already has been decoded before, byte for byte the same, and isn't decoded again.
    Raises `UnreadablePicture` for a file that is broken, cut short, too large, changing or no picture, and
    `ArchiveProblem` where the previews can't be written.
    """
    try:
        before = path.stat()
        if sentence := odd_file(path.name, before.st_mode):
            raise UnreadablePicture(sentence)
        with path.open("rb") as file:
            facts = _read_open(file, path.name, archive_folder)
            after = os.fstat(file.fileno())
    except FileNotFoundError as problem:
        raise UnreadablePicture(f"There is no file {path.name} any more. Look for it under another name.") from problem
    except (OSError, ValueError) as problem:
        why = getattr(problem, "strerror", None) or "its name is impossible"
        raise UnreadablePicture(f"{path.name[:100]} can't be opened: {why}. See that you may read it.") from problem
    if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
        raise UnreadablePicture(f"{path.name} changed while it was read. Read it again when it has been written whole.")
    moment = datetime.fromtimestamp(after.st_mtime, UTC).isoformat(timespec="seconds")
    return replace(facts, file_date=moment)


def _read_open(file: BufferedReader, name: str, archive_folder: Path) -> FileFacts:
    size = os.fstat(file.fileno()).st_size
    if size == 0:
        raise UnreadablePicture(f"{name} is empty: 0 bytes. Copy it again from where it was scanned.")
    if size > MAX_BYTES:
        raise UnreadablePicture(f"{name} is {size} bytes; up to {MAX_BYTES} are read. Link a smaller copy.")
    data = file.read() if size <= SMALL_FILE_BYTES else None
    sha256 = (hashlib.file_digest(file, "sha256") if data is None else hashlib.sha256(data)).hexdigest()
    source: BinaryIO = file if data is None else BytesIO(data)
    broken = f"{name} can't be read as a picture; it may be cut short or damaged. Copy it again from where it was scanned."
    try:
        header = _header(source, name)
        grey = _grey_of_thumbnail(archive_folder, sha256)
        small, note = (None, "") if grey else decode(source, data, header, PREVIEW_PX, name)
    except UnreadablePicture:
        raise
    except ImportError as problem:
        raise UnreadablePicture(f"{name} can't be read, as a library is missing: {problem}. Install it with pip.") from problem
    except Exception as problem:  # a damaged file makes decoders raise anything, and must not stop the next one
        raise UnreadablePicture(broken) from problem
    if small is not None:
        grey = _write_previews(_upright(small, header.embedded.orientation), archive_folder, sha256)
    assert grey is not None  # it was there, or has just been made
    return _facts(header, sha256, size, grey, note)


def _header(source: BinaryIO, name: str) -> Header:
    """The head of the file; refuses what is no picture or has too many pixels before anything is decoded."""
    source.seek(0)
    kind = kind_of(source.read(FIRST_BYTES), name)
    if kind is None:
        raise UnreadablePicture(f"{name} is no JPEG, PNG, TIFF or raw file, whatever its name says. Link a picture file.")
    if kind is PictureKind.JPEG:
        header = jpeg_header(source)
    elif kind is PictureKind.PNG:
        header = png_header(source)
    else:
        header = _tiff_or_raw(source, kind, name)
    if header.width < 1 or header.height < 1:
        raise UnreadablePicture(f"{name} has {header.width} × {header.height} pixels, which is no picture. Copy it again.")
    if header.width * header.height > MAX_PIXELS:
        raise UnreadablePicture(
            f"{name} has {header.width} × {header.height} pixels; up to {MAX_PIXELS // 1_000_000} million are read. "
            "Link a smaller copy."
        )
    return header


def _tiff_or_raw(source: BinaryIO, kind: PictureKind, name: str) -> Header:
    header = None
    try:
        header = tiff_header(source, name)
    except Exception:
        if kind is PictureKind.TIFF:
            raise
        # A raw file need not be laid out as a TIFF; then it has no tags that we can read.
    if kind is PictureKind.TIFF and header and header.kind is PictureKind.TIFF:
        return header
    source.seek(0)
    width, height, bits, orientation = raw_shape(source, name)
    embedded = replace(header.embedded if header else EmbeddedFacts(), orientation=orientation, resolution_ppi=None)
    return Header(PictureKind.RAW, width, height, bits, 1, "colour mosaic", embedded)


def _facts(header: Header, sha256: str, size: int, grey: GreyPicture, note: str) -> FileFacts:
    width, height, resolution = header.width, header.height, header.embedded.resolution_ppi
    if header.embedded.orientation >= 5:  # lies on its side (Exif: 5 to 8)
        width, height = height, width
        resolution = resolution and (resolution[1], resolution[0])
    pages = (f"It has {header.pages} pages; the first was read.",) if header.pages > 1 else ()
    return FileFacts(
        sha256=sha256,
        byte_size=size,
        file_date="",
        kind=header.kind,
        width_px=width,
        height_px=height,
        bits_per_sample=header.bits,
        channels=header.channels,
        colour=header.colour,
        pages=header.pages,
        profile=profile_description(header.profile) if header.profile else None,
        embedded=replace(header.embedded, resolution_ppi=resolution),
        small=grey,
        notes=pages + ((note,) if note else ()),
    )


def _upright(image: "Image.Image", orientation: int) -> "Image.Image":
    from PIL.Image import Transpose

    turns = {
        2: Transpose.FLIP_LEFT_RIGHT,
        3: Transpose.ROTATE_180,
        4: Transpose.FLIP_TOP_BOTTOM,
        5: Transpose.TRANSPOSE,
        6: Transpose.ROTATE_270,
        7: Transpose.TRANSVERSE,
        8: Transpose.ROTATE_90,
    }
    return image.transpose(turns[orientation]) if orientation in turns else image


def _grey_of_thumbnail(archive_folder: Path, sha256: str) -> GreyPicture | None:
    """The small grey picture of previews made before; None where one of the two is missing or damaged."""
    thumbnail = thumbnail_path(archive_folder, sha256)
    with suppress(OSError, SyntaxError, ValueError):
        if large_preview_path(archive_folder, sha256).stat().st_size:
            return _grey(thumbnail.read_bytes())
    return None


def _grey(thumbnail: bytes) -> GreyPicture:
    """Always from the thumbnail's bytes, so that a file read again gives the same fingerprint."""
    from PIL import JpegImagePlugin

    with JpegImagePlugin.JpegImageFile(BytesIO(thumbnail)) as image:
        small = shrink(image.convert("L"), SMALL_PX)
    return GreyPicture(small.width, small.height, small.tobytes())


def _write_previews(image: "Image.Image", archive_folder: Path, sha256: str) -> GreyPicture:
    """Writes both previews, the large one first, and gives the small grey picture."""
    image.info.clear()  # a comment of the scan would be written along
    thumbnail = encoded(shrink(image, THUMBNAIL_PX))
    write_whole(large_preview_path(archive_folder, sha256), encoded(image))
    write_whole(thumbnail_path(archive_folder, sha256), thumbnail)
    return _grey(thumbnail)


def encoded(image: "Image.Image") -> bytes:
    """The picture as a JPEG file."""
    out = BytesIO()
    image.save(out, "JPEG", quality=QUALITY)
    return out.getvalue()


def write_whole(target: Path, data: bytes) -> None:
    """Under a name of its own first, then renamed: a preview is there whole or not at all."""
    half = target.with_name(f"{target.stem}.{os.getpid()}-{threading.get_ident()}.part")
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            half.write_bytes(data)
            half.replace(target)
        finally:
            half.unlink(missing_ok=True)
    except OSError as problem:
        raise ArchiveProblem(
            f"The preview {target} can't be written: {problem.strerror}. Make room on the disk or see that you may write there."
        ) from problem
