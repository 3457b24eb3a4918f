"""Builds the example archive through the same operations a person uses, and prints all of it."""

import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from itertools import cycle
from pathlib import Path

from sqlmodel import Session

from catalogue.errors import AlreadyExists
from catalogue.rolls.change import FrameChanges, get_roll, list_rolls, update_frame
from catalogue.rolls.file import add_binder, get_page, list_binders
from catalogue.rolls.move import take_out, turn_strip
from catalogue.rolls.number import record_gap, renumber_roll
from catalogue.rolls.page import roll_pages
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.process import ProcessInput
from catalogue.rolls.register import register_roll
from catalogue.scans.look.positives import FilmKind
from catalogue.scans.look.showing_positive import set_positive
from catalogue.scans.match.linking import change_scan, link_scan
from catalogue.settings import name_archive
from catalogue.store.engine import DATABASE_NAME, Archive, open_archive
from catalogue.views import RollView
from example_archive import darkroom, scenario
from example_archive.bench_data import fill_bench, note_waiting
from example_archive.bottle_data import add_bottles
from example_archive.pictures import jpeg, negative, picture
from printing.sheets.documents import contact_sheet_pdf, page_label_pdf

PRINTED_ON = date(2031, 9, 14)


@dataclass(frozen=True)
class BuildReport:
    """The archive, opened, and how much is in it."""

    archive: Archive
    rolls: int
    binders: int
    pages: int
    pictures: int


def build(archive_folder: Path) -> BuildReport:
    """Builds the example in an archive folder that holds no archive yet.

    It is built beside the folder and moved in when whole, so a failure leaves nothing
    half-made. Scans lie in the archive's own `scans` folder, which is the scan folder
    unless the person sets another. Raises `AlreadyExists` where an archive is there.
    """
    target = archive_folder.expanduser().absolute()
    if (target / DATABASE_NAME).exists():
        raise AlreadyExists(f"There is an archive in {target} already. Choose an empty folder for the example.")
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=target.parent, prefix=f".{target.name}-") as beside:
        folder = Path(beside) / "archive"
        archive = open_archive(folder)
        try:
            pictures = _fill(archive)
        finally:
            archive.close()
        _move_in(folder, target)
    archive = open_archive(target)
    with archive.session(reading=True) as session:
        binders = list_binders(session)
        rolls = len(list_rolls(session))
    return BuildReport(archive, rolls, len(binders), sum(len(b.pages) for b in binders), pictures)


def _move_in(folder: Path, target: Path) -> None:
    """Moves the finished archive in, its database last; raises rather than replace a person's files."""
    target.mkdir(exist_ok=True)
    entries = sorted(folder.iterdir(), key=lambda entry: (entry.name == DATABASE_NAME, entry.name))
    there = [entry.name for entry in entries if (target / entry.name).exists()]
    if there:
        raise AlreadyExists(f"{target} holds {', '.join(there)} already. Choose an empty folder for the example.")
    moved: list[Path] = []
    try:
        for entry in entries:
            shutil.move(entry, target / entry.name)
            moved.append(target / entry.name)
    except BaseException:
        for path in moved:
            shutil.rmtree(path) if path.is_dir() else path.unlink()
        raise


def _fill(archive: Archive) -> int:
    pictures = 0
    with archive.session() as session:
        name_archive(session, scenario.ARCHIVE_NAME)
        for name, notes in scenario.BINDERS:
            add_binder(session, name, notes)
        for example in scenario.ROLLS:
            view = _register(session, example)
            pictures += _add_pictures(session, archive.folder, example, view)
        for number, reason in scenario.GAPS:
            record_gap(session, number, reason)
        number, position, reason, due = scenario.STRIP_OUT
        take_out(session, get_roll(session, number).strips[position - 1].id, reason, due)
        number, position, why = scenario.STRIP_UPSIDE_DOWN
        turn_strip(session, get_roll(session, number).strips[position - 1].id, upside_down=True, why=why)
        darkroom.mark_and_print(session)
        fill_bench(session)
        add_bottles(session)
        note_waiting(session)
    return pictures


