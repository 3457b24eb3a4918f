"""Many rows in few statements: held back with their keys, then written table by table."""

from collections.abc import Callable
from functools import cache
from operator import itemgetter
from typing import Any

from sqlalchemy.dialects import sqlite
from sqlmodel import Session, SQLModel, insert


@cache
def _defaults(table: type[SQLModel]) -> dict[str, Any]:
    return {name: field.default for name, field in table.model_fields.items()}


@cache
def _insert(table: type[SQLModel]) -> tuple[str, Callable[[dict[str, Any]], tuple[Any, ...]]]:
    """The statement, and what takes a row's values in its order; as the driver has them, which is twice as fast."""
    made = insert(table.__table__).compile(dialect=sqlite.dialect())  # type: ignore[attr-defined]
    return str(made), itemgetter(*(made.positiontup or ()))


class Rows:
    """Rows of several tables, written in the order in which their tables first appeared.

    Keys of tables with an `id` are given out here, so that rows can point at one another before they are
    written; that holds in a session that writes, as it has the write lock from its beginning.
    """

    def __init__(self, session: Session) -> None:
        self._session = session
        self._rows: dict[type[SQLModel], list[dict[str, Any]]] = {}
        self._keys: dict[type[SQLModel], int] = {}

    def add(self, table: type[SQLModel], **values: Any) -> dict[str, Any]:
        """A row with the table's defaults for what isn't given, and its key; it may still be changed until `write`."""
        row = _defaults(table) | values
        if "id" in row and row["id"] is None:
            if table not in self._keys:
                last = self._session.connection().exec_driver_sql(f"SELECT max(id) FROM {table.__tablename__}")
                self._keys[table] = last.scalar() or 0
            self._keys[table] += 1
            row["id"] = self._keys[table]
        self._rows.setdefault(table, []).append(row)
        return row

    def write(self) -> None:
        """Writes what is held back."""
        for table, rows in self._rows.items():
            statement, values = _insert(table)
            self._session.connection().exec_driver_sql(statement, [values(row) for row in rows])
        self._rows = {}
        self._keys = {}
