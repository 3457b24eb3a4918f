"""How a roll's negatives are shown as positives: found base, pointing, exposure, strips apart, slides, and as scanned again."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from builders import painted_page
from film_model import BASES, negative_of
from numpy.typing import NDArray
from PIL import Image
from scan_scenes import as_image, frame_picture
from small_scans import copy_of, untouched
from sqlmodel import Session, select

from catalogue.errors import InvalidInput, NotFound
from catalogue.rolls.change import get_roll
from catalogue.rolls.file import add_binder, get_page
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.process import ProcessInput, record_process
from catalogue.rolls.register import register_roll
from catalogue.scans.look.exposures import FrameStatistics, balance, common_exposure
from catalogue.scans.look.frame_pictures import frame_picture as picture_of
from catalogue.scans.look.frame_pictures import scan_picture
from catalogue.scans.look.positives import FilmKind, Inversion
from catalogue.scans.look.showing_positive import balance_scans, clear_positive, likely_kind, positive_of_roll, set_positive
from catalogue.scans.match.covering import cover_strip
from catalogue.scans.match.linking import change_scan, link_scan, set_scan_folder
from catalogue.store.engine import Archive, open_archive
from catalogue.store.tables.rolls import Frame
from catalogue.store.tables.scans import FilmPositive, Scan

LABELS = ("1", "2", "3", "4")
REBATE = 14
STOPS = {"1": 0.0, "2": -2.0, "3": 0.0, "4": 0.0}
"""Frame 2 got two stops less light."""
NUMBER = "2031-001"


def scene(label: str) -> NDArray[np.uint8]:
    """The photograph on a frame; every frame shows the same, so that what differs is the exposure."""
    return np.asarray(as_image(frame_picture("3")).resize((160, 106)))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive with a colour roll of four frames in two strips, each scanned as a negative with its rebate."""
    archive = open_archive(tmp_path_factory.mktemp("positive") / "archive")
    (archive.folder / "scans").mkdir()
    with archive.session() as session:
        add_binder(session, "Binder 1")
        register_roll(session, NewRoll(number=NUMBER, frames=4, layout="135-6x6", strips=[["1", "2"], ["3", "4"]]))
        record_process(session, NUMBER, ProcessInput(process="C-41"))
        for label in LABELS:
            scan = negative_of(scene(label), stops=STOPS[label], rebate=REBATE, dyes=True)
            Image.fromarray(scan.astype(np.uint8)).save(archive.folder / "scans" / f"{label}.png")
            link_scan(session, NUMBER, label, f"{label}.png")
        register_roll(session, NewRoll(number="2031-002", frames=2, layout="135-6x6"))
    archive.close()
    return archive.folder


@pytest.fixture
def archive(made: Path, tmp_path: Path) -> Iterator[Archive]:
    """A copy; no scan is ever touched."""
    opened = copy_of(made, tmp_path)
    before = untouched(opened.folder / "scans")
    yield opened
    assert untouched(opened.folder / "scans") == before
    opened.close()


def shown(session: Session, label: str) -> NDArray[np.float64]:
    """The picture area of what is shown of a frame."""
    frame = session.exec(select(Frame).where(Frame.label == label, Frame.roll_id == 1)).one()
    with Image.open(picture_of(session, frame.id or 0)) as picture:
        whole = np.asarray(picture.convert("RGB"), dtype=float)
    return whole[REBATE:-REBATE, REBATE:-REBATE]


def likeness(session: Session, label: str) -> float:
    """From -1 to 1: how the tones shown run with those of the photograph."""
    return float(np.corrcoef(shown(session, label).ravel(), scene(label).astype(float).ravel())[0, 1])


def strips(session: Session) -> list[int]:
    return [s.id for s in get_roll(session, NUMBER).strips]


def drawn(session: Session) -> dict[str, Path]:
    """What page map and contact sheet draw of each frame."""
    return {f.label: Path(f.picture or "") for f in painted_page(session, 1)}


