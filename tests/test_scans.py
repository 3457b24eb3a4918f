"""Image files tied to frames and their previews: names, bounds, bit depths; files are never altered."""

from pathlib import Path

import pytest
from PIL import Image
from sqlmodel import Session

from api.long.scan_jobs import tie_by_names
from catalogue.errors import InvalidInput, NotFound, OutsideScanFolder
from catalogue.rolls.change import get_roll
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.register import register_roll
from catalogue.scans.match.approve import undo
from catalogue.scans.match.linking import link_scan, set_scan_folder
from catalogue.scans.read import folder_runs
from catalogue.settings import scan_folder
from catalogue.store.engine import Archive


@pytest.fixture
def folder(session: Session) -> Path:
    """The scan folder of an archive with roll 2031-014, frames 1 to 6."""
    register_roll(session, NewRoll(number="2031-014", frames=6))
    made = scan_folder(session)
    made.mkdir()
    return made


def test_the_scan_folder_is_set_by_the_person_and_must_be_there(session: Session, tmp_path: Path) -> None:
    for wrong in ("relative", str(tmp_path / "none")):
        with pytest.raises(InvalidInput):
            set_scan_folder(session, wrong)
    set_scan_folder(session, str(tmp_path))
    assert scan_folder(session) == tmp_path


def test_linking_twice_keeps_one_scan_and_takes_the_new_facts(session: Session, folder: Path) -> None:
    Image.new("L", (60, 40)).save(folder / "2.png")
    first = link_scan(session, "2031-014", "2", "2.png")
    Image.new("L", (90, 60)).save(folder / "2.png")
    second = link_scan(session, "2031-014", "2", "2.png")
    assert (second.id, second.width_px, second.height_px) == (first.id, 90, 60)
    assert second.sha256 != first.sha256
    assert len(next(f for f in get_roll(session, "2031-014").frames if f.label == "2").scans) == 1


@pytest.fixture
def of_archive(archive: Archive) -> Path:
    """The same, for what opens sessions of its own."""
    with archive.session() as session:
        register_roll(session, NewRoll(number="2031-014", frames=6))
        made = scan_folder(session)
    made.mkdir()
    return made


@pytest.mark.parametrize(
    ("name", "frame"),
    [
        ("2031-014_3.jpg", "3"), ("2031-014-4.png", "4"), ("2031-014 5.JPG", "5"), ("2031-014_frame-06.png", "6"),
        ("3.jpg", "3"), ("frame-02.png", "2"), ("2031-014.jpg", None), ("harbour.jpg", None), ("99.jpg", None),
    ],
)  # fmt: skip
def test_a_folder_is_tied_by_what_its_names_say(archive: Archive, of_archive: Path, name: str, frame: str | None) -> None:
    Image.new("RGB", (60, 40)).save(of_archive / name)
    found = tie_by_names(archive, "", "2031-014")
    assert found.linked == (((frame, name),) if frame else ())
    assert [left for left, _ in found.skipped] == ([] if frame else [name])
    with archive.session(reading=True) as session:
        assert [f.label for f in get_roll(session, "2031-014").frames if f.scans] == ([frame] if frame else [])


def test_one_odd_file_does_not_stop_the_others(archive: Archive, of_archive: Path) -> None:
    Image.new("RGB", (60, 40)).save(of_archive / "1.jpg")
    for name in ("99999.jpg", "1234.tif", "empty_3.jpg", ".hidden.jpg", "4.txt", "5.jpg"):
        (of_archive / name).write_bytes(b"")
    (of_archive / "6.jpg").mkdir()
    report = tie_by_names(archive, "", "2031-014")
    assert report.linked == (("1", "1.jpg"),)
    reasons = dict(report.skipped)
    assert set(reasons) == {"99999.jpg", "1234.tif", "empty_3.jpg", "4.txt", "5.jpg"}
    assert "is empty" in reasons["5.jpg"]
    with archive.session() as session:
        assert undo(session, 1) == 1  # like any other reading


def test_a_link_that_leads_out_is_left_out(archive: Archive, of_archive: Path, tmp_path: Path) -> None:
    Image.new("L", (60, 40)).save(tmp_path / "private.png")
    Image.new("L", (60, 40)).save(of_archive / "2.png")
    (of_archive / "1.png").symlink_to(tmp_path / "private.png")
    report = tie_by_names(archive, "", "2031-014")
    assert report.linked == (("2", "2.png"),)
    assert "leads out of the scan folder" in dict(report.skipped)["1.png"]


@pytest.mark.parametrize(
    ("path", "error"),
    [
        *((path, OutsideScanFolder) for path in ("..", "../stripleaf.db", "/etc", "a/../../x", "a\x00b")),
        *((path, NotFound) for path in ("none", "a" * 300, "a/" * 3000)),
    ],
)
def test_paths_outside_and_paths_that_are_not_there_are_refused(
    archive: Archive, of_archive: Path, path: str, error: type[Exception]
) -> None:
    with pytest.raises(error):
        tie_by_names(archive, path, "2031-014")
    with archive.session() as session, pytest.raises(error):
        link_scan(session, "2031-014", "1", path)


def test_a_scan_folder_reached_by_a_link_is_as_good(archive: Archive, of_archive: Path, tmp_path: Path) -> None:
    Image.new("L", (60, 40)).save(of_archive / "1.png")
    (tmp_path / "also").symlink_to(of_archive)
    with archive.session() as session:
        set_scan_folder(session, str(tmp_path / "also"))
    assert tie_by_names(archive, "", "2031-014").linked == (("1", "1.png"),)


def test_a_huge_folder_is_refused(archive: Archive, of_archive: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(folder_runs, "MAX_FILES", 2)
    for n in range(3):
        (of_archive / f"{n}.jpg").write_bytes(b"")
    with pytest.raises(InvalidInput, match="3 pictures"):
        tie_by_names(archive, "", "2031-014")


def test_pictures_of_other_rolls_are_left_alone(archive: Archive, of_archive: Path) -> None:
    """A folder of several rolls: those whose names say this roll are tied, the rest is listed."""
    for number in ("2031-013", "2031-014", "2031-015"):
        for frame in (1, 2, 3):
            Image.new("L", (60, 40), int(number[-1]) * 20 + frame).save(of_archive / f"{number}_{frame}.png")
    found = tie_by_names(archive, "", "2031-014")
    assert {path for _, path in found.linked} == {f"2031-014_{frame}.png" for frame in (1, 2, 3)}
    assert {name for name, _ in found.skipped} >= {"2031-013_1.png", "2031-015_3.png"}
