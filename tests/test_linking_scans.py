"""What a tie says and how it is put right: one master a frame, standing, polarity, another frame, taken back."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from builders import registered
from small_scans import copy_of, flat, scanned, tied_by_name, untouched
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, select

from catalogue.errors import InvalidInput, NotFound
from catalogue.rolls.change import get_roll
from catalogue.rolls.file import add_binder
from catalogue.scans.match.linking import change_scan, link_scan, make_master, scan_row, tie, untie
from catalogue.store.engine import Archive, open_archive
from catalogue.store.tables.rolls import Frame
from catalogue.store.tables.scans import Scan, ScanFile


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive with frames 1 to 3 of roll 2031-001, 1 and 2 scanned, and three more files in the scan folder."""
    archive = open_archive(tmp_path_factory.mktemp("linking") / "archive")
    with archive.session() as session:
        add_binder(session, "Binder 1")
        scanned(session, registered(session, 3, number="2031-001"), ["1", "2"])
        for number in range(3):
            flat(40 + number).save(archive.folder / "scans" / f"other {number}.png")
    archive.close()
    return archive.folder


@pytest.fixture
def archive(made: Path, tmp_path: Path) -> Iterator[Archive]:
    opened = copy_of(made, tmp_path)
    before = untouched(opened.folder / "scans")
    yield opened
    assert untouched(opened.folder / "scans") == before
    opened.close()


def ties(session: Session) -> dict[str, list[tuple[str, str]]]:
    """(file, role) of each frame's scans in the order in which they are shown."""
    return {f.label: [(Path(s.path).stem, s.role) for s in f.scans] for f in get_roll(session, "2031-001").frames}


def frame(session: Session, label: str) -> Frame:
    return session.exec(select(Frame).where(Frame.label == label)).one()


def file(session: Session, stem: str) -> ScanFile:
    return next(f for f in session.exec(select(ScanFile)) if Path(f.path).stem == stem)


def test_the_first_scan_is_the_master_and_the_next_a_working_copy(session: Session) -> None:
    link_scan(session, "2031-001", "1", "other 0.png")
    link_scan(session, "2031-001", "3", "other 1.png")
    link_scan(session, "2031-001", "3", "other 2.png", "web")
    assert ties(session) == {
        "1": [("1", "master"), ("other 0", "working")],
        "2": [("2", "master")],
        "3": [("other 1", "master"), ("other 2", "web")],
    }


@pytest.mark.parametrize("way", ["link", "change", "make"])
def test_a_new_master_makes_the_old_one_a_working_copy(session: Session, way: str) -> None:
    scan = link_scan(session, "2031-001", "1", "other 0.png", "master" if way == "link" else "cropped")
    if way == "change":
        change_scan(session, scan.id, role="master")
    elif way == "make":
        make_master(session, frame(session, "1"), scan_row(session, scan.id)[0])
    assert ties(session)["1"] == [("other 0", "master"), ("1", "working")]


def test_the_master_named_again_stays_it(session: Session) -> None:
    scan = get_roll(session, "2031-001").frames[0].scans[0]
    assert change_scan(session, scan.id, role="master").role == "master"
    assert link_scan(session, "2031-001", "1", "scans/1.png").role == "master"
    assert ties(session)["1"] == [("1", "master")]


def test_two_masters_are_not_to_be_had(session: Session) -> None:
    tie(session, frame(session, "1"), file(session, "2"))
    with pytest.raises(IntegrityError), session.begin_nested():
        for scan in session.exec(select(Scan).where(Scan.frame_id == frame(session, "1").id)):
            scan.role = "master"
            session.add(scan)
        session.flush()


def test_linking_again_keeps_how_the_person_said_the_scan_stands(session: Session) -> None:
    scan = get_roll(session, "2031-001").frames[0].scans[0]
    change_scan(session, scan.id, quarter_turns=3, mirrored=True, polarity="positive", role="cropped")
    tied_by_name(session, "2031-001", "scans")
    again = get_roll(session, "2031-001").frames[0].scans[0]
    assert (again.id, again.quarter_turns, again.mirrored, again.polarity, again.role) == (
        scan.id,
        3,
        True,
        "positive",
        "cropped",
    )
    row = tie(session, frame(session, "1"), file(session, "1"), quarter_turns=0, mirrored=False)  # said anew
    assert (row.quarter_turns, row.mirrored) == (0, False)