@pytest.mark.parametrize("exposure", ["common", "each"])
def test_a_roll_is_shown_positive_and_as_scanned_again(session: Session, exposure: str) -> None:
    scanned = drawn(session)
    assert all(likeness(session, label) < 0 for label in LABELS)
    row = set_positive(session, NUMBER, "colour negative", exposure=exposure)
    assert (row.exposure, positive_of_roll(session, NUMBER)) == (exposure, row)
    assert "bands of even, thin film" in row.found
    for label in LABELS:
        assert likeness(session, label) > 0.9, label
        original = next(f for f in get_roll(session, NUMBER).frames if f.label == label).scans[0]
        with Image.open(scan_picture(session, original.id, original=True)) as as_is:
            assert np.asarray(as_is.convert("RGB"))[2, 2, 0] > 120  # the thin base is light
    positive = drawn(session)
    assert not set(positive.values()) & set(scanned.values())
    with Image.open(positive["1"]) as picture:  # the contact sheet's is the same
        inside = np.asarray(picture.convert("RGB"), dtype=float)[REBATE:-REBATE, REBATE:-REBATE]
    assert np.array_equal(inside, shown(session, "1"))
    clear_positive(session, NUMBER)
    assert positive_of_roll(session, NUMBER) is None
    assert drawn(session) == scanned


def test_the_base_found_is_the_films(session: Session) -> None:
    row = set_positive(session, NUMBER, "colour negative")
    # D-min of the painted film: 0.25, 0.58, 0.70; to a hundredth or two, for coding in 8 bits.
    found = [-np.log10(part) for part in Inversion.from_json(row.inversion).base]
    assert found == pytest.approx(BASES["masked"], abs=0.03)


def test_common_exposure_keeps_a_dark_frame_dark_and_balancing_lifts_it(session: Session) -> None:
    set_positive(session, NUMBER, "colour negative", exposure="common")
    common = {label: shown(session, label).mean() for label in LABELS}
    assert common["2"] < common["1"] - 25
    assert common["1"] == pytest.approx(common["3"], abs=3)
    set_positive(session, NUMBER, "colour negative", exposure="each")
    each = {label: shown(session, label).mean() for label in LABELS}
    assert each["2"] > common["2"] + 15
    assert {bool(scan.balance) for scan in session.exec(select(Scan))} == {True}
    set_positive(session, NUMBER, "colour negative", exposure="common")
    assert {label: shown(session, label).mean() for label in LABELS} == common
    assert {bool(scan.balance) for scan in session.exec(select(Scan))} == {False}


@pytest.mark.parametrize("exposure", ["common", "each"])
def test_lighter_and_darker(session: Session, exposure: str) -> None:
    means = []
    for stops in (-1.0, 0.0, 1.0):
        set_positive(session, NUMBER, "colour negative", exposure=exposure, stops=stops)
        means.append(shown(session, "1").mean())
    assert means[0] + 10 < means[1] < means[2] - 10


def test_a_steeper_film_is_shown_flatter(session: Session) -> None:
    spread = []
    for slope in (0.5, 0.9):
        set_positive(session, NUMBER, "colour negative", slope=slope)
        spread.append(shown(session, "1").std())
    assert spread[1] < spread[0]


def test_one_strip_apart(session: Session) -> None:
    second = strips(session)[1]
    set_positive(session, NUMBER, "colour negative")
    before = drawn(session)
    set_positive(session, NUMBER, "colour negative", strip_id=second, stops=1.5)
    after = drawn(session)
    assert [after[label] == before[label] for label in LABELS] == [True, True, False, False]
    assert shown(session, "3").mean() > shown(session, "1").mean() + 10
    set_positive(session, NUMBER, "colour negative", strip_id=second, stops=-1.5)  # set again, not beside
    assert len(session.exec(select(FilmPositive)).all()) == 2
    assert shown(session, "3").mean() < shown(session, "1").mean() - 10
    set_positive(session, NUMBER, "colour negative", stops=0.5)  # the roll anew; the strip keeps its own
    assert shown(session, "3").mean() < shown(session, "1").mean() - 10
    clear_positive(session, NUMBER)
    assert session.exec(select(FilmPositive)).all() == []


