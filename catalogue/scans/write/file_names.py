"""Names proposed for picture files, roll and frame first: as a list, or as copies. No file is renamed.

A name is roll, "_", frame, "-" and version if there is one, and the ending: 2031-014_07A.tif. Sorted by character
code the names of a roll lie in film order: numbers are padded to two digits (three where the roll has a frame 100),
and what comes before frame 1 gets hyphens in front, which sort before digits: 00 is "--00", 0 is "-0", 0A is "-0A".
A padded "00" would be read as frame 00. A lettered frame without a number (S, X, E) gets three hyphens; an unknown
one ("?", "?3") is "unknown", "unknown003", behind all others. `catalogue.scans.match.linking` reads the numbered ones back.
"""

import csv
import io
import os
import re
import secrets
import shutil
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from hashlib import file_digest, sha256
from pathlib import Path

from catalogue.errors import AlreadyExists, ArchiveProblem, InvalidInput, NotFound
from catalogue.film.frame_numbers import FrameNumber

MAX_NAME_BYTES = 180
"""In UTF-8; file systems take 255, and a sidecar's or a copy program's ending must still fit."""
MAX_FILES = 5000
_BLOCK = 1024 * 1024
# Device names that one family of systems reserves, with any ending (from memory of its published naming rules).
_DEVICES = re.compile(r"(CON|PRN|AUX|NUL|CLOCK\$|CONIN\$|CONOUT\$|(COM|LPT)[0-9¹²³])[ ]*(?=\.|$)", re.IGNORECASE)
_JOINERS = "\u200c\u200d"  # needed within words of some scripts and within emoji


@dataclass(frozen=True)
class FileOfFrame:
    """A picture file and the frame it shows; `version` tells several files of a frame apart ("master", "print 2")."""

    path: Path
    roll: str
    frame: str
    version: str = ""

    def __post_init__(self) -> None:
        if not self.roll.strip():
            raise InvalidInput(f"{self.path.name} has no roll. Name the roll it is from.")
        FrameNumber.parse(self.frame)


@dataclass(frozen=True)
class NewName:
    """A file, and the name proposed for it, without a folder."""

    old: Path
    new: str


@dataclass(frozen=True)
class CopyMade:
    """A copy: what it was made from, where it lies, and the SHA-256 both have."""

    old: Path
    copy: Path
    sha256: str


def _cut(text: str, most: int) -> str:
    """At most so many bytes of UTF-8, and no accent or joined sign torn off."""
    if len(text.encode()) <= most:
        return text
    end = len(text.encode()[: max(0, most)].decode(errors="ignore"))
    while end and (unicodedata.combining(text[end]) or text[end] in f"{_JOINERS}\ufe0f" or text[end - 1] == "\u200d"):
        end -= 1
    return text[:end]


def _clean(text: str) -> str:
    """NFC, and a hyphen for every character that some file system or shell takes amiss."""

    def bad(sign: str) -> bool:
        return sign in '/\\:*?"<>|' or (unicodedata.category(sign) in ("Cc", "Cf", "Cs", "Zl", "Zp") and sign not in _JOINERS)

    return "".join("-" if bad(sign) else sign for sign in unicodedata.normalize("NFC", text))


def safe_name(stem: str, ending: str = "") -> str:
    """A file name that any usual file system takes, at most `MAX_NAME_BYTES` long; the stem is cut, the ending kept.

    No / \\ : * ? " < > | and no control or direction signs; NFC; no blank or dot at either end, no device name, and
    no sign in front that a shell or a spreadsheet would act upon.
    """
    tail = _cut(_clean(ending), 40).rstrip(". ")
    body = _clean(stem).strip(" ")
    if body[:1] in (".", "-", "~", "=", "+", "@"):
        body = "_" + body
    if _DEVICES.match(body + tail):
        body = re.sub(r"^([^. ]+)", r"\1_", body)
    name = _cut(body, MAX_NAME_BYTES - len(tail.encode())).rstrip(". ")
    return unicodedata.normalize("NFC", (name or "_") + tail)


def _frame_part(frame: FrameNumber, width: int) -> str:
    if frame.text.startswith("?"):
        return f"unknown{frame.text[1:] and frame.text[1:].zfill(3)}"
    kind, number, _ = frame.order
    if kind == 0:
        return f"---{frame.text}"
    if number <= 0:
        return f"{'--' if number < 0 else '-'}{frame.text}"
    return frame.text.zfill(width + (not frame.text[-1].isdigit()))


def propose_names(files: Sequence[FileOfFrame]) -> tuple[NewName, ...]:
    """A new name for each file, in the order given.

    The same files get the same names in whatever order they come: where names would be the same (upper and lower case
    taken as one), the later in the order of roll, frame, version and old path gets "-2", "-3" … before the ending.
    """
    if len(files) > MAX_FILES:
        raise InvalidInput(f"Those are {len(files)} files; up to {MAX_FILES} are named at once. Name fewer.")
    twice = {str(f.path) for f in files}
    if len(twice) < len(files):
        raise InvalidInput("A file is named twice. Name each file once.")
    widths: dict[str, int] = defaultdict(lambda: 2)
    for file in files:
        widths[file.roll] = max(widths[file.roll], len(str(FrameNumber.parse(file.frame).order[1])))
    order = sorted(files, key=lambda f: (f.roll, FrameNumber.parse(f.frame).order, f.version, str(f.path)))
    used: set[str] = set()
    named: dict[Path, str] = {}
    for file in order:
        frame = _frame_part(FrameNumber.parse(file.frame), widths[file.roll])
        version = f"-{_cut(_clean(file.version.strip()), 60)}" if file.version.strip() else ""
        ending = _cut(_clean(file.path.suffix.lower()), 40)
        count = 1
        while True:
            rest = f"_{frame}{version}" + (f"-{count}" if count > 1 else "")
            # The roll is what is cut, so that frame and version stay.
            name = safe_name(
                _cut(_clean(file.roll).strip(" "), MAX_NAME_BYTES - 2 - len((rest + ending).encode())) + rest, ending
            )
            if name.casefold() not in used:
                break
            count += 1
        used.add(name.casefold())
        named[file.path] = name
    return tuple(NewName(file.path, named[file.path]) for file in files)