@pytest.mark.parametrize(("given", "kept"), [(0, 0), (1, 1), (4, 0), (5, 1), (-1, 3), (-4, 0)])
def test_turns_are_kept_as_0_to_3(session: Session, given: int, kept: int) -> None:
    scan = get_roll(session, "2031-001").frames[0].scans[0]
    assert change_scan(session, scan.id, quarter_turns=given).quarter_turns == kept
    assert tie(session, frame(session, "3"), file(session, "1"), quarter_turns=given).quarter_turns == kept


def test_what_is_not_named_stays(session: Session) -> None:
    scan = get_roll(session, "2031-001").frames[0].scans[0]
    change_scan(session, scan.id, quarter_turns=1, mirrored=True, polarity="negative")
    for change in ({"role": "working"}, {"polarity": ""}, {"mirrored": False}, {}):
        seen = change_scan(session, scan.id, **change)  # type: ignore[arg-type]
    assert (seen.quarter_turns, seen.mirrored, seen.polarity, seen.role) == (1, False, "", "working")


def test_a_scan_goes_to_the_frame_it_shows(session: Session) -> None:
    first = get_roll(session, "2031-001").frames[0].scans[0]
    assert change_scan(session, first.id, label="3").role == "master"
    assert ties(session) == {"1": [], "2": [("2", "master")], "3": [("1", "master")]}
    assert change_scan(session, first.id, label="2").role == "working"  # frame 2 has its master
    assert ties(session) == {"1": [], "2": [("2", "master"), ("1", "working")], "3": []}
    change_scan(session, first.id, label="03", role="master")  # in any writing
    assert ties(session) == {"1": [], "2": [("2", "master")], "3": [("1", "master")]}


def test_both_at_once_makes_it_master_where_it_goes(session: Session) -> None:
    first = get_roll(session, "2031-001").frames[0].scans[0]
    change_scan(session, first.id, label="2", role="master")
    assert ties(session)["2"] == [("1", "master"), ("2", "working")]


def test_a_file_shows_a_frame_once(session: Session) -> None:
    first = get_roll(session, "2031-001").frames[0].scans[0]
    tie(session, frame(session, "2"), file(session, "1"))
    with pytest.raises(InvalidInput, match="shows frame 2 already"):
        change_scan(session, first.id, label="2")
    tie(session, frame(session, "2"), file(session, "1"))
    assert len(session.exec(select(Scan)).all()) == 3


def test_a_tie_taken_back_leaves_the_file_known(session: Session) -> None:
    first = get_roll(session, "2031-001").frames[0].scans[0]
    untie(session, first.id)
    assert ties(session) == {"1": [], "2": [("2", "master")], "3": []}
    assert file(session, "1").sha256 == first.sha256
    assert link_scan(session, "2031-001", "1", "scans/1.png").role == "master"
    with pytest.raises(NotFound, match=r"no scan 999"):
        untie(session, 999)


@pytest.mark.parametrize(
    ("change", "error", "sentence"),
    [
        ({"role": "best"}, InvalidInput, "master, working, cropped, web; not best"),
        ({"role": ""}, InvalidInput, "A scan is one of"),
        ({"polarity": "grey"}, InvalidInput, "a negative or a positive"),
        ({"label": "99"}, NotFound, "has no frame 99"),
        ({"label": "x" * 500}, NotFound, "has no frame"),
        ({"label": ""}, NotFound, "has no frame"),
    ],
)
def test_odd_input_is_refused_with_a_sentence(
    archive: Archive, change: dict[str, str], error: type[Exception], sentence: str
) -> None:
    with archive.session(reading=True) as session:
        before = get_roll(session, "2031-001")
    with archive.session() as session, pytest.raises(error, match=sentence):
        change_scan(session, before.frames[0].scans[0].id, quarter_turns=2, **change)  # type: ignore[arg-type]
    with archive.session() as session, pytest.raises(NotFound):
        change_scan(session, 999, **change)  # type: ignore[arg-type]
    with archive.session() as session, pytest.raises(InvalidInput, match="A scan is one of"):
        tie(session, frame(session, "1"), file(session, "2"), role="best")
    with archive.session(reading=True) as session:
        assert get_roll(session, "2031-001") == before