def test_a_strip_set_before_its_roll_keeps_its_own_balance(session: Session) -> None:
    second = strips(session)[1]
    set_positive(session, NUMBER, "colour negative", strip_id=second, exposure="each", stops=1.0)
    own = {scan.id: scan.balance for scan in session.exec(select(Scan)) if scan.balance}
    assert len(own) == 2
    set_positive(session, NUMBER, "colour negative", exposure="each")
    assert {key: session.get_one(Scan, key).balance for key in own} == own
    set_positive(session, NUMBER, "colour negative", strip_id=second, exposure="common")
    assert [scan.frame_id for scan in session.exec(select(Scan)) if scan.balance] == [1, 2]


def test_another_kind_of_film_for_the_roll_holds_for_its_strips_too(session: Session) -> None:
    scanned = drawn(session)
    second = strips(session)[1]
    set_positive(session, NUMBER, "colour negative")
    set_positive(session, NUMBER, "colour negative", strip_id=second, stops=1)
    set_positive(session, NUMBER, "slide")
    assert drawn(session) == scanned


def test_pointing_at_the_base(session: Session) -> None:
    scan = session.exec(select(Scan)).first()
    assert scan is not None
    row = set_positive(session, NUMBER, "colour negative", point=(scan.id or 0, 0.02, 0.5))
    assert row.found.startswith("Pointed at in 1.png: ")
    found = [-np.log10(part) for part in Inversion.from_json(row.inversion).base]
    assert found == pytest.approx(BASES["masked"], abs=0.03)
    assert likeness(session, "1") > 0.9
    dense = set_positive(session, NUMBER, "colour negative", point=(scan.id or 0, 0.5, 0.3))
    assert Inversion.from_json(dense.inversion).base[0] < 10 ** -found[0] / 1.5  # the person is believed
    for corner in (0.0, 1.0):
        set_positive(session, NUMBER, "colour negative", point=(scan.id or 0, corner, corner))


@pytest.mark.parametrize("spot", [(-0.1, 0.5), (0.5, 1.1), (float("nan"), 0.5), (0.5, float("inf")), (1e300, 0)])
def test_spots_outside_the_picture_are_refused(session: Session, spot: tuple[float, float]) -> None:
    with pytest.raises(InvalidInput, match="outside the picture"):
        set_positive(session, NUMBER, "colour negative", point=(1, *spot))
    assert positive_of_roll(session, NUMBER) is None


def test_pointing_at_what_is_no_scan_of_the_roll(session: Session) -> None:
    with pytest.raises(NotFound, match="no scan 999"):
        set_positive(session, NUMBER, "colour negative", point=(999, 0.1, 0.1))
    link_scan(session, "2031-002", "1", "2.png")
    with pytest.raises(NotFound, match="no scan 1 of roll 2031-002"):
        set_positive(session, "2031-002", "colour negative", point=(1, 0.1, 0.1))


def test_slides_are_left_alone(session: Session) -> None:
    scanned = drawn(session)
    row = set_positive(session, NUMBER, "slide", exposure="each")
    assert row.found == "Shown as scanned: a slide."
    assert drawn(session) == scanned
    assert set_positive(session, "2031-002", "slide").found == row.found  # without a scan, as nothing is measured


def test_scans_that_are_positives_are_left_alone(session: Session) -> None:
    frame = get_roll(session, NUMBER).frames[0]
    before = drawn(session)
    change_scan(session, frame.scans[0].id, polarity="positive")
    set_positive(session, NUMBER, "colour negative", exposure="each")
    after = drawn(session)
    assert [before[label] == after[label] for label in LABELS] == [True, False, False, False]
    for other in get_roll(session, NUMBER).frames:
        change_scan(session, other.scans[0].id, polarity="positive")
    with pytest.raises(InvalidInput, match="no scan of this film to measure"):
        set_positive(session, NUMBER, "colour negative")


