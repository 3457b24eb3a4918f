"""Reading a folder of scans: listed, read file by file, stopped and gone on with; nothing is tied to a frame here.

Each file is committed as it is done, so that a run cut off at any moment goes on
where it was: a file that is known and unchanged isn't read again.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from threading import Event

from sqlmodel import Session, col, func, select

from catalogue.clock import now
from catalogue.errors import InvalidInput, NotFound
from catalogue.rolls.rows import roll_row
from catalogue.scans.read.file_kinds import picture_files
from catalogue.scans.read.files import fingerprint_bytes, keep_file, known_unchanged
from catalogue.scans.read.many_files import read_files
from catalogue.settings import scan_folder
from catalogue.store.apart import set_apart
from catalogue.store.engine import Archive
from catalogue.store.tables.rolls import Roll
from catalogue.store.tables.scans import ReadingRun, RunFile

MAX_FILES = 5000


@dataclass(frozen=True)
class RunProgress:
    """How far a reading is, in files and in bytes."""

    id: int
    folder: str
    roll: str
    state: str
    """"reading", "stopped", "read", "linked" or "undone"."""
    files: int
    done: int
    refused: int
    bytes_total: int
    bytes_done: int
    method: str
    pattern: str
    started_at: str

    @property
    def words(self) -> str:
        """The progress as one line."""
        unit, size = ("MB", 1e6) if self.bytes_total >= 10_000_000 else ("kB", 1e3)
        amount = f"{self.bytes_done / size:.0f} of {self.bytes_total / size:.0f} {unit}"
        left_out = f", {self.refused} left out" if self.refused else ""
        return f"{self.done} of {self.files} files, {amount}{left_out}"


def run_row(session: Session, run_id: int) -> ReadingRun:
    """The run; raises `NotFound`."""
    found = session.get(ReadingRun, run_id)
    if found is None:
        raise NotFound(f"There is no reading {run_id}. Look at the roll's scans.")
    return found


def run_progress(session: Session, run_id: int) -> RunProgress:
    """How far the reading is; raises `NotFound`."""
    run = run_row(session, run_id)
    query = (
        select(RunFile.state, func.count(), func.coalesce(func.sum(RunFile.byte_size), 0))
        .where(RunFile.run_id == run_id)
        .group_by(RunFile.state)
    )
    by_state = {state: (count, size) for state, count, size in session.exec(query)}
    files, total = (sum(values) for values in zip(*by_state.values(), strict=True)) if by_state else (0, 0)
    waiting, size = by_state.get("waiting", (0, 0))
    roll = session.get(Roll, run.roll_id) if run.roll_id else None
    return RunProgress(
        run_id, run.folder, roll.number if roll else "", run.state, files, files - waiting, by_state.get("refused", (0, 0))[0],
        total, total - size, run.method, run.pattern, run.started_at,
    )  # fmt: skip


def runs_of(session: Session, number: str) -> tuple[RunProgress, ...]:
    """The readings for a roll, newest first."""
    roll = roll_row(session, number)
    ids = session.exec(select(ReadingRun.id).where(ReadingRun.roll_id == roll.id).order_by(col(ReadingRun.id).desc()))
    return tuple(run_progress(session, key or 0) for key in ids.all())


def _listed(root: Path, folder: str) -> tuple[list[tuple[str, int]], list[tuple[str, str]]]:
    """Paths in the scan folder: of pictures with their bytes, and of what was left out with the reason."""
    files, refused = picture_files(root, folder)
    top = root.resolve()
    return (
        [(path.relative_to(top).as_posix(), path.stat().st_size) for path in files],
        [(r.path.relative_to(top).as_posix(), r.reason) for r in refused],
    )


def start_run(session: Session, folder: str, number: str) -> RunProgress:
    """Lists the folder's picture files for reading; a run of the same folder that was stopped is gone on with.

    Raises `NotFound`, `OutsideScanFolder`, and `InvalidInput` for a folder with no pictures or too many.
    """
    root, roll = scan_folder(session), roll_row(session, number)
    ((files, refused),) = set_apart(session, _listed, (root, folder))
    if not files:
        raise InvalidInput(f"There is no picture file in {folder or 'the scan folder'}. JPEG, TIFF, PNG and raw files are read.")
    if len(files) > MAX_FILES:
        raise InvalidInput(f"That folder holds {len(files)} pictures; up to {MAX_FILES} are read at once. Name a smaller one.")
    plain = "/".join(part for part in folder.split("/") if part not in ("", "."))
    stopped = select(ReadingRun).where(
        ReadingRun.folder == plain, ReadingRun.roll_id == roll.id, col(ReadingRun.state).in_(("reading", "stopped"))
    )
    run = session.exec(stopped).first() or ReadingRun(folder=plain, roll_id=roll.id, started_at=now())
    run.state = "reading"
    session.add(run)
    session.flush()
    known = {row.path: row for row in session.exec(select(RunFile).where(RunFile.run_id == run.id))}
    entries = [(path, size, "") for path, size in files] + [(path, 0, reason) for path, reason in refused]
    for position, (path, size, reason) in enumerate(entries, 1):
        row = known.get(path) or RunFile(run_id=run.id or 0, path=path, position=position)
        row.position, row.byte_size = position, size
        if reason:
            row.state, row.reason = "refused", reason
        elif row.state == "refused":  # it may have been mended since
            row.state, row.reason = "waiting", ""
        session.add(row)
    session.flush()
    return run_progress(session, run.id or 0)


def stop_run(session: Session, run_id: int) -> RunProgress:
    """Stops a reading: the file in hand is finished, the rest waits, nothing is lost."""
    run = run_row(session, run_id)
    if run.state == "reading":
        run.state = "stopped"
        session.flush()
    return run_progress(session, run_id)


def read_run(
    archive: Archive,
    run_id: int,
    *,
    workers: int = 2,
    told: Callable[[RunProgress], None] = lambda progress: None,
    cancelled: Callable[[], bool] = lambda: False,
) -> RunProgress:
    """Reads the waiting files of a run, each committed as it is done; `told` hears of each.

    Ends where nothing is waiting, or where the run was stopped or `cancelled` says so.
    """
    with archive.session() as session:
        run_row(session, run_id).state = "reading"
        root = scan_folder(session).resolve()
        waiting = []
        for row in session.exec(select(RunFile).where(RunFile.run_id == run_id, RunFile.state == "waiting")):
            known = known_unchanged(session, row.path, root / row.path)
            if known is not None:
                row.state, row.file_id = "read", known.id
            else:
                waiting.append((row.position, root / row.path))
    paths = [path for _, path in sorted(waiting)]
    stopped = Event()
    for result in read_files(paths, archive.folder, workers, lambda: stopped.is_set() or cancelled()):
        print_of_it = fingerprint_bytes(result.facts) if result.facts else b""
        with archive.session() as session:
            if run_row(session, run_id).state != "reading":
                stopped.set()
            relative = result.path.relative_to(root).as_posix()
            row = session.exec(select(RunFile).where(RunFile.run_id == run_id, RunFile.path == relative)).one()
            if result.facts is None:
                row.state, row.reason = "refused", result.reason
            else:
                row.file_id = keep_file(session, relative, result.path, result.facts, print_of_it).id
                row.state, row.reason = "read", ""
            session.flush()
            progress = run_progress(session, run_id)
        told(progress)
    with archive.session() as session:
        run = run_row(session, run_id)
        progress = run_progress(session, run_id)
        if run.state == "reading":
            run.state = "read" if progress.done == progress.files else "stopped"
            run.ended_at = now()
            session.flush()
        return run_progress(session, run_id)
