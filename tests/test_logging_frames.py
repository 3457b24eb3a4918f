"""A frame log brought in, whole or not at all: times and zones, a clock that was off, a track, and finding afterwards."""

from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from builders import registered
from sqlmodel import Session, select

from catalogue.errors import InvalidInput, NotFound
from catalogue.rolls.change import FrameChanges, get_roll, update_frame
from catalogue.rolls.find import find
from catalogue.scans.log.frame_log import LogLine, LogReading, read_log_csv
from catalogue.scans.log.log_frames import apply_log, shutter_text, zone_named
from catalogue.scans.log.log_values import parse_shutter
from catalogue.scans.log.tracks import Track
from catalogue.scans.log.typed_log import read_log_lines
from catalogue.store.engine import Archive
from catalogue.store.tables.rolls import Frame

LOG = """frame,taken,shutter,aperture,focal length,caption,place,notes,lens
1,2031-05-14 13:05,1/250,f/8,,Ferry at the pier,Lower Harbour,wind,Merrow 50 mm
2-3,2031-05-14 13:10:30+02:00,2s,"5,6",,Ropes,,,
4,2031-05-15,B,,35,,,,
5,,0.3 s,,,=1+1,,,
"""
# 10:00 to 10:20 UTC, going east by a hundredth of a degree a minute; GPX 1.1 (from memory of its schema).
TRACK = Track.parse(
    (
        '<gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>'
        + "".join(f'<trkpt lat="48" lon="{16 + n / 100}"><time>2031-05-14T10:{n:02}:00Z</time></trkpt>' for n in range(0, 21, 2))
        + "</trkseg></trk></gpx>"
    ).encode()
)


@pytest.fixture
def rows(session: Session) -> dict[str, Frame]:
    """The frames of roll 2031-001, 00 and 1 to 6, with something known of frame 1 before."""
    registered(session, "00,1-6", number="2031-001", captions={"1": "Before", "5": "Before"}, exposed="2031-05")
    found = {f.label: f for f in session.exec(select(Frame))}
    found["1"].notes, found["1"].aperture, found["4"].lens = "kept?", 16.0, "Merrow 90 mm"
    session.flush()
    return found


def log(text: str, **how: object) -> LogReading:
    return read_log_csv(text.encode(), **how)  # type: ignore[arg-type]


def test_what_was_noted_stands_at_the_frames_and_the_rest_stays(session: Session, rows: dict[str, Frame]) -> None:
    done = apply_log(session, "2031-001", log(LOG), zone=zone_named("+02:00"))
    assert (done.frames, done.placed, len(done.notes)) == (5, 0, 1)
    assert done.words.startswith("5 frames noted. Line 5: The caption begins with “=” and is kept as text")
    first = rows["1"]
    assert (first.caption, first.place, first.notes, first.lens) == ("Ferry at the pier", "Lower Harbour", "wind", "Merrow 50 mm")
    assert (first.shutter, first.aperture, first.taken_at) == ("1/250", 8.0, "2031-05-14T13:05:00+02:00")
    assert (first.exposed_from, first.exposed_to) == ("2031-05-14", "2031-05-14")
    for label in ("2", "3"):
        assert (rows[label].shutter, rows[label].aperture, rows[label].caption) == ("2 s", 5.6, "Ropes")
        assert rows[label].taken_at == "2031-05-14T13:10:30+02:00"
    assert (rows["4"].shutter, rows["4"].exposed, rows["4"].taken_at) == ("B", "2031-05-15", "")
    assert rows["4"].lens == "Merrow 90 mm"  # a focal length doesn't push out a lens that is named
    assert (rows["5"].shutter, rows["5"].caption, rows["5"].exposed) == ("3/10", "=1+1", "")
    assert (rows["6"].caption, rows["6"].shutter, rows["00"].taken_at) == ("", "", "")
    apply_log(session, "2031-001", log("frame,place\n1,Upper Harbour\n"))
    assert (first.caption, first.place, first.notes, first.shutter) == ("Ferry at the pier", "Upper Harbour", "wind", "1/250")
    assert first.taken_at == "2031-05-14T13:05:00+02:00"


def test_a_typed_log_does_as_well(session: Session, rows: dict[str, Frame]) -> None:
    from datetime import date

    typed = read_log_lines("1: 13:05 1/60 f/11 Gate", day=date(2031, 5, 14))
    assert typed.usable, typed.faults
    apply_log(session, "2031-001", typed)
    assert (rows["1"].shutter, rows["1"].aperture, rows["1"].taken_at) == ("1/60", 11.0, "2031-05-14T13:05:00+00:00")


