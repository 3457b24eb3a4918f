"""Which files of a scan folder are pictures: kinds told by first bytes, names in a person's order, a careful walk."""

import os
import re
import stat
import unicodedata
from collections import deque
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from catalogue.errors import InvalidInput, NotFound, OutsideScanFolder

RAW_ENDINGS = frozenset(
    (".dng", ".raw", ".3fr", ".arw", ".cr2", ".cr3", ".erf", ".iiq", ".nef", ".nrw", ".orf", ".pef", ".raf", ".rw2", ".srw")
)
PICTURE_ENDINGS = frozenset((".jpg", ".jpeg", ".png", ".tif", ".tiff")) | RAW_ENDINGS
SIDECAR_ENDINGS = frozenset((".xmp",))
"""Files that lie beside a picture and speak of it; the walk passes over them without a word."""
MAX_ENTRIES = 100_000
ENDING = re.compile(r"\.[A-Za-z][A-Za-z0-9]{0,4}$")
"""The ending of a file name; ".07" is none, because a number may follow a dot."""
FIRST_BYTES = 16
"""So many bytes are enough for `kind_of`."""
BYTES_OF_KINDS = (  # the opening bytes in ISO/IEC 10918-1 B.1.1, PNG 5.2 and TIFF 6.0 section 2; BigTIFF's from memory
    (b"\xff\xd8\xff", "JPEG"),
    (b"\x89PNG\r\n\x1a\n", "PNG"),
    (b"II*\0", "TIFF"),
    (b"MM\0*", "TIFF"),
    (b"II+\0", "TIFF"),
    (b"MM\0+", "TIFF"),
)


class PictureKind(StrEnum):
    """The kinds of file that are read."""

    JPEG = "JPEG"
    PNG = "PNG"
    TIFF = "TIFF"
    RAW = "raw"


@dataclass(frozen=True)
class Refused:
    """A file or folder that the walk leaves out, and the sentence that says why."""

    path: Path
    reason: str


def kind_of(first: bytes, name: str) -> PictureKind | None:
    """The kind by the first `FIRST_BYTES` bytes; raw files by their ending, as most of them open like a TIFF."""
    told = next((PictureKind(kind) for opening, kind in BYTES_OF_KINDS if first.startswith(opening)), None)
    if Path(name).suffix.casefold() in RAW_ENDINGS and told in (None, PictureKind.TIFF):
        return PictureKind.RAW
    return told


def split_ending(file_name: str) -> tuple[str, str]:
    """Stem and `ENDING` of a file name in Unicode's form NFC; "" for no ending."""
    name = unicodedata.normalize("NFC", file_name)
    found = ENDING.search(name)
    return (name[: found.start()], found[0]) if found and found.start() else (name, "")


def same_ending(ending: str) -> str:
    """One spelling for endings that mean the same: .jpg for .JPEG, .tif for .tiff; others in small letters."""
    return {".jpeg": ".jpg", ".tiff": ".tif"}.get(ending.lower(), ending.lower())


NaturalKey = tuple[tuple[tuple[int, int, str], ...], str, int, str]
"""The parts of the stem, the ending, and what decides between names that count as equal."""


def natural_key(name: str) -> NaturalKey:
    """Sorts names as a person counts: 9 before 10, "Frame 7" before "Frame 7 (2)", 00 before 0; capitals don't count."""
    stem, ending = split_ending(name)
    parts = []
    for part in re.findall(r"[0-9]+|[^0-9]+", stem.casefold()):
        digits = part.lstrip("0") if part[0] in "0123456789" else None
        parts.append((1, 0, part) if digits is None else (0, len(digits), digits))
    return tuple(parts), same_ending(ending), -len(name), name


def _key(root: Path, path: Path) -> tuple[NaturalKey, ...]:
    return tuple(natural_key(part) for part in path.relative_to(root).parts)


def odd_file(name: str, mode: int) -> str | None:
    """The sentence that refuses what is no ordinary file, by its stat mode; None for an ordinary one."""
    if stat.S_ISREG(mode):
        return None
    what = "a folder" if stat.S_ISDIR(mode) else "a pipe, a socket or a device"
    return f"{name} is {what} and not a file. Name a picture file."


