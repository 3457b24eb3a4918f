"""One file for many frames: what is shown of each frame is held against a strip and a page drawn as they would really lie."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from builders import painted_page, registered
from PIL import Image, ImageDraw, ImageOps
from small_scans import copy_of
from sqlmodel import Session, select

from catalogue.errors import InvalidInput, NotFound, OutsideScanFolder
from catalogue.rolls.change import get_roll
from catalogue.rolls.file import add_binder, add_page, get_page, repunch, turn_page
from catalogue.rolls.move import take_out, turn_strip
from catalogue.scans.look.frame_pictures import frame_picture
from catalogue.scans.match.covering import cover_page, cover_strip
from catalogue.settings import scan_folder
from catalogue.sleeves.page_plan import StripInSlot
from catalogue.store.engine import Archive, open_archive
from catalogue.store.tables.scans import Scan
from catalogue.views import PageView

PX = 3
"""Pixels to the millimetre in the pictures drawn here."""
BETWEEN = (20, 20, 20)
NAN = float("nan")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive with 6 frames of 2031-001 on page 1, in two strips of three."""
    archive = open_archive(tmp_path_factory.mktemp("covering") / "archive")
    with archive.session() as session:
        add_binder(session, "Binder 1")
        registered(session, 6, number="2031-001", layout="135-6x6", strips=[["1", "2", "3"], ["4", "5", "6"]])
    archive.close()
    (archive.folder / "scans").mkdir()
    return archive.folder


@pytest.fixture
def archive(made: Path, tmp_path: Path) -> Iterator[Archive]:
    opened = copy_of(made, tmp_path)
    yield opened
    opened.close()


def tone(label: str) -> tuple[int, int, int]:
    """A colour for each frame; each is 30 steps from the next."""
    number = int(label)
    return 60 + 30 * (number % 6), 220 - 30 * (number % 6), 80


def strip_picture(strip: StripInSlot) -> Image.Image:
    """The strip upright with its first frame at the left, each frame in its tone with a white block at its top left."""
    image = Image.new("RGB", (round(strip.length_mm * PX), round(strip.gauge_width_mm * PX)), BETWEEN)
    draw = ImageDraw.Draw(image)
    for frame in strip.frames:
        left, top = frame.start_mm * PX, (strip.gauge_width_mm - frame.across_mm) / 2 * PX
        right, bottom = left + frame.along_mm * PX - 1, top + frame.across_mm * PX - 1
        draw.rectangle((left, top, right, bottom), tone(frame.label))
        draw.rectangle((left + 4 * PX, top + 3 * PX, left + 14 * PX, top + 10 * PX), (250, 250, 250))
    return image


def page_picture(view: PageView) -> Image.Image:
    """The page as a photograph shows it: every strip laid and turned by hand, then the page turned head to foot as one."""
    size = view.layout.page
    image = Image.new("RGB", (round(size.width * PX), round(size.height * PX)), BETWEEN)
    for strip in view.strips:
        if strip.out:
            continue
        drawn = strip_picture(strip)
        if strip.turned_over:  # about its long axis: seen through its back, top and bottom change places
            drawn = ImageOps.flip(drawn)
        if strip.upside_down:
            drawn = drawn.rotate(180)
        slot = view.layout.slot_rect(strip.slot)
        top = slot.y + (slot.height - strip.gauge_width_mm) / 2
        image.paste(drawn, (round((slot.x + strip.offset_mm) * PX), round(top * PX)))  # the first frame lies at the rings
    return ImageOps.flip(image) if view.turned else image


def is_right(session: Session, label: str) -> None:
    """What is shown of the frame is that frame alone, to its edges, the right way up and round."""
    frame = next(f for f in get_roll(session, "2031-001").frames if f.label == label)
    with Image.open(frame_picture(session, frame.id, large=True)) as picture:
        shown = np.asarray(picture.convert("RGB")).astype(float)
    height, width, _ = shown.shape
    assert (width, height) == (pytest.approx(36 * PX, abs=1.5), pytest.approx(24 * PX, abs=1.5)), label
    for edge in (shown[2], shown[-3], shown[:, 2], shown[:, -3]):  # the middle value, as JPEG rings about the corners
        assert np.abs(np.median(edge, axis=0) - tone(label)).max() < 18, label
    near, far, high, low = slice(6 * PX, 12 * PX), slice(-12 * PX, -6 * PX), slice(5 * PX, 8 * PX), slice(-8 * PX, -5 * PX)
    corners = {
        "top left": shown[high, near],
        "top right": shown[high, far],
        "bottom left": shown[low, near],
        "bottom right": shown[low, far],
    }
    assert max(corners, key=lambda name: corners[name][..., 2].mean()) == "top left", label
    assert np.abs(corners["bottom right"] - tone(label)).max() < 18, label


