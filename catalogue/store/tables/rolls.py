"""All tables. Rules that must hold are CHECK, UNIQUE and FOREIGN KEY constraints.

The constructor of a table class does not validate; operations check input
before they build rows, and the constraints stand behind them. Dates are kept as
the EDTF text and its bounds as ISO days (NULL for an open or unknown end).
"""

from sqlalchemy import CheckConstraint, MetaData, UniqueConstraint
from sqlmodel import Field, SQLModel

# Named constraints, so that migrations can speak of them.
SQLModel.metadata.naming_convention = MetaData(
    naming_convention={
        "ix": "ix_%(column_0_label)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s",
        "pk": "pk_%(table_name)s",
    }
).naming_convention


def _check(rule: str, name: str) -> CheckConstraint:
    return CheckConstraint(rule, name=name)


class Setting(SQLModel, table=True):
    """One setting of the archive."""

    key: str = Field(primary_key=True)
    value: str


class OwnFormat(SQLModel, table=True):
    """A film format that the person defined, as JSON."""

    __tablename__ = "own_format"
    key: str = Field(primary_key=True)
    data: str


class OwnLayout(SQLModel, table=True):
    """A sleeve page that the person measured, as JSON."""

    __tablename__ = "own_layout"
    key: str = Field(primary_key=True)
    data: str


class Binder(SQLModel, table=True):
    """A ring binder on the shelf."""

    __table_args__ = (_check("trim(name) <> ''", "name"),)
    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(unique=True)
    notes: str = ""
    position: int = 0


class Page(SQLModel, table=True):
    """A sleeve page in a binder."""

    __table_args__ = (
        UniqueConstraint("binder_id", "number"),
        _check("ring_side IN ('left', 'right')", "ring_side"),
        _check("number >= 1", "number"),
    )
    id: int | None = Field(default=None, primary_key=True)
    binder_id: int = Field(foreign_key="binder.id", index=True)
    number: int
    layout_key: str
    ring_side: str
    turned: bool = False
    notes: str = ""


class Roll(SQLModel, table=True):
    """A roll: what it is. Measured values stand in for the format's nominal ones."""

    __table_args__ = (
        _check("trim(number) <> ''", "number"),
        _check("measured_along_mm > 0 AND measured_across_mm > 0 AND measured_pitch_mm > 0", "measured"),
    )
    id: int | None = Field(default=None, primary_key=True)
    number: str = Field(unique=True)
    number_sort: str = Field(index=True)
    format_key: str
    measured_along_mm: float | None = None
    measured_across_mm: float | None = None
    measured_pitch_mm: float | None = None
    stock: str = ""
    camera: str = ""
    lens: str = ""
    exposed: str = ""
    exposed_from: str | None = None
    exposed_to: str | None = None
    processed: str = ""
    processed_from: str | None = None
    processed_to: str | None = None
    sleeved: str = ""
    sleeved_from: str | None = None
    sleeved_to: str | None = None
    subject: str = ""
    place: str = ""
    keywords: str = ""
    notes: str = ""
    created_at: str


class FormerNumber(SQLModel, table=True):
    """A number that a roll had before; never issued again."""

    __tablename__ = "former_number"
    id: int | None = Field(default=None, primary_key=True)
    roll_id: int = Field(foreign_key="roll.id", index=True)
    number: str = Field(unique=True)
    changed_at: str


class NumberGap(SQLModel, table=True):
    """A number with no roll, and why."""

    __tablename__ = "number_gap"
    __table_args__ = (_check("trim(reason) <> ''", "reason"),)
    number: str = Field(primary_key=True)
    reason: str


