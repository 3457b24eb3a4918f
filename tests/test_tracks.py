"""Tracks: positions worked out by hand, times with zones, and files that are refused."""

import tracemalloc
from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from gpxpy.gpx import GPX, GPXTrack, GPXTrackPoint, GPXTrackSegment
from hypothesis import given
from hypothesis import strategies as st

from catalogue.errors import InvalidInput
from catalogue.scans.log import tracks
from catalogue.scans.log.tracks import Track, TrackPoint, in_zone, offset_from

# The namespace of GPX 1.1 and the order of ele and time in a point as its schema has them (from memory).
HEAD = '<?xml version="1.0" encoding="UTF-8"?><gpx version="1.1" creator="invented" xmlns="http://www.topografix.com/GPX/1/1">'


def gpx(*segments: str) -> bytes:
    inside = "".join(f"<trkseg>{segment}</trkseg>" for segment in segments)
    return f"{HEAD}<trk>{inside}</trk></gpx>".encode()


def point(lat: object, lon: object, time: str = "", ele: object = None) -> str:
    height = "" if ele is None else f"<ele>{ele}</ele>"
    return f'<trkpt lat="{lat}" lon="{lon}">{height}' + (f"<time>{time}</time>" if time else "") + "</trkpt>"


WALK = gpx(
    point(48.0, 16.0, "2031-05-14T10:00:00Z", 100) + point(48.1, 16.2, "2031-05-14T10:01:40Z", 150),
    point(49.0, 17.0, "2031-05-14T10:10:00Z") + point(49.0, 17.0, "2031-05-14T10:20:00Z"),
)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


@pytest.mark.parametrize(
    ("moment", "latitude", "longitude", "elevation", "gap", "interpolated"),
    [
        ("2031-05-14T10:00:00+00:00", 48.0, 16.0, 100, 0, False),
        # A quarter of 100 s: 48 + 0.1/4, 16 + 0.2/4, 100 + 50/4.
        ("2031-05-14T10:00:25+00:00", 48.025, 16.05, 112.5, 25, True),
        ("2031-05-14T12:01:15+02:00", 48.075, 16.15, 137.5, 25, True),
        ("2031-05-14T09:59:50+00:00", 48.0, 16.0, 100, 10, False),
        # Between two segments: the nearer end, 200 s after one and 300 s before the other.
        ("2031-05-14T10:05:00+00:00", 48.1, 16.2, 150, 200, False),
        ("2031-05-14T10:06:40+00:00", 49.0, 17.0, None, 200, False),
        ("2031-05-14T10:15:00+00:00", 49.0, 17.0, None, 300, True),
        ("2031-05-14T10:24:59+00:00", 49.0, 17.0, None, 299, False),
    ],
)
def test_positions_worked_out_by_hand(
    moment: str, latitude: float, longitude: float, elevation: float | None, gap: float, interpolated: bool
) -> None:
    fix = Track.parse(WALK).place_at(at(moment), max_gap=timedelta(minutes=5))
    assert fix is not None
    assert (fix.latitude, fix.longitude) == (pytest.approx(latitude, abs=1e-12), pytest.approx(longitude, abs=1e-12))
    assert fix.elevation_m == (None if elevation is None else pytest.approx(elevation))
    assert (fix.gap_s, fix.interpolated) == (gap, interpolated)
    assert fix.moment == at(moment) and fix.moment.tzinfo is UTC


@pytest.mark.parametrize("moment", ["2031-05-14T09:54:59+00:00", "2031-05-14T10:25:01+00:00", "2030-05-14T10:00:00+00:00"])
def test_too_far_from_any_trackpoint(moment: str) -> None:
    assert Track.parse(WALK).place_at(at(moment), max_gap=timedelta(minutes=5)) is None


def test_the_gap_is_to_the_nearest_trackpoint() -> None:
    track = Track.parse(WALK)
    middle = at("2031-05-14T10:00:50+00:00")
    assert track.place_at(middle, max_gap=timedelta(seconds=49)) is None
    fix = track.place_at(middle, max_gap=timedelta(seconds=50))
    assert fix is not None and fix.gap_s == 50 and "48.05000, 16.10000" in fix.words and "50 s away" in fix.words


