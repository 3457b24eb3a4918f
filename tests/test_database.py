"""The archive folder: made, opened again, shared by several writers, copied before it changes, refused."""

import sqlite3
import threading
from pathlib import Path

import pytest
from alembic.script import ScriptDirectory
from sqlalchemy import text

from catalogue.errors import ArchiveProblem
from catalogue.rolls.file import add_page
from catalogue.settings import get_setting, set_setting
from catalogue.store import engine as database
from catalogue.store.engine import DATABASE_NAME, Archive, backup, open_archive


def test_an_archive_is_made_where_there_was_none_and_keeps_what_it_is_told(tmp_path: Path) -> None:
    first = open_archive(tmp_path / "new" / "archive")
    with first.session() as session:
        set_setting(session, "archive_name", "Νεγκατίφ")
    first.close()
    again = open_archive(tmp_path / "new" / "archive", create=False)
    with again.session() as session:
        assert get_setting(session, "archive_name") == "Νεγκατίφ"
        assert get_setting(session, "nothing", "as usual") == "as usual"
    again.close()
    assert not (again.folder / "backups").exists()  # nothing was migrated, so nothing copied


def test_every_connection_has_its_pragmas(archive: Archive) -> None:
    # https://www.sqlite.org/pragma.html: synchronous 2 is FULL
    with archive.engine.connect() as one, archive.engine.execution_options(reading=True).connect() as two:
        for connection in (one, two):
            found = [
                connection.exec_driver_sql(f"PRAGMA {name}").scalar() for name in ("journal_mode", "synchronous", "foreign_keys")
            ]
            assert found == ["wal", 2, 1]
            connection.rollback()


def test_an_error_undoes_everything_tables_too(archive: Archive) -> None:
    def halfway() -> None:
        with archive.session() as session:
            set_setting(session, "archive_name", "Half")
            session.connection().execute(text("CREATE TABLE half (x)"))
            raise RuntimeError("halfway")

    with pytest.raises(RuntimeError, match="halfway"):
        halfway()
    with archive.session() as session:
        assert get_setting(session, "archive_name") == ""
        names = session.connection().execute(text("SELECT name FROM sqlite_master")).scalars().all()
        assert "half" not in names


def test_writers_that_read_first_wait_for_one_another(archive: Archive) -> None:
    """Each adds one to what it has read; none fails and none is lost."""
    with archive.session() as session:
        set_setting(session, "count", "0")
    problems: list[Exception] = []

    def add() -> None:
        try:
            for _ in range(8):
                with archive.session() as session:
                    set_setting(session, "count", str(int(get_setting(session, "count")) + 1))
        except Exception as problem:
            problems.append(problem)

    threads = [threading.Thread(target=add) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert problems == []
    with archive.session() as session:
        assert get_setting(session, "count") == "32"  # 4 threads × 8


def test_a_reader_does_not_wait_for_a_writer_and_sees_nothing_half_done(archive: Archive) -> None:
    with archive.session() as writer:
        set_setting(writer, "archive_name", "Later")
        with archive.session(reading=True) as reader:
            assert get_setting(reader, "archive_name") == ""


def test_a_database_of_a_newer_version_is_left_alone(archive: Archive) -> None:
    with archive.session() as session:
        session.connection().execute(text("UPDATE alembic_version SET version_num = '9999'"))
    archive.close()
    before = (archive.folder / DATABASE_NAME).read_bytes()
    with pytest.raises(ArchiveProblem, match=r"newer version of Stripleaf \(structure 9999\)"):
        open_archive(archive.folder)
    assert (archive.folder / DATABASE_NAME).read_bytes() == before
    assert not (archive.folder / "backups").exists()


def test_a_database_of_something_else_is_left_alone(tmp_path: Path) -> None:
    other = sqlite3.connect(tmp_path / DATABASE_NAME)
    other.execute("CREATE TABLE recipe (name)")
    other.commit()
    other.close()
    with pytest.raises(ArchiveProblem, match="something else"):
        open_archive(tmp_path)
    after = sqlite3.connect(tmp_path / DATABASE_NAME)
    assert after.execute("SELECT name FROM sqlite_master").fetchall() == [("recipe",)]
    after.close()


def test_a_file_that_is_no_database_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / DATABASE_NAME).write_bytes(b"letters " * 600)
    with pytest.raises(ArchiveProblem, match="can't be read as an archive"):
        open_archive(tmp_path)
    assert (tmp_path / DATABASE_NAME).read_bytes() == b"letters " * 600


