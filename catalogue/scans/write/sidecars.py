"""Sidecars: an XMP file beside a picture that says which frame it shows. The picture itself is never opened.

XMP is ISO 16684-1; property names and value kinds are from memory of that standard, of the IPTC Photo Metadata
Standard and of Exif for XMP. What another program or a person put into a sidecar stays:

- Elements, attributes, comments and namespaces that are not written here are kept as they are.
- A standard property is written where it is missing or empty, and changed or taken away only where its value is
  still the one written here the last time. Any other value is foreign and stays. Properties that only make sense
  together (latitude and longitude, say) count as one: if one of them is foreign, none is written.
- Keywords are joined: foreign ones stay, and only keywords added here are taken away again.
- The properties in the private namespace belong to this catalogue and always say what it says.

What was written is remembered as digests in `stripleaf:wrote`. A program that drops unknown namespaces drops that
memory too; the values then count as foreign and stay.

Two ways of naming are read: scan.tif.xmp, which is the one written, and scan.xmp. The latter is used where it is
there already and can belong to no other file of the folder. Nothing is deleted.
"""

import os
import secrets
from dataclasses import dataclass
from pathlib import Path

from catalogue.errors import ArchiveProblem, InvalidInput, NotFound
from catalogue.scans.write.frame_facts import FrameFacts
from catalogue.scans.write.frame_properties import private_properties, standard_properties
from catalogue.scans.write.xmp_tree import EMPTY_PACKET, Packet, Property, items_of, not_blank


@dataclass(frozen=True)
class Merged:
    """A merged sidecar, and the standard properties whose foreign value was kept though another was to be said."""

    data: bytes
    kept: tuple[str, ...]


def merge_sidecar(existing: bytes | None, facts: FrameFacts) -> Merged:
    """The sidecar that says `facts` and keeps what is foreign in `existing`; see the module for the rules.

    Given its own result again it returns the very same bytes. Raises `InvalidInput` for an existing file that is no
    XMP, is broken or defines entities.
    """
    packet = Packet(EMPTY_PACKET if existing is None else existing)
    memory = packet.find("stripleaf:wrote")
    wrote = {mark for node in memory for mark in items_of(node) or ()}
    kept: list[str] = []
    marks: list[str] = []
    for group in standard_properties(facts):
        standing = [(prop, items_of(node)) for prop in group for node in packet.find(prop.name)]
        if any(items is None or (items and prop.digest(items) not in wrote) for prop, items in standing):
            said = {prop.name: items for prop, items in standing}
            kept += [prop.name for prop in group if prop.items and said.get(prop.name) != prop.items]
            continue
        for prop in group:
            packet.put(prop)
            marks += [prop.digest(prop.items)] if prop.items else []
    keywords, standing_words = _keywords(packet, facts.keywords, wrote)
    marks += keywords
    kept += [] if standing_words else ["dc:subject"]
    for prop in private_properties(facts):
        packet.put(prop)
    packet.put(Property("stripleaf:wrote", "Bag", tuple(sorted(set(marks)))))
    return Merged(packet.bytes() if packet.changed or existing is None else existing, tuple(kept))


def _keywords(packet: Packet, wanted: tuple[str, ...], wrote: set[str]) -> tuple[list[str], bool]:
    """Joins the keywords; returns the marks of those added here, and whether they could be joined."""
    subject = Property("dc:subject", "Bag", ())
    there = {text for node in packet.find(subject.name) for text in items_of(node) or ()}
    words = list(dict.fromkeys(not_blank(*wanted)))
    added = {text for text in there if subject.digest((text,)) in wrote}
    joined = packet.join(subject.name, [word for word in words if word not in there], added - set(words))
    ours = [word for word in words if word not in there or word in added] if joined else []
    return [subject.digest((word,)) for word in ours], joined or not words


def merged_xmp(existing: bytes | None, facts: FrameFacts) -> bytes:
    """The bytes of `merge_sidecar`."""
    return merge_sidecar(existing, facts).data


@dataclass(frozen=True)
class SidecarReport:
    """What became of a sidecar: its path, whether the file changed, foreign values kept, other sidecars left alone."""

    path: Path
    changed: bool
    kept: tuple[str, ...]
    left_alone: tuple[Path, ...]


