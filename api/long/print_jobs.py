"""Making the PDFs of the whole queue as long work: one file a kind of paper, whole or not at all."""

import re
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryFile
from typing import TYPE_CHECKING, Any, BinaryIO

from api.desk.finished import clear_unfinished, prints_folder
from api.desk.queue import Batch, Made, batches, make
from api.long.background import Background
from catalogue.desk.queue import waiting
from catalogue.errors import NotFound, StripleafError
from catalogue.paper.label_sheets import find_stock
from catalogue.paper.sizes import PAPERS
from catalogue.store.engine import Archive
from printing.kinds.asked import InBook, Now

if TYPE_CHECKING:
    from printing.canvas.merging import Gathered

PRINTING = "printing"


class _Stopped(Exception):
    """Asked to stop between two sheets."""


@dataclass
class _Tray:
    """The sheets of one paper."""

    gathered: "Gathered"
    things: list[dict[str, Any]] = field(default_factory=list)


@dataclass
class _Told:
    """What is said at the end."""

    things: int = 0
    left_out: int = 0
    unchanged: int = 0
    kept: list[dict[str, Any]] = field(default_factory=list)
    old: list[str] = field(default_factory=list)
    troubles: list[str] = field(default_factory=list)


def begin_printing(archive: Archive, background: Background, base: str, *, changed_only: bool) -> bool:
    """Begins to make the PDFs of the queue; says whether it was begun (one is made at a time).

    Raises `NotFound` for an empty queue. `base` is the service's address, ending in /.
    """
    with archive.session(reading=True) as session:
        if not waiting(session):
            raise NotFound("Nothing waits to be printed. Put something in the queue first.")

    def work(stop: Callable[[], bool]) -> None:
        words = _print_queue(archive, background, Now(date.today(), base), changed_only, stop)
        background.say(PRINTING, words)

    return background.start(PRINTING, work)


def stop_printing(background: Background) -> None:
    """Stops it and waits until it has; no file is left of it."""
    background.stop(PRINTING)
    background.wait(PRINTING)


def _print_queue(archive: Archive, background: Background, now: Now, changed_only: bool, stop: Callable[[], bool]) -> str:
    clear_unfinished(archive)
    told, trays = _Told(), dict[str, _Tray]()
    with ExitStack() as open_files:
        try:
            with archive.session(reading=True) as session:
                queue = batches(session, told.troubles)
            total = sum(len(batch.things) for batch in queue)
            for batch in queue:
                _go_on(background, told.things, total, trays, stop)
                _draw(archive, batch, now, changed_only, trays, told, open_files, background, total, stop)
            _go_on(background, total, total, trays, stop)
            for tray in list(trays.values())[:1]:
                tray.things += told.kept
            names = _write(prints_folder(archive), trays, stop)
        except _Stopped:
            return "Stopped. No PDF was made, and the queue is as it was."
        finally:
            for tray in trays.values():
                tray.gathered.close()
    return _words(names, trays, told)


def _go_on(background: Background, done: int, total: int, trays: dict[str, _Tray], stop: Callable[[], bool]) -> None:
    if stop():
        raise _Stopped
    background.count(PRINTING, done, total)
    sheets = sum(tray.gathered.sheets for tray in trays.values())
    background.say(PRINTING, f"{done} of {total} things drawn, {sheets} sheets so far.")


def _draw(
    archive: Archive, batch: Batch, now: Now, changed_only: bool, trays: dict[str, _Tray], told: _Told,
    open_files: ExitStack, background: Background, total: int, stop: Callable[[], bool],
) -> None:  # fmt: skip
    """Draws a batch and puts its sheets where their paper is; a batch that can't be drawn is told and left out."""

    def leaf_done(done: int, of: int) -> None:
        if stop():
            raise _Stopped
        background.say(PRINTING, f"{told.things} of {total} things drawn; {batch.title}: leaf {done} of {of}.")

    file: BinaryIO = open_files.enter_context(TemporaryFile())  # noqa: SIM115  the stack closes it after writing
    try:
        with archive.session(reading=True) as session:
            made = make(session, batch, now, file, changed_only=changed_only, progress=leaf_done)
    except StripleafError as trouble:
        told.troubles.append(f"{batch.title}: {trouble}")
        told.things += len(batch.things)
        return
    told.things += len(batch.things)
    told.left_out += made.left_out
    told.unchanged += len(made.unchanged)
    told.old += made.to_take_out
    if made.sheets:
        _lay(batch, made, trays)
    else:  # as printed last: it leaves the queue with the rest
        told.kept += made.kept


