"""How a scan is shown: which of a frame's scans, the right way up, cut to its frame, as a positive.

Made from the file or its preview into the archive's previews and kept there; the
file is only read. A picture shown is named by the file's SHA-256 and by what was
done to it, so that it is made once and never stale.
"""

import hashlib
import json
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from catalogue.errors import UnreadablePicture
from catalogue.rolls.scan_rows import Area
from catalogue.scans.look.positives import Inversion, positive_of
from catalogue.scans.read.one_file import (
    PREVIEW_PX,
    THUMBNAIL_PX,
    encoded,
    large_preview_path,
    read_file,
    sha256_of,
    thumbnail_path,
    write_whole,
)

if TYPE_CHECKING:
    from PIL import Image


@dataclass(frozen=True)
class Look:
    """What is done to show a file: cut to the area, turned clockwise, mirrored left to right, made positive."""

    area: Area | None = None
    quarter_turns: int = 0
    mirrored: bool = False
    inversion: Inversion | None = None

    @property
    def plain(self) -> bool:
        """Whether the file's own previews show it already."""
        return self == Look()

    @property
    def mark(self) -> str:
        """A short name for it, the same for the same treatment."""
        given = {**asdict(self), "inversion": self.inversion.to_json() if self.inversion else ""}
        return hashlib.sha256(json.dumps(given, sort_keys=True).encode()).hexdigest()[:16]


def shown_path(folder: Path, sha256: str, look: Look, *, large: bool = False) -> Path:
    """Where the picture lies, or will: at most 1600 pixels long if `large`, else at most 400."""
    plain = large_preview_path(folder, sha256) if large else thumbnail_path(folder, sha256)
    return plain if look.plain else plain.with_name(f"{plain.stem}-{look.mark}.jpg")


def make_shown(folder: Path, file: Path, sha256: str, look: Look, *, large: bool = False) -> Path:
    """The picture, made where there is none; both sizes are made at once.

    Raises `UnreadablePicture` where neither the preview nor the file can be read.
    """
    target = shown_path(folder, sha256, look, large=large)
    if target.is_file():
        return target
    previews = (large_preview_path(folder, sha256), thumbnail_path(folder, sha256))
    if not all(path.is_file() for path in previews):  # they were cleared away and can be made again
        _refuse_another(file, sha256, read_file(file, folder).sha256)
    if look.plain:
        return target
    from PIL import Image

    if look.area:
        _refuse_another(file, sha256, _linked_sha256(file))  # it is the file that is cut, not its preview
        picture = part_of(file, look.area, PREVIEW_PX)
    else:
        with Image.open(large_preview_path(folder, sha256)) as preview:
            picture = preview.convert("RGB")
    picture = treated(picture, look)
    write_whole(shown_path(folder, sha256, look, large=True), encoded(_at_most(picture, PREVIEW_PX)))
    write_whole(shown_path(folder, sha256, look), encoded(_at_most(picture, THUMBNAIL_PX)))
    return target


@dataclass(frozen=True)
class ShownPicture:
    """A picture to show, planned and not looked at: as a path, where it lies or will; `made` where somebody paints it."""

    folder: Path
    file: Path
    sha256: str
    look: Look
    large: bool = False

    def __fspath__(self) -> str:
        return str(shown_path(self.folder, self.sha256, self.look, large=self.large))

    def made(self) -> str | None:
        """The picture, made where there is none; None where neither the preview nor the file can be read."""
        with suppress(UnreadablePicture):
            return str(make_shown(self.folder, self.file, self.sha256, self.look, large=self.large))
        return None


def _linked_sha256(file: Path) -> str:
    try:
        return sha256_of(file)
    except OSError as problem:
        raise UnreadablePicture(f"{file.name} can't be opened: {problem.strerror}. Look where it lies now.") from problem


def _refuse_another(file: Path, linked: str, found: str) -> None:
    if found != linked:
        raise UnreadablePicture(f"{file.name} is another file than the one that was linked. Check the scans of this roll.")


def treated(picture: "Image.Image", look: Look) -> "Image.Image":
    """The picture turned, mirrored and made positive, as a new one; the area has been cut before."""
    from PIL import ImageOps
    from PIL.Image import Transpose

    turns = {1: Transpose.ROTATE_270, 2: Transpose.ROTATE_180, 3: Transpose.ROTATE_90}  # Pillow turns anticlockwise
    if look.quarter_turns:
        picture = picture.transpose(turns[look.quarter_turns])
    if look.mirrored:
        picture = ImageOps.mirror(picture)
    return positive_of(picture, look.inversion) if look.inversion else picture


def _at_most(picture: "Image.Image", longest: int) -> "Image.Image":
    small = picture.copy()
    small.thumbnail((longest, longest))
    return small


def part_of(file: Path, area: Area, longest_px: int) -> "Image.Image":
    """A part of the file itself, upright, in 8-bit sRGB: of a strip or page the preview holds too little of each frame."""
    import pyvips
    from PIL import Image

    try:
        # Without fail_on it hands out black where it can't go on.
        whole = pyvips.Image.new_from_file(str(file), access="random", fail_on="error").autorot()
        if whole.get_typeof("icc-profile-data"):
            whole = whole.icc_transform("srgb", embedded=True, depth=8)
        else:
            whole = whole.colourspace("srgb" if whole.bands > 2 else "b-w")
        if whole.format != "uchar":
            whole = (whole / 257).cast("uchar") if whole.format == "ushort" else whole.cast("uchar")
        x, y = min(whole.width - 1, round(area[0] * whole.width)), min(whole.height - 1, round(area[1] * whole.height))
        w = max(1, min(whole.width - x, round(area[2] * whole.width)))
        h = max(1, min(whole.height - y, round(area[3] * whole.height)))
        part = whole.crop(x, y, w, h).thumbnail_image(longest_px, height=longest_px, size="down")
        part = part[:3] if part.bands > 3 else part[0] if part.bands == 2 else part
        mode = "RGB" if part.bands == 3 else "L"
        return Image.frombytes(mode, (part.width, part.height), part.write_to_memory()).convert("RGB")
    except pyvips.Error as problem:
        raise UnreadablePicture(f"{file.name} can't be read as a picture. Copy it again from where it was scanned.") from problem
