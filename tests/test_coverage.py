"""How finely the frames are scanned: pixels per inch on the film, levels, and what is summed by roll and page."""

import pytest
from builders import registered
from sqlmodel import Session, select

from catalogue.errors import InvalidInput
from catalogue.film.formats import BUILT_IN_FORMATS
from catalogue.rolls.file import add_page
from catalogue.rolls.scan_rows import Area, ppi_on_film
from catalogue.scans.check.coverage import aim, covered_pages, covered_rolls, grade, set_aim, stars
from catalogue.scans.match.linking import tie
from catalogue.store.tables.rolls import Frame, Roll
from catalogue.store.tables.scans import Scan, ScanFile

SMALL, SHEET_4X5, SHEET_8X10 = (BUILT_IN_FORMATS[key] for key in ("135-24x36", "sheet-4x5", "sheet-8x10"))


def file(session: Session, name: str, width: int, height: int, state: str = "there") -> ScanFile:
    """A file known to the archive; nothing of it need be on the disk to be counted."""
    row = ScanFile(path=name, sha256="0" * 64, width_px=width, height_px=height, state=state)
    session.add(row)
    session.flush()
    return row


def scan(session: Session, number: str, label: str, width: int, height: int, state: str = "there", **how: object) -> Scan:
    frame = session.exec(select(Frame).join(Roll).where(Roll.number == number, Frame.label == label)).one()
    count = len(session.exec(select(ScanFile)).all())
    return tie(session, frame, file(session, f"{count}.tif", width, height, state), **how)  # type: ignore[arg-type]


# FADGI Technical Guidelines, 2016, tables for photographic film: 35 mm to 4 × 5 in 1000, 2000, 3000, 4000 ppi for one
# to four stars, larger than 4 × 5 in half as much (from memory).
@pytest.mark.parametrize(("level", "up_to_4x5", "larger"), [(1, 1000, 500), (2, 2000, 1000), (3, 3000, 1500), (4, 4000, 2000)])
def test_levels_are_reached_at_their_resolution_and_not_below(level: int, up_to_4x5: int, larger: int) -> None:
    for film, ppi in ((SMALL, up_to_4x5), (SHEET_4X5, up_to_4x5), (SHEET_8X10, larger)):
        assert (stars(ppi - 1, film), stars(ppi, film), stars(ppi + 1, film)) == (level - 1, level, level)
    assert stars(20_000, SMALL) == stars(20_000, SHEET_8X10) == 4
    assert stars(0, SMALL) == 0


def test_the_class_of_a_film_goes_by_its_size() -> None:
    levels = {key: stars(2000, film) for key, film in BUILT_IN_FORMATS.items()}
    assert {key for key, level in levels.items() if level == 4} == {"sheet-5x7", "sheet-8x10"} | {
        key for key, film in BUILT_IN_FORMATS.items() if film.frame_along_mm > 127
    }


# Pixels divided by inches of film, worked out by hand: 24 × 36 mm at 2000 pixels an inch is 1890 × 2835, at 4000 3780 × 5669;
# 6000 × 4000 of 36 × 24 mm is 4233.
@pytest.mark.parametrize(
    ("width", "height", "area", "ppi"),
    [
        (2835, 1890, None, 2000),
        (1890, 2835, None, 2000),  # lying on its side
        (5669, 3780, None, 4000),
        (6000, 4000, None, 4233),
        (6000, 2000, None, 2117),  # the lower of both directions
        (28350, 3780, (0.3, 0.25, 0.1, 0.5), 2000),  # a part of a strip
    ],
)
def test_pixels_per_inch_are_counted_on_the_film(width: int, height: int, area: Area | None, ppi: int) -> None:
    shown = (width * (area[2] if area else 1), height * (area[3] if area else 1))
    assert ppi_on_film(shown, SMALL) == pytest.approx(ppi, abs=1)


@pytest.mark.parametrize(
    ("ppi", "wanted"),
    [(0, "not scanned"), (799, "preview only"), (800, "below aim"), (2399, "below aim"), (2400, "at aim"), (9000, "at aim")],
)
def test_grades(ppi: float, wanted: str) -> None:
    assert grade(ppi, 2400) == wanted