def test_a_master_from_before_is_not_shown_with_numbers_long_gone(session: Session, archive: Archive) -> None:
    set_positive(session, NUMBER, "colour negative", exposure="each", stops=2.0)
    first = get_roll(session, NUMBER).frames[0].scans[0]
    link_scan(session, NUMBER, "1", "3.png", "master")
    set_positive(session, NUMBER, "colour negative", exposure="each")
    link_scan(session, NUMBER, "1", "1.png", "master")
    assert scan_balance(session, first.id) == ""  # until it is balanced by the present numbers
    balance_scans(session, 1)
    assert Inversion.from_json(scan_balance(session, first.id)).exposure == 0


def scan_balance(session: Session, key: int) -> str:
    return session.get_one(Scan, key).balance


def test_a_scan_of_a_strip_is_measured_by_its_frames(session: Session) -> None:
    folder = Path(session.info["folder"])
    strip = get_page(session, 1).strips[0]
    px = 4
    film = np.zeros((round(strip.gauge_width_mm * px), round(strip.length_mm * px), 3), dtype=np.uint8)
    for frame in strip.frames:
        x, y = round(frame.start_mm * px), round((strip.gauge_width_mm - frame.across_mm) / 2 * px)
        film[y : y + 24 * px, x : x + 36 * px] = np.asarray(Image.fromarray(scene("1")).resize((36 * px, 24 * px)))
    other = folder / "strips"
    other.mkdir()
    Image.fromarray(negative_of(film).astype(np.uint8)).save(other / "strip.png")
    set_scan_folder(session, str(other))
    for scan in session.exec(select(Scan)).all():
        session.delete(scan)
    cover_strip(session, strip.strip_id, "strip.png")
    set_positive(session, NUMBER, "colour negative")
    frame = session.exec(select(Frame).where(Frame.label == "1", Frame.roll_id == 1)).one()
    with Image.open(picture_of(session, frame.id or 0)) as picture:
        seen = np.asarray(picture.convert("L").resize((36, 24)), dtype=float)
    true = np.asarray(Image.fromarray(scene("1")).convert("L").resize((36, 24)), dtype=float)
    assert np.corrcoef(seen.ravel(), true.ravel())[0, 1] > 0.9


@pytest.mark.parametrize(
    ("how", "sentence"),
    [
        ({"kind": "magic"}, "magic"),
        ({"kind": ""}, "film"),
        ({"kind": "colour negative", "exposure": "best"}, "each"),
        ({"kind": "colour negative", "slope": 0.0}, "slope"),
        ({"kind": "colour negative", "slope": -1.0}, "slope"),
        ({"kind": "colour negative", "slope": float("nan")}, "slope"),
        ({"kind": "colour negative", "slope": float("inf")}, "slope"),
        ({"kind": "colour negative", "stops": float("nan")}, "exposure"),
        ({"kind": "colour negative", "stops": 1e9}, "exposure"),
        ({"kind": "slide", "slope": float("nan")}, "slope"),
    ],
)
def test_odd_input_is_refused_with_a_sentence(archive: Archive, how: dict[str, object], sentence: str) -> None:
    with archive.session() as session:
        set_positive(session, NUMBER, "colour negative")
    with archive.session(reading=True) as session:
        before = [row.model_dump() for row in session.exec(select(FilmPositive))], drawn(session)
    with archive.session() as session, pytest.raises(InvalidInput, match=sentence):
        set_positive(session, NUMBER, **how)  # type: ignore[arg-type]
    with archive.session(reading=True) as session:
        assert ([row.model_dump() for row in session.exec(select(FilmPositive))], drawn(session)) == before


