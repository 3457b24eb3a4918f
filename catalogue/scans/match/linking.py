"""Tying image files to frames, and what a tie says. Files are never altered."""

from pathlib import Path

from sqlmodel import Session, select

from catalogue.clock import now
from catalogue.errors import InvalidInput, NotFound
from catalogue.rolls.rows import film_of, frame_row, roll_row
from catalogue.rolls.scan_rows import Area, scan_view
from catalogue.scans.read.file_kinds import inside
from catalogue.scans.read.files import file_row, fingerprint_bytes, keep_file, known_unchanged
from catalogue.scans.read.one_file import FileFacts, read_file
from catalogue.settings import SCAN_FOLDER, scan_folder, set_setting
from catalogue.store.apart import set_apart
from catalogue.store.tables.rolls import Frame, Roll
from catalogue.store.tables.scans import POLARITIES, SCAN_ROLES, Scan, ScanFile
from catalogue.views import ScanView


def set_scan_folder(session: Session, folder: str) -> Path:
    """Sets the scan folder; it must exist."""
    path = Path(folder).expanduser()
    if not path.is_absolute() or not path.is_dir():
        raise InvalidInput(f"{folder[:200]} is not a folder on this computer. Give its whole path.")
    set_setting(session, SCAN_FOLDER, str(path))
    return path


def _read(path: Path, archive_folder: Path) -> tuple[FileFacts, bytes]:
    facts = read_file(path, archive_folder)
    return facts, fingerprint_bytes(facts)


def read_into_archive(session: Session, root: Path, relative: str) -> ScanFile:
    """The file's row, read now unless it is known and unchanged; the path kept is relative to the scan folder."""
    file = inside(root, relative)
    if not file.is_file():
        raise NotFound(f"There is no file {relative[:100]} in the scan folder {root}.")
    plain = file.relative_to(root.resolve()).as_posix()
    return known_unchanged(session, plain, file) or read_anew(session, plain, file)


def read_anew(session: Session, relative: str, path: Path) -> ScanFile:
    """The file read now, in place of what was known of that path before."""
    ((facts, fingerprint),) = set_apart(session, _read, (path, Path(session.info["folder"])))
    return keep_file(session, relative, path, facts, fingerprint)


def tie(
    session: Session,
    frame: Frame,
    file: ScanFile,
    *,
    role: str = "",
    quarter_turns: int | None = None,
    mirrored: bool | None = None,
    polarity: str = "",
    area: Area | None = None,
    run_id: int | None = None,
) -> Scan:
    """Says that the file shows the frame; a frame's first scan is its master unless another role is given.

    Of a tie that is there already, what isn't given stays as the person put it; the area is always the one given.
    """
    if role and role not in SCAN_ROLES:
        raise InvalidInput(f"A scan is one of: {', '.join(SCAN_ROLES)}; not {role[:20]}.")
    scan = session.exec(select(Scan).where(Scan.frame_id == frame.id, Scan.file_id == file.id)).first()
    if scan is None:
        scan = Scan(frame_id=frame.id or 0, file_id=file.id or 0, role="working", run_id=run_id, linked_at=now())
        role = role or ("working" if master_of(session, frame.id) else "master")
    scan.quarter_turns = scan.quarter_turns if quarter_turns is None else quarter_turns % 4
    scan.mirrored = scan.mirrored if mirrored is None else mirrored
    scan.polarity = polarity or scan.polarity
    scan.area_x, scan.area_y, scan.area_w, scan.area_h = area or (None, None, None, None)
    if role == "master":
        make_master(session, frame, scan)
    elif role:
        scan.role = role
    session.add(scan)
    session.flush()
    return scan


def master_of(session: Session, frame_id: int | None) -> Scan | None:
    """The frame's master, or None."""
    return session.exec(select(Scan).where(Scan.frame_id == frame_id, Scan.role == "master")).first()


def make_master(session: Session, frame: Frame, scan: Scan) -> None:
    """Names the frame's master; the one before it becomes a working copy."""
    before = master_of(session, frame.id)
    if before is not None and before is not scan:
        before.role = "working"
        session.flush()  # before the new one, or there would be two for a moment
    scan.role = "master"
    session.add(scan)
    session.flush()


def link_scan(session: Session, number: str, label: str, path: str, role: str = "") -> ScanView:
    """Ties one file to a frame; the path is kept relative to the scan folder."""
    root = scan_folder(session)
    roll = roll_row(session, number)
    frame = frame_row(session, roll, label)
    file = read_into_archive(session, root, path)
    return scan_view((tie(session, frame, file, role=role), file), root, film_of(session, roll), frame.length_mm)


def scan_row(session: Session, scan_id: int) -> tuple[Scan, ScanFile, Frame, Roll]:
    """A scan with its file, frame and roll; raises `NotFound`."""
    scan = session.get(Scan, scan_id)
    if scan is None:
        raise NotFound(f"There is no scan {scan_id}. Look at the roll's scans again.")
    frame = session.get_one(Frame, scan.frame_id)
    return scan, file_row(session, scan.file_id), frame, session.get_one(Roll, frame.roll_id)


def change_scan(
    session: Session,
    scan_id: int,
    *,
    label: str | None = None,
    role: str | None = None,
    quarter_turns: int | None = None,
    mirrored: bool | None = None,
    polarity: str | None = None,
) -> ScanView:
    """Puts right what a scan says: its frame, its role, how it stands; the file stays as it is."""
    scan, file, frame, roll = scan_row(session, scan_id)
    if role is not None and role not in SCAN_ROLES:  # refused before anything is changed
        raise InvalidInput(f"A scan is one of: {', '.join(SCAN_ROLES)}; not {role[:20]}.")
    if polarity is not None and polarity not in POLARITIES:
        raise InvalidInput("A scan is a negative or a positive.")
    if label is not None and (other := frame_row(session, roll, label)).id != frame.id:
        if session.exec(select(Scan).where(Scan.frame_id == other.id, Scan.file_id == file.id)).first():
            raise InvalidInput(f"That file shows frame {other.label} already.")
        if scan.role == "master" and master_of(session, other.id):
            scan.role = "working"
        scan.frame_id, frame = other.id or 0, other
    if role == "master":
        make_master(session, frame, scan)
    elif role is not None:
        scan.role = role
    if quarter_turns is not None:
        scan.quarter_turns = quarter_turns % 4
    if mirrored is not None:
        scan.mirrored = mirrored
    if polarity is not None:
        scan.polarity = polarity
    session.add(scan)
    session.flush()
    return scan_view((scan, file), scan_folder(session), film_of(session, roll), frame.length_mm)


def untie(session: Session, scan_id: int) -> None:
    """Takes back that a file shows a frame; the file stays where it is and the archive goes on knowing it."""
    scan, *_ = scan_row(session, scan_id)
    session.delete(scan)
    session.flush()
