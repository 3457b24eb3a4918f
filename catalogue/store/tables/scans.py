"""Tables of scans: picture files, what they show, readings of folders, positives, and what re-checks found.

A file is known once, by its path in the scan folder; a scan says that a file
shows a frame. Nothing here is ever written into a picture file.
"""

from sqlalchemy import Index, UniqueConstraint, text
from sqlmodel import Field, SQLModel

from catalogue.store.tables.rolls import _check

FILE_STATES = ("there", "changed", "missing")
POLARITIES = ("", "negative", "positive")
SCAN_ROLES = ("master", "working", "cropped", "web")
RUN_STATES = ("reading", "stopped", "read", "linked", "undone")
RUN_FILE_STATES = ("waiting", "read", "refused")
CHECK_RESULTS = ("checked", "changed", "missing", "moved", "back", "accepted")


def _one_of(column: str, known: tuple[str, ...]) -> str:
    return f"{column} IN ({', '.join(repr(k) for k in known)})"


class ScanFile(SQLModel, table=True):
    """A picture file; the path is relative to the scan folder, sizes are in pixels as it stands upright."""

    __tablename__ = "scan_file"
    __table_args__ = (
        _check("width_px > 0 AND height_px > 0", "pixels"),
        _check(_one_of("state", FILE_STATES), "state"),
        # Files that are in trouble are few among many.
        Index("ix_scan_file_trouble", "path", sqlite_where=text("state <> 'there'")),
    )
    id: int | None = Field(default=None, primary_key=True)
    path: str = Field(unique=True)
    sha256: str = Field(index=True)
    byte_size: int = 0
    mtime_ns: int = 0
    kind: str = ""
    width_px: int
    height_px: int
    bits: int = 8
    channels: int = 3
    profile: str = ""
    captured: str = ""
    """When the file says it was digitised, ISO 8601; never the taking date of the frame."""
    stand_camera: str = ""
    """The camera of the copy stand or the scanner, as the file says; never the taking camera."""
    file_date: str = ""
    notes: str = ""
    fingerprint: bytes | None = None
    read_at: str = ""
    checked_at: str = Field(default="", index=True)
    state: str = "there"
    moved_to: str = ""
    """Where a missing file was found again by its SHA-256, until the person approves the move."""


class ReadingRun(SQLModel, table=True):
    """One reading of a folder for one roll: read, proposed, linked with one approval, undone with one press."""

    __tablename__ = "reading_run"
    __table_args__ = (_check(_one_of("state", RUN_STATES), "state"),)
    id: int | None = Field(default=None, primary_key=True)
    folder: str
    roll_id: int | None = Field(default=None, foreign_key="roll.id", index=True)
    state: str = "reading"
    method: str = ""
    """"names", "order" or "pictures": how the proposal was made."""
    pattern: str = ""
    started_at: str
    ended_at: str = ""
    demoted: str = ""
    """Scans that were masters before this reading was tied, as "id id id": undoing makes them masters again."""


class RunFile(SQLModel, table=True):
    """A file of a reading: read or refused with the reason, and the frame proposed for it."""

    __tablename__ = "run_file"
    __table_args__ = (
        UniqueConstraint("run_id", "path"),
        _check(_one_of("state", RUN_FILE_STATES), "state"),
        _check("quarter_turns BETWEEN 0 AND 3 AND sureness BETWEEN 0 AND 1", "proposal"),
    )
    id: int | None = Field(default=None, primary_key=True)
    run_id: int = Field(foreign_key="reading_run.id", index=True)
    position: int
    path: str
    byte_size: int = 0
    state: str = "waiting"
    reason: str = ""
    file_id: int | None = Field(default=None, foreign_key="scan_file.id")
    frame_id: int | None = Field(default=None, foreign_key="frame.id")
    role: str = ""
    sureness: float = 0.0
    doubt: str = ""
    chosen: bool = False
    """Whether the person settled it by hand."""
    mirrored: bool = False
    quarter_turns: int = 0
    inverted: bool = False
    """Against the picture that the frame had before: one is a negative and the other a positive."""


class Scan(SQLModel, table=True):
    """A file that shows a frame; the area is the part of the picture that does, None for all of it.

    Turning by `quarter_turns` clockwise and then mirroring puts the picture right; the
    file itself stays as it is. Area in parts of the upright picture, from its top left.
    """

    __table_args__ = (
        UniqueConstraint("frame_id", "file_id"),
        _check(_one_of("role", SCAN_ROLES), "role"),
        _check("quarter_turns BETWEEN 0 AND 3", "turns"),
        _check(_one_of("polarity", POLARITIES), "polarity"),
        _check("area_w > 0 AND area_h > 0 AND area_x >= 0 AND area_y >= 0", "area"),
        # A frame has one master at most.
        Index("ix_scan_one_master", "frame_id", unique=True, sqlite_where=text("role = 'master'")),
    )
    id: int | None = Field(default=None, primary_key=True)
    frame_id: int = Field(foreign_key="frame.id", index=True)
    file_id: int = Field(foreign_key="scan_file.id", index=True)
    role: str = "master"
    mirrored: bool = False
    quarter_turns: int = 0
    area_x: float | None = None
    area_y: float | None = None
    area_w: float | None = None
    area_h: float | None = None
    polarity: str = ""
    """"negative" or "positive"; empty while nobody said, and then the roll's kind of film decides."""
    balance: str = ""
    """The inversion of this one picture as JSON, where each frame is balanced by itself."""
    fingerprint: bytes | None = None
    """Of the area, where the file shows more than this frame."""
    run_id: int | None = Field(default=None, foreign_key="reading_run.id", index=True)
    linked_at: str


class FilmPositive(SQLModel, table=True):
    """How the negatives of a roll, or of one of its strips, are shown as positives: kind, base and slope as JSON."""

    __tablename__ = "film_positive"
    __table_args__ = (
        Index("ix_film_positive_one_roll", "roll_id", unique=True, sqlite_where=text("strip_id IS NULL")),
        _check(_one_of("exposure", ("common", "each")), "exposure"),
    )
    id: int | None = Field(default=None, primary_key=True)
    roll_id: int = Field(foreign_key="roll.id", index=True)
    strip_id: int | None = Field(default=None, foreign_key="strip.id", unique=True)
    inversion: str
    exposure: str = "each"
    found: str = ""
    """How the base was found, as a sentence."""


class FileEvent(SQLModel, table=True):
    """What a re-check found, kept for ever."""

    __tablename__ = "file_event"
    __table_args__ = (_check(_one_of("what", CHECK_RESULTS), "what"),)
    id: int | None = Field(default=None, primary_key=True)
    at: str
    what: str
    path: str = ""
    file_id: int | None = Field(default=None, foreign_key="scan_file.id", index=True)
    words: str = ""


class DxStock(SQLModel, table=True):
    """The stock that the person named for a DX number."""

    __tablename__ = "dx_stock"
    dx_number: str = Field(primary_key=True)
    stock: str