def test_what_was_noted_is_found(session: Session, rows: dict[str, Frame]) -> None:
    assert find(session, "ferry").hits == ()
    apply_log(session, "2031-001", log(LOG))
    for words, label in (("ferry", "1"), ("lower harbour", "1"), ("wind", "1"), ("merrow 50", "1")):
        assert [h.frame for h in find(session, words).hits] == [label], words
    assert {h.frame for h in find(session, "ropes").hits} == {"2", "3"}
    assert "1" not in {h.frame for h in find(session, "before").hits}  # what it was called before is gone
    hit = find(session, "ferry").hits[0]
    assert hit.address is not None
    assert (hit.address.slot, hit.address.place) == (1, 2)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("frame,shutter\n1,1/250\n2,250\n3,x\n", ["Line 3: “250” may be", "Line 4: “x” is not a shutter time"]),
        (
            "frame,caption\n1,a\n7,b\n2,c\n8-9,d\n",
            ["Line 3: roll 2031-001 has no frame 7.", "Line 5: roll 2031-001 has no frame 8.", "has no frame 9."],
        ),
        ("frame,caption\n1,a\n1,b\n", ["Line 3: Frame 1 is named in line 2 already"]),
        ("frame,taken\n1,2031-05-14 13:05\n2,13:10\n", ["Line 3: “13:10” is a time without a date"]),
        ("frame,caption\n", ["no line with a frame"]),
    ],
)  # fmt: skip
def test_every_fault_is_told_with_its_line_and_nothing_is_written(
    session: Session, rows: dict[str, Frame], text: str, told: list[str]
) -> None:
    before = get_roll(session, "2031-001")
    with pytest.raises(InvalidInput) as refused:
        apply_log(session, "2031-001", log(text))
    for sentence in told:
        assert sentence in str(refused.value)
    assert not session.dirty
    assert get_roll(session, "2031-001") == before


@pytest.mark.parametrize(
    ("times", "zone", "line", "sentence"),
    [
        # Europe/Paris in 2025 by the tz database: clocks go forward on 30 March at 2:00 and back on 26 October at 3:00.
        (("2025-03-30 12:00", "2025-03-30 02:30"), "Europe/Paris", 3, "doesn't exist"),
        (("2025-10-26 12:00", "2025-10-26 02:30"), "Europe/Paris", 3, "exists twice"),
        (("2031-05-14 12:00", "9999-12-31 23:59"), "-02:00", 3, "outside the calendar"),
        (("0001-01-01 00:01", "2031-05-14 12:00"), "+02:00", 2, "outside the calendar"),
    ],
)
def test_a_time_that_never_was_stops_the_whole_log(
    session: Session, rows: dict[str, Frame], times: tuple[str, str], zone: str, line: int, sentence: str
) -> None:
    text = f"frame,taken,caption\n1,{times[0]},One\n2,{times[1]},Two\n"
    with pytest.raises(InvalidInput, match=f"Line {line}: .*{sentence}"):
        apply_log(session, "2031-001", log(text), zone=zone_named(zone), track=TRACK)
    assert not session.dirty
    assert (rows["1"].caption, rows["1"].taken_at) == ("Before", "")


def test_an_unknown_roll_is_said_and_a_former_number_does(session: Session, rows: dict[str, Frame]) -> None:
    with pytest.raises(NotFound):
        apply_log(session, "2031-099", log(LOG))
    with pytest.raises(InvalidInput, match="no line with a frame"):
        apply_log(session, "2031-001", LogReading((), ()))


@pytest.mark.parametrize(
    ("text", "offset_s"),
    [("", 0), ("UTC", 0), ("z", 0), ("+02:00", 7200), ("-0530", -19800), (" Europe/Paris ", 7200), ("Asia/Kathmandu", 20700)],
)
def test_zones_as_they_are_typed(text: str, offset_s: int) -> None:
    # In May: Paris is two hours, Kathmandu five and three quarters ahead (tz database).
    assert datetime(2025, 5, 14, 12, tzinfo=zone_named(text)).utcoffset() == timedelta(seconds=offset_s)


@pytest.mark.parametrize("text", ["Nowhere/Here", "+2", "+99:00", "../../etc/passwd", "Europe", "\0", "é" * 300, "12:00"])
def test_zones_that_are_none_are_refused(text: str) -> None:
    with pytest.raises(InvalidInput, match="is no time zone known here"):
        zone_named(text)


def test_a_clock_that_was_off_is_put_right_in_time_and_date(session: Session, rows: dict[str, Frame]) -> None:
    # The notebook's clock was ten minutes slow: what it says is earlier than it was.
    text = "frame,taken\n1,2031-05-14 23:55\n2,2031-05-14 12:00\n"
    apply_log(session, "2031-001", log(text), zone=timezone(timedelta(hours=2)), clock_offset=timedelta(minutes=10))
    assert rows["1"].taken_at == "2031-05-15T00:05:00+02:00"
    assert (rows["1"].exposed_from, rows["1"].exposed_to) == ("2031-05-15", "2031-05-15")
    assert rows["1"].exposed.startswith("2031-05-15")
    assert rows["2"].taken_at == "2031-05-14T12:10:00+02:00"
    assert rows["2"].exposed_from == "2031-05-14"


