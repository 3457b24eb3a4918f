"""Slow work on scans keeps nobody from writing: while a file is decoded or a folder matched, another session writes at once."""

import sqlite3
import threading
from collections.abc import Callable
from pathlib import Path

import pytest
from builders import filed
from small_scans import flat
from sqlmodel import Session

from api.long.scan_jobs import tie_by_names
from catalogue.errors import InvalidInput
from catalogue.rolls.change import FrameChanges, get_roll, update_frame
from catalogue.rolls.plan import NewRoll
from catalogue.scans.edge.numbers import read_edge
from catalogue.scans.look.positives import Inversion
from catalogue.scans.look.showing_positive import positive_of_roll, set_positive
from catalogue.scans.match.approve import approve
from catalogue.scans.match.covering import cover_page, cover_strip
from catalogue.scans.match.linking import link_scan, untie
from catalogue.scans.match.propose import propose
from catalogue.scans.read.folder_runs import read_run, start_run
from catalogue.settings import scan_folder
from catalogue.store.apart import carry_out, set_apart, set_apart_each
from catalogue.store.engine import Archive
from catalogue.store.tables.rolls import Roll

NUMBER = "2031-001"


@pytest.fixture
def made(archive: Archive) -> Archive:
    """A roll of six; frames 1 to 3 have scans, "copies" is read and not yet matched, "strip.png" is tied to nothing."""
    with archive.session() as session:
        filed(session, NewRoll(number=NUMBER, frames=6, layout="135-6x6"))
        root = scan_folder(session)
    (root / "copies").mkdir(parents=True)
    for n in range(1, 4):
        flat(n, (120, 80)).save(root / f"{n}.png")
        flat(n, (240, 160)).save(root / "copies" / f"{n}.png")
    flat(9, (600, 100)).save(root / "strip.png")
    with archive.session() as session:
        for n in range(1, 4):
            link_scan(session, NUMBER, str(n), f"{n}.png")
    read_run(archive, carry_out(archive, start_run, "copies", NUMBER).id)
    return archive


def linked(archive: Archive) -> None:
    carry_out(archive, link_scan, NUMBER, "4", "strip.png")


def strip_covered(archive: Archive) -> None:
    carry_out(archive, cover_strip, 1, "strip.png")


def page_covered(archive: Archive) -> None:
    carry_out(archive, cover_page, 1, "strip.png")


def positive(archive: Archive) -> None:
    carry_out(archive, set_positive, NUMBER, "black-and-white negative", exposure="each")


def matched(archive: Archive) -> None:
    carry_out(archive, propose, 1, "order")


def approved(archive: Archive) -> None:
    with archive.session() as session:
        propose(session, 1, "names", "{frame}")
    carry_out(archive, approve, 1, "negative")


def edge_read(archive: Archive) -> None:
    carry_out(archive, read_edge, 1)


def listed(archive: Archive) -> None:
    carry_out(archive, start_run, "copies", NUMBER)


def tied(archive: Archive) -> None:
    tie_by_names(archive, "copies", NUMBER)


@pytest.mark.parametrize(
    ("work", "slow"),
    [
        (linked, "catalogue.scans.match.linking.read_file"),
        (strip_covered, "catalogue.scans.match.linking.read_file"),
        (strip_covered, "catalogue.scans.match.covering.make_shown"),
        (page_covered, "catalogue.scans.match.covering.make_shown"),
        (positive, "catalogue.scans.look.showing_positive.make_shown"),
        (matched, "catalogue.scans.match.matching.align"),
        (approved, "catalogue.scans.look.showing_positive.make_shown"),
        (edge_read, "catalogue.scans.edge.check.part_of"),
        (listed, "catalogue.scans.read.folder_runs.picture_files"),
        (tied, "catalogue.scans.match.matching.try_pattern"),
    ],
)
def test_another_writes_at_once_while_it_is_slow(
    made: Archive, monkeypatch: pytest.MonkeyPatch, work: Callable[[Archive], None], slow: str
) -> None:
    module, _, name = slow.rpartition(".")
    at_it, go_on = threading.Event(), threading.Event()
    true = getattr(__import__(module, fromlist=[name]), name)

    def waiting(*given: object, **named: object) -> object:
        at_it.set()
        assert go_on.wait(60)
        return true(*given, **named)

    with made.session() as session:  # a black-and-white film, so that approving measures as well
        filed(session, NewRoll(number="2031-002", frames=6, layout="135-6x6"))
        session.get_one(Roll, 1).stock = "Monochrome 100, black-and-white"
    monkeypatch.setattr(slow, waiting)
    problems: list[BaseException] = []

    def run() -> None:
        try:
            work(made)
        except BaseException as problem:
            problems.append(problem)

    thread = threading.Thread(target=run)
    thread.start()
    try:
        assert at_it.wait(60), problems
        other = sqlite3.connect(made.folder / "stripleaf.db", timeout=0)  # waits for nobody
        other.execute("BEGIN IMMEDIATE")
        other.execute("UPDATE roll SET subject = 'Harbour' WHERE number = '2031-002'")
        other.commit()
        other.close()
    finally:
        go_on.set()
        thread.join(60)
    assert problems == []
    with made.session(reading=True) as session:
        assert get_roll(session, "2031-002").subject == "Harbour"


def test_what_another_took_away_meanwhile_is_not_counted_in(made: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    from catalogue.scans.look import showing_positive

    with made.session() as session:
        for n in (2, 3):
            untie(session, n)
        alone = set_positive(session, NUMBER, "black-and-white negative").inversion
        for n in (2, 3):
            link_scan(session, NUMBER, str(n), f"{n}.png")
    true, taken = showing_positive.make_shown, []

    def meanwhile(*given: object, **named: object) -> Path:
        if not taken:
            taken.append(True)
            with made.session() as session:
                for frame in get_roll(session, NUMBER).frames[1:]:
                    for scan in frame.scans:
                        untie(session, scan.id)
        return true(*given, **named)  # type: ignore[arg-type]

    monkeypatch.setattr(showing_positive, "make_shown", meanwhile)
    carry_out(made, set_positive, NUMBER, "black-and-white negative")
    with made.session(reading=True) as session:
        row = positive_of_roll(session, NUMBER)
        assert row is not None
        assert Inversion.from_json(row.inversion) == Inversion.from_json(alone)


def test_an_operation_begun_anew_has_written_once(archive: Archive) -> None:
    begun: list[int] = []

    def double(number: int) -> int:
        if number == 3:
            raise InvalidInput("Three is refused.")
        return 2 * number

    def operation(session: Session) -> list[object]:
        begun.append(1)
        filed(session, NewRoll(number="2031-001", frames=6, layout="135-6x6"))
        update_frame(session, "2031-001", "1", FrameChanges(caption="once"))
        found: list[object] = [*set_apart(session, double, (1,), (2,))]
        return found + [str(one) for one in set_apart_each(session, double, (2,), (3,))]

    assert carry_out(archive, operation) == [2, 4, "4", "Three is refused."]
    assert len(begun) == 3
    with archive.session(reading=True) as session:
        assert get_roll(session, "2031-001").frames[0].caption == "once"
    with archive.session() as session, pytest.raises(InvalidInput, match="Three"):
        set_apart(session, double, (1,), (3,))
