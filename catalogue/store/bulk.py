"""Many rows in few statements: held back with their keys, then written table by table."""

from functools import cache
from typing import Any

from sqlmodel import Session, SQLModel, func, insert, select


@cache
def _defaults(table: type[SQLModel]) -> dict[str, Any]:
    return {name: field.default for name, field in table.model_fields.items()}


@cache
def _insert(table: type[SQLModel]) -> Any:
    return insert(table.__table__)  # type: ignore[attr-defined]


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
                self._keys[table] = self._session.exec(select(func.coalesce(func.max(table.id), 0))).one()  # type: ignore[attr-defined]
            self._keys[table] += 1
            row["id"] = self._keys[table]
        self._rows.setdefault(table, []).append(row)
        return row

    def write(self) -> None:
        """Writes what is held back."""
        for table, rows in self._rows.items():
            if rows:
                self._session.connection().execute(_insert(table), rows)
        self._rows = {}
        self._keys = {}