class IssuedNumber(SQLModel, table=True):
    """A roll number that was issued, to a roll that has it or had it, or to a gap; the key keeps it from being issued again."""

    __tablename__ = "issued_number"
    folded: str = Field(primary_key=True)
    """The number without regard to case."""
    number: str
    sort: str = Field(index=True)
    squeezed: str = Field(index=True)
    """Letters and groups of digits alone, as references are compared."""
    tail: str = Field(index=True)
    """Its last part, where there are others before it: what stands for the number in short."""
    roll_id: int | None = Field(default=None, foreign_key="roll.id", index=True)


class Frame(SQLModel, table=True):
    """A frame of a roll; `position` is its order on the film, from 1."""

    __table_args__ = (
        UniqueConstraint("roll_id", "label"),
        UniqueConstraint("roll_id", "position"),
        _check("state IN ('picture', 'blank', 'partial', 'overlapped', 'double', 'cut in two')", "state"),
        _check("position >= 1 AND trim(label) <> ''", "position"),
        _check("length_mm > 0", "length"),
        _check("latitude BETWEEN -90 AND 90 AND longitude BETWEEN -180 AND 180 AND aperture > 0", "log"),
    )
    id: int | None = Field(default=None, primary_key=True)
    roll_id: int = Field(foreign_key="roll.id", index=True)
    label: str
    position: int
    state: str = "picture"
    start_mm: float | None = None
    length_mm: float | None = None
    caption: str = ""
    subject: str = ""
    place: str = ""
    keywords: str = ""
    lens: str = ""
    exposed: str = ""
    exposed_from: str | None = None
    exposed_to: str | None = None
    notes: str = ""
    taken_at: str = ""
    """When it was taken to the minute or second, ISO 8601 with its offset, from a frame log."""
    shutter: str = ""
    aperture: float | None = None
    latitude: float | None = None
    longitude: float | None = None


class Strip(SQLModel, table=True):
    """A strip cut from a roll and where it lies; page and slot are both set or both empty."""

    __table_args__ = (
        UniqueConstraint("roll_id", "position"),
        _check("(page_id IS NULL) = (slot IS NULL)", "place"),
        _check("length_mm > 0 AND offset_mm >= 0 AND (slot IS NULL OR slot >= 1)", "measures"),
    )
    id: int | None = Field(default=None, primary_key=True)
    roll_id: int = Field(foreign_key="roll.id", index=True)
    position: int
    length_mm: float
    page_id: int | None = Field(default=None, foreign_key="page.id", index=True)
    slot: int | None = None
    offset_mm: float = 0.0
    upside_down: bool = False
    turned_over: bool = False
    out: bool = False
    out_reason: str = ""
    out_since: str = ""
    due: str = ""


class StripFrame(SQLModel, table=True):
    """Which frames lie on a strip; a frame cut in two lies on two."""

    __tablename__ = "strip_frame"
    __table_args__ = (_check("part IN ('whole', 'head', 'tail')", "part"),)
    strip_id: int = Field(foreign_key="strip.id", primary_key=True)
    frame_id: int = Field(foreign_key="frame.id", primary_key=True, index=True)
    position: int
    start_mm: float
    part: str = "whole"


class StripMove(SQLModel, table=True):
    """Something that was done with a strip; kept for ever."""

    __tablename__ = "strip_move"
    id: int | None = Field(default=None, primary_key=True)
    strip_id: int = Field(foreign_key="strip.id", index=True)
    at: str
    what: str
    from_page_id: int | None = None
    from_slot: int | None = None
    to_page_id: int | None = None
    to_slot: int | None = None
    why: str = ""


class ProcessRecord(SQLModel, table=True):
    """How a roll was processed; temperature in °C, time in seconds."""

    __tablename__ = "process_record"
    __table_args__ = (_check("temperature_c BETWEEN 0 AND 60 AND time_s > 0", "measures"),)
    roll_id: int = Field(foreign_key="roll.id", primary_key=True)
    process: str = ""
    developer: str = ""
    dilution: str = ""
    temperature_c: float | None = None
    time_s: int | None = None
    push_stops: float | None = None
    done_on: str = ""
    done_by: str = ""
    notes: str = ""
