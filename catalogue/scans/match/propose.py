"""Which file of a folder run shows which frame: proposed, put right by the person, and shown; nothing is tied yet."""

from collections.abc import Mapping
from dataclasses import dataclass

from sqlmodel import Session, col, select

from catalogue.errors import InvalidInput, NotFound
from catalogue.rolls.rows import frame_row
from catalogue.rolls.scan_rows import ScanPair, scans_of
from catalogue.scans.match.matching import (
    SURE,
    FileToMatch,
    FolderToMatch,
    FrameToMatch,
    Proposed,
    match_files,
    settle_files,
)
from catalogue.scans.match.picture_evidence import Standing
from catalogue.scans.read.folder_runs import run_row
from catalogue.store.apart import set_apart
from catalogue.store.tables.rolls import Frame, Roll, Strip, StripFrame
from catalogue.store.tables.scans import ReadingRun, RunFile, ScanFile


@dataclass(frozen=True)
class ProposalLine:
    """One file of a reading with its proposal, for showing; `id` names the line."""

    id: int
    name: str
    path: str
    file_id: int | None
    label: str | None
    role: str
    sureness: float
    doubt: str
    chosen: bool
    quarter_turns: int
    mirrored: bool
    refused: str
    pixels: str = ""
    captured: str = ""


@dataclass(frozen=True)
class _Loaded:
    """A folder to match with the rows that it stands for, place by place."""

    folder: FolderToMatch
    files: list[RunFile]
    frames: list[Frame]

    def keep(self, proposed: tuple[Proposed, ...]) -> None:
        for row, one in zip(self.files, proposed, strict=True):
            row.frame_id = self.frames[one.frame].id if one.frame is not None else None
            row.sureness, row.doubt, row.role, row.chosen = one.sureness, one.doubt, one.role, one.settled
            standing = one.standing
            row.quarter_turns, row.mirrored, row.inverted = standing.quarter_turns, standing.mirrored, standing.inverted


def _roll_and_frames(session: Session, run: ReadingRun) -> tuple[Roll, list[Frame]]:
    """The roll of a run and its frames in film order; raises `NotFound`."""
    roll = session.get(Roll, run.roll_id) if run.roll_id else None
    if roll is None:
        raise NotFound("This reading belongs to no roll. Read the folder from a roll's scans.")
    return roll, list(session.exec(select(Frame).where(Frame.roll_id == roll.id).order_by(col(Frame.position))))


def fingerprint_shown(pair: ScanPair) -> bytes | None:
    """The fingerprint of what a scan shows: of its area, else of the whole file."""
    scan, file = pair
    return scan.fingerprint if scan.area_x is not None else file.fingerprint


def _load(session: Session, run: ReadingRun) -> _Loaded:
    roll, frames = _roll_and_frames(session, run)
    query = (
        select(RunFile, ScanFile)
        .join(ScanFile, col(ScanFile.id) == col(RunFile.file_id))
        .where(RunFile.run_id == run.id, RunFile.state == "read")
        .order_by(col(RunFile.position))
    )
    pairs = list(session.exec(query))
    own = {file.id for _, file in pairs}
    place = {f.id: at for at, f in enumerate(frames)}
    scans = scans_of(session, [f.id or 0 for f in frames])
    known = []
    for frame in frames:
        shown = [pair for pair in scans.get(frame.id or 0, ()) if fingerprint_shown(pair) and pair[1].id not in own]
        standing = Standing(shown[0][0].quarter_turns, shown[0][0].mirrored) if shown else Standing()
        known.append(FrameToMatch(frame.label, frame.state == "blank", fingerprint_shown(shown[0]) if shown else None, standing))
    files = (FileToMatch(f.path, f.captured, f.mtime_ns / 1e9, f.width_px * f.height_px, f.bits, f.fingerprint) for _, f in pairs)
    proposed = (
        Proposed(
            place.get(row.frame_id), row.sureness, row.doubt, row.role,
            Standing(row.quarter_turns, row.mirrored, row.inverted), row.chosen,
        ) for row, _ in pairs
    )  # fmt: skip
    folder = FolderToMatch(roll.number, tuple(files), tuple(known), _strip_lengths(session, roll, len(frames)), tuple(proposed))
    return _Loaded(folder, [row for row, _ in pairs], frames)


