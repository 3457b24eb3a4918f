"""One approval ties a whole reading to its frames; one press takes it back whole."""

from contextlib import suppress

from sqlmodel import Session, col, select

from catalogue.clock import now
from catalogue.errors import InvalidInput, UnreadablePicture
from catalogue.rolls.scan_rows import area_of, scans_of
from catalogue.scans.look.positives import FilmKind
from catalogue.scans.look.showing_positive import balance_scans, likely_kind, positive_of_roll, set_positive
from catalogue.scans.match.linking import master_of, tie
from catalogue.scans.read.folder_runs import run_row
from catalogue.store.tables.rolls import Frame, Roll
from catalogue.store.tables.scans import POLARITIES, RunFile, Scan, ScanFile

_OTHER = {"negative": "positive", "positive": "negative", "": ""}


def _size(scan: Scan, file: ScanFile) -> float:
    """How much a scan shows of its frame, in pixels."""
    area = area_of(scan)
    return file.width_px * file.height_px * (area[2] * area[3] if area else 1.0)


def approve(session: Session, run_id: int, polarity: str = "") -> int:
    """Ties every proposed file to its frame, all at once; gives how many were tied.

    `polarity`: the files are negatives ("negative"), positives, or as the roll is (empty). A file that is the other
    way round than the picture its frame had says what that one is, too. A better scan than the frame's master becomes
    the master. Negatives of a roll whose process is known are shown as positives from then on, unless that was set by
    hand. Raises `InvalidInput` for a run that is being read, is tied already or proposes nothing.
    """
    if polarity not in POLARITIES:
        raise InvalidInput("The files are negatives or positives, or as the roll is.")
    run = run_row(session, run_id)
    if run.state not in ("read", "stopped", "undone"):
        raise InvalidInput("This reading is tied already." if run.state == "linked" else "The folder is still being read.")
    rows = [r for r in session.exec(select(RunFile).where(RunFile.run_id == run_id, RunFile.state == "read")) if r.frame_id]
    if not rows:
        raise InvalidInput("Nothing is proposed yet. Match the files first, or choose their frames by hand.")
    with session.begin_nested():
        ordered = sorted(rows, key=lambda r: r.role != "master")
        demoted = [str(key) for row in ordered if (key := _tie(session, run_id, row, polarity))]
        run.state, run.demoted, run.ended_at = "linked", " ".join(demoted), now()
        session.flush()
        roll = session.get(Roll, run.roll_id) if run.roll_id else None
        if roll is not None:
            _spread_polarity(session, roll.id or 0)
            _show_positives(session, roll, polarity)
    return len(rows)


def _spread_polarity(session: Session, roll_id: int) -> None:
    """Files of one folder are of one polarity: what is known of some, and not contradicted by others, holds for the rest."""
    query = (
        select(Scan, ScanFile.path)
        .join(ScanFile, col(ScanFile.id) == col(Scan.file_id))
        .join(Frame, col(Frame.id) == col(Scan.frame_id))
        .where(Frame.roll_id == roll_id)
    )
    by_folder: dict[str, list[Scan]] = {}
    for scan, path in session.exec(query):
        by_folder.setdefault(path.rpartition("/")[0], []).append(scan)
    for scans in by_folder.values():
        known = {scan.polarity for scan in scans} - {""}
        for scan in scans if len(known) == 1 else ():
            scan.polarity = scan.polarity or next(iter(known))
            session.add(scan)
    session.flush()


def _show_positives(session: Session, roll: Roll, polarity: str) -> None:
    kind = likely_kind(session, roll.number)
    if positive_of_roll(session, roll.number) is not None:
        balance_scans(session, roll.id or 0)
    elif polarity == "negative" and kind is not None and kind is not FilmKind.SLIDE:
        # Shown as scanned where nothing can be measured; the person can set it by hand.
        with suppress(InvalidInput, UnreadablePicture):
            set_positive(session, roll.number, kind)


def _tie(session: Session, run_id: int, row: RunFile, given: str) -> int | None:
    """Ties one file; gives the scan that is no longer master because of it, or None."""
    frame, file = session.get_one(Frame, row.frame_id), session.get_one(ScanFile, row.file_id)
    before = [pair for pair in scans_of(session, [frame.id or 0]).get(frame.id or 0, ()) if pair[1].id != file.id]
    master = next((pair for pair in before if pair[0].role == "master"), None)
    polarity = given
    compared = [scan for scan, _ in before if scan.run_id != run_id]  # as when the proposal was made
    if compared:
        shown = compared[0]
        if shown.polarity:
            polarity = _OTHER[shown.polarity] if row.inverted else shown.polarity
        else:
            shown.polarity = _OTHER[given] if row.inverted else given
            session.add(shown)
    better = master is None or _size(*master) < file.width_px * file.height_px
    role = row.role or "master"
    if role == "master" and not better:
        role = "working"
    scan = tie(
        session, frame, file, role=role, quarter_turns=row.quarter_turns, mirrored=row.mirrored, polarity=polarity, run_id=run_id
    )
    return master[0].id if master and scan.role == "master" else None


def undo(session: Session, run_id: int) -> int:
    """Takes back everything that the run tied; masters from before are masters again. Gives how many were taken back."""
    run = run_row(session, run_id)
    if run.state != "linked":
        raise InvalidInput("This reading isn't tied, so there is nothing to undo.")
    with session.begin_nested():
        tied = session.exec(select(Scan).where(Scan.run_id == run_id)).all()
        for scan in tied:
            session.delete(scan)
        session.flush()
        for key in run.demoted.split():
            scan_before = session.get(Scan, int(key))
            if scan_before is not None and master_of(session, scan_before.frame_id) is None:
                scan_before.role = "master"
                session.flush()
        run.state, run.demoted = "undone", ""
        session.flush()
    return len(tied)