@pytest.mark.parametrize("kind", ["colour negative", "slide"])
def test_strips_of_no_roll_or_another_are_refused(session: Session, kind: str) -> None:
    other = get_roll(session, "2031-002").strips[0].id
    for strip in (other, 999):
        with pytest.raises(NotFound, match=f"Roll {NUMBER} has no strip {strip}"):
            set_positive(session, NUMBER, kind, strip_id=strip)
    with pytest.raises(NotFound):
        set_positive(session, "2031-077", kind)


def test_a_strip_of_another_kind_than_its_roll_is_refused(session: Session) -> None:
    set_positive(session, NUMBER, "colour negative")
    with pytest.raises(InvalidInput, match="A roll is one stock"):
        set_positive(session, NUMBER, "black-and-white negative", strip_id=strips(session)[0])


def test_without_a_scan_there_is_nothing_to_measure(session: Session) -> None:
    with pytest.raises(InvalidInput, match="no scan of this film to measure"):
        set_positive(session, "2031-002", "colour negative")


def test_the_process_says_what_kind_it_is(session: Session) -> None:
    assert likely_kind(session, NUMBER) is FilmKind.COLOUR_NEGATIVE
    assert likely_kind(session, "2031-002") is None
    record_process(session, "2031-002", ProcessInput(process="E-6"))
    assert likely_kind(session, "2031-002") is FilmKind.SLIDE


def test_black_and_white_is_shown_grey(session: Session) -> None:
    set_positive(session, NUMBER, "black-and-white negative")
    values = shown(session, "1")
    assert np.abs(values - values.mean(axis=2, keepdims=True)).max() < 6


START = Inversion(FilmKind.COLOUR_NEGATIVE, base=(1.0, 1.0, 1.0))


def measured(level: float, tint: float = 0.0) -> FrameStatistics:
    """A frame whose densest part has this density above a base of none."""
    return FrameStatistics((1.0, 1.0, 1.0), (10 ** -(level + tint), 10**-level, 10 ** -(level - tint)))


def test_common_exposure_keeps_nine_highlights_in_ten() -> None:
    # Eleven frames from 0.5 to 1.5: the place at nine tenths is the tenth, 1.4.
    frames = [measured(0.5 + n / 10) for n in range(11)]
    assert common_exposure(frames, START).white == pytest.approx((1.4, 1.4, 1.4))
    assert common_exposure(frames[::-1], START) == common_exposure(frames, START)
    assert common_exposure([measured(1.0)], START).white == pytest.approx((1.0, 1.0, 1.0))


def test_one_sunset_does_not_tint_the_roll() -> None:
    frames = [measured(1.0)] * 4 + [measured(1.0, 0.4)]
    assert common_exposure(frames, START).white == pytest.approx((1.0, 1.0, 1.0))


def test_balancing_takes_a_frames_lightness_and_the_rolls_colours() -> None:
    roll = Inversion(FilmKind.COLOUR_NEGATIVE, white=(1.1, 1.0, 0.9), exposure=0.5)
    found = balance(measured(0.8, 0.3), roll, colours_of=roll)
    assert found.white == pytest.approx((0.9, 0.8, 0.7))
    assert found.exposure == 0.5
    assert balance(measured(0.8, 0.3), START).white == pytest.approx((1.1, 0.8, 0.5))


def test_an_empty_frame_is_not_stretched_into_grain() -> None:
    assert balance(measured(0.02), START).white == pytest.approx((0.4, 0.4, 0.4))
    assert common_exposure([measured(0.0)], START).white == pytest.approx((0.4, 0.4, 0.4))


def test_what_can_not_be_measured_is_refused() -> None:
    with pytest.raises(InvalidInput, match="at least one frame"):
        common_exposure([], START)
    for wrong in ((1.0, 1.0, 1.1), (-0.1, 0.5, 0.5), (float("nan"), 0.5, 0.5)):
        with pytest.raises(InvalidInput, match="densest part"):
            FrameStatistics((1.0, 1.0, 1.0), wrong)
    slide = Inversion(FilmKind.SLIDE)
    assert balance(measured(1.0), slide) == common_exposure([measured(1.0)], slide) == slide
