"""The command line for everything on paper: each command writes one file, whole or not at all, and says what is in it."""

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, BinaryIO
from urllib.parse import quote

import typer

from api.cli.scan_commands import ArchiveOption
from api.settings import DEFAULT_HOST, DEFAULT_PORT, archive_folder
from catalogue.errors import ArchiveProblem, InvalidInput

if TYPE_CHECKING:
    from sqlmodel import Session

    from catalogue.paper.label_sheets import StockUse
    from printing.book.plan import BookPlan
    from printing.sheets.documents import PrintedPdf

prints = typer.Typer(no_args_is_help=True, help="Write contact sheets, labels, cards, books and the finding aid as files.")

_LARGEST_ID = 2**53
OutOption = Annotated[Path, typer.Option("--out", help="The PDF to write.")]
PaperOption = Annotated[str, typer.Option("--paper", help="Left out: A4, or else the first paper in the house.")]
StartOption = Annotated[int, typer.Option("--start", min=1, max=1200, help="The first label still on the sheet.")]
StockOption = Annotated[str, typer.Option("--stock", help="The label sheet, by the name or key that the page /papers shows.")]
AcrossOption = Annotated[float | None, typer.Option("--dx", help="Correction to the right in mm; left out: the kept one.")]
DownOption = Annotated[float | None, typer.Option("--dy", help="Correction down in mm; left out: the kept one.")]
PageArgument = Annotated[int, typer.Argument(min=1, max=_LARGEST_ID, help="The number in the page's address.")]
BinderArgument = Annotated[int, typer.Argument(min=1, max=_LARGEST_ID, help="The number in the binder's address.")]


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


def _write(out: Path, made: "PrintedPdf") -> None:
    with _file(out) as file:
        file.write(made.pdf)
    _say(out, made.sheets, made.explanation)


def _write_leaves(out: Path, plan: "BookPlan") -> None:
    from printing.book.documents import write_book

    with _file(out) as file:
        made = write_book(plan, file, printed_on=date.today())
    _say(out, len(made.leaves), made.explanation)


def _link(*parts: str | int) -> str:
    """An address of the service on this machine, for the code on the paper."""
    return f"http://{DEFAULT_HOST}:{DEFAULT_PORT}/" + "/".join(quote(str(part)) for part in parts)


def _use(session: "Session", stock: str, start: int, dx: float | None, dy: float | None) -> "StockUse":
    from catalogue.desk.papers import use_of

    return use_of(session, stock, start, dx, dy)


@prints.command("contact-sheet")
def contact_sheet(
    roll: list[str],
    out: OutOption,
    archive: ArchiveOption = None,
    paper: PaperOption = "",
    fit: Annotated[str, typer.Option("--fit", help="two sheets, another paper, or fit")] = "two sheets",
    side: Annotated[str, typer.Option("--side", help="base, or emulsion: the page from behind")] = "base",
    balance: Annotated[str, typer.Option("--balance", help="each, common (one exposure), or as set for the roll")] = "as set",
    marks: Annotated[bool, typer.Option("--marks", help="Draw selects and crops.")] = False,
    boxes: Annotated[bool, typer.Option("--boxes", help="A box to tick beside each frame.")] = False,
    percent: Annotated[float, typer.Option("--percent", help="100 is true size; up to 400.")] = 100,
) -> None:
    """Write the contact sheet of a roll, or of several."""
    from api.desk.contact_sheets import sheet_of_rolls
    from printing.contact.options import ContactOptions

    options = ContactOptions(side, balance, marks, boxes, percent)
    with _reading(archive) as session:
        _, made = sheet_of_rolls(session, roll, root=_link(), paper=paper, fit=fit, options=options)
    _write(out, made)


@prints.command("page-label")
def page_label(page_id: PageArgument, out: OutOption, archive: ArchiveOption = None) -> None:
    """Write the index label of a page."""
    from api.desk import printables

    with _reading(archive) as session:
        made = printables.page_label(session, page_id, _link("pages", page_id))
    _write(out, made)


@prints.command("strip-list")
def strip_list(page_id: PageArgument, out: OutOption, archive: ArchiveOption = None, paper: PaperOption = "") -> None:
    """Write the slip for the ring edge of a page: which frames lie in which slot."""
    from api.desk import printables

    with _reading(archive) as session:
        made = printables.strip_list(session, page_id, _link("pages", page_id), paper)
    _write(out, made)


@prints.command("print-card")
def print_card(roll: str, frame: str, out: OutOption, archive: ArchiveOption = None, paper: PaperOption = "") -> None:
    """Write the card that goes into the darkroom with a frame."""
    from api.desk import printables
    from catalogue.rolls.rows import roll_row

    with _reading(archive) as session:
        number = roll_row(session, roll).number
        made = printables.print_card(session, number, frame, _link("rolls", number, "scans", frame), paper)
    _write(out, made)


@prints.command("cut-card")
def cut_card(
    out: OutOption,
    archive: ArchiveOption = None,
    film: Annotated[str, typer.Option("--format", help="The film's format.")] = "135-24x36",
    frames: Annotated[str, typer.Option("--frames", help="For example 00-36A; left out, the format's usual count.")] = "",
    number: Annotated[str, typer.Option("--number", help="The roll's number; left out, the next roll's.")] = "",
    layout: Annotated[str, typer.Option("--layout", help="The sleeve page; left out, the usual one.")] = "",
    paper: PaperOption = "",
) -> None:
    """Write the life-size cut card of a roll before it is cut; nothing is stored."""
    from pydantic import ValidationError

    from api.desk import printables
    from catalogue.rolls.register import NewRoll

    try:
        new = NewRoll(number=number or None, format=film, frames=frames or None, layout=layout or None)
    except ValidationError as refused:
        first = refused.errors()[0]
        raise InvalidInput(f"--{first['loc'][0]}: {first['msg']}. Write it shorter or otherwise.") from refused
    with _reading(archive) as session:
        made = printables.cut_card(session, new, paper)
    _write(out, made)


