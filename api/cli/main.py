"""The command line: thin commands; one clear line on standard error when something is wrong."""

import json
import socket
import sys
import warnings
from functools import cached_property
from pathlib import Path
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from api.cli import endings
from api.cli.scan_commands import ArchiveOption, from_picture, scans
from api.settings import DEFAULT_HOST, DEFAULT_PORT, archive_folder
from catalogue.errors import ArchiveProblem, StripleafError


class _Prints(TyperGroup):
    """The commands for paper, made of the kinds of print only when one of them is asked for."""

    @cached_property
    def _made(self) -> TyperGroup:
        from api.cli.print_commands import prints

        made = typer.main.get_command(prints)
        assert isinstance(made, TyperGroup)
        return made

    def list_commands(self, ctx: Any) -> list[str]:
        return self._made.list_commands(ctx)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        return self._made.get_command(ctx, cmd_name)


app = typer.Typer(
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    help="The catalogue of your negatives.",
)
app.add_typer(
    typer.Typer(
        cls=_Prints, no_args_is_help=True, help="Write contact sheets, labels, cards, books and the finding aid as files."
    ),
    name="print",
)
app.add_typer(scans, name="scans")
app.command("from-picture")(from_picture)

PortOption = Annotated[int, typer.Option("--port", min=1, max=65535)]


def _serve(folder: Path, host: str, port: int) -> None:
    import uvicorn

    from api.app import create_app
    from api.security import LOOPBACK, names_for

    with socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
        except OSError as problem:
            raise ArchiveProblem(
                f"Can't serve on {host} port {port}: {problem.strerror}. Choose another with --port."
            ) from problem
    application = create_app(folder, hosts=names_for(host))
    if host not in LOOPBACK and host != "::1":
        print("Anybody in this network can now read and change the archive: there is no log-in.", file=sys.stderr)
    print(f"Serving {folder} at http://{f'[{host}]' if ':' in host else host}:{port} (end with Ctrl-C)", flush=True)
    uvicorn.run(application, host=host, port=port, log_level="warning", server_header=False)


@app.command()
def serve(
    archive: ArchiveOption = None,
    host: Annotated[str, typer.Option("--host", help="Address to listen on; there is no log-in.")] = DEFAULT_HOST,
    port: PortOption = DEFAULT_PORT,
) -> None:
    """Serve an archive to the browser."""
    _serve(archive_folder(archive), host, port)


@app.command()
def demo(
    archive: ArchiveOption = None,
    port: PortOption = DEFAULT_PORT,
    no_serve: Annotated[bool, typer.Option("--no-serve", help="Only build and print.")] = False,
) -> None:
    """Build the example archive, print everything, and serve it."""
    from catalogue.rolls.change import list_rolls
    from catalogue.store.engine import DATABASE_NAME, open_archive
    from example_archive.build import build, write_prints

    if archive is None:
        raise ArchiveProblem("Name a folder for the example archive, for example: --archive ~/stripleaf-example.")
    folder = archive.expanduser().absolute()
    there = (folder / DATABASE_NAME).is_file()
    if there:
        kept = open_archive(folder)
        with kept.session(reading=True) as session:
            there = bool(list_rolls(session))
        kept.close()
    if there:
        print(f"{folder} holds an archive already; it is used as it is.")
    else:
        report = build(folder)
        print(
            f"Example archive in {folder}: {report.binders} binders, {report.pages} pages, "
            f"{report.rolls} rolls, {report.pictures} pictures."
        )
    opened = open_archive(folder)
    written = write_prints(opened, folder / "prints", port=port)
    opened.close()
    print(f"{len(written)} labels and contact sheets in {folder / 'prints'}", flush=True)
    if not no_serve:
        _serve(folder, DEFAULT_HOST, port)


@app.command()
def find(
    words: str,
    archive: ArchiveOption = None,
    as_json: Annotated[bool, typer.Option("--json", help="Answer as JSON.")] = False,
) -> None:
    """Find a roll or a frame by number or by words."""
    from catalogue.rolls.find import find as find_in
    from catalogue.store.engine import open_archive

    opened = open_archive(archive_folder(archive), create=False)
    with opened.session(reading=True) as session:
        found = find_in(session, words)
    if as_json:
        from api.json.rolls.models import FoundOut, HitOut

        answer = FoundOut(hits=[HitOut.of(h) for h in found.hits], more=found.more)
        print(json.dumps(answer.model_dump(), ensure_ascii=False, indent=2))
    else:
        for hit in found.hits:
            name = f"{hit.roll} / {hit.frame}" if hit.frame else hit.roll
            where = hit.address.words if hit.address else "not filed"
            print(f"{name}  {hit.title}\n    {where}")
    if not found.hits:
        if not as_json:
            print(f"Nothing found for “{words}”. Try fewer or other words.")
        raise typer.Exit(endings.NOTHING)


def main() -> None:
    """Runs a command; a problem ends with one line and how commands end."""
    if not sys.warnoptions:
        warnings.simplefilter("ignore")  # a library's remark on a damaged picture; what matters is in the sentence
    try:
        code = app(standalone_mode=False)
        if isinstance(code, int) and code:  # a command that found something wrong, and has said so
            sys.exit(code)
    except StripleafError as problem:
        print(f"stripleaf: {problem}", file=sys.stderr)
        sys.exit(endings.NOTHING)
    except typer.Abort:
        sys.exit(endings.STOPPED)
    except Exception as problem:
        words = getattr(problem, "format_message", None)
        if words is None:
            mistake = " ".join(f"{type(problem).__name__}: {problem}".split())
            print(f"stripleaf: a mistake in the program ({mistake}). Please report this line.", file=sys.stderr)
            sys.exit(endings.MISTAKE)
        print(f"stripleaf: {' '.join(words().split())} See stripleaf --help.", file=sys.stderr)
        sys.exit(endings.USAGE)