def _strip_lengths(session: Session, roll: Roll, frame_count: int) -> tuple[int, ...]:
    """Frames on each strip in film order, or none where a cut runs through a picture or strips are missing."""
    query = (
        select(Strip.id)
        .join(StripFrame, col(StripFrame.strip_id) == col(Strip.id))
        .where(Strip.roll_id == roll.id)
        .order_by(col(Strip.position))
    )
    counts: dict[int | None, int] = {}
    for strip in session.exec(query):
        counts[strip] = counts.get(strip, 0) + 1
    return tuple(counts.values()) if sum(counts.values()) == frame_count else ()


def name_patterns_for(session: Session, run_id: int) -> tuple[tuple[str, str], ...]:
    """Patterns worth trying on the names of a run, each with the reason; the best first."""
    roll, frames = _roll_and_frames(session, run_row(session, run_id))
    query = select(RunFile.path).where(RunFile.run_id == run_id, RunFile.state == "read").order_by(col(RunFile.position))
    files = tuple(FileToMatch(path, "", 0.0, 0, 0, None) for path in session.exec(query))
    folder = FolderToMatch(roll.number, files, tuple(FrameToMatch(f.label) for f in frames), (), ())
    return tuple((s.pattern.text, s.reason) for s in folder.suggestions() if s.pattern is not None)


def _untied(session: Session, run_id: int) -> ReadingRun:
    run = run_row(session, run_id)
    if run.state == "linked":
        raise InvalidInput("This reading is tied to its frames already. Undo it first.")
    return run


def propose(session: Session, run_id: int, method: str = "", pattern: str = "") -> None:
    """Works out a proposal and keeps it with the run; what the person settled by hand stays.

    Raises `InvalidInput` for an unknown method, a run that is still being read, or one that is tied already.
    """
    run = _untied(session, run_id)
    if run.state == "reading":
        raise InvalidInput("The folder is still being read. Wait until it is done, or stop it.")
    loaded = _load(session, run)
    ((run.method, run.pattern, proposed),) = set_apart(session, match_files, (loaded.folder, method, pattern))
    loaded.keep(proposed)
    session.flush()


def settle(session: Session, run_id: int, frames: Mapping[int, str | None]) -> None:
    """The person's own word for some files of a run: by line, the label of the frame, or None for no frame at all."""
    run = _untied(session, run_id)
    loaded = _load(session, run)
    place = {row.id: at for at, row in enumerate(loaded.files)}
    if unknown := [key for key in frames if key not in place]:
        raise NotFound(f"There is no read file {unknown[0]} in reading {run_id}. Look at its proposal again.")
    roll = session.get_one(Roll, run.roll_id)
    at_of = {f.id: at for at, f in enumerate(loaded.frames)}
    asked = tuple((place[key], at_of[frame_row(session, roll, label).id] if label else None) for key, label in frames.items())
    loaded.keep(set_apart(session, settle_files, (loaded.folder, asked))[0])
    session.flush()


def proposal(session: Session, run_id: int) -> tuple[ProposalLine, ...]:
    """The files of a run with what is proposed, doubts first, then in film order, then what was left out."""
    run = run_row(session, run_id)
    position = {f.id: (f.position, f.label) for f in _roll_and_frames(session, run)[1]}
    query = (
        select(RunFile, ScanFile.width_px, ScanFile.height_px, ScanFile.captured)
        .join(ScanFile, col(ScanFile.id) == col(RunFile.file_id), isouter=True)
        .where(RunFile.run_id == run_id)
    )

    def order(line: tuple[RunFile, int | None, int | None, str | None]) -> tuple[int, float, int]:
        row = line[0]
        doubtful = not row.chosen and (bool(row.doubt) or row.sureness < SURE)
        group = 2 if row.state == "refused" else 0 if doubtful else 1
        return (group, row.sureness if group == 0 else 0.0, position.get(row.frame_id, (10_000 + row.position, ""))[0])

    return tuple(
        ProposalLine(
            row.id or 0, row.path.rpartition("/")[2], row.path, row.file_id, position.get(row.frame_id, (0, None))[1],
            row.role, row.sureness, row.doubt, row.chosen, row.quarter_turns, row.mirrored,
            row.reason if row.state == "refused" else "" if row.state == "read" else "not read yet",
            f"{width} × {height}" if width else "", captured or "",
        )
        for row, width, height, captured in sorted(session.exec(query), key=order)
    )  # fmt: skip