def _lay(batch: Batch, made: Made, trays: dict[str, _Tray]) -> None:
    from pypdf import PdfReader  # heavy: here, so that a service at rest is without it

    from printing.canvas.merging import Gathered, sheet_sizes

    made.pdf.seek(0)
    source = PdfReader(made.pdf)
    sizes = sheet_sizes(source)
    stock = batch.first.label_sheet
    by_paper: dict[str, list[int]] = {}
    for n in made.sheets:
        by_paper.setdefault(_paper_words(*sizes[n], stock), []).append(n)
    names = [f"sheet {n + 1}" for n in range(len(sizes))]
    for paper, numbers in by_paper.items():
        tray = trays.setdefault(paper, _Tray(Gathered(f"To print: {paper}")))
        tray.gathered.add(source, batch.title, numbers)
        here = {names[n] for n in numbers}
        own_sheets = batch.first.joins is None and not isinstance(batch.first, InBook)
        for entry in made.kept:
            leaves = {k: v for k, v in entry["leaves"].items() if not own_sheets or k in here}
            tray.things.append(entry | {"leaves": leaves})


def _paper_words(width: float, height: float, stock: str) -> str:
    """What to put into the printer, in words that a file name can hold."""
    if stock:
        return re.sub(r"[^\w .×()-]", "", find_stock(stock).name.partition(" of ")[0])
    short, long = sorted((width, height))
    for paper in PAPERS.values():
        if abs(paper.width_mm - short) < 1 and abs(paper.height_mm - long) < 1:
            return f"plain paper {paper.name}"
    return f"plain paper {short:.0f} × {long:.0f} mm"


def _write(folder: Path, trays: dict[str, _Tray], stop: Callable[[], bool]) -> list[str]:
    """Every file written beside its place first and all renamed at the end, so that none is there half."""
    moment = datetime.now()
    while any(folder.glob(f"{moment:%Y-%m-%d %H%M%S} *")):  # never over a file that is there
        moment += timedelta(seconds=1)
    stamp = f"{moment:%Y-%m-%d %H%M%S}"
    parts: list[tuple[Path, Path]] = []
    try:
        for paper, tray in trays.items():
            whole = folder / f"{stamp} {paper}.pdf"
            part = folder / f".{whole.name}.part"
            parts.append((part, whole))
            with part.open("wb") as out:
                tray.gathered.write(out, {"things": tray.things})
            if stop():
                raise _Stopped
        for part, whole in parts:
            part.replace(whole)
    finally:
        for part, _ in parts:
            part.unlink(missing_ok=True)
    return [whole.name for _, whole in parts]


def _words(names: list[str], trays: dict[str, _Tray], told: _Told) -> str:
    def count(number: int, one: str, many: str) -> str:
        return f"{number} {one if number == 1 else many}"

    if names:
        each = "; ".join(f"{paper}: {count(t.gathered.sheets, 'sheet', 'sheets')}" for paper, t in trays.items())
        words = f"{count(len(names), 'PDF is', 'PDFs are')} ready. {each}."
    else:
        words = "No PDF was made."
    if told.unchanged or told.left_out:
        whole = count(told.unchanged, "thing", "things")
        some = count(told.left_out, "sheet or leaf", "sheets and leaves") + " of other things"
        left = " and ".join([whole] * bool(told.unchanged) + [some] * bool(told.left_out))
        words += f" Left out, as nothing on them has changed since the last print: {left}."
    if told.old:
        shown = ", ".join(told.old[:12]) + (f" and {len(told.old) - 12} more" if len(told.old) > 12 else "")
        words += f" Take these old leaves out of their book: {shown}."
    if told.troubles:
        words += f" {count(len(told.troubles), 'thing', 'things')} could not be drawn: {' '.join(told.troubles[:5])}"
    return words
