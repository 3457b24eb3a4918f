"""Whether the scans are still the files that were linked: re-checked in bites, least recently checked first.

A file is hashed again and held against the SHA-256 kept. What is found is kept as
events; nothing is put right without the person's approval, and no file is touched.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

from sqlmodel import Session, col, select

from catalogue.clock import now
from catalogue.errors import InvalidInput
from catalogue.scans.match.linking import read_anew
from catalogue.scans.read.file_kinds import picture_files
from catalogue.scans.read.files import file_row
from catalogue.scans.read.one_file import sha256_of
from catalogue.settings import scan_folder
from catalogue.store.engine import Archive
from catalogue.store.tables.rolls import Frame, Roll
from catalogue.store.tables.scans import FileEvent, RunFile, Scan, ScanFile


@dataclass(frozen=True)
class FileTrouble:
    """A file that isn't as it was linked. `master_of`: the frames whose master it is, as "2031-014 / 7"."""

    file_id: int
    path: str
    state: str
    moved_to: str
    master_of: tuple[str, ...]

    @property
    def words(self) -> str:
        """What is wrong, as a sentence; a master is named as such."""
        whose = f" It is the master of {', '.join(self.master_of)}." if self.master_of else ""
        if self.moved_to:
            return f"{self.path} lies now at {self.moved_to}.{whose}"
        if self.state == "changed":
            return f"{self.path} has changed since it was linked.{whose}"
        return f"{self.path} is missing.{whose}"


@dataclass(frozen=True)
class CheckReport:
    """What a re-check found: how many files and bytes, and the troubles that stand now, changed masters first."""

    files: int
    bytes: int
    left: int
    troubles: tuple[FileTrouble, ...]
    new: tuple[str, ...] = ()
    """Picture files under the scan folder that the archive doesn't know."""

    @property
    def words(self) -> str:
        """The whole as a sentence."""
        more = f", {self.left} not checked yet" if self.left else ""
        wrong = f"{len(self.troubles)} not as they were linked" if self.troubles else "all as they were linked"
        return f"{self.files} files ({self.bytes / 1e6:.0f} MB) checked{more}; {wrong}. {len(self.new)} pictures are not linked."


def troubles(session: Session) -> tuple[FileTrouble, ...]:
    """Files that aren't as they were linked: changed masters first, then other masters, then the rest."""
    rows = session.exec(select(ScanFile).where(ScanFile.state != "there").order_by(col(ScanFile.path))).all()
    query = (
        select(Scan.file_id, Roll.number, Frame.label)
        .join(Frame, col(Frame.id) == col(Scan.frame_id))
        .join(Roll, col(Roll.id) == col(Frame.roll_id))
        .where(Scan.role == "master", col(Scan.file_id).in_([r.id for r in rows]))
    )
    masters: dict[int, list[str]] = {}
    for file_id, number, label in session.exec(query):
        masters.setdefault(file_id, []).append(f"{number} / {label}")
    found = [FileTrouble(r.id or 0, r.path, r.state, r.moved_to, tuple(masters.get(r.id or 0, ()))) for r in rows]
    return tuple(sorted(found, key=lambda t: (not (t.master_of and t.state == "changed"), not t.master_of, t.path)))


def check_files(
    archive: Archive,
    *,
    most_bytes: int | None = None,
    since: str = "",
    told: Callable[[int, int], None] = lambda files, size: None,
    cancelled: Callable[[], bool] = lambda: False,
) -> CheckReport:
    """Checks files, least recently checked first, until `most_bytes` are read or all have been checked since `since`.

    Each result is committed as it is found. `told` hears of files and bytes done.
    """
    began = since or now()
    with archive.session(reading=True) as session:
        root = scan_folder(session)
        query = select(ScanFile.id, ScanFile.path).order_by(col(ScanFile.checked_at), col(ScanFile.id))
        if since:
            query = query.where(ScanFile.checked_at < since)
        waiting = [(key or 0, path) for key, path in session.exec(query)]
    done, size = 0, 0
    for key, path in waiting:
        if cancelled() or (most_bytes is not None and done and size >= most_bytes):
            break
        size += _check(archive, key, root / path)
        done += 1
        told(done, size)
    new = _look_for_moved(archive, root)
    with archive.session() as session:
        found = troubles(session)
        session.add(FileEvent(at=began, what="checked", words=f"{done} files, {size} bytes; {len(found)} not as linked."))
    return CheckReport(done, size, len(waiting) - done, found, new)


