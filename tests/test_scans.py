"""Image files tied to frames and their previews: names, bounds, bit depths; files are never altered."""

from pathlib import Path

import pytest
from PIL import Image
from sqlmodel import Session

from catalogue.errors import InvalidInput, NotFound, OutsideScanFolder
from catalogue.rolls.change import get_roll
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.register import register_roll
from catalogue.scans.match import linking
from catalogue.scans.match.linking import frame_named_by, link_folder, link_scan, scan_folder, set_scan_folder


@pytest.mark.parametrize(
    ("name", "roll", "frame"),
    [
        ("2031-014_23A.jpg", "2031-014", "23A"),
        ("2031-014-00.tif", "2031-014", "00"),
        ("2031-014 7.JPG", "2031-014", "7"),
        ("2031-014_frame-07.png", "2031-014", "7"),
        ("B-3_0a.jpg", "b-3", "0A"),
        ("23A.jpg", "2031-014", "23A"),
        ("frame-07.png", "2031-014", "7"),
        ("12.jpg", "1", "12"),  # no mark behind the 1: the frame, not roll 1 frame 2
        ("12.jpg", "12", "12"),
        ("2031-014.jpg", "2031-01", None),
        ("2031-015_3.jpg", "2031-014", None),
        ("2031-014.jpg", "2031-014", None),
        ("harbour.jpg", "2031-014", None),
        ("3 and 4.jpg", "2031-014", None),
    ],
)
def test_a_file_name_says_its_frame_or_nothing(name: str, roll: str, frame: str | None) -> None:
    assert frame_named_by(name, roll) == frame


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


def test_one_odd_file_does_not_stop_the_others(session: Session, folder: Path) -> None:
    Image.new("RGB", (60, 40)).save(folder / "1.jpg")
    for name in ("99999.jpg", "9999Z.jpg", "1234.tif", "empty_3.jpg", ".hidden.jpg", "4.txt"):
        (folder / name).write_bytes(b"")
    (folder / "5.jpg").write_bytes(b"")
    (folder / "6.jpg").mkdir()
    report = link_folder(session, "2031-014")
    assert report.linked == (("1", "1.jpg"),)
    reasons = dict(report.skipped)
    assert set(reasons) == {"99999.jpg", "9999Z.jpg", "1234.tif", "empty_3.jpg", "4.txt", "5.jpg"}
    assert "is empty" in reasons["5.jpg"]


def test_a_link_that_leads_out_is_left_out(session: Session, folder: Path, tmp_path: Path) -> None:
    Image.new("L", (60, 40)).save(tmp_path / "private.png")
    (folder / "1.png").symlink_to(tmp_path / "private.png")
    report = link_folder(session, "2031-014")
    assert report.linked == ()
    assert "leads out of the scan folder" in report.skipped[0][1]


@pytest.mark.parametrize("path", ["..", "../stripleaf.db", "/etc", "a/../../x", "a\x00b"])
def test_paths_outside_are_refused(session: Session, folder: Path, path: str) -> None:
    with pytest.raises(OutsideScanFolder):
        link_folder(session, "2031-014", path)
    with pytest.raises(OutsideScanFolder):
        link_scan(session, "2031-014", "1", path)


@pytest.mark.parametrize("path", ["none", "a" * 300, "a/" * 3000])
def test_paths_that_are_not_there_are_said(session: Session, folder: Path, path: str) -> None:
    with pytest.raises(NotFound):
        link_folder(session, "2031-014", path)
    with pytest.raises(NotFound):
        link_scan(session, "2031-014", "1", path)


def test_a_scan_folder_reached_by_a_link_is_as_good(session: Session, folder: Path, tmp_path: Path) -> None:
    Image.new("L", (60, 40)).save(folder / "1.png")
    (tmp_path / "also").symlink_to(folder)
    set_scan_folder(session, str(tmp_path / "also"))
    assert link_folder(session, "2031-014").linked == (("1", "1.png"),)


def test_a_huge_folder_is_refused(session: Session, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(linking, "MAX_FILES", 2)
    for n in range(3):
        (folder / f"{n}.jpg").write_bytes(b"")
    with pytest.raises(InvalidInput, match="3 files"):
        link_folder(session, "2031-014")
