"""Reading picture files safely, and the small previews made of them. Scans are only read."""

import hashlib
import warnings
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

from catalogue.errors import UnreadablePicture

PREVIEW_PX = 480
MAX_PIXELS = 200_000_000
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
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(path) as image:
                if image.width * image.height > MAX_PIXELS:
                    raise UnreadablePicture(f"{path.name} has {image.width} × {image.height} pixels, which is too many to read.")
                turned = image.getexif().get(0x0112, 1) in (5, 6, 7, 8)
                width, height = (image.height, image.width) if turned else image.size
                image.draft("RGB", (PREVIEW_PX, PREVIEW_PX))
                image.load()
                target = preview_path(archive_folder, digest)
                if not target.is_file():
                    small = ImageOps.exif_transpose(image).convert("RGB")
                    small.thumbnail((PREVIEW_PX, PREVIEW_PX))
                    target.parent.mkdir(parents=True, exist_ok=True)
                    half = target.with_suffix(".part")
                    small.save(half, "JPEG", quality=85)
                    half.replace(target)
    except UnreadablePicture:
        raise
    except (OSError, UnidentifiedImageError, ValueError, SyntaxError, Warning, Image.DecompressionBombError) as problem:
        raise UnreadablePicture(
            f"{path.name} can't be read as a picture; it may be cut short or of an unknown kind. Copy it again from the camera."
        ) from problem
    moment = datetime.fromtimestamp(stat.st_mtime, UTC).isoformat(timespec="seconds")
    return PictureFacts(digest, width, height, moment)
