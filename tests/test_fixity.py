"""Scans re-checked against what was linked: changed, missing, moved, back; in bites; and no file is ever touched."""

import hashlib
import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from builders import registered
from small_scans import copy_of, flat, scanned, untouched
from sqlmodel import select

from catalogue.errors import InvalidInput, NotFound, UnreadablePicture
from catalogue.rolls.change import get_roll
from catalogue.rolls.file import add_binder
from catalogue.scans.check.fixity import accept_change, accept_moves, check_files, events, troubles
from catalogue.scans.match.linking import change_scan, link_scan
from catalogue.scans.read.one_file import sha256_of
from catalogue.store.engine import Archive, open_archive
from catalogue.store.tables.scans import Scan, ScanFile

LABELS = ["1", "2", "3", "4"]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive with frames 1 to 4 of roll 2031-001 scanned, checked last on 1 January 2001."""
    archive = open_archive(tmp_path_factory.mktemp("fixity") / "archive")
    with archive.session() as session:
        add_binder(session, "Binder 1")
        scanned(session, registered(session, 4, number="2031-001"), LABELS)
        for row in session.exec(select(ScanFile)):
            row.checked_at = "2001-01-01T00:00:00+00:00"
    archive.close()
    return archive.folder


@pytest.fixture
def archive(made: Path, tmp_path: Path) -> Iterator[Archive]:
    opened = copy_of(made, tmp_path)
    yield opened
    opened.close()


@pytest.fixture
def root(archive: Archive) -> Path:
    """The scan folder."""
    return archive.folder / "scans"


def states(archive: Archive) -> dict[str, str]:
    with archive.session(reading=True) as session:
        return {Path(f.path).stem: f.state for f in session.exec(select(ScanFile))}


def happened(archive: Archive) -> list[tuple[str, str]]:
    """(what, path) of every event but the checks, oldest first."""
    with archive.session(reading=True) as session:
        return [(e.what, e.path) for e in reversed(events(session)) if e.what != "checked"]


def test_all_is_as_it_was_linked(archive: Archive, root: Path) -> None:
    before = untouched(root)
    told: list[tuple[int, int]] = []
    report = check_files(archive, told=lambda files, size: told.append((files, size)))
    assert (report.files, report.left, report.troubles, report.new) == (4, 0, (), ())
    assert report.bytes == sum(len(data) for data, _ in before.values())
    assert told[-1] == (4, report.bytes)
    assert [files for files, _ in told] == [1, 2, 3, 4]
    assert "all as they were linked" in report.words
    assert untouched(root) == before
    with archive.session(reading=True) as session:
        (event,) = events(session)
        assert (event.what, event.words) == ("checked", f"4 files, {report.bytes} bytes; 0 not as linked.")


def test_the_sha_256_is_that_of_the_standard_library(root: Path) -> None:
    path = root / "scans" / "1.png"
    assert sha256_of(path) == hashlib.sha256(path.read_bytes()).hexdigest()
    # FIPS 180-2, appendix B.1, from memory: the digest of "abc".
    (root / "abc").write_bytes(b"abc")
    assert sha256_of(root / "abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"


def test_one_bit_turned_is_found_though_size_and_date_are_the_same(archive: Archive, root: Path) -> None:
    path = root / "scans" / "3.png"
    seen, data = path.stat(), bytearray(path.read_bytes())
    data[-20] ^= 1
    path.write_bytes(data)
    os.utime(path, ns=(seen.st_atime_ns, seen.st_mtime_ns))
    before = untouched(root)
    report = check_files(archive)
    (trouble,) = report.troubles
    assert (trouble.path, trouble.state, trouble.master_of) == ("scans/3.png", "changed", ("2031-001 / 3",))
    assert trouble.words == "scans/3.png has changed since it was linked. It is the master of 2031-001 / 3."
    assert untouched(root) == before
    assert "1 not as they were linked" in report.words


def test_changed_masters_come_first_then_missing_masters_then_the_rest(archive: Archive, root: Path) -> None:
    with archive.session() as session:
        scans = {f.label: f.scans[0] for f in get_roll(session, "2031-001").frames}
        change_scan(session, scans["1"].id, role="working")
    flat(77).save(root / "scans" / "1.png")
    (root / "scans" / "2.png").unlink()
    flat(78).save(root / "scans" / "4.png")
    report = check_files(archive)
    assert [(t.path, t.state) for t in report.troubles] == [
        ("scans/4.png", "changed"), ("scans/2.png", "missing"), ("scans/1.png", "changed")
    ]  # fmt: skip
    assert [t.master_of for t in report.troubles] == [("2031-001 / 4",), ("2031-001 / 2",), ()]
    with archive.session(reading=True) as session:
        assert troubles(session) == report.troubles
        shown = {f.label: f.scans[0].state for f in get_roll(session, "2031-001").frames}
    assert shown == {"1": "changed", "2": "missing", "3": "there", "4": "changed"}


def test_what_is_there_again_is_said_once(archive: Archive, root: Path) -> None:
    path = root / "scans" / "2.png"
    data = path.read_bytes()
    path.unlink()
    assert check_files(archive).troubles[0].words == "scans/2.png is missing. It is the master of 2031-001 / 2."
    check_files(archive)
    path.write_bytes(data)
    assert check_files(archive).troubles == ()
    check_files(archive)
    assert happened(archive) == [("missing", "scans/2.png"), ("back", "scans/2.png")]


def test_a_moved_file_is_found_and_nothing_changes_until_the_person_says_so(archive: Archive, root: Path) -> None:
    (root / "2031").mkdir()
    for label in ("1", "2"):
        (root / "scans" / f"{label}.png").rename(root / "2031" / f"renamed {label}.png")
    flat(55).save(root / "2031" / "another.png")
    report = check_files(archive)
    assert {(t.path, t.moved_to) for t in report.troubles} == {
        ("scans/1.png", "2031/renamed 1.png"), ("scans/2.png", "2031/renamed 2.png")
    }  # fmt: skip
    assert report.troubles[0].words == "scans/1.png lies now at 2031/renamed 1.png. It is the master of 2031-001 / 1."
    assert report.new == ("2031/another.png",)
    assert check_files(archive).new == ("2031/another.png",)  # what was found is no new picture the next time either
    with archive.session() as session:
        assert session.exec(select(ScanFile.path).order_by(ScanFile.path)).all() == [f"scans/{n}.png" for n in LABELS]
        assert accept_moves(session) == 2
        assert accept_moves(session) == 0
    assert check_files(archive).troubles == ()
    with archive.session(reading=True) as session:
        paths = {f.label: f.scans[0].path for f in get_roll(session, "2031-001").frames}
    assert paths["2"] == "2031/renamed 2.png"


def test_another_file_of_the_same_size_is_not_taken_for_the_missing_one(archive: Archive, root: Path) -> None:
    path = root / "scans" / "2.png"
    data = bytearray(path.read_bytes())
    path.unlink()
    data[-20] ^= 1
    (root / "likeness.png").write_bytes(data)
    report = check_files(archive)
    assert [(t.state, t.moved_to) for t in report.troubles] == [("missing", "")]
    assert report.new == ("likeness.png",)


def test_of_two_equal_files_that_are_gone_each_takes_one_that_is_found(archive: Archive, root: Path) -> None:
    with archive.session() as session:
        (root / "scans" / "same.png").write_bytes((root / "scans" / "1.png").read_bytes())
        link_scan(session, "2031-001", "4", "scans/same.png")
    (root / "scans" / "1.png").rename(root / "one.png")
    assert [t.moved_to for t in check_files(archive).troubles] == ["one.png"]
    (root / "scans" / "same.png").rename(root / "two.png")
    assert sorted(t.moved_to for t in check_files(archive).troubles) == ["one.png", "two.png"]


def test_a_file_moved_twice_before_the_approval_is_looked_for_again(archive: Archive, root: Path) -> None:
    (root / "scans" / "1.png").rename(root / "once.png")
    check_files(archive)
    (root / "once.png").rename(root / "twice.png")
    (trouble,) = check_files(archive).troubles
    assert trouble.moved_to == "twice.png"
    with archive.session() as session:
        accept_moves(session)
    assert check_files(archive).troubles == ()


def test_a_file_that_was_linked_anew_at_its_new_place_is_one_file_afterwards(archive: Archive, root: Path) -> None:
    with archive.session() as session:
        first = get_roll(session, "2031-001").frames[0].scans[0]
        change_scan(session, first.id, quarter_turns=2)
    (root / "scans" / "1.png").rename(root / "moved.png")
    check_files(archive)
    with archive.session() as session:
        link_scan(session, "2031-001", "1", "moved.png")  # the person didn't wait
        link_scan(session, "2031-001", "2", "moved.png")
    with archive.session() as session:
        assert accept_moves(session) == 1
    with archive.session(reading=True) as session:
        frames = {f.label: f.scans for f in get_roll(session, "2031-001").frames}
        assert [(s.path, s.role, s.quarter_turns) for s in frames["1"]] == [("moved.png", "master", 2)]
        assert [s.path for s in frames["2"]] == ["scans/2.png", "moved.png"]
        assert sorted(session.exec(select(ScanFile.path))) == ["moved.png", "scans/2.png", "scans/3.png", "scans/4.png"]
    assert check_files(archive).troubles == ()


def test_in_bites_those_unchecked_longest_come_first(archive: Archive, root: Path) -> None:
    with archive.session() as session:
        for row, day in zip(session.exec(select(ScanFile).order_by(ScanFile.path)), (4, 2, 3, 1), strict=True):
            row.checked_at = f"2001-01-0{day}T00:00:00+00:00"
    for label in LABELS:
        (root / "scans" / f"{label}.png").write_bytes(b"x" * 100)
    first = check_files(archive, most_bytes=150, since="2001-06-01")
    assert (first.files, first.bytes, first.left) == (2, 200, 2)
    assert "2 not checked yet" in first.words
    assert states(archive) == {"1": "there", "2": "changed", "3": "there", "4": "changed"}


def test_bites_go_on_until_all_are_checked_since(archive: Archive, root: Path) -> None:
    since, left, rounds = "2001-06-01T00:00:00+00:00", 4, 0
    while left and rounds < 9:
        left = check_files(archive, most_bytes=1, since=since).left
        rounds += 1
    assert rounds == 4  # at least one file each time, however large
    assert check_files(archive, most_bytes=1, since=since).files == 0


def test_a_check_that_is_stopped_keeps_what_it_found(archive: Archive, root: Path) -> None:
    for label in LABELS:
        (root / "scans" / f"{label}.png").unlink()
    done: list[int] = []
    report = check_files(archive, told=lambda files, _: done.append(files), cancelled=lambda: len(done) == 2)
    assert (report.files, report.left, len(report.troubles)) == (2, 2, 2)


def test_a_scan_folder_that_is_gone_makes_all_missing_and_comes_back(archive: Archive, root: Path) -> None:
    root.rename(root.with_name("elsewhere"))
    assert {t.state for t in check_files(archive).troubles} == {"missing"}
    root.with_name("elsewhere").rename(root)
    assert check_files(archive).troubles == ()


def test_a_changed_file_is_taken_as_meant(archive: Archive, root: Path) -> None:
    flat(90, (90, 60)).save(root / "scans" / "1.png")
    check_files(archive)
    with archive.session() as session:
        row = session.exec(select(ScanFile).where(ScanFile.path == "scans/1.png")).one()
        fingerprint, sha = row.fingerprint, row.sha256
        row = accept_change(session, row.id or 0)
        assert (row.state, row.width_px, row.height_px) == ("there", 90, 60)
        assert row.sha256 == hashlib.sha256((root / "scans" / "1.png").read_bytes()).hexdigest()
        assert row.fingerprint != fingerprint
        assert sha in events(session)[0].words
    assert check_files(archive).troubles == ()


def test_what_can_not_be_accepted_is_said(archive: Archive, root: Path) -> None:
    (root / "scans" / "2.png").write_bytes(b"no picture")
    check_files(archive)
    keys = {}
    with archive.session(reading=True) as session:
        keys = {f.path: f.id or 0 for f in session.exec(select(ScanFile))}
    with archive.session() as session, pytest.raises(InvalidInput, match="hasn't changed"):
        accept_change(session, keys["scans/1.png"])
    with archive.session() as session, pytest.raises(NotFound, match="no scan file 999"):
        accept_change(session, 999)
    with archive.session() as session, pytest.raises(UnreadablePicture):
        accept_change(session, keys["scans/2.png"])
    assert states(archive)["2"] == "changed"


def test_pictures_not_linked_are_told(archive: Archive, root: Path) -> None:
    flat(30).save(root / "new.png")
    (root / "notes.txt").write_text("not a picture")
    (root / "scans" / "1.png.xmp").write_text("a sidecar")
    report = check_files(archive)
    assert report.new == ("new.png",)
    assert report.words.endswith("1 pictures are not linked.")
    with archive.session(reading=True) as session:
        assert len(session.exec(select(Scan)).all()) == 4  # told, and nothing more
