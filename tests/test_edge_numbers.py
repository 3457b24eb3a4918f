"""The edge code on a scan held against the frames it is tied to, and the stock that a DX number stands for."""

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from builders import registered
from edge_painter import FILM_MM, Strip, paint_edge, run_of_codes
from PIL import Image
from small_scans import copy_of, flat, untouched
from sqlmodel import Session, select

from catalogue.errors import InvalidInput, NotFound, UnreadablePicture
from catalogue.rolls.change import RollChanges, get_roll, update_roll
from catalogue.rolls.file import add_binder, get_page
from catalogue.scans.edge.numbers import name_stock, read_edge
from catalogue.scans.match.covering import cover_strip
from catalogue.scans.match.linking import link_scan
from catalogue.store.engine import Archive, open_archive
from catalogue.store.tables.scans import DxStock, Scan

NUMBER = "2031-001"
PX = 9
# Three pictures 38 mm apart with their numbers at their centres: 4, 5 and 6; noise and blur as scans have them.
STRIP = Strip(codes=run_of_codes("79-7/4", 5), pictures=(1, 39, 77), length_mm=114, noise=3, blur_mm=0.04)
FILM = STRIP.holder_mm / (FILM_MM + 2 * STRIP.holder_mm)
"""The holder above the film, as a part of the picture's height."""
AGREED = tuple(f"Frame {n}: the edge says the same." for n in (4, 5, 6))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive with frames 4 to 6 of roll 2031-001 on one strip, 1 to 3 of 2031-002 on another."""
    archive = open_archive(tmp_path_factory.mktemp("edges") / "archive")
    (archive.folder / "scans").mkdir()
    with archive.session() as session:
        add_binder(session, "Binder 1")
        registered(session, "4-6", number=NUMBER)
        registered(session, "1-3", number="2031-002")
    archive.close()
    return archive.folder


@pytest.fixture
def archive(made: Path, tmp_path: Path) -> Iterator[Archive]:
    opened = copy_of(made, tmp_path)
    yield opened
    opened.close()


def save(session: Session, strip: Strip, name: str = "strip.png") -> Path:
    path = Path(session.info["folder"]) / "scans" / name
    paint_edge(strip, PX).save(path)
    return path


def covered(session: Session, page: int = 1, name: str = "strip.png", *, from_the_end: bool = False) -> int:
    """The strip of a page tied to the picture's film; gives the scan of its first frame."""
    strip = get_page(session, page).strips[0].strip_id
    cover_strip(session, strip, name, part=(0, FILM, 1, 1 - 2 * FILM), from_the_end=from_the_end)
    frame = next(f for f in get_roll(session, get_page(session, page).strips[0].roll).frames if f.scans)
    return frame.scans[0].id


def test_a_strip_whose_frames_bear_the_numbers_assumed(session: Session) -> None:
    save(session, STRIP)
    before = untouched(Path(session.info["folder"]) / "scans")
    report = read_edge(session, covered(session))
    assert report.codes == ("79-7/4", "79-7/4A", "79-7/5", "79-7/5A", "79-7/6")
    # 79 × 16 + 7, as the DX number is made up (from memory of the 135 film standard, ANSI/NAPM IT1.14).
    assert report.dx_numbers == ("1271",)
    assert report.agreements == AGREED
    assert report.words == "Edge codes 79-7/4, 79-7/4A, 79-7/5, 79-7/5A, 79-7/6; DX number 1271."
    assert untouched(Path(session.info["folder"]) / "scans") == before


def test_numbers_that_differ_are_told_frame_by_frame(session: Session) -> None:
    save(session, STRIP)
    report = read_edge(session, covered(session, 2))
    assert report.agreements[0] == "Frame 1: the edge says 4. Correct the number, or keep your own count."
    assert [a.split(":")[0] for a in report.agreements] == ["Frame 1", "Frame 2", "Frame 3"]
    assert [f.label for f in get_roll(session, "2031-002").frames] == ["1", "2", "3"]  # told, and nothing more


@pytest.mark.parametrize("positive", [False, True])
def test_a_strip_scanned_upside_down(session: Session, positive: bool) -> None:
    save(session, replace(STRIP, turned=2, positive=positive))
    report = read_edge(session, covered(session, from_the_end=True))
    assert sorted(report.agreements) == list(AGREED)


def test_the_wrong_way_round_is_told(session: Session) -> None:
    save(session, replace(STRIP, turned=2))
    report = read_edge(session, covered(session))  # tied as if it lay the right way up
    assert report.agreements == (
        "Frame 4: the edge says 6. Correct the number, or keep your own count.",
        "Frame 5: the edge says the same.",
        "Frame 6: the edge says 4. Correct the number, or keep your own count.",
    )


