"""Readings and re-checks as long work: begun by the web pages and the JSON service alike."""

from collections.abc import Callable
from dataclasses import dataclass

from api.long.background import Background
from catalogue.errors import InvalidInput
from catalogue.scans.check.fixity import check_files
from catalogue.scans.edge.check import hold_against_edges
from catalogue.scans.match.approve import approve
from catalogue.scans.match.propose import name_patterns_for, proposal, propose
from catalogue.scans.read.file_kinds import natural_key
from catalogue.scans.read.folder_runs import RunProgress, read_run, run_progress, start_run, stop_run
from catalogue.store.apart import carry_out
from catalogue.store.engine import Archive

CHECK = "check"


def work_of(run_id: int) -> str:
    """The name of a reading's work."""
    return f"reading {run_id}"


def begin_reading(archive: Archive, background: Background, folder: str, number: str) -> RunProgress:
    """Lists the folder and begins to read it; when all is read, a proposal is worked out."""
    progress = carry_out(archive, start_run, folder, number)
    go_on_reading(archive, background, progress.id)
    return progress


def go_on_reading(archive: Archive, background: Background, run_id: int) -> RunProgress:
    """Reads what still waits; raises `InvalidInput` for a reading that is tied, which would be taken for untied."""
    with archive.session(reading=True) as session:
        progress = run_progress(session, run_id)
    if progress.state == "linked":
        raise InvalidInput("This reading is tied to its frames already. Undo it first, or read the folder anew.")

    def work(stop: Callable[[], bool]) -> None:
        if read_run(archive, run_id, cancelled=stop).state == "read":
            carry_out(archive, propose, run_id)

    background.start(work_of(run_id), work)
    return progress


@dataclass(frozen=True)
class FolderTied:
    """What became of a folder: (label, path) pairs tied, (file, reason) pairs left out."""

    linked: tuple[tuple[str, str], ...]
    skipped: tuple[tuple[str, str], ...]


def tie_by_names(archive: Archive, folder: str, number: str) -> FolderTied:
    """Reads a folder, proposes what the names say and approves it, all in one go; the reading can be undone like any other.

    Raises what beginning a reading does. A folder whose names say no frame of the roll is read, and nothing is tied.
    """
    run_id = carry_out(archive, start_run, folder, number).id
    read_run(archive, run_id)
    with archive.session(reading=True) as session:
        patterns = name_patterns_for(session, run_id)
    # A pattern that reads over the roll in a name would tie the pictures of other rolls: nobody looks before it is approved.
    texts = [text for text, _ in patterns]
    sure = [t for t in texts if "{roll}" in t] or [t for t in texts if "{number}" not in t and "{any}" not in t]
    carry_out(archive, propose, run_id, "names", sure[0] if sure else "{roll}_{frame}")
    with archive.session(reading=True) as session:
        lines = sorted(proposal(session, run_id), key=lambda line: natural_key(line.path))
    linked = tuple((line.label, line.path) for line in lines if line.label)
    if linked:
        carry_out(archive, approve, run_id)
    left = ((line.name, line.refused or line.doubt or "its name says no frame of this roll") for line in lines if not line.label)
    return FolderTied(linked, tuple(left))


def stop_reading(archive: Archive, background: Background, run_id: int) -> RunProgress:
    """Stops a reading; what is read stays read."""
    with archive.session() as session:
        stop_run(session, run_id)
    background.stop(work_of(run_id))
    background.wait(work_of(run_id))
    with archive.session() as session:
        return stop_run(session, run_id)


def begin_edges(archive: Archive, background: Background, run_id: int) -> None:
    """Holds the proposal of a reading against the edge numbers on the film."""
    name = work_of(run_id)

    def work(stop: Callable[[], bool]) -> None:
        def told(done: int, read: int) -> None:
            background.say(name, f"{done} files looked at along their edges, {read} of them with numbers that can be read.")

        background.say(name, hold_against_edges(archive, run_id, told=told, cancelled=stop))

    background.start(name, work)


def begin_check(archive: Archive, background: Background, megabytes: int | None) -> None:
    """Begins a re-check of all files, or of so many megabytes of those that were checked longest ago."""
    if megabytes is not None and not 1 <= megabytes <= 10_000_000:
        raise InvalidInput(f"{megabytes} MB can't be checked at once. Give 1 to 10000000, or nothing for all files.")

    def work(stop: Callable[[], bool]) -> None:
        def told(files: int, size: int) -> None:
            background.say(CHECK, f"{files} files, {size / 1e6:.0f} MB checked so far.")

        most = megabytes * 1_000_000 if megabytes else None
        report = check_files(archive, most_bytes=most, told=told, cancelled=stop)
        background.say(CHECK, report.words)

    background.start(CHECK, work)