def first_strip(session: Session) -> StripInSlot:
    return get_page(session, 1).strips[0]


@pytest.mark.parametrize("from_the_end", [False, True])
def test_a_scan_of_a_strip_is_cut_to_its_frames(archive: Archive, from_the_end: bool) -> None:
    with archive.session() as session:
        strip = first_strip(session)
        image = strip_picture(strip)
        (image.rotate(180) if from_the_end else image).save(archive.folder / "scans" / "strip.png")
        before = (archive.folder / "scans" / "strip.png").read_bytes()
        assert cover_strip(session, strip.strip_id, "strip.png", from_the_end=from_the_end) == 3
        for label in ("1", "2", "3"):
            is_right(session, label)
        scans = {f.label: f.scans for f in get_roll(session, "2031-001").frames}
        assert [len(scans[str(n)]) for n in range(1, 7)] == [1] * 3 + [0] * 3
        assert {s.role for found in scans.values() for s in found} == {"master"}
        # 3 pixels a millimetre are 76.2 an inch.
        assert {s.ppi for found in scans.values() for s in found} == {76}
        drawn = [f.picture for f in painted_page(session, 1) if f.picture]
        assert len(set(drawn)) == 3  # page map and contact sheet
        prints = session.exec(select(Scan.fingerprint)).all()
        assert all(prints)
        assert cover_strip(session, strip.strip_id, "strip.png", from_the_end=from_the_end) == 3
        assert len(session.exec(select(Scan)).all()) == 3  # again is no second time
        assert (archive.folder / "scans" / "strip.png").read_bytes() == before


def test_a_part_of_the_picture_shows_the_strip(archive: Archive) -> None:
    with archive.session() as session:
        strip = first_strip(session)
        film = strip_picture(strip)
        whole = Image.new("RGB", (film.width + 200, film.height + 120), (240, 240, 240))
        whole.paste(film, (150, 90))
        whole.save(archive.folder / "scans" / "copied.png")
        part = (150 / whole.width, 90 / whole.height, film.width / whole.width, film.height / whole.height)
        cover_strip(session, strip.strip_id, "copied.png", part=part)
        for label in ("1", "3"):
            is_right(session, label)


@pytest.mark.parametrize(
    ("name", "how"),
    [("strip [7].png", {}), ("16 bits.tif", {}), ("turned.jpg", {"quality": 95, "subsampling": 0}), ("grey on alpha.png", {})],
)
def test_names_and_kinds_of_files(archive: Archive, name: str, how: dict[str, int]) -> None:
    with archive.session() as session:
        strip = first_strip(session)
        image, path = strip_picture(strip), archive.folder / "scans" / name
        if name.endswith(".tif"):
            import tifffile

            tifffile.imwrite(path, np.asarray(image).astype(np.uint16) * 257, photometric="rgb")
        elif name.endswith(".jpg"):
            exif = Image.Exif()
            exif[0x0112] = 6  # Exif: to be turned clockwise by a quarter, so it is stored turned the other way
            image.transpose(Image.Transpose.ROTATE_90).save(path, exif=exif, **how)
        else:
            image.convert("RGBA").save(path)
        cover_strip(session, strip.strip_id, name)
        for label in ("1", "2", "3"):
            is_right(session, label)


@pytest.mark.parametrize("turned", [False, True])
@pytest.mark.parametrize("upside_down", [False, True])
@pytest.mark.parametrize("turned_over", [False, True])
def test_a_photograph_of_a_page_is_cut_as_the_strips_lie(
    archive: Archive, turned: bool, upside_down: bool, turned_over: bool
) -> None:
    with archive.session() as session:
        second = get_page(session, 1).strips[1].strip_id
        turn_strip(session, second, upside_down=upside_down, turned_over=turned_over)
        repunch(session, 1, "right" if upside_down else "left")  # moves no picture
        view = turn_page(session, 1, turned)
        page_picture(view).save(archive.folder / "scans" / "page.tif")
        assert cover_page(session, 1, "page.tif") == 6
        for label in ("1", "3", "4", "6"):
            is_right(session, label)


