"""Tying image files to frames: one folder of files named by frame. Files are never altered."""

import re
from dataclasses import dataclass
from pathlib import Path

from sqlmodel import Session, select

from catalogue.errors import InvalidInput, NotFound, OutsideScanFolder, UnreadablePicture
from catalogue.film.frame_numbers import FrameNumber
from catalogue.moving import now
from catalogue.reading import frame_row, roll_row
from catalogue.scans.previews import read_picture
from catalogue.settings_store import SCAN_FOLDER, scan_folder, set_setting
from catalogue.store.tables import Frame, Scan
from catalogue.views import ScanView

PICTURE_ENDINGS = (".jpg", ".jpeg", ".png", ".tif", ".tiff")
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


def _inside(root: Path, relative: str) -> Path:
    """The path under the scan folder; raises where it, or a link in it, leads out."""
    try:
        path = (root / relative).resolve()
        inside = path.is_relative_to(root.resolve())
    except (OSError, ValueError):
        inside = False
    if not inside:
        raise OutsideScanFolder(f"“{relative[:100]}” leads out of the scan folder {root}. Give a path inside it.")
    try:
        path.exists()
    except OSError as problem:  # a name longer than the disk can hold
        raise NotFound(f"There is no “{relative[:60]}…” in the scan folder: {problem.strerror}.") from problem
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


def link_scan(session: Session, number: str, label: str, path: str) -> ScanView:
    """Ties one file to a frame; the path is kept relative to the scan folder."""
    root = scan_folder(session)
    file = _inside(root, path)
    if not file.is_file():
        raise NotFound(f"There is no file {path[:100]} in the scan folder {root}.")
    roll = roll_row(session, number)
    frame = frame_row(session, roll, label)
    facts = read_picture(file, Path(session.info["folder"]))
    relative = file.relative_to(root.resolve()).as_posix()
    row = session.exec(select(Scan).where(Scan.frame_id == frame.id, Scan.path == relative)).first()
    row = row or Scan(frame_id=frame.id or 0, path=relative, sha256="", width_px=1, height_px=1, linked_at=now())
    row.sha256, row.width_px, row.height_px, row.file_date = (
        facts.sha256,
        facts.width_px,
        facts.height_px,
        facts.file_date,
    )
    session.add(row)
    session.flush()
    return ScanView(row.id or 0, relative, row.sha256, row.width_px, row.height_px, row.file_date, str(file))


def link_folder(session: Session, number: str, folder: str = "") -> LinkReport:
    """Ties every picture of one folder to the frame its name says; the rest is listed with the reason."""
    root = scan_folder(session)
    place = _inside(root, folder)
    if not place.is_dir():
        raise NotFound(f"There is no folder {folder[:100] or '(the scan folder itself)'} in the scan folder {root}.")
    roll = roll_row(session, number)
    labels = set(session.exec(select(Frame.label).where(Frame.roll_id == roll.id)))
    files = sorted(p for p in place.iterdir() if p.is_file() and not p.name.startswith("."))
    if len(files) > MAX_FILES:
        raise InvalidInput(f"That folder holds {len(files)} files; up to {MAX_FILES} are read at once. Name a smaller one.")
    linked: list[tuple[str, str]] = []
    skipped: list[tuple[str, str]] = []
    for file in files:
        if file.suffix.casefold() not in PICTURE_ENDINGS:
            skipped.append((file.name, "not a JPEG, PNG or TIFF file"))
            continue
        label = frame_named_by(file.name, roll.number)
        if label is None or label not in labels:
            skipped.append((file.name, "its name says no frame of this roll"))
            continue
        try:
            view = link_scan(session, roll.number, label, str(file.relative_to(root) if root in file.parents else file))
            linked.append((label, view.path))
        except (UnreadablePicture, OutsideScanFolder) as problem:
            skipped.append((file.name, str(problem)))
    return LinkReport(tuple(linked), tuple(skipped))