def names_csv(plan: Iterable[NewName]) -> str:
    """The list as CSV (RFC 4180): a header, old path and new name, lines ended by CR LF.

    An old path in front of which a spreadsheet would see a formula is written from "./" on, which is the same path.
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(("old", "new"))
    for pair in plan:
        old = str(pair.old)
        writer.writerow((f".{os.sep}{old}" if old[:1] in "=+-@\t\r" else old, pair.new))
    return out.getvalue()


def copy_under_new_names(plan: Sequence[NewName], target_folder: Path) -> tuple[CopyMade, ...]:
    """Copies each file into the folder under its new name; the folder is made if it isn't there.

    All are copied into a hidden folder first, flushed, read again and compared by SHA-256, and only then moved to
    their names; if anything fails, the copies made are taken away again and nothing else has changed. Nothing is
    overwritten. Raises `NotFound` for a file that isn't there, `AlreadyExists` for a name in use, `InvalidInput` for
    unsafe or repeated names, `ArchiveProblem` for too little room, a failing disk or a copy that differs.
    """
    made: list[CopyMade] = []
    new_folder = not target_folder.exists()
    waiting = target_folder / f".copies-{secrets.token_hex(8)}"
    try:
        _check_plan(plan, target_folder)
        target_folder.mkdir(parents=True, exist_ok=True)
        needed, free = sum(pair.old.stat().st_size for pair in plan), shutil.disk_usage(target_folder).free
        if needed > free:
            raise ArchiveProblem(f"The copies take {needed} bytes and {free} are free in {target_folder}. Make room first.")
        waiting.mkdir()
        digests = [_copy(pair.old, waiting / str(number)) for number, pair in enumerate(plan)]
        for number, (pair, digest) in enumerate(zip(plan, digests, strict=True)):
            _move_without_overwriting(waiting / str(number), target_folder / pair.new)
            made.append(CopyMade(pair.old, target_folder / pair.new, digest))
    except BaseException as problem:
        for copy in made:
            copy.copy.unlink(missing_ok=True)
        shutil.rmtree(waiting, ignore_errors=True)
        if new_folder and target_folder.is_dir() and not any(target_folder.iterdir()):
            target_folder.rmdir()
        if isinstance(problem, OSError):
            raise ArchiveProblem(f"The copies can't be made: {problem.strerror or problem}. Nothing was copied.") from problem
        raise
    shutil.rmtree(waiting, ignore_errors=True)
    _flush_folder(target_folder)
    return tuple(made)


def _check_plan(plan: Sequence[NewName], folder: Path) -> None:
    seen: set[str] = set()
    for pair in plan:
        stem, dot, ending = pair.new.rpartition(".")
        if not pair.new or safe_name(stem if dot else pair.new, dot + ending if dot else "") != pair.new:
            raise InvalidInput(f"“{pair.new[:100]}” is not a name that every file system takes. Propose the names anew.")
        if pair.new.casefold() in seen:
            raise InvalidInput(f"Two files would be called {pair.new}. Give each its own name.")
        seen.add(pair.new.casefold())
        if not pair.old.is_file():
            raise NotFound(f"There is no file {pair.old}. Look where it lies now.")
    if folder.exists() and not folder.is_dir():
        raise AlreadyExists(f"{folder} is a file. Name a folder.")
    there = {unicodedata.normalize("NFC", entry.name).casefold() for entry in folder.iterdir()} if folder.exists() else set()
    taken = [pair.new for pair in plan if pair.new.casefold() in there]
    if taken:
        raise AlreadyExists(
            f"{folder} holds {taken[0]} already ({len(taken)} of {len(plan)} names are in use). Name another folder."
        )


def _copy(source: Path, copy: Path) -> str:
    """Copies and compares one file; returns the SHA-256. The time of change goes along."""
    digest = sha256()
    with source.open("rb") as old, copy.open("xb") as new:
        before = os.fstat(old.fileno())
        while block := old.read(_BLOCK):
            digest.update(block)
            new.write(block)
        new.flush()
        os.fsync(new.fileno())
    with copy.open("rb") as new:
        if file_digest(new, "sha256").hexdigest() != digest.hexdigest():
            raise ArchiveProblem(f"The copy of {source.name} differs from the file. Check the disk. Nothing was copied.")
    after = source.stat()
    if (before.st_size, before.st_mtime_ns) != (after.st_size, after.st_mtime_ns):
        raise ArchiveProblem(f"{source.name} was changed while it was copied. Try again. Nothing was copied.")
    os.utime(copy, ns=(before.st_mtime_ns, before.st_mtime_ns))
    return digest.hexdigest()


def _move_without_overwriting(copy: Path, target: Path) -> None:
    try:
        os.link(copy, target)  # unlike a rename, it fails where the name is taken
        return
    except FileExistsError as problem:
        raise AlreadyExists(f"{target} has appeared meanwhile. Name another folder. Nothing was copied.") from problem
    except OSError:  # a file system without links, such as those of memory cards
        pass
    if target.exists():
        raise AlreadyExists(f"{target} has appeared meanwhile. Name another folder. Nothing was copied.")
    copy.rename(target)


def _flush_folder(folder: Path) -> None:
    if os.name == "posix":  # elsewhere a folder can't be opened to flush it
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
