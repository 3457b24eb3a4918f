"""The command line for scans: thin commands; one clear line on standard error when something is wrong."""

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from api.cli.endings import NOTHING
from api.settings import archive_folder
from catalogue.errors import InvalidInput, NotFound

if TYPE_CHECKING:
    from sqlmodel import Session

ArchiveOption = Annotated[Path | None, typer.Option("--archive", help="The archive's folder.")]
ReadingArgument = Annotated[int, typer.Argument(min=1, max=2**53, help="The number of the reading.")]
scans = typer.Typer(no_args_is_help=True, help="Read scans, tie them to their frames, and check them.")


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as problem:
        raise NotFound(f"{path} can't be read: {problem.strerror}.") from problem


@scans.command()
def read(
    roll: str,
    folder: Annotated[str, typer.Argument(help="In the scan folder.")],
    archive: ArchiveOption = None,
    by: Annotated[str, typer.Option("--by", help="names, order or pictures; left out, what promises most")] = "",
    pattern: Annotated[str, typer.Option("--pattern", help="For names, for example {roll}_{frame}")] = "",
    do_approve: Annotated[bool, typer.Option("--approve", help="Tie the files without being asked.")] = False,
) -> None:
    """Read a folder for a roll, and show which file shows which frame; interrupted, the same command goes on."""
    from catalogue.scans.match.approve import approve
    from catalogue.scans.match.matching import METHODS
    from catalogue.scans.match.name_patterns import NamePattern
    from catalogue.scans.match.propose import proposal, propose
    from catalogue.scans.read.folder_runs import RunProgress, read_run, start_run, stop_run
    from catalogue.store.apart import carry_out
    from catalogue.store.engine import open_archive

    if by and by not in METHODS:  # before the long work, not after it
        raise InvalidInput(f"Files are matched by {', '.join(METHODS)}; not by {by[:20]}.")
    if pattern:
        NamePattern.parse(pattern)
    opened = open_archive(archive_folder(archive), create=False)
    run = carry_out(opened, start_run, folder, roll).id

    def told(progress: RunProgress) -> None:
        print(f"\r{progress.words}", end="", flush=True, file=sys.stderr)

    try:
        done = read_run(opened, run, told=told)
    except KeyboardInterrupt:
        with opened.session() as session:
            done = stop_run(session, run)
        print(f"\nStopped: {done.words}. The same command goes on with it.", file=sys.stderr)
        raise typer.Abort from None
    print(f"\r{done.words}", file=sys.stderr)
    carry_out(opened, propose, run, by, pattern)
    with opened.session(reading=True) as session:
        for line in proposal(session, run):
            said = line.refused or line.doubt
            print(f"{line.label or '-':>5}  {line.name}{f'  – {said}' if said else ''}")
    if not do_approve:
        print(f"Nothing is tied yet. Look at it in the browser at /readings/{run}, or: stripleaf scans approve {run}")
        return
    print(f"{carry_out(opened, approve, run)} scans tied. Take it back with: stripleaf scans undo {run}.")


@scans.command()
def approve(reading: ReadingArgument, archive: ArchiveOption = None) -> None:
    """Tie every proposed file of a reading to its frame."""
    from catalogue.scans.match.approve import approve as approve_run
    from catalogue.store.apart import carry_out
    from catalogue.store.engine import open_archive

    print(f"{carry_out(open_archive(archive_folder(archive), create=False), approve_run, reading)} scans tied.")


@scans.command()
def undo(reading: ReadingArgument, archive: ArchiveOption = None) -> None:
    """Take back everything that a reading tied."""
    from catalogue.scans.match.approve import undo as undo_run
    from catalogue.store.engine import open_archive

    with open_archive(archive_folder(archive), create=False).session() as session:
        print(f"{undo_run(session, reading)} scans taken back.")


@scans.command()
def check(
    archive: ArchiveOption = None,
    megabytes: Annotated[int | None, typer.Option("--megabytes", min=1, help="Only so many, checked longest ago.")] = None,
    accept_moves: Annotated[bool, typer.Option("--accept-moves", help="Take all files found elsewhere as moved.")] = False,
) -> None:
    """Check that the scans are the files that were linked; ends with code 1 where one isn't."""
    from catalogue.scans.check.fixity import accept_moves as accept
    from catalogue.scans.check.fixity import check_files, troubles
    from catalogue.store.engine import open_archive

    opened = open_archive(archive_folder(archive), create=False)
    report = check_files(opened, most_bytes=megabytes * 1_000_000 if megabytes else None)
    print(report.words)
    if accept_moves:
        with opened.session() as session:
            print(f"{accept(session)} moves taken as meant.")
    with opened.session(reading=True) as session:
        found = troubles(session)
    for trouble in found:
        print(trouble.words)
    if found:
        raise typer.Exit(NOTHING)


