"""Which scan is the master once a reading is approved, and which one is it again once the approval is undone."""

import pytest
from builders import filed
from small_scans import flat
from sqlmodel import Session, select

from catalogue.errors import InvalidInput
from catalogue.rolls.change import get_roll
from catalogue.rolls.plan import NewRoll
from catalogue.scans.match.approve import approve, undo
from catalogue.scans.match.covering import cover_strip
from catalogue.scans.match.linking import change_scan, link_scan
from catalogue.scans.match.propose import propose, settle
from catalogue.scans.read.folder_runs import read_run, start_run
from catalogue.settings import scan_folder
from catalogue.store.engine import Archive
from catalogue.store.tables.scans import RunFile, Scan

NUMBER = "2031-001"


def roles(session: Session, label: str) -> dict[str, str]:
    """Path and role of each scan of a frame."""
    return {s.path: s.role for f in get_roll(session, NUMBER).frames if f.label == label for s in f.scans}


@pytest.fixture
def of_six(archive: Archive) -> Archive:
    """A roll of six on one strip, without scans; none is in the scan folder yet but its folder "copies"."""
    with archive.session() as session:
        filed(session, NewRoll(number=NUMBER, frames=6, layout="135-6x6"))
        (scan_folder(session) / "copies").mkdir(parents=True)
    return archive


def read(archive: Archive, **sizes: tuple[int, int]) -> None:
    """Pictures of these sizes, named f1, f2 … for frames 1, 2 …, read from "copies" and matched by name."""
    for name, size in sizes.items():
        flat(int(name[1:]), size).save(archive.folder / "scans" / "copies" / f"{name[1:]}.png")
    with archive.session() as session:
        run = start_run(session, "copies", NUMBER).id
    read_run(archive, run)
    with archive.session() as session:
        propose(session, run, "names", "{frame}")


def linked(archive: Archive, name: str, size: tuple[int, int], label: str = "1", role: str = "") -> None:
    flat(20, size).save(archive.folder / "scans" / name)
    with archive.session() as session:
        link_scan(session, NUMBER, label, name, role)


@pytest.mark.parametrize(
    ("size", "master"),
    [((120, 80), "old.png"), ((119, 80), "old.png"), ((80, 120), "old.png"), ((121, 80), "copies/1.png"), ((121, 79), "old.png")],
)
def test_only_a_finer_scan_takes_the_masters_place(of_six: Archive, size: tuple[int, int], master: str) -> None:
    linked(of_six, "old.png", (120, 80))
    read(of_six, f1=size)
    with of_six.session() as session:
        approve(session, 1)
        assert [path for path, role in roles(session, "1").items() if role == "master"] == [master]
        assert sorted(roles(session, "1").values()) == ["master", "working"]
        assert undo(session, 1) == 1
        assert roles(session, "1") == {"old.png": "master"}


def test_undoing_gives_its_place_back_to_the_very_scan_that_had_it(of_six: Archive) -> None:
    for n, role in enumerate(("working", "master", "web")):
        linked(of_six, f"{n}.png", (60 + n, 40), role=role)
    before = {"0.png": "working", "1.png": "master", "2.png": "web"}
    read(of_six, f1=(240, 160), f2=(240, 160))
    with of_six.session() as session:
        assert roles(session, "1") == before
        approve(session, 1)
        assert roles(session, "1") == {"0.png": "working", "1.png": "working", "2.png": "web", "copies/1.png": "master"}
        assert roles(session, "2") == {"copies/2.png": "master"}
        assert undo(session, 1) == 2
        assert (roles(session, "1"), roles(session, "2")) == (before, {})
        approve(session, 1)
        three = session.exec(select(Scan).where(Scan.frame_id == 1).order_by("id")).all()[2]
        change_scan(session, three.id or 0, role="master")  # the person's own word since then
        undo(session, 1)
        assert roles(session, "1") == {"0.png": "working", "1.png": "working", "2.png": "master"}


@pytest.mark.parametrize(("size", "master"), [((150, 60), "copies/1.png"), ((90, 60), "strip.png")])
def test_a_strips_scan_counts_by_the_part_that_shows_the_frame(of_six: Archive, size: tuple[int, int], master: str) -> None:
    flat(9, (660, 100)).save(of_six.folder / "scans" / "strip.png")
    with of_six.session() as session:
        cover_strip(session, 1, "strip.png")  # the frame's part: some 100 × 69 of 660 × 100 pixels
    read(of_six, f1=size)
    with of_six.session() as session:
        approve(session, 1)
        assert [path for path, role in roles(session, "1").items() if role == "master"] == [master]


def test_what_is_approved_is_what_was_proposed(of_six: Archive) -> None:
    read(of_six, f1=(60, 40), f2=(60, 40), f3=(60, 40))
    with of_six.session() as session:
        lines = {row.path: row.id or 0 for row in session.exec(select(RunFile))}
        settle(session, 1, {lines["copies/2.png"]: None, lines["copies/3.png"]: "1"})
        with pytest.raises(InvalidInput, match="negatives or positives"):
            approve(session, 1, "sepia")
        assert approve(session, 1, "positive") == 2
        tied = {scan.file_id: (scan.frame_id, scan.role, scan.polarity, scan.run_id) for scan in session.exec(select(Scan))}
        assert sorted(tied.values()) == [(1, "master", "positive", 1), (1, "working", "positive", 1)]
        with pytest.raises(InvalidInput, match="tied already"):
            approve(session, 1)
        undo(session, 1)
        with pytest.raises(InvalidInput, match="nothing to undo"):
            undo(session, 1)
        settle(session, 1, dict.fromkeys(lines.values()))
        with pytest.raises(InvalidInput, match="Nothing is proposed"):
            approve(session, 1)


def test_a_frame_without_a_master_gets_one_and_is_without_again(of_six: Archive) -> None:
    linked(of_six, "old.png", (300, 200), role="working")
    read(of_six, f1=(60, 40))
    with of_six.session() as session:
        approve(session, 1)
        assert roles(session, "1") == {"old.png": "working", "copies/1.png": "master"}
        undo(session, 1)
        assert roles(session, "1") == {"old.png": "working"}