def test_a_clock_that_is_wrong() -> None:
    # It showed 12:01:30 in summer time when it was 10:00:00 UTC: 90 s fast.
    offset = offset_from(at("2031-05-14T12:01:30+02:00"), at("2031-05-14T10:00:00+00:00"))
    assert offset == timedelta(seconds=-90)
    fix = Track.parse(WALK).place_at(at("2031-05-14T12:01:55+02:00"), clock_offset=offset, max_gap=timedelta(minutes=1))
    assert fix is not None and fix.latitude == pytest.approx(48.025) and fix.gap_s == 25
    assert fix.moment == at("2031-05-14T10:00:25+00:00")
    with pytest.raises(InvalidInput, match="has no zone"):
        offset_from(datetime(2031, 5, 14), at("2031-05-14T10:00:00+00:00"))
    with pytest.raises(InvalidInput, match="36525 days wrong"):
        offset_from(at("1931-05-14T10:00:00+00:00"), at("2031-05-14T10:00:00+00:00"))


def test_across_the_180th_meridian() -> None:
    track = Track.parse(gpx(point(0, 179.5, "2031-01-01T00:00:00Z") + point(2, -179.5, "2031-01-01T00:01:40Z")))
    quarter = track.place_at(at("2031-01-01T00:00:25+00:00"))
    assert quarter is not None and (quarter.latitude, quarter.longitude) == (0.5, pytest.approx(179.75))
    later = track.place_at(at("2031-01-01T00:01:15+00:00"))
    assert later is not None and later.longitude == pytest.approx(-179.75)


def test_times_as_loggers_write_them() -> None:
    written = (
        point(1, 1, "2031-05-14T12:00:00+02:00") + point(2, 2, "2031-05-14T10:00:01.5Z") + point(3, 3, "2031-05-14T10:00:02")
    )
    track = Track.parse(gpx(written + point(4, 4) + point(5, 5, "yesterday")))
    seconds = [(p.time - at("2031-05-14T10:00:00+00:00")).total_seconds() for p in track.points]
    assert seconds == [0, 1.5, 2] and track.untimed == 2


def test_points_out_of_order_and_twice() -> None:
    track = Track.parse(
        gpx(point(2, 2, "2031-01-01T00:00:10Z") + point(1, 1, "2031-01-01T00:00:00Z") + point(3, 3, "2031-01-01T00:00:10Z"))
    )
    assert [p.latitude for p in track.points] == [1, 2, 3]
    fix = track.place_at(at("2031-01-01T00:00:10+00:00"))
    assert fix is not None and (fix.latitude, fix.gap_s) == (2, 0)


def test_a_file_written_by_gpxpy_with_extensions_and_version_1_0() -> None:
    made, route, segment = GPX(), GPXTrack(), GPXTrackSegment()
    made.tracks.append(route)
    route.segments.append(segment)
    segment.points.append(GPXTrackPoint(-33.5, 151.25, elevation=4.5, time=datetime(2031, 5, 14, 10, tzinfo=UTC)))
    for version in ("1.0", "1.1"):
        point_read = Track.parse(made.to_xml(version=version).encode()).points[0]
        assert (point_read.latitude, point_read.longitude, point_read.elevation_m) == (-33.5, 151.25, 4.5)
    extra = WALK.replace(
        b"<trk>", b'<trk><name>a xmlns="b" \xce\xa9</name><extensions><o:x xmlns:o="http://o.example/">1</o:x></extensions>'
    )
    assert Track.parse(extra) == Track.parse(WALK)
    assert Track.parse(b"\xef\xbb\xbf" + WALK) == Track.parse(WALK)
    assert Track.parse(WALK.decode().replace("UTF-8", "UTF-16").encode("utf-16")) == Track.parse(WALK)


