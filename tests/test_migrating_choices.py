"""An archive of the second structure is brought to the third: every row kept, the new tables empty and with their rules."""

import sqlite3
from pathlib import Path

import pytest
from sqlmodel import col, select
from test_migrating_scans import everything

from catalogue.bench.rules.baths.costs import Money
from catalogue.bench.supplies import bath_price, bath_prices, set_bath_price
from catalogue.darkroom.print_records import PrintInput, prints_of_frame, record_print
from catalogue.errors import AlreadyExists
from catalogue.rolls.change import FrameChanges, RollChanges, get_roll, update_frame, update_roll
from catalogue.rolls.choices import choices_of_roll, choose_frame
from catalogue.rolls.find import find
from catalogue.rolls.number import next_roll_numbers, renumber_roll
from catalogue.settings import get_setting
from catalogue.store import engine as database
from catalogue.store.engine import DATABASE_NAME, open_archive
from catalogue.store.tables.rolls import Setting
from catalogue.views import FrameChoice

NEW = {"frame_choice", "print_record", "print_mark"}


def structure(last: str, folder: Path, monkeypatch: pytest.MonkeyPatch) -> sqlite3.Connection:
    """An empty archive as the migrations up to number `last` make it."""
    with monkeypatch.context() as before:
        migrations = folder.parent / "migrations"
        (migrations / "versions").mkdir(parents=True)
        present = Path(database.__file__).parent / "migrations"
        steps = sorted(path for path in (present / "versions").glob("0*.py") if path.name[:4] <= last)
        for path in (present / "env.py", *steps):
            (migrations / path.relative_to(present)).write_text(path.read_text(encoding="utf-8"), encoding="utf-8")
        before.setattr(database, "_MIGRATIONS", migrations)
        open_archive(folder).close()
    raw = sqlite3.connect(folder / DATABASE_NAME)
    raw.execute("PRAGMA foreign_keys=ON")
    assert raw.execute("SELECT version_num FROM alembic_version").fetchall() == [(last,)]
    return raw


def second_structure(folder: Path, monkeypatch: pytest.MonkeyPatch) -> sqlite3.Connection:
    """An archive as the second structure has it, with a roll of two frames on a page and a scan of the first."""
    raw = structure("0002", folder, monkeypatch)
    raw.execute("INSERT INTO binder VALUES (1, 'Binder 1', '', 1)")
    raw.execute("INSERT INTO page VALUES (1, 1, 1, '135-7x6', 'left', 0, '')")
    raw.execute(
        "INSERT INTO roll VALUES (1, '2031-001', '2031-001', '135-24x36', NULL, NULL, NULL, 'Lantern Pan', '', '', '2031-05',"
        " '2031-05-01', '2031-05-31', '', NULL, NULL, '', NULL, NULL, 'Ferry', '', '', '', '2031-06-01T00:00:00+00:00')"
    )
    raw.execute("INSERT INTO strip VALUES (1, 1, 1, 76.0, 1, 2, 0, 1, 0, 0, '', '', '')")
    for number in (1, 2):
        raw.execute(
            "INSERT INTO frame (id, roll_id, label, position, state, caption, subject, place, keywords, lens, exposed, notes,"
            " taken_at, shutter, aperture) VALUES (?, 1, ?, ?, 'picture', 'Pier', '', '', '', '', '', '', '', '1/125', 8)",
            (number, str(number), number),
        )
        raw.execute("INSERT INTO strip_frame VALUES (1, ?, ?, ?, 'whole')", (number, number, 1.0 + 38 * (number - 1)))
    raw.execute(
        "INSERT INTO scan_file VALUES (1, 'a/1.tif', ?, 9, 9, 'TIFF', 6000, 4000, 16, 3, '', '', '', '', '', NULL, 'now', '',"
        " 'there', '')",
        ("a" * 64,),
    )
    raw.execute("INSERT INTO scan VALUES (7, 1, 1, 'master', 1, 2, NULL, NULL, NULL, NULL, '', '', NULL, NULL, 'now')")
    raw.commit()
    return raw


