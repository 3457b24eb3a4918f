"""Image files tied to frames and their previews: names, bounds, bit depths; files are never altered."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image
from sqlmodel import Session

from catalogue.errors import InvalidInput, NotFound, OutsideScanFolder, UnreadablePicture
from catalogue.registering import NewRoll, register_roll
from catalogue.rolls import get_roll
from catalogue.scans import linking, previews
from catalogue.scans.linking import frame_named_by, link_folder, link_scan, scan_folder, set_scan_folder
from catalogue.scans.previews import PREVIEW_PX, preview_path, read_picture


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
    assert "can't be read as a picture" in reasons["5.jpg"]


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


# Previews


def preview_of(file: Path, archive: Path) -> Image.Image:
    facts = read_picture(file, archive)
    with Image.open(preview_path(archive, facts.sha256)) as opened:
        opened.load()
        return opened


@pytest.mark.parametrize("ending", ["png", "tif"])
def test_sixteen_bits_keep_their_tones(tmp_path: Path, ending: str) -> None:
    # A ramp from 0 to 65535: its mean is half of full scale, 127.5 of 255 in 8 bits.
    ramp = np.linspace(0, 65535, 640 * 480).reshape(480, 640).astype("uint16")
    Image.fromarray(ramp).save(tmp_path / f"ramp.{ending}")
    tones = np.asarray(preview_of(tmp_path / f"ramp.{ending}", tmp_path / "archive").convert("L"))
    assert tones.mean() == pytest.approx(127.5, abs=1.5)
    assert (tones.min(), tones.max()) == (0, 255)


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA", "CMYK"])
def test_every_usual_kind_of_picture_gives_a_preview(tmp_path: Path, mode: str) -> None:
    name = "a.tif" if mode == "CMYK" else "a.png"
    Image.new(mode, (900, 600)).save(tmp_path / name)
    small = preview_of(tmp_path / name, tmp_path / "archive")
    assert (small.size, small.mode) == ((PREVIEW_PX, PREVIEW_PX * 600 // 900), "RGB")


@pytest.mark.parametrize(("ending", "sixteen"), [("jpg", False), ("png", False), ("tif", False), ("png", True), ("tif", True)])
def test_a_picture_stands_as_its_camera_was_held(tmp_path: Path, ending: str, sixteen: bool) -> None:
    # Exif tag 0x0112, value 6: row 0 is the scene's right side, column 0 its top (Exif 2.32, from memory).
    stored = np.zeros((400, 600), "uint16" if sixteen else "uint8")
    stored[:, 300:] = 65535 if sixteen else 255
    exif = Image.Exif()
    exif[0x0112] = 6
    file = tmp_path / f"a.{ending}"
    Image.fromarray(stored).save(file, exif=exif)
    facts = read_picture(file, tmp_path / "archive")
    assert (facts.width_px, facts.height_px) == (400, 600)
    # The stored left half, dark, is column 0 and so the top.
    tones = np.asarray(preview_of(file, tmp_path / "archive").convert("L"))
    assert tones.shape[0] > tones.shape[1]
    assert tones[: tones.shape[0] // 3].mean() < 30
    assert tones[-tones.shape[0] // 3 :].mean() > 225


def test_a_scan_of_ninety_million_pixels_is_read(tmp_path: Path) -> None:
    # 6 × 9 cm at 4000 pixels an inch is some 8 800 × 13 000; Pillow warns from 89 478 485 pixels on.
    Image.new("1", (9500, 9500)).save(tmp_path / "a.png")
    assert read_picture(tmp_path / "a.png", tmp_path / "archive").width_px == 9500


@pytest.mark.parametrize("side", [13_100, 13_500])  # 172 and 182 million pixels
def test_too_many_pixels_are_said_with_the_bound(tmp_path: Path, side: int) -> None:
    Image.new("1", (side, side)).save(tmp_path / "a.png")
    with pytest.raises(UnreadablePicture, match="up to 170 million"):
        read_picture(tmp_path / "a.png", tmp_path / "archive")


def test_too_many_bytes_are_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    Image.new("L", (60, 40)).save(tmp_path / "a.png")
    monkeypatch.setattr(previews, "MAX_BYTES", 10)
    with pytest.raises(UnreadablePicture, match="up to 10 are read"):
        read_picture(tmp_path / "a.png", tmp_path / "archive")


@pytest.mark.parametrize("ending", ["jpg", "png", "tif"])
def test_a_file_cut_short_is_refused_and_leaves_no_preview(tmp_path: Path, ending: str) -> None:
    noise = np.random.default_rng(1).integers(0, 255, (400, 600), "uint8")
    file = tmp_path / f"a.{ending}"
    Image.fromarray(noise).save(file)
    file.write_bytes(file.read_bytes()[: file.stat().st_size // 2])
    with pytest.raises(UnreadablePicture, match="cut short"):
        read_picture(file, tmp_path / "archive")
    assert not list((tmp_path / "archive").rglob("*.jpg"))


def test_reading_alters_neither_bytes_nor_date(tmp_path: Path) -> None:
    file = tmp_path / "a.jpg"
    Image.new("RGB", (900, 600), "gray").save(file)
    before = (file.read_bytes(), file.stat().st_mtime_ns)
    read_picture(file, tmp_path / "archive")
    assert (file.read_bytes(), file.stat().st_mtime_ns) == before