def test_the_aim_is_the_persons_own(session: Session) -> None:
    assert aim(session) == 2400
    set_aim(session, 4000)
    assert aim(session) == 4000
    for wrong in (0, -5, 99, 20_001):
        with pytest.raises(InvalidInput, match=f"An aim of {wrong} pixels"):
            set_aim(session, wrong)
    assert aim(session) == 4000


def test_a_roll_is_summed_frame_by_frame(session: Session) -> None:
    registered(session, 7, number="2031-001", frame_states={"7": "blank"})
    scan(session, "2031-001", "1", 600, 400)  # 423 pixels an inch
    scan(session, "2031-001", "2", 2835, 1890)
    scan(session, "2031-001", "3", 5669, 3780)
    scan(session, "2031-001", "4", 5669, 3780, state="missing")
    scan(session, "2031-001", "5", 5669, 3780, role="web")
    scan(session, "2031-001", "6", 600, 400)
    scan(session, "2031-001", "6", 4252, 2835)  # 3000; the finest counts, master or not
    (roll,), (page,) = covered_rolls(session).lines, covered_pages(session).lines
    assert dict(roll.counts) == {"not scanned": 2, "preview only": 1, "below aim": 1, "at aim": 2}
    assert (roll.name, roll.link, roll.frames, roll.worst) == ("2031-001", "/rolls/2031-001/scans", 6, "not scanned")
    assert (roll.least_ppi, roll.stars) == (423, 0)
    assert (page.name, page.counts, page.frames) == ("Binder 1, page 1", roll.counts, 6)
    set_aim(session, 2000)
    assert dict(covered_rolls(session).lines[0].counts)["at aim"] == 3


def test_the_level_is_that_of_the_least_frame_scanned(session: Session) -> None:
    registered(session, 3, number="2031-001")
    scan(session, "2031-001", "1", 5669, 3780)
    scan(session, "2031-001", "2", 4252, 2835)
    (roll,) = covered_rolls(session).lines
    assert (roll.least_ppi, roll.stars, roll.worst) == (3000, 3, "not scanned")
    scan(session, "2031-001", "3", 5669, 3780)
    assert covered_rolls(session).lines[0].worst == "at aim"


def test_a_scan_of_a_strip_counts_by_each_frames_part(session: Session) -> None:
    registered(session, 2, number="2031-001")
    long = file(session, "strip.tif", 28350, 3780)
    for n, frame in enumerate(session.exec(select(Frame))):
        tie(session, frame, long, area=(0.3 * n, 0.25, 0.1, 0.5))
    assert covered_rolls(session).lines[0].least_ppi == 2000


def test_a_frame_shorter_than_the_rest_is_as_finely_scanned_as_they(session: Session) -> None:
    # 18 mm of 36 scanned at 2000 pixels an inch: 1417 pixels along, 1890 across.
    registered(session, 2, number="2031-001")
    first, second = session.exec(select(Frame).order_by(Frame.position))
    second.length_mm = 18.0
    session.add(second)
    long = file(session, "strip.tif", 28350, 3780)
    tie(session, first, long, area=(0.1, 0.25, 0.1, 0.5))
    tie(session, second, long, area=(0.3, 0.25, 0.05, 0.5))
    assert covered_rolls(session).lines[0].least_ppi == 2000


def test_by_page_as_the_binders_stand(session: Session) -> None:
    page = add_page(session, "Binder 1", "135-7x6").id
    registered(session, 6, number="2031-002", page_id=page)
    registered(
        session,
        12,
        number="2031-001",
        page_id=page,
        strips=[["1", "2", "3", "4", "5", "6"], ["6", "7", "8"], ["9", "10", "11", "12"]],
    )
    scan(session, "2031-001", "6", 5669, 3780)
    by_roll, by_page = covered_rolls(session).lines, covered_pages(session).lines
    assert [c.name for c in by_roll] == ["2031-001", "2031-002"]  # in the order of their numbers
    (both,) = by_page
    assert (both.frames, dict(both.counts)["at aim"]) == (18, 1)  # a frame cut in two is one frame


def test_an_archive_without_film_has_nothing_to_cover(session: Session) -> None:
    assert covered_rolls(session).lines == covered_pages(session).lines == ()
