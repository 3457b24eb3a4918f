"""Tables of the print desk: what waits to be printed, and what every leaf bore when it was printed last.

`what` is JSON with sorted keys and every value written out, so that the same thing is the same text.
"""

from sqlalchemy import UniqueConstraint
from sqlmodel import Field, SQLModel

from catalogue.store.tables.rolls import _check


class PrintWish(SQLModel, table=True):
    """A thing that waits in the queue; the lowest position is printed first."""

    __tablename__ = "print_wish"
    __table_args__ = (
        UniqueConstraint("kind", "what"),
        _check("trim(kind) <> '' AND json_valid(what)", "thing"),
        _check("position >= 1", "position"),
    )
    id: int | None = Field(default=None, primary_key=True)
    kind: str
    what: str
    wanted_at: str
    position: int = Field(unique=True)


class PrintedLeaf(SQLModel, table=True):
    """A leaf as it came out of the printer last; `checksum` is of what stands on it, without the date printed."""

    __tablename__ = "printed_leaf"
    __table_args__ = (
        UniqueConstraint("kind", "what", "leaf"),
        _check("trim(kind) <> '' AND json_valid(what)", "thing"),
        _check("trim(leaf) <> '' AND trim(checksum) <> ''", "leaf"),
    )
    id: int | None = Field(default=None, primary_key=True)
    kind: str
    what: str
    leaf: str
    checksum: str
    printed_at: str
