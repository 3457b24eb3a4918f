"""The command line for everything on paper: each command writes one file, whole or not at all, and says what is in it."""

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from datetime import date
from inspect import Parameter, Signature
from pathlib import Path
from types import UnionType
from typing import TYPE_CHECKING, Annotated, Any, BinaryIO, get_args

import typer
from annotated_types import Ge, Le
from pydantic.fields import FieldInfo

from api.cli.scan_commands import ArchiveOption
from api.settings import DEFAULT_HOST, DEFAULT_PORT, archive_folder
from catalogue.errors import ArchiveProblem, InvalidInput
from printing.kinds.asked import SEVERAL, Asked, InBook, Now
from printing.kinds.registry import KINDS

if TYPE_CHECKING:
    from sqlmodel import Session

OutOption = Annotated[Path, typer.Option("--out", help="The PDF to write; the finding aid also as .html.")]


@contextmanager
def _reading(archive: Path | None) -> Iterator["Session"]:
    from catalogue.store.engine import open_archive

    opened = open_archive(archive_folder(archive), create=False)
    try:
        with opened.session(reading=True) as session:
            yield session
    finally:
        opened.close()


@contextmanager
def _file(out: Path) -> Iterator[BinaryIO]:
    """The file to write into; it stands under its name only once it is whole."""
    if not out.name:
        raise InvalidInput(f"“{out}” is no name for a file. Name one with --out, for example --out sheet.pdf.")
    half = out.with_name(out.name + ".part")
    try:
        with half.open("wb") as file:
            yield file
        half.replace(out)
    except OSError as problem:
        raise ArchiveProblem(f"{out} can't be written: {problem.strerror}. Choose another place with --out.") from problem
    finally:
        with suppress(OSError):  # gone where all went well, never there where it couldn't be made
            half.unlink()


def _say(out: Path, count: int, explanation: str) -> None:
    print(f"{out}, {count} {'sheet' if count == 1 else 'sheets'}: {explanation}")


def _parameter(name: str, field: FieldInfo) -> Parameter:
    """A field as the command takes it: an argument where it must be given, else an option."""
    kind: Any = field.annotation
    if SEVERAL in field.metadata:
        kind = list[str]
    elif isinstance(kind, UnionType) and str in get_args(kind):
        kind = str
    least: Any = next((limit.ge for limit in field.metadata if isinstance(limit, Ge)), None)
    most: Any = next((limit.le for limit in field.metadata if isinstance(limit, Le)), None)
    if field.is_required():
        shown: Any = typer.Argument(help=field.description or field.title, min=least, max=most)
        return Parameter(name, Parameter.KEYWORD_ONLY, annotation=Annotated[kind, shown])
    flag = f"--{name.removesuffix('_mm').replace('_', '-')}"
    shown = typer.Option(flag, help=field.description or field.title, min=least, max=most)
    return Parameter(name, Parameter.KEYWORD_ONLY, annotation=Annotated[kind, shown], default=field.default)


def _command(kind: type[Asked]) -> Callable[..., None]:
    def write(out: Path, archive: Path | None, **given: Any) -> None:
        asked = kind.understood(given)
        now = Now(date.today(), f"http://{DEFAULT_HOST}:{DEFAULT_PORT}/")  # for the code on the paper: the service here
        ending = out.suffix.casefold()
        if kind.on_screen and ending not in (".pdf", ".html"):
            raise InvalidInput(
                f"{out.name} ends neither in .pdf nor in .html. Name the file so that its end says which to write."
            )
        with _reading(archive) as session:
            asked = asked.settled(session)
            if kind.on_screen and ending == ".html":
                text = asked.web_page(session, now)
                with _file(out) as file:
                    file.write(text.encode())
                print(f"{out}: the {kind.called} as one web page.")
            elif isinstance(asked, InBook):
                from printing.book.documents import write_book

                plan = asked.leaves(session, now)
                with _file(out) as file:
                    leaves = write_book(plan, file, printed_on=now.on)
                _say(out, len(leaves.leaves), leaves.explanation)
            else:
                made = asked.drawn(session, now)
                with _file(out) as file:
                    file.write(made.pdf)
                _say(out, made.sheets, made.explanation)

    first = (
        Parameter("out", Parameter.KEYWORD_ONLY, annotation=OutOption),
        Parameter("archive", Parameter.KEYWORD_ONLY, annotation=ArchiveOption, default=None),
    )
    signature = Signature([*(_parameter(name, field) for name, field in kind.model_fields.items()), *first])
    write.__signature__ = signature  # type: ignore[attr-defined]
    write.__annotations__ = {name: one.annotation for name, one in signature.parameters.items()}
    write.__doc__ = f"Write {kind.said[0].lower()}{kind.said[1:]}"
    return write


def commands_of(kinds: Iterable[type[Asked]]) -> typer.Typer:
    """A command for each of these kinds."""
    made = typer.Typer(no_args_is_help=True)
    for kind in kinds:
        made.command(kind.command or kind.key)(_command(kind))
    return made


prints = commands_of(KINDS.values())