BOMB = (
    HEAD.replace("<gpx", '<!DOCTYPE gpx [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]><gpx').encode()
    + b"<trk><name>&b;</name></trk></gpx>"
)
OUTSIDE = BOMB.replace(b'<!ENTITY a "aaaa">', b'<!ENTITY a SYSTEM "file:///etc/hostname">')


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "not well-formed"),
        (b"lat,lon,time\n", "not well-formed"),
        (WALK[:-10], "not well-formed"),
        (b"<kml/>", "no GPX track; it begins with “kml”"),
        (WALK.replace(b"http://www.topografix.com/GPX/1/1", b"http://other.example/"), "no GPX track"),
        (BOMB, "entities"),
        (OUTSIDE, "entities"),
        (gpx(""), "no trackpoint with a time"),
        (gpx(point(1, 1)), "no trackpoint with a time"),
        (gpx(point(91, 1, "2031-01-01T00:00:00Z")), "91°, outside ±90°"),
        (gpx(point(1, -180.5, "2031-01-01T00:00:00Z")), "-180.5°, outside ±180°"),
        (gpx(point("nan", 1, "2031-01-01T00:00:00Z")), "outside ±90°"),
        (gpx(point("north", 1, "2031-01-01T00:00:00Z")), "can't be read as GPX"),
        (gpx("<trkpt><time>2031-01-01T00:00:00Z</time></trkpt>"), "can't be read as GPX"),
        (b" " * 40_000_001, "40000001 bytes"),
    ],
)
def test_files_that_are_refused(data: bytes, said: str) -> None:
    with pytest.raises(InvalidInput, match=said):
        Track.parse(data)


def test_too_many_points(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(tracks, "MAX_POINTS", 3)
    with pytest.raises(InvalidInput, match="4 trackpoints"):
        Track.parse(WALK)


def test_a_bomb_takes_no_memory() -> None:
    layers = "".join(f'<!ENTITY a{n} "{f"&a{n - 1};" * 10}">' for n in range(1, 10))
    bomb = f'<!DOCTYPE gpx [<!ENTITY a0 "aaaaaaaaaa">{layers}]><gpx xmlns="http://www.topografix.com/GPX/1/1">&a9;</gpx>'
    tracemalloc.start()
    try:
        with pytest.raises(InvalidInput, match="entities"):
            Track.parse(bomb.encode())
        assert tracemalloc.get_traced_memory()[1] < 5_000_000
    finally:
        tracemalloc.stop()


def test_what_place_at_refuses() -> None:
    track = Track.parse(WALK)
    with pytest.raises(InvalidInput, match="has no zone"):
        track.place_at(datetime(2031, 5, 14, 10))
    with pytest.raises(InvalidInput, match="-1 s"):
        track.place_at(at("2031-05-14T10:00:00+00:00"), max_gap=timedelta(seconds=-1))
    with pytest.raises(InvalidInput, match="order of time"):
        Track(tuple(reversed(track.points)))
    with pytest.raises(InvalidInput, match="has no zone"):
        TrackPoint(datetime(2031, 5, 14), 1, 1)


def test_zones_of_noted_times() -> None:
    # IANA time zone database: clocks go forward on 30 March 2025 at 02:00 and back on 26 October at 03:00.
    zone = ZoneInfo("Europe/Vienna")
    assert in_zone(datetime(2025, 7, 1, 12), zone).astimezone(UTC) == datetime(2025, 7, 1, 10, tzinfo=UTC)
    assert in_zone(datetime(2025, 1, 1, 12), zone).astimezone(UTC) == datetime(2025, 1, 1, 11, tzinfo=UTC)
    with pytest.raises(InvalidInput, match="doesn't exist"):
        in_zone(datetime(2025, 3, 30, 2, 30), zone)
    with pytest.raises(InvalidInput, match="exists twice"):
        in_zone(datetime(2025, 10, 26, 2, 30), zone)
    fixed = datetime(2025, 10, 26, 2, 30, tzinfo=timezone(timedelta(hours=1)))
    assert in_zone(fixed, zone) is fixed


@given(
    st.lists(
        st.tuples(st.integers(0, 10_000), st.floats(-90, 90), st.floats(-180, 180), st.integers(0, 2)), min_size=1, max_size=20
    ),
    st.integers(-100, 10_100),
)
def test_the_gap_is_never_larger_than_to_any_point(points: list[tuple[int, float, float, int]], second: int) -> None:
    start = datetime(2031, 1, 1, tzinfo=UTC)
    track = Track(tuple(TrackPoint(start + timedelta(seconds=s), lat, lon, None, seg) for s, lat, lon, seg in sorted(points)))
    fix = track.place_at(start + timedelta(seconds=second), max_gap=timedelta(days=1))
    assert fix is not None
    assert fix.gap_s == min(abs(s - second) for s, *_ in points)
    assert min(p[1] for p in points) - 1e-9 <= fix.latitude <= max(p[1] for p in points) + 1e-9
    assert -180 <= fix.longitude <= 180
