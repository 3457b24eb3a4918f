"""How a scan is shown: put right from any standing, made again where previews are gone, never from another file."""

import shutil
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import numpy as np
import pytest
from builders import painted_page, registered
from PIL import Image, ImageDraw, ImageOps
from scan_scenes import as_image, frame_picture
from small_scans import copy_of, flat, untouched
from sqlmodel import Session, select

from catalogue.errors import NotFound, UnreadablePicture
from catalogue.rolls.change import get_roll
from catalogue.rolls.file import add_binder
from catalogue.rolls.scan_rows import scans_of
from catalogue.scans.look import frame_pictures
from catalogue.scans.look.fingerprints import fingerprint_of, grey_of
from catalogue.scans.look.picture_lookup import Match, compare
from catalogue.scans.look.positives import FilmKind, Inversion
from catalogue.scans.look.shown import Look, make_shown, shown_path, treated
from catalogue.scans.match.linking import change_scan, link_scan, tie
from catalogue.scans.match.picture_evidence import Standing, put_right
from catalogue.scans.rows import Positives
from catalogue.store.engine import Archive, open_archive
from catalogue.store.tables.rolls import Frame
from catalogue.store.tables.scans import FilmPositive, ScanFile

STANDINGS = list(product((False, True), range(4)))
"""Mirrored or not, and quarter turns."""


def asymmetric(width: int = 60, height: int = 40) -> Image.Image:
    """No turning or mirroring of it is like another."""
    image = Image.new("RGB", (width, height), (60, 90, 120))
    draw = ImageDraw.Draw(image)
    draw.rectangle((2, 2, 20, 8), (255, 40, 40))
    draw.rectangle((2, 2, 8, 22), (40, 255, 40))
    draw.ellipse((width - 16, height - 12, width - 4, height - 2), (250, 250, 60))
    return image.resize((width * 4, height * 4), Image.Resampling.NEAREST)


def lying(picture: Image.Image, mirrored: bool, turns: int) -> Image.Image:
    """The picture mirrored left to right, and then turned anticlockwise: what a match says of how a file lies."""
    seen = ImageOps.mirror(picture) if mirrored else picture
    return Image.fromarray(np.ascontiguousarray(np.rot90(np.asarray(seen), turns)))


@pytest.mark.parametrize(("mirrored", "turns"), STANDINGS)
def test_what_puts_a_picture_right_takes_back_how_it_lies(mirrored: bool, turns: int) -> None:
    right = asymmetric()
    file = lying(right, mirrored, turns)
    assert np.array_equal(np.asarray(treated(file, Look(None, turns, mirrored))), np.asarray(right))


@pytest.mark.parametrize(("mirrored", "turns"), STANDINGS)
@pytest.mark.parametrize(("known_mirrored", "known_turns"), STANDINGS)
def test_a_match_with_any_reference_puts_the_file_right(
    mirrored: bool, turns: int, known_mirrored: bool, known_turns: int
) -> None:
    right = asymmetric()
    reference = lying(right, known_mirrored, known_turns)
    file = lying(reference, mirrored, turns)
    found = put_right(Match(1, 1.0, mirrored, turns, True, (0, 1, 0, 1)), Standing(known_turns, known_mirrored))
    assert found.inverted
    shown = treated(file, Look(None, found.quarter_turns, found.mirrored))
    assert np.array_equal(np.asarray(shown), np.asarray(right))


@pytest.mark.parametrize(("mirrored", "turns"), STANDINGS)
def test_comparing_tells_how_the_file_lies(mirrored: bool, turns: int) -> None:
    right = as_image(frame_picture("3"))
    file = ImageOps.invert(lying(right, mirrored, turns))
    match = compare(fingerprint_of(grey_of(right)), fingerprint_of(grey_of(file)))
    assert match.found
    assert (match.mirrored, match.quarter_turns, match.inverted) == (mirrored, turns, True)
    found = put_right(match, Standing())
    shown = ImageOps.invert(treated(file, Look(None, found.quarter_turns, found.mirrored)))
    assert np.array_equal(np.asarray(shown), np.asarray(right))


