"""Reading picture files safely, and the small previews made of them. Scans are only read."""

import hashlib
import warnings
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from catalogue.errors import UnreadablePicture

if TYPE_CHECKING:
    from PIL import Image

PREVIEW_PX = 480
MAX_PIXELS = 170_000_000
"""A 6×9 scanned at 4500 pixels an inch; opening refuses more than 178 million by itself."""
MAX_BYTES = 2_000_000_000


@dataclass(frozen=True)
class PictureFacts:
    """What was read from a picture file; pixels as the picture stands upright."""

    sha256: str
    width_px: int
    height_px: int
    file_date: str


def preview_path(folder: Path, sha256: str) -> Path:
    """Where the preview of the file with this SHA-256 lies in the archive folder."""
    return folder / "previews" / sha256[:2] / f"{sha256}.jpg"


def _too_many(path: Path, pixels: str) -> str:
    most = MAX_PIXELS // 1_000_000
    return f"{path.name} has {pixels} pixels; up to {most} million are read. Link a smaller copy."


def _eight_bits(image: "Image.Image") -> "Image.Image":
    """A 16-bit grey picture brought down to 8 bits; a plain conversion would clip it to white."""
    if not image.mode.startswith("I"):
        return image
    small = image.convert("I").point(lambda value: value * (1 / 256)).convert("L")
    small.info["exif"] = image.info.get("exif", b"")
    return small


def read_picture(path: Path, archive_folder: Path) -> PictureFacts:
    """Reads a picture whole, makes its preview where there is none, and tells its facts.

    Raises `UnreadablePicture` for a file that is broken, cut short, too large or no picture.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError  # loaded where pictures are read

    try:
        stat = path.stat()
        if stat.st_size > MAX_BYTES:
            raise UnreadablePicture(f"{path.name} is {stat.st_size} bytes; up to {MAX_BYTES} are read. Link a smaller copy.")
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        with warnings.catch_warnings():
            # It warns from 89 million pixels on, which a good scan has; the bound is the one below.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            # From an open file: by path, Pillow 13 maps a plain grey TIFF that lies sideways with wrong rows.
            with path.open("rb") as file, Image.open(file) as image:
                if image.width * image.height > MAX_PIXELS:
                    raise UnreadablePicture(_too_many(path, f"{image.width} × {image.height}"))
                size = image.size
                image.draft("RGB", (PREVIEW_PX, PREVIEW_PX))
                image.load()
                # Asked only now: a TIFF is turned upright in loading, and no longer says so.
                turned = image.getexif().get(0x0112, 1) in (5, 6, 7, 8)
                width, height = reversed(size) if turned else size
                target = preview_path(archive_folder, digest)
                if not target.is_file():
                    small = ImageOps.exif_transpose(_eight_bits(image)).convert("RGB")
                    small.thumbnail((PREVIEW_PX, PREVIEW_PX))
                    target.parent.mkdir(parents=True, exist_ok=True)
                    half = target.with_suffix(".part")
                    small.save(half, "JPEG", quality=85)
                    half.replace(target)
    except UnreadablePicture:
        raise
    except Image.DecompressionBombError as problem:
        raise UnreadablePicture(_too_many(path, "more than 178 million")) from problem
    except (OSError, UnidentifiedImageError, ValueError, SyntaxError, Warning) as problem:
        raise UnreadablePicture(
            f"{path.name} can't be read as a picture; it may be cut short or of an unknown kind. "
            "Copy it again from where it was scanned."
        ) from problem
    moment = datetime.fromtimestamp(stat.st_mtime, UTC).isoformat(timespec="seconds")
    return PictureFacts(digest, width, height, moment)