def _register(session: Session, example: scenario.ExampleRoll) -> RollView:
    facts = dict(example.facts)
    facts["process"] = ProcessInput(**facts["process"])
    if example.on_page_of:
        facts["page_id"] = get_roll(session, example.on_page_of).page_ids[-1]
    number = facts["number"]
    if example.former:
        facts["number"] = example.former
    register_roll(session, NewRoll(**facts))
    if example.former:
        renumber_roll(session, example.former, number)
    for label, keywords in example.details.items():
        update_frame(session, number, label, FrameChanges(keywords=keywords))
    return get_roll(session, number)


def _add_pictures(session: Session, folder: Path, example: scenario.ExampleRoll, view: RollView) -> int:
    if not example.pictures:
        return 0
    made = 0
    place = folder / "scans" / view.number
    place.mkdir(parents=True)
    subjects = cycle(example.subjects)
    for frame in view.frames[: example.pictures]:
        if frame.state == "blank":
            continue
        second = "street" if frame.state == "double" else ""
        name = f"{view.number}_{frame.label}"
        film = view.format
        across, along = film.frame_across_mm, film.frame_along_mm
        positive = picture(next(subjects), name, along, across, colour=example.colour, second=second)
        (place / f"{name}.jpg").write_bytes(jpeg(positive))
        if example.negatives:
            # What the film itself looks like, as from the copy stand.
            beside = folder / "scans" / "negatives" / view.number
            beside.mkdir(parents=True, exist_ok=True)
            (beside / f"{name}.jpg").write_bytes(jpeg(negative(positive, colour=example.colour)))
        made += 1
    _tie_by_name(session, folder, view, view.number)
    if example.negatives and not example.colour:
        _tie_negatives(session, folder, view)
    return made


def _tie_by_name(session: Session, folder: Path, view: RollView, place: str) -> None:
    """Ties the pictures in a folder of the scan folder to the frames that they are named after."""
    for frame in view.frames:
        path = f"{place}/{view.number}_{frame.label}.jpg"
        if (folder / "scans" / path).is_file():
            link_scan(session, view.number, frame.label, path)


def _tie_negatives(session: Session, folder: Path, view: RollView) -> None:
    """The negatives become the masters and are shown as positives; the small positives are for the web."""
    _tie_by_name(session, folder, view, f"negatives/{view.number}")
    for frame in get_roll(session, view.number).frames:
        for scan in frame.scans:
            is_negative = scan.path.startswith("negatives/")
            change_scan(
                session, scan.id, role="master" if is_negative else "web", polarity="negative" if is_negative else "positive"
            )
    set_positive(session, view.number, FilmKind.BLACK_AND_WHITE)


def write_prints(archive: Archive, folder: Path, port: int = 8000) -> list[Path]:
    """Writes each page's index label and each roll's contact sheet as PDF, linked to a service at `port`; returns the files."""
    folder.mkdir(parents=True, exist_ok=True)
    return list(_prints(archive, folder, f"http://127.0.0.1:{port}"))


def _prints(archive: Archive, folder: Path, address: str) -> Iterator[Path]:
    with archive.session(reading=True) as session:
        for binder in list_binders(session):
            slug = "-".join(binder.name.casefold().split())
            for summary in binder.pages:
                page = get_page(session, summary.id)
                path = folder / f"label-{slug}-page-{page.number:02}.pdf"
                path.write_bytes(page_label_pdf(page, printed_on=PRINTED_ON, link=f"{address}/pages/{page.id}").pdf)
                yield path
        for roll in list_rolls(session):
            number, pages = roll_pages(session, roll.number)
            if not pages:  # it waits to be processed and sleeved
                continue
            printed = contact_sheet_pdf(
                pages,
                paper="A4",
                fit="two sheets",
                roll=number,
                printed_on=PRINTED_ON,
                link=f"{address}/rolls/{number}",
            )
            path = folder / f"contact-{number}.pdf"
            path.write_bytes(printed.pdf)
            yield path
