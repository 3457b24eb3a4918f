"""Which file of a reading shows which frame: proposed by names, by order or by picture; stored, but nothing is tied yet."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from sqlmodel import Session, col, select

from catalogue.errors import InvalidInput, NotFound
from catalogue.film.frame_numbers import FrameNumber
from catalogue.scans.look.fingerprints import Fingerprint
from catalogue.scans.look.picture_lookup import FOUND, compare
from catalogue.scans.match.alignment import align
from catalogue.scans.match.by_likeness import assign_by_likeness
from catalogue.scans.match.capture_order import CapturedFile, capture_order
from catalogue.scans.match.evidence import Shot
from catalogue.scans.match.name_patterns import NamePattern, try_pattern
from catalogue.scans.match.pattern_suggestions import suggest_patterns
from catalogue.scans.match.picture_evidence import correction, known_pictures, matches, scaled, stored_fingerprint
from catalogue.scans.read.folder_runs import run_row
from catalogue.store.tables.rolls import Frame, Roll, Strip, StripFrame
from catalogue.store.tables.scans import ReadingRun, RunFile, ScanFile

METHODS = ("names", "order", "pictures")
SURE = 0.6
MARGIN = 0.1
CROPPED, SMALL_COPY = 0.85, 0.25
"""A copy that shows less of the frame than this part is cropped; one with fewer of the master's pixels is for the web
(own choice)."""


@dataclass(frozen=True)
class Proposed:
    """What is proposed for one file: the place of a frame in film order or None, how sure, and any doubt."""

    frame: int | None
    sureness: float
    doubt: str = ""
    role: str = ""


def files_of_run(session: Session, run_id: int) -> list[tuple[RunFile, ScanFile]]:
    """The files of a run that were read, in the order they were listed."""
    query = (
        select(RunFile, ScanFile)
        .join(ScanFile, col(ScanFile.id) == col(RunFile.file_id))
        .where(RunFile.run_id == run_id, RunFile.state == "read")
        .order_by(col(RunFile.position))
    )
    return list(session.exec(query))


def frames_of_run(session: Session, run: ReadingRun) -> tuple[Roll, list[Frame]]:
    """The roll of a run and its frames in film order; raises `NotFound`."""
    roll = session.get(Roll, run.roll_id) if run.roll_id else None
    if roll is None:
        raise NotFound("This reading belongs to no roll. Read the folder from a roll's scans.")
    return roll, list(session.exec(select(Frame).where(Frame.roll_id == roll.id).order_by(col(Frame.position))))


def _numbers(frames: Sequence[Frame]) -> list[FrameNumber]:
    return [FrameNumber(f.label) for f in frames]


def file_name(path: str) -> str:
    """The last part of a path."""
    return path.rpartition("/")[2]


def usual_method(session: Session, run_id: int) -> tuple[str, str]:
    """The method that promises most, and a pattern where it is "names": names that say frames, else pictures, else order."""
    run = run_row(session, run_id)
    roll, frames = frames_of_run(session, run)
    pairs = files_of_run(session, run_id)
    suggested = suggest_patterns([file_name(file.path) for _, file in pairs], roll.number, _numbers(frames)) if pairs else ()
    if suggested and suggested[0].pattern is not None and suggested[0].explained >= 0.8 * min(len(pairs), 240):
        return "names", suggested[0].pattern.text
    known = known_pictures(session, frames, [file.id or 0 for _, file in pairs])
    return ("pictures", "") if len(known) * 2 >= len(frames) else ("order", "")


def name_patterns_for(session: Session, run_id: int) -> tuple[tuple[str, str], ...]:
    """Patterns worth trying on the names of a run, each with the reason; the best first."""
    run = run_row(session, run_id)
    roll, frames = frames_of_run(session, run)
    names = [file_name(file.path) for _, file in files_of_run(session, run_id)]
    suggested = suggest_patterns(names, roll.number, _numbers(frames)) if names else ()
    return tuple((s.pattern.text, s.reason) for s in suggested if s.pattern is not None)


def propose(session: Session, run_id: int, method: str = "", pattern: str = "") -> None:
    """Works out a proposal and keeps it with the run; what the person settled by hand stays.

    Raises `InvalidInput` for an unknown method, a run that is still being read, or one that is tied already.
    """
    run = run_row(session, run_id)
    if run.state == "linked":
        raise InvalidInput("This reading is tied to its frames already. Undo it first.")
    if run.state == "reading":
        raise InvalidInput("The folder is still being read. Wait until it is done, or stop it.")
    method = method or ("names" if pattern else "")
    if not method:
        method, pattern = usual_method(session, run_id)
    if method not in METHODS:
        raise InvalidInput(f"Files are matched by {', '.join(METHODS)}; not by {method[:20]}.")
    roll, frames = frames_of_run(session, run)
    pairs = files_of_run(session, run_id)
    if method == "names":
        found = _by_names(pairs, roll, frames, pattern)
    elif method == "pictures":
        found = _by_pictures(session, pairs, frames)
    else:
        found = _by_order(session, pairs, roll, frames)
    run.method, run.pattern = method, pattern
    for (row, _), proposed in zip(pairs, found, strict=True):
        if row.chosen:
            continue
        row.frame_id = frames[proposed.frame].id if proposed.frame is not None else None
        row.sureness, row.doubt, row.role = round(proposed.sureness, 3), proposed.doubt, proposed.role
        row.quarter_turns, row.mirrored, row.inverted = 0, False, False
    session.flush()
    look_at_pictures(session, pairs, frames)
    give_roles(pairs)
    session.flush()


def _by_names(pairs: Sequence[tuple[RunFile, ScanFile]], roll: Roll, frames: list[Frame], pattern: str) -> list[Proposed]:
    place = {f.label: at for at, f in enumerate(frames)}
    tried = try_pattern(NamePattern.parse(pattern), [file_name(file.path) for _, file in pairs], roll.number, _numbers(frames))
    found = []
    for one in tried:
        at = place.get(one.frame.text) if one.frame else None
        sure = 0.0 if at is None else 0.5 if one.doubtful else 1.0
        found.append(Proposed(at, sure, one.reason if at is None or one.doubtful else ""))
    return found


def _prints(pairs: Sequence[tuple[RunFile, ScanFile]]) -> list[Fingerprint | None]:
    return [Fingerprint.from_bytes(file.fingerprint) if file.fingerprint else None for _, file in pairs]


def _likeness(session: Session, pairs: Sequence[tuple[RunFile, ScanFile]], frames: list[Frame]) -> list[list[float | None]]:
    """How alike each file and each frame's known picture are, 0 to 1; None where the frame has none."""
    known = known_pictures(session, frames, [file.id or 0 for _, file in pairs])
    stored = {at: stored_fingerprint(pair) or b"" for at, pair in known.items()}
    rows = matches(stored, _prints(pairs))
    return [[(row[at].score if at in row else 0.0) if at in stored else None for at in range(len(frames))] for row in rows]