@pytest.mark.parametrize(
    ("mirrored", "turns", "words"),
    [
        (False, 0, ""), (True, 0, "mirrored"), (False, 2, "upside down"), (True, 3, "mirrored and lying on its side"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said(mirrored: bool, turns: int, words: str) -> None:
    assert put_right(Match(1, 1.0, mirrored, turns, False, (0, 1, 0, 1)), Standing()).words == words


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive with roll 2031-001; frame 1 has a scan."""
    archive = open_archive(tmp_path_factory.mktemp("shown") / "archive")
    (archive.folder / "scans").mkdir()
    asymmetric().save(archive.folder / "scans" / "one.png")
    with archive.session() as session:
        add_binder(session, "Binder 1")
        registered(session, 3, number="2031-001")
        link_scan(session, "2031-001", "1", "one.png")
    archive.close()
    return archive.folder


@pytest.fixture
def archive(made: Path, tmp_path: Path) -> Iterator[Archive]:
    opened = copy_of(made, tmp_path)
    yield opened
    opened.close()


def near(path: Path, wanted: Image.Image) -> bool:
    """The picture is the one wanted, but for what JPEG does to it."""
    with Image.open(path) as shown:
        if shown.size != wanted.size:
            return False
        return bool(np.abs(np.asarray(shown.convert("RGB"), float) - np.asarray(wanted, float)).mean() < 8)


@pytest.mark.parametrize(("mirrored", "turns"), STANDINGS)
def test_a_frame_is_shown_as_its_scan_says_and_the_file_is_left_alone(archive: Archive, mirrored: bool, turns: int) -> None:
    path = archive.folder / "scans" / "one.png"
    lying(asymmetric(), mirrored, turns).save(path)
    before = untouched(archive.folder / "scans")
    with archive.session() as session:
        scan = link_scan(session, "2031-001", "1", "one.png")
        change_scan(session, scan.id, quarter_turns=turns, mirrored=mirrored)
        frame = get_roll(session, "2031-001").frames[0]
        for large in (False, True):
            assert near(frame_pictures.frame_picture(session, frame.id, large=large), asymmetric())
            assert near(frame_pictures.scan_picture(session, scan.id, large=large), asymmetric())
            as_it_is = frame_pictures.scan_picture(session, scan.id, large=large, original=True)
            assert near(as_it_is, lying(asymmetric(), mirrored, turns))
        (placed,) = (f for f in painted_page(session, 1) if f.picture)
        assert near(Path(placed.picture or ""), asymmetric())
    assert untouched(archive.folder / "scans") == before


def one(session: Session) -> ScanFile:
    return session.exec(select(ScanFile)).one()


@pytest.mark.parametrize("look", [Look(), Look(None, 1), Look((0.0, 0.0, 0.5, 0.5)), Look((0.0, 0.0, 0.5, 0.5), 1, True)])
@pytest.mark.parametrize("cleared", ["all", "thumbnails", "large"])
def test_previews_that_were_cleared_away_are_made_again(archive: Archive, look: Look, cleared: str) -> None:
    path = archive.folder / "scans" / "one.png"
    with archive.session(reading=True) as session:
        sha256 = one(session).sha256
    for large in (False, True):
        first = make_shown(archive.folder, path, sha256, look, large=large).read_bytes()
        for preview in (archive.folder / "previews").rglob("*.jpg"):
            if cleared == "all" or ("-400" in preview.name) == (cleared == "thumbnails"):
                preview.unlink()
        again = make_shown(archive.folder, path, sha256, look, large=large)
        assert again.read_bytes() == first
        assert make_shown(archive.folder, Path("nowhere"), sha256, look, large=large) == again  # it is there: no file is asked


@pytest.mark.parametrize("look", [Look(), Look(None, 1), Look((0, 0, 0.5, 0.5))])
def test_another_file_in_its_place_is_refused(archive: Archive, look: Look) -> None:
    path = archive.folder / "scans" / "one.png"
    with archive.session(reading=True) as session:
        sha256 = one(session).sha256
    shutil.rmtree(archive.folder / "previews")
    flat(9).save(path)
    with pytest.raises(UnreadablePicture, match="another file than the one that was linked"):
        make_shown(archive.folder, path, sha256, look)
    assert not shown_path(archive.folder, sha256, look).exists()
    path.unlink()
    with pytest.raises(UnreadablePicture, match=r"one\.png"):
        make_shown(archive.folder, path, sha256, look)


def test_no_part_is_cut_from_another_file_though_the_previews_are_there(archive: Archive) -> None:
    path, look = archive.folder / "scans" / "one.png", Look((0, 0, 0.5, 0.5))
    with archive.session(reading=True) as session:
        sha256 = one(session).sha256
    flat(9).save(path)
    with pytest.raises(UnreadablePicture, match="another file"):
        make_shown(archive.folder, path, sha256, look)
    path.unlink()
    with pytest.raises(UnreadablePicture, match=r"one\.png can't be opened"):
        make_shown(archive.folder, path, sha256, look)


def test_a_page_is_drawn_without_a_picture_that_is_gone(archive: Archive) -> None:
    shutil.rmtree(archive.folder / "previews")
    (archive.folder / "scans" / "one.png").unlink()
    with archive.session(reading=True) as session:
        assert [f.picture for f in painted_page(session, 1)] == [None] * 3
        with pytest.raises(UnreadablePicture):
            frame_pictures.frame_picture(session, get_roll(session, "2031-001").frames[0].id)


def test_looks_have_names_of_their_own() -> None:
    inversion = Inversion(FilmKind.COLOUR_NEGATIVE, base=(0.6, 0.3, 0.2))
    looks = [
        Look(), Look((0, 0, 0.5, 0.5)), Look((0, 0, 0.5, 0.25)), Look(None, 1), Look(None, 3), Look(None, 0, True),
        Look(None, 0, False, inversion), Look(None, 0, False, Inversion(FilmKind.BLACK_AND_WHITE, base=(0.6, 0.3, 0.2))),
    ]  # fmt: skip
    paths = {shown_path(Path("a"), "0" * 64, look, large=large) for look in looks for large in (False, True)}
    assert len(paths) == 2 * len(looks)
    assert Look(None, 0, False, inversion).mark == Look(None, 0, False, Inversion(FilmKind.COLOUR_NEGATIVE, (0.6, 0.3, 0.2))).mark


def test_the_best_picture_goes_by_its_role(archive: Archive) -> None:
    with archive.session() as session:
        frame = session.exec(select(Frame).where(Frame.label == "2")).one()
        with pytest.raises(NotFound, match="no picture of this frame"):
            frame_pictures.frame_picture(session, frame.id or 0)
        with pytest.raises(NotFound):
            frame_pictures.frame_picture(session, 999)
        with pytest.raises(NotFound):
            frame_pictures.scan_picture(session, 999)
        for number, role in enumerate(("web", "cropped", "working", "master")):
            flat(number, (60 + number, 40)).save(archive.folder / "scans" / f"{role}.png")
            link_scan(session, "2031-001", "2", f"{role}.png", role)
            with Image.open(frame_pictures.frame_picture(session, frame.id or 0)) as shown:
                assert shown.width == 60 + number, role
        pairs = scans_of(session, [frame.id or 0])[frame.id or 0]
        assert [scan.role for scan, _ in pairs] == ["master", "working", "cropped", "web"]


def test_a_file_tied_to_nothing_is_shown_as_it_is(archive: Archive) -> None:
    with archive.session() as session:
        assert near(frame_pictures.file_picture(session, one(session)), asymmetric())


def test_which_numbers_make_a_scan_positive(archive: Archive) -> None:
    """The strip's own before the roll's, the frame's own where each is balanced; none for positives and slides."""
    roll, strip, own = (Inversion(FilmKind.COLOUR_NEGATIVE, base=(0.6, 0.3, blue)) for blue in (0.1, 0.2, 0.3))
    with archive.session() as session:
        first = session.exec(select(Frame)).first()
        assert first is not None
        scan = tie(session, first, one(session))
        key = get_roll(session, "2031-001").strips[0].id
        assert Positives(session, [1]).inversion(scan, 1, key) is None
        session.add(FilmPositive(roll_id=1, inversion=roll.to_json(), exposure="common"))
        session.flush()
        assert Positives(session, [1]).inversion(scan, 1, key) == roll
        row = FilmPositive(roll_id=1, strip_id=key, inversion=strip.to_json(), exposure="each")
        session.add(row)
        session.flush()
        assert Positives(session, [1]).inversion(scan, 1, key) == strip
        assert Positives(session, [1]).inversion(scan, 1, None) == roll
        scan.balance = own.to_json()
        assert Positives(session, [1]).inversion(scan, 1, key) == own
        assert Positives(session, [1]).inversion(scan, 1, None) == roll
        scan.polarity = "positive"
        assert Positives(session, [1]).inversion(scan, 1, key) is None
        scan.polarity, row.inversion = "negative", Inversion(FilmKind.SLIDE).to_json()
        session.flush()
        assert Positives(session, [1]).inversion(scan, 1, key) is None
