"""Picture files known to the archive: one row a path, with the facts read from the file and its fingerprint."""

from pathlib import Path

from sqlmodel import Session, select

from catalogue.clock import now
from catalogue.errors import NotFound
from catalogue.scans.read.one_file import FileFacts
from catalogue.store.tables.scans import ScanFile


def file_row(session: Session, file_id: int) -> ScanFile:
    """The file; raises `NotFound`."""
    found = session.get(ScanFile, file_id)
    if found is None:
        raise NotFound(f"There is no scan file {file_id}. Look at the roll's scans again.")
    return found


def known_unchanged(session: Session, relative: str, path: Path) -> ScanFile | None:
    """The file's row if it was read before and size and date are still the same: it needn't be read again."""
    row = session.exec(select(ScanFile).where(ScanFile.path == relative)).first()
    if row is None or row.fingerprint is None or row.state != "there":
        return None
    try:
        seen = path.stat()
    except OSError:
        return None
    return row if (seen.st_size, seen.st_mtime_ns) == (row.byte_size, row.mtime_ns) else None


def fingerprint_bytes(facts: FileFacts) -> bytes:
    """The fingerprint of a picture as it is kept."""
    from catalogue.scans.look.fingerprints import fingerprint_of  # brings numpy

    return fingerprint_of(facts.small.array()).to_bytes()


def keep_file(session: Session, relative: str, path: Path, facts: FileFacts, fingerprint: bytes | None = None) -> ScanFile:
    """Writes what was read of a file, in place of what was known of that path before."""
    row = session.exec(select(ScanFile).where(ScanFile.path == relative)).first()
    row = row or ScanFile(path=relative, sha256=facts.sha256, width_px=facts.width_px, height_px=facts.height_px)
    dates = facts.embedded
    captured = next((d.iso for d in (dates.original, dates.digitized, dates.changed) if d and d.iso), "")
    for name, value in {
        "sha256": facts.sha256, "byte_size": facts.byte_size, "mtime_ns": path.stat().st_mtime_ns, "kind": str(facts.kind),
        "width_px": facts.width_px, "height_px": facts.height_px, "bits": facts.bits_per_sample, "channels": facts.channels,
        "profile": facts.profile or "", "captured": captured, "stand_camera": facts.embedded.stand_camera,
        "file_date": facts.file_date, "notes": " ".join(facts.notes), "state": "there",
        "fingerprint": fingerprint or fingerprint_bytes(facts), "read_at": now(), "checked_at": now(),
    }.items():  # fmt: skip
        setattr(row, name, value)
    session.add(row)
    session.flush()
    return row
