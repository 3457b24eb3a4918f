"""Tracks of a position logger (GPX 1.1 and 1.0), and where a frame was taken by the time noted for it.

Film cameras have no clock, so the time is the one in the frame log; `offset_from` corrects the watch or the camera
it was read from, once for all frames. Times are zone-aware throughout. Between two trackpoints of one segment the
position is interpolated in a straight line of latitude and longitude; a new segment means the logger was off or had
no reception, so across that the nearest trackpoint is taken. Every position tells how many seconds lie between it and
the nearest trackpoint.
"""

from bisect import bisect_left
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, tzinfo
from math import isfinite

from catalogue.errors import InvalidInput

MAX_BYTES = 40_000_000
MAX_POINTS = 500_000
MAX_OFFSET = timedelta(days=3660)
# The namespaces of the two versions that are about; 1.1 is the current one.
_SPACES = ("http://www.topografix.com/GPX/1/1", "http://www.topografix.com/GPX/1/0")


@dataclass(frozen=True)
class TrackPoint:
    """A measured position: degrees of WGS 84, north and east positive, metres, UTC; `segment` counts from 0."""

    time: datetime
    latitude: float
    longitude: float
    elevation_m: float | None = None
    segment: int = 0

    def __post_init__(self) -> None:
        if self.time.utcoffset() is None:
            raise InvalidInput(f"The time {self.time} of a trackpoint has no zone. GPX times are UTC.")
        for value, most in ((self.latitude, 90), (self.longitude, 180)):
            if not (isfinite(value) and -most <= value <= most):
                raise InvalidInput(f"A trackpoint lies at {value:g}°, outside ±{most}°. Check the track.")


@dataclass(frozen=True)
class Fix:
    """Where a frame was taken; `gap_s` is the time to the nearest trackpoint, in s, and `moment` the true one in UTC."""

    moment: datetime
    latitude: float
    longitude: float
    elevation_m: float | None
    gap_s: float
    interpolated: bool

    @property
    def words(self) -> str:
        """The position with how well it is founded."""
        way = "between two trackpoints, the nearer" if self.interpolated else "the nearest trackpoint,"
        return f"{self.latitude:.5f}, {self.longitude:.5f} ({way} {self.gap_s:g} s away)"


def offset_from(shown: datetime, true: datetime) -> timedelta:
    """What to add to a clock's time to get the true time: true − shown; both zone-aware.

    Raises `InvalidInput` without zones, or for more than ten years.
    """
    for moment in (shown, true):
        _aware(moment)
    offset = true - shown
    if abs(offset) > MAX_OFFSET:
        raise InvalidInput(f"The clock would be {abs(offset).days} days wrong. Check both times.")
    return offset


def _aware(moment: datetime) -> datetime:
    if moment.utcoffset() is None:
        raise InvalidInput(f"The time {moment} has no zone. Say which zone the clock was set to.")
    return moment.astimezone(UTC)