class _Walk:
    """One walk: each folder is entered once, by device and inode, so that links in a ring come to an end."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.files: list[Path] = []
        self.refused: list[Refused] = []
        self.entries = 0
        self.entered: set[tuple[int, int]] = set()
        self.folders: deque[Path] = deque()
        self.linked: deque[Path] = deque()

    def run(self, start: Path) -> None:
        self.folders.append(start)
        while self.folders or self.linked:
            # Linked folders wait, so that a picture is listed where it really lies.
            folder = self.folders.popleft() if self.folders else self.linked.popleft()
            try:
                seen = folder.stat()
                if (seen.st_dev, seen.st_ino) in self.entered:
                    continue
                self.entered.add((seen.st_dev, seen.st_ino))
                names = sorted(os.listdir(folder), key=natural_key)  # noqa: PTH208 - iterdir may fail halfway
            except OSError as problem:
                self._refuse(folder, f"The folder {folder.name} can't be read: {problem.strerror}.")
                continue
            for name in names:
                self._look_at(folder / name)

    def _refuse(self, path: Path, reason: str) -> None:
        self.refused.append(Refused(path, reason))

    def _look_at(self, path: Path) -> None:
        self.entries += 1
        written = path.name.encode(errors="backslashreplace").decode()
        if written != path.name:  # bytes that are no text can't be kept in the archive
            self._refuse(path.with_name(written), f"{written} has a name that is no UTF-8 text. Give it another name.")
            return
        if self.entries > MAX_ENTRIES:
            raise InvalidInput(f"That folder holds more than {MAX_ENTRIES} files. Name a smaller one.")
        ending = path.suffix.casefold()
        if path.name.startswith(".") or ending in SIDECAR_ENDINGS:
            return
        try:
            is_link = path.is_symlink()
            if is_link and not path.resolve(strict=True).is_relative_to(self.root):
                self._refuse(path, f"{path.name} is a link that leads out of the scan folder. Copy the file into it.")
                return
            mode = path.stat().st_mode
        except (OSError, RuntimeError):  # a link to nothing or to itself
            self._refuse(path, f"{path.name} can't be read; a link of that name may lead nowhere.")
            return
        if stat.S_ISDIR(mode):
            (self.linked if is_link else self.folders).append(path)
        elif ending not in PICTURE_ENDINGS:
            self._refuse(path, f"{path.name} has not the ending of a picture file.")
        elif sentence := odd_file(path.name, mode):
            self._refuse(path, sentence)
        else:
            self.files.append(path)


def inside(root: Path, relative: str) -> Path:
    """The path under the scan folder; raises where it, or a link in it, leads out."""
    try:
        path = (root / relative).resolve()
        lies_inside = path.is_relative_to(root.resolve())
    except (OSError, RuntimeError, ValueError):  # a ring of links, or no name at all
        lies_inside = False
    if not lies_inside:
        raise OutsideScanFolder(f"“{relative[:100]}” leads out of the scan folder {root}. Give a path inside it.")
    try:
        path.exists()
    except OSError as problem:  # a name longer than the disk can hold
        raise NotFound(f"There is no “{relative[:60]}…” in the scan folder: {problem.strerror}.") from problem
    return path


def picture_files(root: Path, folder: str = "") -> tuple[tuple[Path, ...], tuple[Refused, ...]]:
    """The picture files in a folder under the scan folder and below it, and what was left out with the reason.

    `folder` is relative to `root`. Both lists come in natural name order, folder by folder. Hidden files and sidecars
    are passed over. Links inside the scan folder are followed, each folder once; links that lead out are refused.
    Only names and kinds of entry are looked at: no file is opened. Raises `OutsideScanFolder` for a folder that lies
    elsewhere, `NotFound` for one that isn't there, and `InvalidInput` for more than `MAX_ENTRIES` entries.
    """
    start = inside(root, folder)
    if not start.is_dir():
        raise NotFound(f"There is no folder {folder[:100] or '(the scan folder itself)'} in the scan folder {root}.")
    top = root.resolve()
    walk = _Walk(top)
    walk.run(start)
    files = tuple(sorted(walk.files, key=lambda path: _key(top, path)))
    return files, tuple(sorted(walk.refused, key=lambda refused: _key(top, refused.path)))
