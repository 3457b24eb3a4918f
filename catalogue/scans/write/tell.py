"""What is known of a frame, written beside its scans on request: sidecars, and names that say roll and frame."""

from collections import Counter
from pathlib import Path
from typing import Literal

from sqlmodel import Session, col, select

from catalogue.errors import InvalidInput
from catalogue.rolls.change import get_roll
from catalogue.scans.log.log_values import parse_shutter
from catalogue.scans.look.positives import FilmKind, kind_for
from catalogue.scans.look.showing_positive import positive_of_roll
from catalogue.scans.write.file_names import CopyMade, FileOfFrame, NewName, copy_under_new_names, propose_names
from catalogue.scans.write.frame_facts import FrameFacts
from catalogue.scans.write.sidecars import SidecarReport, check_sidecar, write_sidecar
from catalogue.settings import scan_folder
from catalogue.store.tables.rolls import Frame
from catalogue.store.tables.scans import Scan
from catalogue.views import FrameView, RollView, ScanView


def facts_of(session: Session, roll: RollView, frame: FrameView, scan: ScanView) -> FrameFacts:
    """What a sidecar says of the frame that a scan shows; the taking date is the frame's, else the roll's."""
    row = session.get_one(Frame, frame.id)
    address = frame.address
    keywords = tuple(dict.fromkeys(k.strip() for text in (frame.keywords, roll.keywords) for k in text.split(",") if k.strip()))
    kind = kind_for(roll.process.process if roll.process else "", roll.stock)
    shutter = parse_shutter(row.shutter)[0] if row.shutter else None
    is_negative = kind is not None or positive_of_roll(session, roll.number) is not None
    film_kind: Literal["", "negative", "positive"] = "positive" if kind is FilmKind.SLIDE else "negative" if is_negative else ""
    return FrameFacts(
        roll=roll.number, frame=frame.label, exposed=row.taken_at or frame.exposed or roll.exposed, scanned=scan.captured,
        caption=frame.caption or frame.subject or roll.subject, place=frame.place or roll.place, keywords=keywords,
        camera=roll.camera, lens=frame.lens or roll.lens, stock=roll.stock, film_kind=film_kind,
        binder=address.binder if address else "", page=address.page if address else None,
        slot=address.slot if address else None, place_in_slot=address.place if address else None,
        address=address.words if address else "", former_numbers=roll.former_numbers,
        shutter_s=shutter, aperture=row.aperture, latitude=row.latitude, longitude=row.longitude,
    )  # fmt: skip


def _of_one_frame(session: Session, roll: RollView) -> list[tuple[FrameView, ScanView]]:
    """The scans of a roll that show one frame alone: no strips and no pages, whatever roll their other frames are of."""
    shown = [(frame, scan) for frame in roll.frames for scan in frame.scans]
    files = select(Scan.file_id).where(col(Scan.id).in_([scan.id for _, scan in shown]))
    ties = session.exec(select(Scan.id, Scan.file_id, Scan.area_x).where(col(Scan.file_id).in_(files))).all()
    frames_on = Counter(file_id for _, file_id, _ in ties)
    alone = {key for key, file_id, area_x in ties if frames_on[file_id] == 1 and area_x is None}
    return [(frame, scan) for frame, scan in shown if scan.id in alone]


def write_sidecars(session: Session, number: str) -> tuple[SidecarReport, ...]:
    """Writes a sidecar beside every scan of a roll that shows one frame alone; foreign ones are merged, never dropped.

    None is written where one of them can't be. Raises `InvalidInput` for a roll without scans, and with a sentence where a
    foreign sidecar can't be read.
    """
    roll = get_roll(session, number)
    root = scan_folder(session)
    single = [(frame, scan) for frame, scan in _of_one_frame(session, roll) if scan.state != "missing"]
    if not single:
        raise InvalidInput(f"Roll {roll.number} has no scan of a single frame, so there is nothing to write a sidecar for.")
    facts = [(root / scan.path, facts_of(session, roll, frame, scan)) for frame, scan in single]
    for path, told in facts:
        check_sidecar(path, told)
    return tuple(write_sidecar(path, told) for path, told in facts)


def proposed_names(session: Session, number: str) -> tuple[NewName, ...]:
    """Names that say roll and frame, for every scan of a roll that shows one frame alone; nothing is renamed."""
    roll = get_roll(session, number)
    root = scan_folder(session)
    files = [
        FileOfFrame(root / scan.path, roll.number, frame.label, "" if scan.role == "master" else scan.role)
        for frame, scan in _of_one_frame(session, roll)
    ]
    if not files:
        raise InvalidInput(f"Roll {roll.number} has no scan of a single frame to name.")
    return propose_names(files)


def copies_under_new_names(session: Session, number: str, folder: Path) -> tuple[CopyMade, ...]:
    """Copies of a roll's scans under the proposed names; the scans stay as and where they are."""
    return copy_under_new_names(proposed_names(session, number), folder)