def test_a_track_places_the_frames(session: Session, rows: dict[str, Frame]) -> None:
    text = "frame,taken\n1,2031-05-14 12:05\n2-3,2031-05-14T10:10:30Z\n4,2031-05-14 18:00\n5,2031-05-14\n"
    done = apply_log(session, "2031-001", log(text), zone=zone_named("+02:00"), track=TRACK)
    assert (done.frames, done.placed) == (5, 3)
    # 10:05 UTC lies 5 minutes along, 10:10:30 ten and a half; a hundredth of a degree each minute.
    assert (rows["1"].latitude, rows["1"].longitude) == (48.0, pytest.approx(16.05))
    assert rows["2"].longitude == rows["3"].longitude == pytest.approx(16.105)
    assert rows["4"].latitude is None
    assert done.notes == ("The track has no point near frame 4.",)
    assert done.words == "5 frames noted, 3 of them placed by the track. The track has no point near frame 4."


def test_the_clock_and_the_longest_gap_count_for_the_track(session: Session, rows: dict[str, Frame]) -> None:
    text = "frame,taken\n1,2031-05-14 10:00\n2,2031-05-14 10:25\n"
    done = apply_log(session, "2031-001", log(text), track=TRACK, clock_offset=timedelta(minutes=3), max_gap=timedelta(minutes=8))
    assert rows["1"].longitude == pytest.approx(16.03)
    assert rows["2"].longitude == pytest.approx(16.20)  # 8 minutes behind the last point
    assert done.placed == 2
    with pytest.raises(InvalidInput, match="can't be less than 0"):
        apply_log(session, "2031-001", log(text), track=TRACK, max_gap=timedelta(minutes=-1))


def test_a_date_given_later_without_a_time_is_the_one_that_holds(session: Session, rows: dict[str, Frame]) -> None:
    apply_log(session, "2031-001", log("frame,taken\n1,2031-05-14 13:05\n2,2031-05-14 13:05\n3,2031-05-14 13:05\n"))
    apply_log(session, "2031-001", log("frame,taken\n1,2031-06-01\n"))
    assert (rows["1"].exposed, rows["1"].taken_at) == ("2031-06-01", "")
    update_frame(session, "2031-001", "2", FrameChanges(exposed="2031-06-02"))
    assert (rows["2"].exposed, rows["2"].taken_at) == ("2031-06-02", "")
    update_frame(
        session, "2031-001", "3", FrameChanges(exposed=rows["3"].exposed, caption="Gate")
    )  # a form hands back all it shows
    assert rows["3"].taken_at == "2031-05-14T13:05:00+00:00"


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (Fraction(1, 250), "1/250"), (Fraction(3, 10), "3/10"), (Fraction(1), "1 s"), (Fraction(5, 2), "2.5 s"),
        (Fraction(90), "90 s"), (Fraction(3600 * 24 * 30), "2592000 s"), (Fraction(30_000_000), "500000 min"),
        (Fraction("0.0005"), "1/2000"),
        (Fraction("1234567.5"), "1234567.5 s"), (Fraction("0.333333"), "0.333333 s"), (Fraction(4, 3), "1.333333 s"),
    ],
)  # fmt: skip
def test_shutter_times_are_written_so_that_they_can_be_read_again(seconds: Fraction, text: str) -> None:
    written = shutter_text(LogLine(line=1, frames=("1",), shutter_s=seconds))
    assert written == text
    assert parse_shutter(written)[0] == pytest.approx(seconds, rel=1e-6)


def test_bulb_and_nothing() -> None:
    assert shutter_text(LogLine(line=1, frames=("1",), bulb=True)) == "B"
    assert shutter_text(LogLine(line=1, frames=("1",))) == ""


def test_hints_come_along(session: Session, rows: dict[str, Frame]) -> None:
    registered(session, "0-3", number="2031-002")
    done = apply_log(session, "2031-002", log("frame,caption\n0,a\n"))
    assert "00" in done.words
    assert done.words.startswith("1 frames noted. Line 2: Frame 0 is named and 00 isn't")


def test_it_lasts(archive: Archive, tmp_path: Path) -> None:
    with archive.session() as session:
        registered(session, 2, number="2031-001")
        apply_log(session, "2031-001", log("frame,taken,shutter\n1,2025-05-14 13:05,1/8\n"), zone=ZoneInfo("Europe/Paris"))
    with archive.session(reading=True) as session:
        row = session.exec(select(Frame).where(Frame.label == "1")).one()
        assert datetime.fromisoformat(row.taken_at).astimezone(UTC) == datetime(2025, 5, 14, 11, 5, tzinfo=UTC)
        assert row.shutter == "1/8"
