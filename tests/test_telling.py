"""What is known of a roll's frames written beside its scans, read back by a library that knows nothing of this catalogue."""

import csv
import io
from collections.abc import Iterator
from datetime import timedelta, timezone
from pathlib import Path
from typing import Any

import pyexiv2
import pytest
from PIL import Image
from scan_scenes import jpeg_with_date
from small_scans import copy_of, flat, untouched
from sqlmodel import Session

from catalogue.errors import AlreadyExists, InvalidInput, NotFound
from catalogue.rolls.change import FrameChanges, update_frame
from catalogue.rolls.file import add_binder, get_page
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.process import ProcessInput, record_process
from catalogue.rolls.register import register_roll
from catalogue.scans.check.fixity import check_files
from catalogue.scans.log.frame_log import read_log_csv
from catalogue.scans.log.log_frames import apply_log
from catalogue.scans.match.covering import cover_page, cover_strip
from catalogue.scans.match.linking import link_scan
from catalogue.scans.write.file_names import names_csv
from catalogue.scans.write.tell import copies_under_new_names, proposed_names, write_sidecars
from catalogue.store.engine import Archive, open_archive

DIGITISED = "2033:01:02 10:00:00"
LOG = b"""frame,taken,shutter,aperture,caption
1,2031-05-14 13:05:30,1/250,5.6,Ferry at the pier
2,2031-05-15,0.333333,,
"""


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive with roll 2031-001 of six frames in two strips; 1 to 3 scanned in 2033, with a log of 2031."""
    archive = open_archive(tmp_path_factory.mktemp("telling") / "archive")
    folder = archive.folder / "scans" / "2031-001"
    folder.mkdir(parents=True)
    for number in (1, 2, 3):
        (folder / f"x{number}.jpg").write_bytes(jpeg_with_date(flat(number), DIGITISED))
    flat(1).save(folder / "small.png")
    with archive.session() as session:
        add_binder(session, "Binder 1")
        register_roll(
            session,
            NewRoll(
                number="2031-001", frames=6, layout="135-6x6", strips=[["1", "2", "3"], ["4", "5", "6"]], exposed="2031-05",
                camera="Parallax Two", stock="Lantern Pan", keywords="harbour, ferry", place="Lower Harbour", subject="Crossing",
            ),
        )  # fmt: skip
        record_process(session, "2031-001", ProcessInput(process="C-41"))
        for number in (1, 2, 3):
            link_scan(session, "2031-001", str(number), f"2031-001/x{number}.jpg")
        link_scan(session, "2031-001", "1", "2031-001/small.png", "web")
        log = read_log_csv(LOG)
        apply_log(session, "2031-001", log, zone=timezone(timedelta(hours=2)))
        update_frame(session, "2031-001", "3", FrameChanges(keywords="ropes, ferry", place="Quay", lens="Merrow 50 mm"))
    archive.close()
    return archive.folder


@pytest.fixture
def archive(made: Path, tmp_path: Path) -> Iterator[Archive]:
    """A copy; whatever is written, the scans stay byte for byte as they were."""
    opened = copy_of(made, tmp_path)
    before = untouched(opened.folder / "scans")
    yield opened
    after = untouched(opened.folder / "scans")
    scans = {name: kept for name, kept in before.items() if not name.endswith(".xmp")}
    assert {name: kept for name, kept in after.items() if name in scans} == scans
    opened.close()


def read(path: Path) -> dict[str, Any]:
    """The properties as exiv2 reads them."""
    with pyexiv2.ImageData(path.read_bytes()) as image:
        return dict(image.read_xmp())


def sidecar(archive: Archive, name: str) -> dict[str, Any]:
    return read(archive.folder / "scans" / "2031-001" / f"{name}.xmp")


def test_a_whole_roll_is_told_with_the_frames_dates_and_not_the_files(archive: Archive) -> None:
    with archive.session(reading=True) as session:
        reports = write_sidecars(session, "2031-001")
    assert [r.path.name for r in reports] == ["x1.jpg.xmp", "small.png.xmp", "x2.jpg.xmp", "x3.jpg.xmp"]
    assert all(r.changed for r in reports)
    told = {name: sidecar(archive, name) for name in ("x1.jpg", "x2.jpg", "x3.jpg", "small.png")}
    # Property names as Exif for XMP and the IPTC Photo Metadata Standard have them (from memory).
    assert told["x1.jpg"]["Xmp.exif.DateTimeOriginal"] == "2031-05-14T13:05:30+02:00"
    assert told["x2.jpg"]["Xmp.photoshop.DateCreated"] == "2031-05-15"
    assert told["x3.jpg"]["Xmp.photoshop.DateCreated"] == "2031-05"  # the roll's, as its own isn't known
    for facts in told.values():
        assert not any(
            str(value).startswith("2033") for key, value in facts.items() if key.endswith(("DateTimeOriginal", "DateCreated"))
        )
    assert told["x1.jpg"]["Xmp.xmp.CreateDate"].startswith("2033-01-02")
    assert told["x1.jpg"]["Xmp.exif.ExposureTime"] == "1/250"
    assert told["x2.jpg"]["Xmp.exif.ExposureTime"] == "333333/1000000"
    assert "Ferry at the pier" in str(told["x1.jpg"]["Xmp.dc.description"])
    assert "Crossing" in str(told["x3.jpg"]["Xmp.dc.description"])
    assert set(told["x3.jpg"]["Xmp.dc.subject"]) >= {"ropes", "ferry", "harbour"}
    assert len(told["x3.jpg"]["Xmp.dc.subject"]) == len(set(told["x3.jpg"]["Xmp.dc.subject"]))
    assert told["x1.jpg"]["Xmp.stripleaf.camera"] == "Parallax Two"  # the camera that took it, not the copy stand's
    assert "Copymat" not in str(told)
    text = (archive.folder / "scans" / "2031-001" / "x3.jpg.xmp").read_text(encoding="utf-8")
    assert "Binder 1, page 1, first strip from the top, third frame from the ring side" in text
    assert told["small.png"]["Xmp.exif.DateTimeOriginal"] == told["x1.jpg"]["Xmp.exif.DateTimeOriginal"]


def test_written_again_nothing_changes_and_what_was_put_right_is_told(archive: Archive) -> None:
    with archive.session() as session:
        write_sidecars(session, "2031-001")
        assert not any(r.changed for r in write_sidecars(session, "2031-001"))
        update_frame(session, "2031-001", "1", FrameChanges(exposed="2031-07-01", caption="Gate"))
        changed = [r.path.name for r in write_sidecars(session, "2031-001") if r.changed]
    assert changed == ["x1.jpg.xmp", "small.png.xmp"]
    told = sidecar(archive, "x1.jpg")
    assert told["Xmp.photoshop.DateCreated"] == "2031-07-01"  # put right by hand after the log
    assert "Gate" in str(told["Xmp.dc.description"])


FOREIGN = """<?xpacket begin="" id="W5M0MpCehiHzreSzNTczkc9d"?><x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF
 xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description rdf:about=""
 xmlns:xmp="http://ns.adobe.com/xap/1.0/" xmlns:dc="http://purl.org/dc/elements/1.1/" xmp:Rating="4">
