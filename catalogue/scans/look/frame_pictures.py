"""The picture of a frame, or of one of its scans, as a file to show; made where it isn't there yet."""

from pathlib import Path

from sqlmodel import Session, col, select

from catalogue.errors import NotFound
from catalogue.rolls.scan_rows import area_of, scans_of
from catalogue.scans.look.shown import Look, make_shown
from catalogue.scans.match.linking import scan_row
from catalogue.scans.rows import Positives, look_of
from catalogue.settings import scan_folder
from catalogue.store.tables.rolls import Frame, StripFrame
from catalogue.store.tables.scans import Scan, ScanFile

PLAIN = Look()


def _strip_of(session: Session, frame_id: int) -> int | None:
    query = select(StripFrame.strip_id).where(StripFrame.frame_id == frame_id).order_by(col(StripFrame.strip_id))
    return session.exec(query).first()


def _made(session: Session, scan: Scan, file: ScanFile, roll_id: int, large: bool, original: bool) -> Path:
    inversion = None if original else Positives(session, [roll_id]).inversion(scan, roll_id, _strip_of(session, scan.frame_id))
    look = Look(area_of(scan)) if original else look_of(scan, inversion)
    return file_picture(session, file, look, large=large)


def frame_picture(session: Session, frame_id: int, *, large: bool = False) -> Path:
    """The best picture of a frame, the right way up and positive. Raises `NotFound` for a frame without a scan."""
    frame = session.get(Frame, frame_id)
    pairs = scans_of(session, [frame_id]).get(frame_id)
    if frame is None or not pairs:
        raise NotFound("There is no picture of this frame yet. Read its scans on the roll's page.")
    return _made(session, *pairs[0], frame.roll_id, large, False)


def scan_picture(session: Session, scan_id: int, *, large: bool = False, original: bool = False) -> Path:
    """One scan as it is shown, or with `original` as the file has it. Raises `NotFound`."""
    scan, file, frame, _ = scan_row(session, scan_id)
    return _made(session, scan, file, frame.roll_id, large, original)


def file_picture(session: Session, file: ScanFile, look: Look = PLAIN, *, large: bool = False) -> Path:
    """A file as it is, or treated; tied to a frame or not."""
    folder, path = Path(session.info["folder"]), scan_folder(session) / file.path
    return make_shown(folder, path, file.sha256, look, large=large)
