"""A proposal as a person sees it, doubts first, and the person's own word for a file."""

from dataclasses import dataclass

from sqlmodel import Session, select

from catalogue.errors import InvalidInput, NotFound
from catalogue.rolls.rows import frame_row
from catalogue.scans.match.propose import SURE, file_name, files_of_run, frames_of_run, give_roles, look_at_pictures
from catalogue.scans.read.folder_runs import run_row
from catalogue.store.tables.scans import RunFile


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


def settle(session: Session, line_id: int, label: str | None, role: str = "") -> None:
    """The person's own word for one file: its frame, or None for no frame at all."""
    row = session.get(RunFile, line_id)
    if row is None or row.state != "read":
        raise NotFound(f"There is no read file {line_id} in this reading. Load the page again.")
    run = run_row(session, row.run_id)
    if run.state == "linked":
        raise InvalidInput("This reading is tied to its frames already. Undo it first.")
    roll, frames = frames_of_run(session, run)
    row.frame_id = frame_row(session, roll, label).id if label else None
    row.chosen, row.sureness, row.doubt = True, 1.0, ""
    row.role = role or row.role
    session.flush()
    pairs = files_of_run(session, run.id or 0)
    row.quarter_turns, row.mirrored, row.inverted = 0, False, False
    row.chosen = False  # looked at once more like any other, then settled
    look_at_pictures(session, [pair for pair in pairs if pair[0].id == line_id], frames)
    row.chosen, row.sureness = True, 1.0
    give_roles(pairs)
    session.flush()


def proposal(session: Session, run_id: int) -> tuple[ProposalLine, ...]:
    """The files of a run with what is proposed, doubts first, then in film order, then what was left out."""
    run = run_row(session, run_id)
    position = {f.id: f for f in frames_of_run(session, run)[1]}
    files = {file.id: file for _, file in files_of_run(session, run_id)}
    rows = session.exec(select(RunFile).where(RunFile.run_id == run_id)).all()

    def order(row: RunFile) -> tuple[int, float, int]:
        doubtful = not row.chosen and (bool(row.doubt) or row.sureness < SURE)
        group = 2 if row.state == "refused" else 0 if doubtful else 1
        frame = position.get(row.frame_id)
        return (group, row.sureness if group == 0 else 0.0, frame.position if frame else 10_000 + row.position)

    return tuple(
        ProposalLine(
            row.id or 0, file_name(row.path), row.path, row.file_id,
            frame.label if (frame := position.get(row.frame_id)) else None,
            row.role, row.sureness, row.doubt, row.chosen, row.quarter_turns, row.mirrored,
            row.reason if row.state == "refused" else "" if row.state == "read" else "not read yet",
            f"{file.width_px} × {file.height_px}" if (file := files.get(row.file_id)) else "", file.captured if file else "",
        )
        for row in sorted(rows, key=order)
    )  # fmt: skip