<dc:description><rdf:Alt><rdf:li xml:lang="x-default">My own words</rdf:li></rdf:Alt></dc:description>
<dc:subject><rdf:Bag><rdf:li>mine</rdf:li></rdf:Bag></dc:subject></rdf:Description></rdf:RDF></x:xmpmeta><?xpacket end="w"?>"""


def test_a_foreign_sidecar_is_merged(archive: Archive) -> None:
    path = archive.folder / "scans" / "2031-001" / "x1.jpg.xmp"
    path.write_text(FOREIGN, encoding="utf-8")
    with archive.session(reading=True) as session:
        report = write_sidecars(session, "2031-001")[0]
    told = sidecar(archive, "x1.jpg")
    assert told["Xmp.xmp.Rating"] == "4"
    assert "My own words" in str(told["Xmp.dc.description"])
    assert set(told["Xmp.dc.subject"]) == {"mine", "harbour", "ferry"}
    assert told["Xmp.exif.DateTimeOriginal"] == "2031-05-14T13:05:30+02:00"
    assert "dc:description" in report.kept


def test_where_one_foreign_sidecar_can_not_be_read_none_is_written(archive: Archive) -> None:
    folder = archive.folder / "scans" / "2031-001"
    (folder / "x3.jpg.xmp").write_text("<no xmp", encoding="utf-8")
    with archive.session(reading=True) as session, pytest.raises(InvalidInput, match=r"x3\.jpg\.xmp"):
        write_sidecars(session, "2031-001")
    assert [p.name for p in folder.glob("*.xmp")] == ["x3.jpg.xmp"]
    assert (folder / "x3.jpg.xmp").read_text(encoding="utf-8") == "<no xmp"


def wide(archive: Archive, name: str) -> None:
    Image.new("RGB", (300, 90), (90, 90, 90)).save(archive.folder / "scans" / name)


def test_scans_of_strips_and_pages_are_left_out(archive: Archive) -> None:
    wide(archive, "strip.png")
    wide(archive, "page.png")
    with archive.session() as session:
        cover_strip(session, get_page(session, 1).strips[0].strip_id, "strip.png")
        cover_page(session, 1, "page.png")
        reports = write_sidecars(session, "2031-001")
    assert {r.path.name for r in reports} == {"x1.jpg.xmp", "x2.jpg.xmp", "x3.jpg.xmp", "small.png.xmp"}


def test_a_page_with_one_frame_of_this_roll_is_no_scan_of_that_frame(archive: Archive) -> None:
    wide(archive, "page.png")
    with archive.session() as session:
        register_roll(session, NewRoll(number="2031-002", frames=1, page_id=1))
        cover_page(session, 1, "page.png")
        with pytest.raises(InvalidInput, match="no scan of a single frame"):
            write_sidecars(session, "2031-002")
    assert not (archive.folder / "scans" / "page.png.xmp").exists()


def test_a_missing_file_is_passed_over_and_one_not_yet_known_to_be_is_said(archive: Archive) -> None:
    path = archive.folder / "scans" / "2031-001" / "x2.jpg"
    path.rename(archive.folder / "x2.jpg")
    with archive.session(reading=True) as session, pytest.raises(NotFound, match=r"x2\.jpg"):
        write_sidecars(session, "2031-001")
    assert list(path.parent.glob("*.xmp")) == []
    check_files(archive)
    with archive.session(reading=True) as session:
        assert [r.path.name for r in write_sidecars(session, "2031-001")] == ["x1.jpg.xmp", "small.png.xmp", "x3.jpg.xmp"]
    (archive.folder / "x2.jpg").rename(path)


def test_rolls_without_scans_say_so(archive: Archive, tmp_path: Path) -> None:
    with archive.session() as session:
        register_roll(session, NewRoll(number="2031-009", frames=2))
        for ask in (lambda: write_sidecars(session, "2031-009"), lambda: proposed_names(session, "2031-009")):
            with pytest.raises(InvalidInput, match="Roll 2031-009 has no scan"):
                ask()
        with pytest.raises(NotFound):
            write_sidecars(session, "2031-077")
        with pytest.raises(InvalidInput):
            copies_under_new_names(session, "2031-009", tmp_path / "copies")
    assert not (tmp_path / "copies").exists()


def names(session: Session) -> dict[str, str]:
    return {pair.old.name: pair.new for pair in proposed_names(session, "2031-001")}


def test_names_say_roll_and_frame_and_the_list_is_csv(archive: Archive) -> None:
    with archive.session(reading=True) as session:
        assert names(session) == {
            "x1.jpg": "2031-001_01.jpg",
            "x2.jpg": "2031-001_02.jpg",
            "x3.jpg": "2031-001_03.jpg",
            "small.png": "2031-001_01-web.png",
        }
        rows = list(csv.reader(io.StringIO(names_csv(proposed_names(session, "2031-001")), newline="")))
    assert rows[0] == ["old", "new"]
    assert dict(rows[1:])[str(archive.folder / "scans" / "2031-001" / "x2.jpg")] == "2031-001_02.jpg"
    assert (archive.folder / "scans" / "2031-001" / "x2.jpg").exists()  # nothing is renamed


def test_copies_are_made_under_these_names(archive: Archive, tmp_path: Path) -> None:
    with archive.session(reading=True) as session:
        made = copies_under_new_names(session, "2031-001", tmp_path / "copies")
        assert sorted(p.name for p in (tmp_path / "copies").iterdir()) == sorted(names(session).values())
        for copy in made:
            assert copy.copy.read_bytes() == copy.old.read_bytes()
        with pytest.raises(AlreadyExists, match="holds"):
            copies_under_new_names(session, "2031-001", tmp_path / "copies")


def test_one_file_of_many_frames_has_no_name_of_one_frame(archive: Archive, tmp_path: Path) -> None:
    wide(archive, "strip.png")
    with archive.session() as session:
        cover_strip(session, get_page(session, 1).strips[0].strip_id, "strip.png")
        assert set(names(session)) == {"x1.jpg", "x2.jpg", "x3.jpg", "small.png"}
        assert len(copies_under_new_names(session, "2031-001", tmp_path / "copies")) == 4