def test_a_part_of_the_photograph_shows_the_page(archive: Archive) -> None:
    with archive.session() as session:
        page = page_picture(get_page(session, 1))
        whole = Image.new("RGB", (page.width + 160, page.height + 80), (250, 250, 250))
        whole.paste(page, (40, 60))
        whole.save(archive.folder / "scans" / "table.png")
        cover_page(
            session,
            1,
            "table.png",
            part=(40 / whole.width, 60 / whole.height, page.width / whole.width, page.height / whole.height),
        )
        for label in ("1", "6"):
            is_right(session, label)


def test_strips_that_are_out_are_not_on_the_photograph(archive: Archive) -> None:
    with archive.session() as session:
        take_out(session, get_page(session, 1).strips[0].strip_id, "printing")
        page_picture(get_page(session, 1)).save(archive.folder / "scans" / "page.tif")
        assert cover_page(session, 1, "page.tif") == 3
        scans = {f.label: len(f.scans) for f in get_roll(session, "2031-001").frames}
        assert scans == {str(n): int(n > 3) for n in range(1, 7)}
        take_out(session, get_page(session, 1).strips[1].strip_id, "printing")
        with pytest.raises(InvalidInput, match="nothing to tie"):
            cover_page(session, 1, "page.tif")


def test_of_a_frame_cut_in_two_no_half_stands_for_the_whole(archive: Archive) -> None:
    with archive.session() as session:
        registered(session, 6, number="2031-002", layout="135-6x6", strips=[["1", "2", "3", "4"], ["4", "5", "6"]])
        page = get_page(session, 2)
        page_picture(page).save(archive.folder / "scans" / "page.tif")
        assert cover_page(session, 2, "page.tif") == 5
        for strip, count in zip(page.strips, (3, 2), strict=True):
            strip_picture(strip).save(archive.folder / "scans" / f"{strip.strip_id}.png")
            assert cover_strip(session, strip.strip_id, f"{strip.strip_id}.png") == count
        assert {f.label: len(f.scans) for f in get_roll(session, "2031-002").frames} == {
            "1": 2, "2": 2, "3": 2, "4": 0, "5": 2, "6": 2
        }  # fmt: skip


def test_a_better_scan_from_before_stays_the_master(archive: Archive) -> None:
    from catalogue.scans.match.linking import link_scan

    with archive.session() as session:
        Image.new("RGB", (600, 400), (9, 9, 9)).save(archive.folder / "scans" / "3.png")
        link_scan(session, "2031-001", "3", "3.png")
        page_picture(get_page(session, 1)).save(archive.folder / "scans" / "page.tif")
        cover_page(session, 1, "page.tif")
        third = next(f for f in get_roll(session, "2031-001").frames if f.label == "3")
        assert [(s.path, s.role) for s in third.scans] == [("3.png", "master"), ("page.tif", "working")]


@pytest.mark.parametrize(
    "part",
    [
        (-0.1, 0, 1, 1),
        (0, 0, 1.1, 1),
        (0.5, 0, 0.6, 1),
        (0, 0, 0, 1),
        (0, 0, 1, -1),
        (0, 1, 1, 0.1),
        (NAN, 0, 1, 1),
        (0, 0, NAN, 1),
    ],
)
def test_parts_outside_the_picture_are_refused(archive: Archive, part: tuple[float, float, float, float]) -> None:
    with archive.session() as session:
        strip_picture(first_strip(session)).save(scan_folder(session) / "strip.png")
        for cover, which in ((cover_strip, first_strip(session).strip_id), (cover_page, 1)):
            with pytest.raises(InvalidInput, match="outside it"):
                cover(session, which, "strip.png", part=part)
        assert session.exec(select(Scan)).all() == []


def test_what_is_not_there_is_said(archive: Archive) -> None:
    with archive.session() as session:
        strip_picture(first_strip(session)).save(scan_folder(session) / "strip.png")
        with pytest.raises(NotFound, match="no strip 999"):
            cover_strip(session, 999, "strip.png")
        with pytest.raises(NotFound, match="no page 999"):
            cover_page(session, 999, "strip.png")
        with pytest.raises(NotFound, match=r"no file none\.png"):
            cover_strip(session, 1, "none.png")
        with pytest.raises(OutsideScanFolder):
            cover_page(session, 1, "../stripleaf.db")
        empty = add_page(session, "Binder 1", "135-6x6")
        with pytest.raises(InvalidInput, match="No film lies on page 2"):
            cover_page(session, empty.id, "strip.png")