def _check(archive: Archive, key: int, path: Path) -> int:
    """Checks one file; gives the bytes read."""
    try:
        seen = path.stat() if path.is_file() else None
        digest = sha256_of(path) if seen else ""
    except OSError:
        seen, digest = None, ""
    with archive.session() as session:
        row = file_row(session, key)
        state = "missing" if not digest else "there" if digest == row.sha256 else "changed"
        if state != row.state:
            what = "back" if state == "there" else state
            session.add(FileEvent(at=now(), what=what, path=row.path, file_id=row.id, words=f"{row.state} before"))
        row.state, row.checked_at = state, now()
        if state == "there" and seen:
            row.byte_size, row.mtime_ns, row.moved_to = seen.st_size, seen.st_mtime_ns, ""
        session.flush()
    return seen.st_size if seen else 0


def _look_for_moved(archive: Archive, root: Path) -> tuple[str, ...]:
    """Looks for missing files among those not known, by size and then SHA-256; gives the paths of what is new."""
    if not root.is_dir():
        return ()
    inside = root.resolve()
    with archive.session(reading=True) as session:
        known = set(session.exec(select(ScanFile.path)))
        missing = session.exec(select(ScanFile).where(ScanFile.state == "missing")).all()
        # What was found before and lies there still waits for the approval; what has gone on is looked for again.
        waiting = {row.moved_to for row in missing if row.moved_to and (inside / row.moved_to).is_file()}
        lost = [(row.id or 0, row.byte_size, row.sha256) for row in missing if row.moved_to not in waiting]
        gone_on = {row.id or 0 for row in missing if row.moved_to and row.moved_to not in waiting}
    unknown = [path for path in picture_files(root)[0] if path.relative_to(inside).as_posix() not in known | waiting]
    found: dict[int, str] = {}
    for path in unknown:
        try:
            size = path.stat().st_size
            candidates = [(key, digest) for key, known_size, digest in lost if known_size in (0, size) and key not in found]
            digest = sha256_of(path) if candidates else ""
        except OSError:
            continue
        for key, wanted in candidates:
            if wanted == digest:
                found[key] = path.relative_to(inside).as_posix()
                break
    if found or gone_on:
        with archive.session() as session:
            for key in gone_on - set(found):
                file_row(session, key).moved_to = ""
            for key, place in found.items():
                row = file_row(session, key)
                row.moved_to = place
                session.add(FileEvent(at=now(), what="moved", path=row.path, file_id=key, words=f"found at {place}"))
            session.flush()
    taken = set(found.values())
    return tuple(p for path in unknown if (p := path.relative_to(inside).as_posix()) not in taken)


def accept_moves(session: Session) -> int:
    """Takes all moves that were found as meant: one approval for all; gives how many.

    Of two files that were found at one place, the later one goes there and the other stays as it is.
    """
    found = session.exec(select(ScanFile).where(ScanFile.moved_to != "").order_by(col(ScanFile.id))).all()
    moved = list({row.moved_to: row for row in found}.values())
    for row in moved:
        _take_over(session, row)
        session.add(FileEvent(at=now(), what="accepted", path=row.path, file_id=row.id, words=f"now at {row.moved_to}"))
        row.path, row.moved_to, row.state = row.moved_to, "", "there"
    session.flush()
    return len(moved)


def _take_over(session: Session, row: ScanFile) -> None:
    """Where the file was read anew at its new place before the move was approved, both rows become one."""
    other = session.exec(select(ScanFile).where(ScanFile.path == row.moved_to)).first()
    if other is None:
        return
    ours = {scan.frame_id: scan for scan in session.exec(select(Scan).where(Scan.file_id == row.id))}
    for scan in session.exec(select(Scan).where(Scan.file_id == other.id)).all():
        kept = ours.get(scan.frame_id)
        if kept is None:
            scan.file_id = row.id or 0
            continue
        role = "master" if scan.role == "master" else kept.role
        session.delete(scan)
        session.flush()  # before the role, or there would be two masters for a moment
        kept.role = role
    for table in (RunFile, FileEvent):
        for entry in session.exec(select(table).where(table.file_id == other.id)).all():
            entry.file_id = row.id
    session.flush()
    session.delete(other)
    session.flush()


def accept_change(session: Session, file_id: int) -> ScanFile:
    """Takes a changed file as meant: it is read again and its new SHA-256 is kept."""
    row = file_row(session, file_id)
    if row.state != "changed":
        raise InvalidInput(f"{row.path} hasn't changed since it was linked.")
    before = row.sha256
    row = read_anew(session, row.path, scan_folder(session) / row.path)
    session.add(FileEvent(at=now(), what="accepted", path=row.path, file_id=row.id, words=f"SHA-256 before {before}"))
    session.flush()
    return row


def events(session: Session, most: int = 100) -> tuple[FileEvent, ...]:
    """What re-checks found, newest first."""
    return tuple(session.exec(select(FileEvent).order_by(col(FileEvent.id).desc()).limit(most)))