@scans.command()
def sidecars(roll: str, archive: ArchiveOption = None) -> None:
    """Write XMP sidecars beside the scans of a roll; foreign ones are merged, never dropped."""
    from catalogue.scans.write.tell import write_sidecars
    from catalogue.store.engine import open_archive

    with open_archive(archive_folder(archive), create=False).session(reading=True) as session:
        for report in write_sidecars(session, roll):
            print(report.path)


@scans.command()
def names(
    roll: str,
    archive: ArchiveOption = None,
    copies_to: Annotated[Path | None, typer.Option("--copies-to", help="Copy the scans there under these names.")] = None,
) -> None:
    """Propose file names that say roll and frame, as CSV; nothing is renamed."""
    from catalogue.scans.write.file_names import names_csv
    from catalogue.scans.write.tell import copies_under_new_names, proposed_names
    from catalogue.store.engine import open_archive

    with open_archive(archive_folder(archive), create=False).session(reading=True) as session:
        if copies_to is None:
            print(names_csv(proposed_names(session, roll)), end="")
            return
        for made in copies_under_new_names(session, roll, copies_to.expanduser().absolute()):
            print(made.copy)


@scans.command()
def positive(
    roll: str,
    kind: Annotated[str, typer.Argument(help="black-and-white negative, colour negative or slide")],
    archive: ArchiveOption = None,
    each: Annotated[bool, typer.Option("--each", help="Balance each frame by itself.")] = False,
    stops: Annotated[float, typer.Option("--stops", help="Lighter above 0, darker below.")] = 0.0,
) -> None:
    """Show the negatives of a roll as positives; the files stay as they are."""
    from catalogue.scans.look.showing_positive import set_positive
    from catalogue.store.apart import carry_out
    from catalogue.store.engine import open_archive

    def set_and_said(session: "Session") -> str:
        return set_positive(session, roll, kind, exposure="each" if each else "common", stops=stops).found

    print(carry_out(open_archive(archive_folder(archive), create=False), set_and_said))


@scans.command()
def log(
    roll: str,
    file: Annotated[Path, typer.Argument(help="A CSV file with a line a frame.")],
    archive: ArchiveOption = None,
    track: Annotated[Path | None, typer.Option("--track", help="A GPX file.")] = None,
    zone: Annotated[str, typer.Option("--zone", help="Of times without one, for example +02:00.")] = "UTC",
    behind: Annotated[float, typer.Option("--behind", help="Seconds that the clock was behind.")] = 0.0,
) -> None:
    """Bring in a frame log, and place the frames by a track."""
    from api.web.typed import seconds_off
    from catalogue.scans.log.frame_log import read_log_csv
    from catalogue.scans.log.log_frames import apply_log, zone_named
    from catalogue.scans.log.tracks import Track
    from catalogue.store.engine import open_archive

    offset = seconds_off(behind)
    found, way = read_log_csv(_bytes(file)), Track.parse(_bytes(track)) if track else None
    with open_archive(archive_folder(archive), create=False).session() as session:
        done = apply_log(session, roll, found, track=way, zone=zone_named(zone), clock_offset=offset)
    print(done.words)


@scans.command()
def coverage(archive: ArchiveOption = None) -> None:
    """Say by roll what is scanned, and how finely."""
    from catalogue.scans.check.coverage import AT_ONCE, covered_rolls
    from catalogue.store.engine import open_archive

    with open_archive(archive_folder(archive), create=False).session(reading=True) as session:
        for first in range(1, covered_rolls(session, limit=0).total + 1, AT_ONCE):
            for line in covered_rolls(session, first).lines:
                counts = ", ".join(f"{count} {grade}" for grade, count in line.counts if count)
                print(f"{line.name}: {counts or 'no frame'}; least {line.least_ppi} ppi, level {line.stars}")


def from_picture(
    picture: Annotated[Path, typer.Argument(help="Any picture of the frame.")],
    archive: ArchiveOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Answer as JSON.")] = False,
) -> None:
    """Find the negative that a picture is from; ends with code 1 where none is like it."""
    from api.json.rolls.models import HitOut
    from catalogue.scans.look.from_picture import from_picture as look_up
    from catalogue.scans.look.from_picture import read_query
    from catalogue.store.engine import open_archive

    folder = archive_folder(archive)
    asked = read_query(_bytes(picture))
    with open_archive(folder, create=False).session(reading=True) as session:
        found = look_up(session, asked)
    if as_json:
        hits = [{"score": h.score, "sure": h.sure, "how": h.how, **HitOut.of(h.hit).model_dump()} for h in found.hits]
        print(json.dumps({"words": found.words, "enough": found.enough, "hits": hits}, ensure_ascii=False, indent=2))
    else:
        print(found.words)
        for h in found.hits:
            where = h.hit.address.words if h.hit.address else "not filed"
            print(f"{h.score:.2f}  {h.hit.roll} / {h.hit.frame}  {h.how}\n    {where}")
    if not any(h.sure for h in found.hits):
        raise typer.Exit(NOTHING)