def test_16_bits_and_a_picture_that_is_turned_by_its_exif(session: Session) -> None:
    import tifffile

    folder = Path(session.info["folder"]) / "scans"
    painted = paint_edge(STRIP, PX)
    tifffile.imwrite(folder / "deep.tif", np.asarray(painted).astype(np.uint16) * 257, photometric="rgb")
    assert read_edge(session, covered(session, name="deep.tif")).agreements == AGREED
    exif = Image.Exif()
    exif[0x0112] = 6  # Exif: turn clockwise by a quarter to see it upright
    painted.transpose(Image.Transpose.ROTATE_90).save(folder / "turned.jpg", exif=exif, quality=92)
    covered(session, name="turned.jpg")
    scan = session.exec(select(Scan).order_by(Scan.id.desc())).first()  # type: ignore[union-attr]
    assert scan is not None
    assert read_edge(session, scan.id or 0).agreements == AGREED


@pytest.mark.parametrize("turned", [0, 1, 2, 3])
def test_one_frame_with_its_rebate_however_it_lies(session: Session, turned: int) -> None:
    save(
        session, Strip(codes=run_of_codes("79-7/3A", 3), pictures=(1,), length_mm=38, first_mm=0, noise=3, turned=turned), "4.png"
    )
    scan = link_scan(session, NUMBER, "4", "4.png")
    report = read_edge(session, scan.id)
    assert report.agreements == ("Frame 4: the edge says the same.",)
    assert report.codes == ("79-7/4",)  # the only whole one


def test_a_scan_without_a_rebate_has_no_code(session: Session) -> None:
    flat(4, (600, 400)).save(Path(session.info["folder"]) / "scans" / "4.png")
    report = read_edge(session, link_scan(session, NUMBER, "4", "4.png").id)
    assert (report.codes, report.dx_numbers, report.stock, report.agreements) == ((), (), "", ())
    assert report.words.startswith("No edge code can be read on this scan.")


def test_a_stock_named_once_is_known_for_ever(session: Session) -> None:
    save(session, STRIP)
    scan = covered(session)
    assert read_edge(session, scan).stock == ""
    assert get_roll(session, NUMBER).stock == ""
    assert name_stock(session, "79-7", "  Lantern   Colour ").stock == "Lantern Colour"
    report = read_edge(session, scan)
    assert report.stock == "Lantern Colour"
    assert report.words.endswith("DX number 1271 (Lantern Colour).")
    assert get_roll(session, NUMBER).stock == "Lantern Colour"
    name_stock(session, "1271", "Lantern Colour 200")  # the same number otherwise written
    assert [(row.dx_number, row.stock) for row in session.exec(select(DxStock))] == [("1271", "Lantern Colour 200")]
    update_roll(session, NUMBER, RollChanges(stock="My own name"))
    assert read_edge(session, scan).stock == "Lantern Colour 200"
    assert get_roll(session, NUMBER).stock == "My own name"


def test_a_stock_read_from_the_edge_is_found(session: Session) -> None:
    from catalogue.rolls.find import find

    save(session, STRIP)
    name_stock(session, "79-7", "Lantern Colour")
    read_edge(session, covered(session))
    assert [h.roll for h in find(session, "lantern").hits] == [NUMBER]


@pytest.mark.parametrize(
    ("number", "stock", "sentence"),
    [
        ("", "x", "is not an edge code"),
        ("tea", "x", "is not an edge code"),
        ("999-99", "x", "between 1 and 127, not 999"),
        ("79-7", "", "Say which stock has the DX number 1271"),
        ("79-7", " \n ", "Say which stock"),
    ],
)
def test_odd_names_are_refused_with_a_sentence(session: Session, number: str, stock: str, sentence: str) -> None:
    with pytest.raises(InvalidInput, match=sentence):
        name_stock(session, number, stock)
    assert session.exec(select(DxStock)).all() == []


def test_what_can_not_be_read_is_said(session: Session) -> None:
    path = save(session, STRIP)
    scan = covered(session)
    data = path.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    with pytest.raises(UnreadablePicture, match=r"strip\.png can't be read"):
        read_edge(session, scan)
    path.unlink()
    with pytest.raises(UnreadablePicture, match=r"strip\.png can't be read"):
        read_edge(session, scan)
    with pytest.raises(NotFound, match="no scan 999"):
        read_edge(session, 999)
