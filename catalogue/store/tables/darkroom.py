"""Tables of what is done with a frame under the enlarger: the choice on a proof, and every print made of it."""

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, SQLModel

from catalogue.store.tables.rolls import _check


class ChoiceRow(SQLModel, table=True):
    """Whether a frame is a select, and its crop in parts of the picture as the frame lies on the film.

    A frame about which nothing is marked has no row.
    """

    __tablename__ = "frame_choice"
    __table_args__ = (
        _check(
            "(crop_left IS NULL) = (crop_top IS NULL) AND (crop_left IS NULL) = (crop_right IS NULL)"
            " AND (crop_left IS NULL) = (crop_bottom IS NULL)",
            "crop_whole",
        ),
        _check(
            "crop_left >= 0 AND crop_left < crop_right AND crop_right <= 1"
            " AND crop_top >= 0 AND crop_top < crop_bottom AND crop_bottom <= 1",
            "crop",
        ),
        _check("selected OR crop_left IS NOT NULL", "says_something"),
    )
    frame_id: int = Field(foreign_key="frame.id", primary_key=True)
    selected: bool = False
    crop_left: float | None = None
    crop_top: float | None = None
    crop_right: float | None = None
    crop_bottom: float | None = None


class PrintRow(SQLModel, table=True):
    """One print of a frame: lengths in mm, time in seconds, the date as EDTF text with its bounds as elsewhere."""

    __tablename__ = "print_record"
    __table_args__ = (
        _check("height_mm > 0 AND height_mm <= 3000", "height"),
        _check("base_time_s > 0 AND base_time_s <= 86400", "time"),
        _check("(print_width_mm IS NULL) = (print_height_mm IS NULL)", "size_whole"),
        _check("print_width_mm BETWEEN 5 AND 3000 AND print_height_mm BETWEEN 5 AND 3000", "size"),
    )
    id: int | None = Field(default=None, primary_key=True)
    frame_id: int = Field(foreign_key="frame.id", index=True)
    enlarger: str = ""
    lens: str = ""
    height_mm: float | None = None
    """The enlarger's height as its scale has it."""
    aperture: str = ""
    paper: str = ""
    grade: str = ""
    base_time_s: float | None = None
    developer: str = ""
    print_width_mm: float | None = None
    print_height_mm: float | None = None
    printed: str = ""
    printed_from: str | None = None
    printed_to: str | None = None
    notes: str = ""
    recorded_at: str


class PrintMarkRow(SQLModel, table=True):
    """A burn or a dodge of a print; the area is left, top, width, height in parts of the print."""

    __tablename__ = "print_mark"
    __table_args__ = (
        UniqueConstraint("print_id", "position"),
        _check("kind IN ('burn', 'dodge')", "kind"),
        _check("position BETWEEN 1 AND 12", "position"),
        _check(
            "(area_x IS NULL) = (area_y IS NULL) AND (area_x IS NULL) = (area_w IS NULL) AND (area_x IS NULL) = (area_h IS NULL)",
            "area_whole",
        ),
        _check(
            "area_x >= 0 AND area_y >= 0 AND area_w > 0 AND area_h > 0 AND area_x + area_w <= 1.0001"
            " AND area_y + area_h <= 1.0001",
            "area",
        ),
    )
    id: int | None = Field(default=None, primary_key=True)
    print_id: int = Field(foreign_key="print_record.id", index=True)
    position: int
    kind: str
    place: str = ""
    change: str = ""
    area_x: float | None = None
    area_y: float | None = None
    area_w: float | None = None
    area_h: float | None = None
