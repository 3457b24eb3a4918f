"""A frame log brought in: when each frame was taken, with what exposure, and where, by hand, from CSV, or by a track."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from fractions import Fraction
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from sqlmodel import Session, select

from catalogue.errors import InvalidInput
from catalogue.rolls.register import dates_for
from catalogue.rolls.rows import roll_row
from catalogue.scans.log.frame_log import LogLine, LogReading
from catalogue.scans.log.tracks import Track, in_zone
from catalogue.store.index import index_roll
from catalogue.store.tables.rolls import Frame


@dataclass(frozen=True)
class Logged:
    """What came of a log: frames written, frames placed by the track, and what was left as it was."""

    frames: int
    placed: int
    notes: tuple[str, ...]

    @property
    def words(self) -> str:
        """The whole as a sentence."""
        placed = f", {self.placed} of them placed by the track" if self.placed else ""
        return f"{self.frames} frames noted{placed}. {' '.join(self.notes)}".strip()


def zone_named(text: str) -> tzinfo:
    """A time zone as typed: a name such as Europe/Paris, or an offset such as +02:00; raises `InvalidInput`."""
    plain = text.strip()
    if plain.upper() in ("", "UTC", "Z"):
        return UTC
    try:
        offset = datetime.strptime(plain, "%z").utcoffset()
        return timezone(offset or timedelta())
    except ValueError:
        pass
    try:
        return ZoneInfo(plain)
    except (ZoneInfoNotFoundError, ValueError, OSError) as problem:
        raise InvalidInput(f"“{plain[:40]}” is no time zone known here. Write for example +02:00 or Europe/Paris.") from problem


def shutter_text(line: LogLine) -> str:
    """A shutter time as photographers write it, and as `parse_shutter` reads it: 1/250, 0.333333 s, 2 s, 500000 min, B."""
    time = line.shutter_s
    if time is None:
        return "B" if line.bulb else ""
    if time < 1 and time.numerator < 1000 and time.denominator < 100_000:
        return str(time)
    return f"{_plain(time)} s" if time < 10_000_000 else f"{_plain(time / 60)} min"


def _plain(number: Fraction) -> str:
    return f"{float(number):.6f}".rstrip("0").rstrip(".")


def _moment(line: LogLine, zone: tzinfo, clock_offset: timedelta) -> datetime | None:
    """The moment by the clock that the log was kept with, in its zone; refuses one that no calendar holds."""
    if line.moment is None:
        return None
    try:
        moment = in_zone(line.moment, zone)
        (moment.astimezone(UTC) + clock_offset).astimezone(moment.tzinfo)
    except OverflowError as problem:
        raise InvalidInput(f"The time {line.moment} lies outside the calendar. Check the year.") from problem
    return moment


def apply_log(
    session: Session,
    number: str,
    log: LogReading,
    *,
    track: Track | None = None,
    zone: tzinfo = UTC,
    clock_offset: timedelta = timedelta(),
    max_gap: timedelta = timedelta(minutes=5),
) -> Logged:
    """Writes a log to the frames of a roll, whole or not at all; what a line leaves open stays as it was.

    A time without a zone is taken in `zone`; `clock_offset` is what the camera's or the notebook's clock was off by.
    Raises `InvalidInput` with every fault and its line where the log can't be used, or names a frame that isn't there.
    """
    roll = roll_row(session, number)
    faults = [f"Line {f.line}: {f.sentence}" for f in log.faults if f.fatal]
    frames = {f.label: f for f in session.exec(select(Frame).where(Frame.roll_id == roll.id))}
    for line in log.lines:
        faults += [f"Line {line.line}: roll {roll.number} has no frame {label}." for label in line.frames if label not in frames]
    moments: dict[int, datetime | None] = {}
    for line in log.lines:
        try:
            moments[line.line] = _moment(line, zone, clock_offset)
        except InvalidInput as problem:
            faults.append(f"Line {line.line}: {problem}")
    if faults or not log.lines:
        raise InvalidInput(" ".join(faults) or "The log has no line with a frame in it.")
    written, placed, notes = set(), 0, [f"Line {f.line}: {f.sentence}" for f in log.faults]
    for line in log.lines:
        moment = moments[line.line]
        fix = track.place_at(moment, clock_offset=clock_offset, max_gap=max_gap) if track and moment else None
        if track and moment and fix is None:
            notes.append(f"The track has no point near frame {', '.join(line.frames)}.")
        for label in line.frames:
            frame = frames[label]
            for name in ("caption", "place", "notes", "lens"):
                if text := getattr(line, name):
                    setattr(frame, name, text)
            if not line.lens and line.focal_length_mm:
                frame.lens = frame.lens or f"{line.focal_length_mm:g} mm"
            if line.taken:
                # The date goes with the clock that was off, past midnight too.
                taken = (line.moment + clock_offset).isoformat() if line.moment and clock_offset else line.taken
                for name, value in dates_for({"exposed": taken}).items():
                    setattr(frame, name, value)
                frame.taken_at = ""  # a moment noted before doesn't stand beside another date
            if moment is not None:
                frame.taken_at = (moment + clock_offset).isoformat()
            frame.shutter = shutter_text(line) or frame.shutter
            frame.aperture = line.aperture or frame.aperture
            if fix is not None:
                frame.latitude, frame.longitude = round(fix.latitude, 7), round(fix.longitude, 7)
                placed += 1
            session.add(frame)
            written.add(label)
    session.flush()
    index_roll(session, roll.id or 0)
    return Logged(len(written), placed, tuple(notes))
