"""The archive folder and its database: opened, migrated after a backup, and handed out as sessions."""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event, text
from sqlalchemy.exc import DatabaseError
from sqlmodel import Session

from catalogue.errors import ArchiveProblem

DATABASE_NAME = "stripleaf.db"
_MIGRATIONS = Path(__file__).parent / "migrations"


@dataclass(frozen=True)
class Archive:
    """One archive: everything of it lies in `folder`."""

    folder: Path
    engine: Engine

    @contextmanager
    def session(self, *, reading: bool = False) -> Iterator[Session]:
        """A session that commits at the end and rolls back on any error.

        Sessions wait for one another, up to 15 s; don't open one inside another.
        With `reading` it waits for nobody, and must not write.
        """
        engine = self.engine.execution_options(reading=reading)
        with Session(engine, info={"folder": self.folder}) as session:
            try:
                yield session
                session.commit()
            except BaseException:
                session.rollback()
                raise

    def close(self) -> None:
        """Lets go of the database file."""
        self.engine.dispose()


def _engine(path: Path) -> Engine:
    engine = create_engine(f"sqlite:///{path}", connect_args={"timeout": 15, "check_same_thread": False})

    @event.listens_for(engine, "connect")
    def _on_connect(connection: Any, _record: Any) -> None:
        # The `begin` listener below opens transactions, so that DDL rolls back too.
        connection.isolation_level = None
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA synchronous=FULL")
        connection.execute("PRAGMA foreign_keys=ON")

    @event.listens_for(engine, "begin")
    def _on_begin(connection: Connection) -> None:
        # A transaction that reads first and writes later fails at once ("database is locked")
        # if another wrote in between; one that takes the lock at its start waits its turn.
        reading = connection.get_execution_options().get("reading", False)
        connection.exec_driver_sql("BEGIN" if reading else "BEGIN IMMEDIATE")

    return engine


def revisions() -> list[str]:
    """The structures that a database can have, oldest first; each is the first four signs of its file's name."""
    return sorted(file.name[:4] for file in _MIGRATIONS.glob("versions/[0-9]*.py"))


def open_archive(folder: Path, *, create: bool = True) -> Archive:
    """Opens the archive, making folder and database where there are none.

    A database of an older structure is copied to backups/ and then migrated.
    Raises `ArchiveProblem` for a folder that can't be used, a file that is no
    database, and a database of a newer version.
    """
    folder = folder.expanduser().absolute()
    path = folder / DATABASE_NAME
    if not create and not path.is_file():
        raise ArchiveProblem(f"There is no archive in {folder}. Check the folder, or start one with: stripleaf serve.")
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise ArchiveProblem(f"The archive folder {folder} can't be made: {problem.strerror}. Choose another.") from problem
    engine = _engine(path)
    try:
        _migrate(engine, path)
    except (DatabaseError, sqlite3.Error) as problem:
        engine.dispose()
        raise ArchiveProblem(
            f"{path} can't be read as an archive ({problem.__cause__ or problem}). Restore a backup copy."
        ) from problem
    except ArchiveProblem:
        engine.dispose()
        raise
    return Archive(folder, engine)


def _migrate(engine: Engine, path: Path) -> None:
    known = revisions()
    head = known[-1]
    with engine.connect() as connection:
        names = {row[0] for row in connection.execute(text("SELECT name FROM sqlite_master WHERE type = 'table'"))}
        now = None
        if "alembic_version" in names:
            now = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
    if now == head:
        return
    if now is not None and now not in known:
        raise ArchiveProblem(
            f"{path} was written by a newer version of Stripleaf (structure {now}). Install that version; nothing was changed."
        )
    if names and "alembic_version" not in names:
        raise ArchiveProblem(f"{path} is a database of something else. Choose another folder; nothing was changed.")
    if names - {"alembic_version"}:
        backup(engine, path.parent / "backups" / f"before-{head}-{datetime.now(UTC):%Y%m%dT%H%M%S}.db")
    from alembic import command  # takes as long to import as the rest of the store; here, where there is work for it
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(_MIGRATIONS).replace("%", "%%"))
    with engine.connect() as connection:
        # With foreign keys on, rebuilding a table deletes its child rows by cascade.
        connection.connection.driver_connection.execute("PRAGMA foreign_keys=OFF")  # type: ignore[union-attr]
        with connection.begin():
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
            broken = connection.execute(text("PRAGMA foreign_key_check")).fetchall()
            if broken:
                raise ArchiveProblem(f"{path} holds {len(broken)} rows that point nowhere; it was left as it was.")
        connection.connection.driver_connection.execute("PRAGMA foreign_keys=ON")  # type: ignore[union-attr]


def backup(engine: Engine, target: Path) -> None:
    """Copies the running database to a file, whole and consistent."""
    target.parent.mkdir(parents=True, exist_ok=True)
    source = engine.raw_connection()
    try:
        copy = sqlite3.connect(target)
        try:
            source.driver_connection.backup(copy)  # type: ignore[union-attr]
        finally:
            copy.close()
    finally:
        source.close()