def test_a_file_where_the_folder_should_be_is_said(tmp_path: Path) -> None:
    (tmp_path / "archive").write_text("x")
    with pytest.raises(ArchiveProblem, match="can't be made"):
        open_archive(tmp_path / "archive")


def test_looking_into_an_empty_folder_makes_nothing(tmp_path: Path) -> None:
    with pytest.raises(ArchiveProblem, match="There is no archive"):
        open_archive(tmp_path / "none", create=False)
    assert not (tmp_path / "none").exists()


@pytest.fixture
def later(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Migrations as they may stand later: the present ones and one more, which the test writes."""
    folder = tmp_path / "migrations"
    versions = folder / "versions"
    versions.mkdir(parents=True)
    present = Path(database.__file__).parent / "migrations"
    (folder / "env.py").write_text((present / "env.py").read_text(encoding="utf-8"), encoding="utf-8")
    for file in present.glob("versions/0*.py"):
        (versions / file.name).write_text(file.read_text(encoding="utf-8"), encoding="utf-8")
    monkeypatch.setattr(database, "_MIGRATIONS", folder)
    return versions / "0999_later.py"


NEXT = """from alembic import op
import sqlalchemy as sa
revision, down_revision = "0999", "{before}"
def upgrade():
    with op.batch_alter_table("binder", recreate="always") as batch:
        batch.add_column(sa.Column("colour", sa.String(), nullable=False, server_default=""))
    {more}
"""


def present_head(archive: Archive) -> str:
    with archive.session() as session:
        return str(session.connection().execute(text("SELECT version_num FROM alembic_version")).scalar_one())


def test_a_migration_keeps_child_rows_and_makes_a_copy_first(archive: Archive, later: Path) -> None:
    later.write_text(NEXT.format(before=present_head(archive), more=""))
    with archive.session() as session:
        add_page(session, "Binder 1", "135-7x6")
    archive.close()
    opened = open_archive(archive.folder)
    with opened.session() as session:
        rows = session.connection().execute(
            text("SELECT b.name, b.colour, p.number FROM page p JOIN binder b ON b.id = p.binder_id")
        )
        assert [tuple(row) for row in rows] == [("Binder 1", "", 1)]
    opened.close()
    (copy,) = (archive.folder / "backups").iterdir()
    kept = sqlite3.connect(copy)
    assert kept.execute("SELECT name FROM binder").fetchall() == [("Binder 1",)]
    assert "colour" not in {row[1] for row in kept.execute("PRAGMA table_info(binder)")}
    kept.close()


@pytest.mark.parametrize(
    "more",
    [
        'op.execute("INSERT INTO no_such_table VALUES (1)")',
        "op.execute(\"INSERT INTO page VALUES (NULL, 77, 1, 'x', 'left', 0, '')\")",  # a page of no binder
    ],
)
def test_a_migration_that_fails_changes_nothing(archive: Archive, later: Path, more: str) -> None:
    before = present_head(archive)
    later.write_text(NEXT.format(before=before, more=more))
    archive.close()
    with pytest.raises(ArchiveProblem):
        open_archive(archive.folder)
    left = sqlite3.connect(archive.folder / DATABASE_NAME)
    assert left.execute("SELECT version_num FROM alembic_version").fetchall() == [(before,)]
    assert "colour" not in {row[1] for row in left.execute("PRAGMA table_info(binder)")}
    assert left.execute("SELECT count(*) FROM page").fetchone() == (0,)
    left.close()


def test_a_copy_is_whole_while_the_archive_is_open(archive: Archive, tmp_path: Path) -> None:
    with archive.session() as session:
        set_setting(session, "archive_name", "Copied")
    backup(archive.engine, tmp_path / "deep" / "copy.db")
    copy = sqlite3.connect(tmp_path / "deep" / "copy.db")
    assert copy.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    assert copy.execute("SELECT value FROM setting").fetchall() == [("Copied",)]
    copy.close()


def test_the_revisions_form_one_line(archive: Archive) -> None:
    script = ScriptDirectory(str(database._MIGRATIONS))
    assert len(script.get_heads()) == 1
    assert present_head(archive) == script.get_current_head()
    assert database.revisions() == sorted(one.revision for one in script.walk_revisions())