def test_every_row_is_kept_and_the_new_tables_are_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "archive"
    raw = second_structure(folder, monkeypatch)
    before = everything(raw, ("alembic_version",))
    raw.close()
    archive = open_archive(folder)
    raw = sqlite3.connect(folder / DATABASE_NAME)
    after = everything(raw, ("alembic_version",))
    assert {name: after[name] for name in before} == before
    assert {name for name in after if after[name] == []} >= NEW
    assert raw.execute("PRAGMA foreign_key_check").fetchall() == []
    raw.close()
    (copy,) = (folder / "backups").iterdir()
    kept = sqlite3.connect(copy)
    assert everything(kept, ("alembic_version",)) == before
    kept.close()
    with archive.session() as session:
        roll = get_roll(session, "2031-001")
        assert [(f.label, len(f.scans)) for f in roll.frames] == [("1", 1), ("2", 0)]
        choose_frame(session, "2031-001", "1", FrameChoice(True, (0, 0, 0.5, 1)))
        record_print(session, "2031-001", "1", PrintInput(base_time_s=12))
    with archive.session(reading=True) as session:
        assert dict(choices_of_roll(session, "2031-001")) == {1: FrameChoice(True, (0, 0, 0.5, 1))}
        assert [p.base_time_s for p in prints_of_frame(session, "2031-001", "1")] == [12]
    archive.close()


def test_the_structure_is_that_of_an_archive_made_today(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    second_structure(tmp_path / "old", monkeypatch).close()
    shapes = []
    for name in ("old", "new"):
        open_archive(tmp_path / name).close()
        raw = sqlite3.connect(tmp_path / name / DATABASE_NAME)
        made = raw.execute("SELECT name, sql FROM sqlite_master")
        shapes.append({n: sorted(line.strip(", \t") for line in str(sql).splitlines()) for n, sql in made})
        raw.close()
    assert shapes[0] == shapes[1]
    assert shapes[0].keys() >= NEW


def test_numbers_and_words_of_an_older_archive_are_found_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    raw = second_structure(tmp_path / "archive", monkeypatch)
    raw.execute("INSERT INTO former_number VALUES (1, 1, 'R 7a', '2031-06-02T00:00:00+00:00')")
    raw.execute("INSERT INTO number_gap VALUES ('2031-009', 'never used')")
    for at, frame, words, more in ((7, None, "2031-001 r 7a ferry", ""), (8, 2, "pier", "2031-001 r 7a ferry")):
        row = (at, frame, words, more)
        raw.execute("INSERT INTO found (rowid, roll_id, frame_id, words, roll_words) VALUES (?, 1, ?, ?, ?)", row)
    raw.commit()
    raw.close()
    archive = open_archive(tmp_path / "archive")
    with archive.session() as session:
        for typed, meant in (("pier", ["2"]), ("ferry", [None]), ("7a 1", ["1"]), ("r7a", [None]), ("1/2", ["2"])):
            assert [hit.frame for hit in find(session, typed).hits] == meant, typed
        for taken in ("2031-001", "r 7A", "2031-009"):
            with pytest.raises(AlreadyExists, match="was issued before"):
                renumber_roll(session, "2031-001", taken)
        assert next_roll_numbers(session, 2, 2031) == ("2031-010", "2031-011")
        # The rows lie where the roll's key says, or changing it would leave the old words behind.
        update_roll(session, "2031-001", RollChanges(subject="Weir"))
        update_frame(session, "2031-001", "2", FrameChanges(caption=""))
        assert find(session, "ferry").hits == ()
        assert [hit.frame for hit in find(session, "pier").hits] == ["1"]
    archive.close()


def test_prices_of_fillings_are_carried_into_their_table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    raw = structure("0006", tmp_path / "archive", monkeypatch)
    raw.execute("INSERT INTO bottle VALUES (3, 'Brown 3', 1000, '', 0), (12, 'Brown 12', 500, '', 0)")
    kept = [("bath_price/3/1", "8.40"), ("bath_price/12/41", "15"), ("bath_price/3/7", ""), ("supply_currency", "crowns")]
    raw.executemany("INSERT INTO setting VALUES (?, ?)", [*kept, ("bathXprice/3/2", "not a price")])
    raw.commit()
    raw.close()
    archive = open_archive(tmp_path / "archive")
    with archive.session() as session:
        assert bath_prices(session) == {(3, 1): Money("8.40", "crowns"), (12, 41): Money("15", "crowns")}
        assert get_setting(session, "bathXprice/3/2") == "not a price"
        assert session.exec(select(Setting.key).where(col(Setting.key).startswith("bath_price/", autoescape=True))).all() == []
        set_bath_price(session, 3, 1, "")
        set_bath_price(session, 3, 1, "")
        set_bath_price(session, 12, 41, "16,5")
        assert (bath_price(session, 3, 1), bath_price(session, 12, 41)) == ("", "16.5")
    archive.close()