def _by_pictures(session: Session, pairs: Sequence[tuple[RunFile, ScanFile]], frames: list[Frame]) -> list[Proposed]:
    matrix = _likeness(session, pairs, frames)
    if not any(value is not None for row in matrix for value in row):
        raise InvalidInput("No frame of this roll has a picture yet to compare with. Match by names or by order.")
    found = []
    for print_of_it, likely in zip(_prints(pairs), assign_by_likeness(matrix, FOUND, MARGIN), strict=True):
        if print_of_it is not None and not print_of_it.enough:
            found.append(Proposed(None, 0.0, "There is too little in this picture to tell it from others."))
        elif likely.frame is None:
            found.append(Proposed(None, 0.0, "It is like no picture of this roll."))
        else:
            doubt = "" if likely.sure or likely.instead is None else f"Frame {frames[likely.instead].label} is nearly as like it."
            found.append(Proposed(likely.frame, 0.95 if likely.sure else 0.4, doubt))
    return found


def _moment(file: ScanFile) -> float | None:
    try:
        return datetime.fromisoformat(file.captured).timestamp() if "T" in file.captured else None
    except ValueError:
        return None


def _by_order(session: Session, pairs: Sequence[tuple[RunFile, ScanFile]], roll: Roll, frames: list[Frame]) -> list[Proposed]:
    captured = [CapturedFile(file.path, file.captured or None, file.mtime_ns / 1e9) for _, file in pairs]
    place = {file.path: at for at, (_, file) in enumerate(pairs)}
    sequence = [place[one.name] for one in capture_order(captured).files]
    prints = _prints(pairs)
    moments = [_moment(pairs[at][1]) for at in sequence]
    gaps: list[float | None] = [None]
    gaps += [max(0.0, b - a) if a is not None and b is not None else None for a, b in pairwise(moments)]
    shots = [
        Shot(gap_s=gap, emptiness=0.0 if (picture := prints[at]) is None or picture.enough else 0.9)
        for at, gap in zip(sequence, gaps, strict=True)
    ]
    own = matches({n: picture.to_bytes() for n, picture in enumerate(prints) if picture and picture.enough}, prints)

    def alike(one: int, two: int) -> float | None:
        first, second = sequence[one], sequence[two]
        if not ((a := prints[first]) and (b := prints[second]) and a.enough and b.enough):
            return None
        found = [own[x][y].score for x, y in ((first, second), (second, first)) if y in own[x]]
        return scaled(max(found, default=0.0))

    matrix = _likeness(session, pairs, frames)
    known = [[None if value is None else scaled(value) for value in matrix[at]] for at in sequence]
    aligned = align(
        shots, len(frames), strips=_strip_lengths(session, roll, len(frames)),
        blank=[at for at, f in enumerate(frames) if f.state == "blank"], alike=alike,
        likeness=known if any(v is not None for row in known for v in row) else None, labels=[f.label for f in frames],
    )  # fmt: skip
    found = [Proposed(None, 0.0)] * len(pairs)
    for shot, at in enumerate(sequence):
        frame, role = aligned.assigned[shot]
        sure, instead = aligned.confidence[shot], aligned.instead[shot]
        doubt = ""
        if sure < SURE:
            doubt = "It may show no frame." if instead is None else f"It may show frame {frames[instead].label}."
        if frame is None:
            doubt = "It seems to show no frame of this roll. " + doubt
        found[at] = Proposed(frame, sure, doubt.strip(), "working" if role in ("again", "bracket") else "")
    return found