@prints.command("roll-label")
def roll_label(
    roll: str,
    out: OutOption,
    archive: ArchiveOption = None,
    stock: StockOption = "a4-3x8",
    start: StartOption = 1,
    waiting: Annotated[str, typer.Option("--waiting", help="What the roll waits for, printed on the label.")] = "",
    dx: AcrossOption = None,
    dy: DownOption = None,
) -> None:
    """Write the label for a roll's can, or for its negatives waiting to be cut."""
    from api.desk import printables
    from catalogue.rolls.rows import roll_row

    with _reading(archive) as session:
        number = roll_row(session, roll).number
        made = printables.roll_label(session, number, _use(session, stock, start, dx, dy), _link("rolls", number), waiting)
    _write(out, made)


@prints.command("numbers")
def numbers(
    out: OutOption,
    archive: ArchiveOption = None,
    count: Annotated[int, typer.Option("--count", min=1, max=500)] = 24,
    copies: Annotated[int, typer.Option("--copies", min=1, max=20)] = 1,
    stock: StockOption = "a4-4x12",
    start: StartOption = 1,
    dx: AcrossOption = None,
    dy: DownOption = None,
) -> None:
    """Write the next roll numbers ahead, for cassettes; none is issued by that."""
    from api.desk import printables

    with _reading(archive) as session:
        made = printables.cassette_numbers(session, count, _use(session, stock, start, dx, dy), copies)
    _write(out, made)


@prints.command("label-test")
def label_test(
    out: OutOption,
    archive: ArchiveOption = None,
    stock: StockOption = "a4-3x8",
    dx: AcrossOption = None,
    dy: DownOption = None,
) -> None:
    """Write the test sheet from which a printer's correction is read off in mm."""
    from api.desk import printables

    with _reading(archive) as session:
        made = printables.label_test(session, _use(session, stock, 1, dx, dy))
    _write(out, made)


@prints.command("bottle-tag")
def bottle_tag(
    name: Annotated[str, typer.Argument(help="What the bottle is called.")],
    out: OutOption,
    archive: ArchiveOption = None,
    what: Annotated[str, typer.Option("--what", help="What is in it, and how it was diluted.")] = "",
    mixed: Annotated[str, typer.Option("--mixed", help="A date, for example 2031-05-14; left out, a line to write on.")] = "",
    opened: Annotated[str, typer.Option("--opened", help="Likewise.")] = "",
    discard_after: Annotated[str, typer.Option("--discard-after", help="Likewise.")] = "",
    rolls: Annotated[int, typer.Option("--rolls", min=0, max=400, help="So many boxes to tick, one a roll.")] = 0,
    stock: StockOption = "a4-2x7",
    start: StartOption = 1,
    dx: AcrossOption = None,
    dy: DownOption = None,
) -> None:
    """Write a tag for a bottle: what is in it, its dates, and a box to tick for each roll."""
    from api.desk import printables

    with _reading(archive) as session:
        use = _use(session, stock, start, dx, dy)
        made = printables.typed_bottle_tag(session, use, name, what, mixed, opened, discard_after, rolls)
    _write(out, made)


@prints.command("spine")
def spine(
    binder_id: BinderArgument,
    out: OutOption,
    archive: ArchiveOption = None,
    width: Annotated[float, typer.Option("--width", min=8, max=80, help="Of the binder's back, in mm.")] = 40.0,
    paper: PaperOption = "",
) -> None:
    """Write the back of a binder with the range it holds."""
    from api.desk import printables

    with _reading(archive) as session:
        made = printables.spine(session, binder_id, width, paper)
    _write(out, made)


@prints.command("slips")
def slips(out: OutOption, archive: ArchiveOption = None, paper: PaperOption = "") -> None:
    """Write a slip for every strip that is out, to stay in its slot."""
    from api.desk import printables

    with _reading(archive) as session:
        made = printables.out_slips(session, paper)
    _write(out, made)


@prints.command("book")
def book(binder_id: BinderArgument, out: OutOption, archive: ArchiveOption = None, paper: PaperOption = "") -> None:
    """Write a binder's book, leaf by leaf: every page and roll, gaps, an index."""
    from api.desk import printables

    with _reading(archive) as session:
        plan = printables.book_plan(session, binder_id, paper)
    _write_leaves(out, plan)


@prints.command("finding-aid")
def finding_aid(
    out: Annotated[Path, typer.Option("--out", help="The file to write, ending in .pdf or .html.")],
    archive: ArchiveOption = None,
    paper: PaperOption = "",
) -> None:
    """Write the whole archive described by level, as a PDF or as a web page."""
    from api.desk import printables
    from printing.book.finding_aid import as_html

    ending = out.suffix.casefold()
    if ending not in (".pdf", ".html"):
        raise InvalidInput(f"{out.name} ends neither in .pdf nor in .html. Name the file so that its end says which to write.")
    with _reading(archive) as session:
        if ending == ".pdf":
            plan = printables.finding_aid_plan(session, paper)
        else:
            text = as_html(printables.finding_aid_tree(session))
    if ending == ".pdf":
        _write_leaves(out, plan)
        return
    with _file(out) as file:
        file.write(text.encode())
    print(f"{out}: the finding aid as one web page.")