def in_zone(moment: datetime, zone: tzinfo) -> datetime:
    """A noted time with the zone the clock was set to; one that has a zone already is left as it is.

    Raises `InvalidInput` for a time that the zone skips or has twice when clocks change.
    """
    if moment.utcoffset() is not None:
        return moment
    first, second = (moment.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if first.utcoffset() == second.utcoffset():
        return first
    there_and_back = first.astimezone(UTC).astimezone(zone).replace(tzinfo=None)
    what = "exists twice" if there_and_back == moment else "doesn't exist"
    raise InvalidInput(f"The time {moment} {what} in {zone}, because clocks change. Write it with its offset, as in 13:05+02:00.")


@dataclass(frozen=True)
class Track:
    """The timed trackpoints of a file in the order of time; `untimed` tells how many had no time and were left out."""

    points: tuple[TrackPoint, ...]
    untimed: int = 0

    def __post_init__(self) -> None:
        if not self.points:
            raise InvalidInput("The track has no trackpoint with a time, so no frame can be placed by it.")
        if any(later.time < earlier.time for earlier, later in zip(self.points, self.points[1:], strict=False)):
            raise InvalidInput("The trackpoints aren't in the order of time. Sort them first.")

    @classmethod
    def parse(cls, data: bytes) -> "Track":
        """Reads a GPX file; waypoints and routes have no place in time and are passed over.

        A time without a zone is UTC, as GPX prescribes. Raises `InvalidInput` for more than `MAX_BYTES` or
        `MAX_POINTS`, for what isn't GPX, is broken or defines entities, and for impossible positions.
        """
        text = _checked_gpx(data)
        import gpxpy  # loaded where a track is read

        try:
            gpx = gpxpy.parse(text)
        except (gpxpy.gpx.GPXException, ValueError, TypeError, AttributeError, KeyError) as problem:
            raise InvalidInput("The track can't be read as GPX. Export it once more from the logger.") from problem
        points: list[TrackPoint] = []
        untimed = 0
        segments = [segment for track in gpx.tracks for segment in track.segments]
        for number, segment in enumerate(segments):
            for point in segment.points:
                if point.time is None:
                    untimed += 1
                    continue
                zoned = point.time if point.time.utcoffset() is not None else point.time.replace(tzinfo=UTC)
                height = point.elevation if point.elevation is not None and isfinite(point.elevation) else None
                points.append(TrackPoint(zoned.astimezone(UTC), point.latitude, point.longitude, height, number))
        return cls(tuple(sorted(points, key=lambda point: point.time)), untimed)

    def place_at(
        self, moment: datetime, *, clock_offset: timedelta = timedelta(), max_gap: timedelta = timedelta(minutes=5)
    ) -> Fix | None:
        """Where it was at a moment by a clock that is off by `clock_offset` (see `offset_from`).

        None where no trackpoint lies within `max_gap`. Raises `InvalidInput` for a time without a zone or a gap below 0.
        """
        if max_gap < timedelta():
            raise InvalidInput(f"The longest gap is {max_gap.total_seconds():g} s; it can't be less than 0.")
        true = _aware(moment) + clock_offset
        after = bisect_left(self.points, true, key=lambda point: point.time)
        later = self.points[after] if after < len(self.points) else None
        earlier = self.points[after - 1] if after else None
        nearest = min((p for p in (earlier, later) if p is not None), key=lambda point: abs(point.time - true))
        gap = abs(nearest.time - true)
        if gap > max_gap:
            return None
        seconds = gap.total_seconds()
        if gap and earlier and later and earlier.segment == later.segment:
            return _between(earlier, later, true, seconds)
        return Fix(true, nearest.latitude, nearest.longitude, nearest.elevation_m, seconds, False)


def _between(earlier: TrackPoint, later: TrackPoint, true: datetime, gap_s: float) -> Fix:
    part = (true - earlier.time) / (later.time - earlier.time)
    # The short way round where a track crosses the 180th meridian.
    east = (later.longitude - earlier.longitude + 180) % 360 - 180
    longitude = (earlier.longitude + east * part + 180) % 360 - 180
    heights = (earlier.elevation_m, later.elevation_m)
    height = None if heights[0] is None or heights[1] is None else heights[0] + (heights[1] - heights[0]) * part
    return Fix(true, earlier.latitude + (later.latitude - earlier.latitude) * part, longitude, height, gap_s, True)


def _checked_gpx(data: bytes) -> str:
    """The text of a GPX file that is safe to hand to a parser: bounded, well-formed, no entities, the right namespace."""
    from xml.etree.ElementTree import ParseError, tostring

    from defusedxml import DefusedXmlException, ElementTree

    if len(data) > MAX_BYTES:
        raise InvalidInput(f"The track has {len(data)} bytes; up to {MAX_BYTES} are read. Split it by days.")
    try:
        root = ElementTree.fromstring(data, forbid_dtd=True)
    except DefusedXmlException as problem:
        raise InvalidInput("The track defines document types or entities, which GPX never does. It was not read.") from problem
    except (ParseError, ValueError, LookupError) as problem:
        raise InvalidInput(f"The track is not well-formed XML ({problem}). Export it once more from the logger.") from problem
    space = next((space for space in _SPACES if root.tag == f"{{{space}}}gpx"), None)
    if space is None:
        raise InvalidInput(f"The file is no GPX track; it begins with “{root.tag[:60]}”. Choose a file in GPX 1.1 or 1.0.")
    count = sum(1 for _ in root.iter(f"{{{space}}}trkpt"))
    if count > MAX_POINTS:
        raise InvalidInput(f"The track has {count} trackpoints; up to {MAX_POINTS} are read. Split it by days.")
    # Extensions of any maker are dropped, and with them the only prefixes; the version is what the namespace says.
    for element in list(root.iter()):
        element[:] = [child for child in element if child.tag.startswith(f"{{{space}}}")]
        element.tag = element.tag.removeprefix(f"{{{space}}}")
    root.attrib = {"version": space[-3:].replace("/", ".")}
    return tostring(root, encoding="unicode")
