"""Tying image files to frames one by one or by their names, and what a tie says. Files are never altered."""

import re
from dataclasses import dataclass
from pathlib import Path

from sqlmodel import Session, col, select

from catalogue.clock import now
from catalogue.errors import InvalidInput, NotFound, OutsideScanFolder, UnreadablePicture
from catalogue.film.frame_numbers import FrameNumber
from catalogue.rolls.rows import film_of, frame_row, roll_row
from catalogue.rolls.scan_rows import scan_view
from catalogue.scans.look.shown import Area
from catalogue.scans.read.file_kinds import inside, picture_files
from catalogue.scans.read.files import file_row, keep_file, known_unchanged
from catalogue.scans.read.one_file import read_file
from catalogue.settings import SCAN_FOLDER, scan_folder, set_setting
from catalogue.store.tables.rolls import Frame, Roll
from catalogue.store.tables.scans import POLARITIES, SCAN_ROLES, Scan, ScanFile
from catalogue.views import ScanView

MAX_FILES = 2000


@dataclass(frozen=True)
class LinkReport:
    """What became of a folder: (label, path) pairs linked, (file, reason) pairs left out."""

    linked: tuple[tuple[str, str], ...]
    skipped: tuple[tuple[str, str], ...]


def set_scan_folder(session: Session, folder: str) -> Path:
    """Sets the scan folder; it must exist."""
    path = Path(folder).expanduser()
    if not path.is_absolute() or not path.is_dir():
        raise InvalidInput(f"{folder[:200]} is not a folder on this computer. Give its whole path.")
    set_setting(session, SCAN_FOLDER, str(path))
    return path


def frame_named_by(file_name: str, roll: str) -> str | None:
    """The frame label that a file name ends with: "2031-014_23A.jpg", "23A.jpg", "frame-07.tif"."""
    stem = Path(file_name).stem
    rest = stem[len(roll) :]
    # Without a mark behind the number, "12.jpg" of roll 1 is frame 12, not frame 2.
    if stem.casefold().startswith(roll.casefold()) and re.match(r"[\s_\-.]", rest):
        stem = rest
    elif len(re.findall(r"\d+", stem)) > 1:
        return None
    found = re.fullmatch(r"[\s_\-.]*(?:frame|f|no)?[\s_\-.]*(\d{1,4}[A-Za-z]?)", stem, re.IGNORECASE)
    return FrameNumber.parse(found[1]).text if found else None


def read_into_archive(session: Session, root: Path, relative: str) -> ScanFile:
    """The file's row, read now unless it is known and unchanged; the path kept is relative to the scan folder."""
    file = inside(root, relative)
    if not file.is_file():
        raise NotFound(f"There is no file {relative[:100]} in the scan folder {root}.")
    plain = file.relative_to(root.resolve()).as_posix()
    known = known_unchanged(session, plain, file)
    return known or keep_file(session, plain, file, read_file(file, Path(session.info["folder"])))


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


def link_folder(session: Session, number: str, folder: str = "") -> LinkReport:
    """Ties every picture of one folder to the frame its name says; the rest is listed with the reason."""
    root = scan_folder(session)
    roll = roll_row(session, number)
    frames = {f.label: f for f in session.exec(select(Frame).where(col(Frame.roll_id) == roll.id))}
    files, refused = picture_files(root, folder)
    if len(files) > MAX_FILES:
        raise InvalidInput(f"That folder holds {len(files)} files; up to {MAX_FILES} are read at once. Name a smaller one.")
    linked: list[tuple[str, str]] = []
    skipped = [(r.path.name, r.reason) for r in refused]
    for file in files:
        label = frame_named_by(file.name, roll.number)
        if label is None or label not in frames:
            skipped.append((file.name, "its name says no frame of this roll"))
            continue
        try:
            row = read_into_archive(session, root, str(file.relative_to(root.resolve())))
            tie(session, frames[label], row)
            linked.append((label, row.path))
        except (UnreadablePicture, OutsideScanFolder) as problem:
            skipped.append((file.name, str(problem)))
    return LinkReport(tuple(linked), tuple(skipped))