def sidecars_of(picture: Path) -> tuple[Path, tuple[Path, ...]]:
    """The sidecar to write for a picture, there or not, and other files that may be sidecars of it.

    scan.xmp is taken only if scan.tif.xmp isn't there and no other file of the folder could own it: none called
    scan.something, and none called just scan.
    """
    names = sorted(entry.name for entry in picture.parent.iterdir())
    endings = {name: (name[:-4], name[-4:].casefold() == ".xmp") for name in names}
    long = [name for name, (stem, is_sidecar) in endings.items() if is_sidecar and stem == picture.name]
    short = [name for name, (stem, is_sidecar) in endings.items() if is_sidecar and stem == picture.stem]
    stem = picture.stem.casefold()
    owners = [
        name for name in names
        if not endings[name][1] and name != picture.name and stem in (name.casefold(), Path(name).stem.casefold())
    ]  # fmt: skip
    usual = f"{picture.name}.xmp"
    chosen = usual if usual in long else long[0] if long else short[0] if short and not owners else usual
    others = tuple(picture.with_name(name) for name in dict.fromkeys(long + short) if name != chosen)
    return picture.with_name(chosen), others


def write_sidecar(path_of_scan: Path, facts: FrameFacts, *, beside: Path | None = None) -> SidecarReport:
    """Writes or merges the sidecar of a scan; `beside` names a copy, or a folder, next to or in which it goes instead.

    The scan is not opened. The sidecar is whole or unchanged at any moment. Raises `NotFound` without a file to stand
    beside, `InvalidInput` for a sidecar that can't be merged, `ArchiveProblem` where the disk refuses.
    """
    picture, target, others, existing, merged = _merged_for(path_of_scan, facts, beside)
    if merged.data != existing:
        try:
            _replace(target, existing, merged.data)
        except OSError as problem:
            raise _refused(picture, problem) from problem
    return SidecarReport(target, merged.data != existing, merged.kept, others)


def check_sidecar(path_of_scan: Path, facts: FrameFacts) -> None:
    """Raises what `write_sidecar` would, as far as can be told without writing."""
    _merged_for(path_of_scan, facts, None)


def _refused(picture: Path, problem: OSError) -> ArchiveProblem:
    return ArchiveProblem(f"The sidecar of {picture.name} can't be written: {problem.strerror}. Check the folder.")


def _merged_for(
    path_of_scan: Path, facts: FrameFacts, beside: Path | None
) -> tuple[Path, Path, tuple[Path, ...], bytes | None, Merged]:
    """The picture, its sidecar, other sidecars, what the sidecar holds, and what it shall hold; nothing is written."""
    picture = path_of_scan if beside is None else beside / path_of_scan.name if beside.is_dir() else beside
    if picture.suffix.casefold() in ("", ".xmp"):
        raise InvalidInput(f"{picture.name} has no ending of a picture. Name a picture file, for example scan.tif.")
    if not path_of_scan.is_file() or not (picture.is_file() or picture.parent == beside):
        raise NotFound(f"There is no file {path_of_scan if not path_of_scan.is_file() else picture}. Check where the scan lies.")
    try:
        target, others = sidecars_of(picture)
        if target.is_symlink() or (target.exists() and not target.is_file()):
            raise InvalidInput(f"{target.name} is a link or no file, so it isn't written to. Move it away.")
        existing = target.read_bytes() if target.exists() else None
        try:
            merged = merge_sidecar(existing, facts)
        except InvalidInput as problem:
            raise InvalidInput(f"{target.name}: {problem}") from problem
    except OSError as problem:
        raise _refused(picture, problem) from problem
    return picture, target, others, existing, merged


def _replace(target: Path, existing: bytes | None, data: bytes) -> None:
    """Puts `data` in place of what was read: written beside, flushed to the disk, then renamed over it."""
    half = target.with_name(f".sidecar-{secrets.token_hex(8)}.part")
    try:
        with half.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if existing is not None:
            half.chmod(target.stat().st_mode & 0o777)
        if (target.read_bytes() if target.exists() else None) != existing:
            raise ArchiveProblem(f"{target.name} was changed by another program just now. Try again.")
        half.replace(target)
    finally:
        half.unlink(missing_ok=True)
    if os.name == "posix":  # elsewhere a folder can't be opened to flush it
        folder = os.open(target.parent, os.O_RDONLY)
        try:
            os.fsync(folder)
        finally:
            os.close(folder)