def _strip_lengths(session: Session, roll: Roll, frame_count: int) -> list[int]:
    """Frames on each strip in film order, or none where a cut runs through a picture or strips are missing."""
    query = (
        select(Strip.id, StripFrame.frame_id)
        .join(StripFrame, col(StripFrame.strip_id) == col(Strip.id))
        .where(Strip.roll_id == roll.id)
        .order_by(col(Strip.position))
    )
    counts: dict[int, int] = {}
    for strip, _ in session.exec(query):
        counts[strip or 0] = counts.get(strip or 0, 0) + 1
    return list(counts.values()) if sum(counts.values()) == frame_count else []


def look_at_pictures(session: Session, pairs: Sequence[tuple[RunFile, ScanFile]], frames: list[Frame]) -> None:
    """Compares each file with what its frame shows already: mirrored, turned, or another picture altogether."""
    at_of = {f.id: at for at, f in enumerate(frames)}
    known = known_pictures(session, frames, [file.id or 0 for _, file in pairs])
    for (row, _), picture in zip(pairs, _prints(pairs), strict=True):
        at = at_of.get(row.frame_id)
        if row.chosen or at is None or at not in known or picture is None or not picture.enough:
            continue
        stored = stored_fingerprint(known[at]) or b""
        (found,) = matches({at: stored}, [picture])
        if at not in found:
            continue
        if not found[at].found:
            row.sureness = min(row.sureness, 0.3)
            row.doubt = f"{row.doubt} It doesn't look like the picture that frame {frames[at].label} has.".strip()
            continue
        right = correction(found[at], known[at])
        row.quarter_turns, row.mirrored, row.inverted = right.quarter_turns, right.mirrored, right.inverted
        if right.words:
            row.doubt = f"{row.doubt} It is {right.words} beside the earlier picture; it will be shown put right.".strip()


def give_roles(pairs: Sequence[tuple[RunFile, ScanFile]]) -> None:
    """Of several files for one frame the one with the most pixels, and then bits, is proposed as master.

    What derives from it is told by picture and size: a part of it is cropped, a much smaller copy is for the web.
    """
    groups: dict[int, list[tuple[RunFile, ScanFile]]] = {}
    for row, file in pairs:
        if row.frame_id is not None:
            groups.setdefault(row.frame_id, []).append((row, file))
        else:
            row.role = ""
    for group in groups.values():
        master = max(group, key=lambda pair: (pair[1].width_px * pair[1].height_px, pair[1].bits))
        for row, file in group:
            if not row.chosen:
                row.role = "master" if row is master[0] else _derived(file, master[1])


def _derived(file: ScanFile, master: ScanFile) -> str:
    if file.fingerprint and master.fingerprint:
        match = compare(Fingerprint.from_bytes(master.fingerprint), Fingerprint.from_bytes(file.fingerprint))
        left, right, top, bottom = match.window
        if match.found and (right - left) * (bottom - top) < CROPPED:
            return "cropped"
    small = file.width_px * file.height_px < SMALL_COPY * master.width_px * master.height_px
    return "web" if small else "working"
