"""An archive of the first structure, with scans in it, is opened by the present one: every row is still there."""

import sqlite3
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from sqlalchemy import text
from sqlmodel import select

from catalogue.rolls.change import get_roll
from catalogue.rolls.find import find
from catalogue.scans.look.frame_pictures import frame_picture
from catalogue.scans.match.linking import link_scan
from catalogue.store import engine as database
from catalogue.store.engine import DATABASE_NAME, open_archive
from catalogue.store.tables.scans import Scan, ScanFile

SCANS = [
    # id, frame, path, SHA-256, width, height, the file's date, linked at
    (5, 1, "a/1.tif", "a" * 64, 6000, 4000, "2030-01-02", "2031-01-01T10:00:00+00:00"),
    (6, 1, "a/1 again.tif", "b" * 64, 3000, 2000, "", "2031-01-02T10:00:00+00:00"),
    (9, 2, "strip.tif", "c" * 64, 9000, 1000, "2030-01-03", "2031-01-03T10:00:00+00:00"),
    (12, 3, "strip.tif", "d" * 64, 9100, 1100, "2030-01-04", "2031-01-04T10:00:00+00:00"),  # linked later, when it had changed
    (13, 2, "a/2.tif", "e" * 64, 600, 400, "", "2031-01-05T10:00:00+00:00"),
    (14, 1, "Ελιά [1].tif", "f" * 64, 600, 400, "", "2031-01-06T10:00:00+00:00"),
]


def first_structure(folder: Path, monkeypatch: pytest.MonkeyPatch) -> sqlite3.Connection:
    """An archive as the first version left it, with a binder, a page, a roll of three frames and their strip."""
    with monkeypatch.context() as before:
        migrations = folder.parent / "migrations"
        (migrations / "versions").mkdir(parents=True)
        present = Path(database.__file__).parent / "migrations"
        for name in ("env.py", "versions/0001_the_first_tables.py"):
            (migrations / name).write_text((present / name).read_text(encoding="utf-8"), encoding="utf-8")
        before.setattr(database, "_MIGRATIONS", migrations)
        open_archive(folder).close()
    raw = sqlite3.connect(folder / DATABASE_NAME)
    raw.execute("PRAGMA foreign_keys=ON")
    assert raw.execute("SELECT version_num FROM alembic_version").fetchall() == [("0001",)]
    raw.execute("INSERT INTO binder VALUES (1, 'Binder 1', '', 1)")
    raw.execute("INSERT INTO page VALUES (1, 1, 1, '135-7x6', 'left', 0, '')")
    raw.execute(
        "INSERT INTO roll VALUES (1, '2031-001', '2031-001', '135-24x36', NULL, NULL, NULL, 'Lantern Pan', '', '', '2031-05',"
        " '2031-05-01', '2031-05-31', '', NULL, NULL, '', NULL, NULL, 'Ferry', '', '', '', '2031-06-01T00:00:00+00:00')"
    )
    raw.execute("INSERT INTO former_number VALUES (1, 1, 'A-77', '2031-06-02')")
    raw.execute("INSERT INTO process_record VALUES (1, 'C-41', '', '', NULL, NULL, NULL, '', '', '')")
    raw.execute("INSERT INTO strip VALUES (1, 1, 1, 114.0, 1, 2, 0, 1, 0, 0, '', '', '')")
    raw.execute("INSERT INTO strip_move VALUES (1, 1, '2031-06-03', 'filed', NULL, NULL, 1, 2, '')")
    for number in (1, 2, 3):
        raw.execute(
            "INSERT INTO frame VALUES (?, 1, ?, ?, ?, NULL, ?, ?, '', '', '', '', '2031-05-14', '2031-05-14', '2031-05-14', '')",
            (
                number,
                str(number),
                number,
                "partial" if number == 3 else "picture",
                20.5 if number == 3 else None,
                f"Pier {number}",
            ),
        )
        raw.execute("INSERT INTO strip_frame VALUES (1, ?, ?, ?, 'whole')", (number, number, 1.0 + 38 * (number - 1)))
    raw.execute("INSERT INTO found (roll_id, frame_id, words, roll_words) VALUES (1, 2, 'pier 2', '2031-001')")
    raw.executemany("INSERT INTO scan VALUES (?, ?, ?, ?, ?, ?, ?, ?)", SCANS)
    raw.commit()
    return raw


def everything(raw: sqlite3.Connection, without: tuple[str, ...] = ()) -> dict[str, list[dict[str, Any]]]:
    """Every row of every table by its columns."""
    names = [n for (n,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'found_%'")]
    rows = {}
    for name in names:
        if name not in without:
            asked = raw.execute(f"SELECT * FROM {name}")
            columns = [column[0] for column in asked.description]
            rows[name] = [dict(zip(columns, row, strict=True)) for row in asked.fetchall()]
    return rows


def test_every_row_is_there_after_opening(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "archive"
    raw = first_structure(folder, monkeypatch)
    before = everything(raw, ("scan", "alembic_version"))
    raw.close()
    archive = open_archive(folder)
    with archive.session(reading=True) as session:
        files = {f.path: f for f in session.exec(select(ScanFile))}
        scans = {s.id: s for s in session.exec(select(Scan))}
        found = {
            key: (s.frame_id, next(p for p, f in files.items() if f.id == s.file_id), s.role, s.linked_at)
            for key, s in scans.items()
        }
        # One row a path; a frame's first scan is its master. Of a file linked twice the later facts hold.
        assert found == {
            key: (frame, path, "master" if key in (5, 9, 12) else "working", linked)
            for key, frame, path, _, _, _, _, linked in SCANS
        }
        facts = {path: (f.sha256, f.width_px, f.height_px, f.file_date, f.read_at) for path, f in files.items()}
        assert facts == {
            path: (sha256, width, height, date, linked) for _, _, path, sha256, width, height, date, linked in SCANS if _ != 9
        } | {"strip.tif": ("d" * 64, 9100, 1100, "2030-01-04", "2031-01-04T10:00:00+00:00")}
        assert {(f.state, f.moved_to, f.checked_at, f.fingerprint) for f in files.values()} == {("there", "", "", None)}
        assert {(s.mirrored, s.quarter_turns, s.area_x, s.polarity, s.balance, s.run_id) for s in scans.values()} == {
            (False, 0, None, "", "", None)
        }
        assert session.connection().execute(text("PRAGMA foreign_key_check")).fetchall() == []
        roll = get_roll(session, "A-77")
        assert [[s.path for s in f.scans] for f in roll.frames] == [
            ["a/1.tif", "a/1 again.tif", "Ελιά [1].tif"], ["strip.tif", "a/2.tif"], ["strip.tif"]
        ]  # fmt: skip
        assert [h.frame for h in find(session, "pier 2").hits] == ["2"]
    archive.close()
    raw = sqlite3.connect(folder / DATABASE_NAME)
    after = everything(raw)
    raw.close()
    for name, rows in before.items():  # whatever the frames, strips and pages said they say still, and by the same ids
        assert [{column: row[column] for column in old} for old, row in zip(rows, after[name], strict=True)] == rows, name
    new = [{k: v for k, v in row.items() if k not in before["frame"][0]} for row in after["frame"]]
    assert new == [{"taken_at": "", "shutter": "", "aperture": None, "latitude": None, "longitude": None}] * 3


def test_a_copy_is_kept_as_it_was(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "archive"
    raw = first_structure(folder, monkeypatch)
    before = everything(raw)
    raw.close()
    open_archive(folder).close()
    (copy,) = (folder / "backups").iterdir()
    kept = sqlite3.connect(copy)
    assert everything(kept) == before
    assert [row[:8] for row in kept.execute("SELECT * FROM scan ORDER BY id")] == SCANS
    kept.close()
    open_archive(folder).close()
    assert list((folder / "backups").iterdir()) == [copy]  # opened again, nothing is left to change


def test_the_structure_is_that_of_an_archive_made_today(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    first_structure(tmp_path / "old", monkeypatch).close()
    shapes = []
    for name in ("old", "new"):
        open_archive(tmp_path / name).close()
        raw = sqlite3.connect(tmp_path / name / DATABASE_NAME)
        made = raw.execute("SELECT name, sql FROM sqlite_master")
        # Constraints may stand in any order.
        shapes.append({n: sorted(line.strip(", \t") for line in str(sql).splitlines()) for n, sql in made})
        raw.close()
    assert shapes[0] == shapes[1]


def test_the_rules_hold_and_linking_goes_on(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "archive"
    first_structure(folder, monkeypatch).close()
    (folder / "scans" / "a").mkdir(parents=True)
    Image.new("RGB", (90, 60), (200, 30, 30)).save(folder / "scans" / "a" / "1.tif")
    archive = open_archive(folder)
    with archive.session() as session:
        scan = link_scan(session, "2031-001", "1", "a/1.tif")  # read anew, though its path is known
        assert (scan.id, scan.role, scan.width_px, scan.kind) == (5, "master", 90, "TIFF")
        with Image.open(frame_picture(session, 1)) as shown:
            assert shown.size == (90, 60)
    for wrong in (
        "UPDATE scan SET role = 'master' WHERE id = 6",
        "UPDATE scan SET role = 'best' WHERE id = 6",
        "UPDATE scan SET frame_id = 99 WHERE id = 6",
        "UPDATE scan_file SET path = 'strip.tif'",
        "UPDATE scan_file SET state = 'lost'",
        "UPDATE frame SET latitude = 91",
        "UPDATE frame SET state = 'lost'",
    ):  # fmt: skip
        with pytest.raises(database.DatabaseError), archive.session() as session:
            session.connection().execute(text(wrong))
            session.commit()
    archive.close()
