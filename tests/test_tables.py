"""The rules that the tables hold by themselves, whatever an operation forgets."""

from typing import Any

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session, SQLModel

from catalogue.store.engine import Archive
from catalogue.store.tables import bench as bench_tables  # noqa: F401  all register themselves
from catalogue.store.tables import rolls as tables

NAMES = {
    "setting", "own_format", "own_layout", "binder", "page", "roll", "former_number", "number_gap", "issued_number",
    "frame", "strip", "strip_frame", "strip_move", "process_record", "scan", "scan_file", "reading_run",
    "run_file", "film_positive", "file_event", "dx_stock", "stock_facts", "filling_price", "waiting_roll", "recipe",
    "recipe_step", "recipe_point", "bottle", "bottle_event", "tank", "tank_session", "tank_roll", "tank_fact",
    "frame_choice", "print_record", "print_mark",
    "print_wish", "printed_leaf",
}  # fmt: skip


def roll(session: Session, number: str = "2031-001", **facts: Any) -> int:
    row = tables.Roll(number=number, number_sort=number, format_key="135-24x36", created_at="", **facts)
    session.add(row)
    session.flush()
    assert row.id is not None
    return row.id


def frame(session: Session, roll_id: int, label: str = "1", position: int = 1, **facts: Any) -> int:
    row = tables.Frame(roll_id=roll_id, label=label, position=position, **facts)
    session.add(row)
    session.flush()
    assert row.id is not None
    return row.id


def test_the_tables_are_those_that_are_meant() -> None:
    assert set(SQLModel.metadata.tables) == NAMES


def test_the_migrations_make_what_the_classes_say(archive: Archive) -> None:
    """The first revision was written out by hand once; here it is held against the classes."""

    def mine(name: str | None, kind: str, _parents: object) -> bool:
        return not (kind == "table" and (name or "").startswith("found"))

    with archive.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"include_name": mine})
        assert compare_metadata(context, SQLModel.metadata) == []


def test_the_migrations_make_every_check(archive: Archive) -> None:
    """Alembic doesn't compare CHECK constraints, so their names are."""
    named = {
        str(rule.name)
        for table in SQLModel.metadata.tables.values()
        for rule in table.constraints
        if type(rule).__name__ == "CheckConstraint"
    }
    with archive.engine.connect() as connection:
        made = " ".join(row[0] for row in connection.execute(text("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL")))
    assert len(named) >= 12
    assert [name for name in sorted(named) if f"CONSTRAINT {name} CHECK" not in made] == []


@pytest.mark.parametrize(
    "facts",
    [{"measured_along_mm": 0}, {"measured_across_mm": -24}, {"measured_pitch_mm": -0.1}],
)
def test_measures_of_a_roll_are_above_zero(session: Session, facts: dict[str, Any]) -> None:
    with pytest.raises(IntegrityError, match="ck_roll_measured"):
        roll(session, **facts)
    session.rollback()


def test_one_measure_of_a_roll_can_stand_alone(session: Session) -> None:
    assert roll(session, measured_pitch_mm=37.5)


def test_numbers_are_not_empty_and_not_used_twice(session: Session) -> None:
    with pytest.raises(IntegrityError, match="ck_roll_number"):
        roll(session, "  ")
    session.rollback()
    roll(session)
    with pytest.raises(IntegrityError, match=r"roll\.number"):
        roll(session)
    session.rollback()


@pytest.mark.parametrize(
    ("facts", "rule"),
    [
        ({"label": " "}, "ck_frame_position"),
        ({"position": 0}, "ck_frame_position"),
        ({"state": "lost"}, "ck_frame_state"),
        ({"length_mm": 0}, "ck_frame_length"),
    ],
)
def test_a_frame_that_cannot_be_is_refused(session: Session, facts: dict[str, Any], rule: str) -> None:
    key = roll(session)
    with pytest.raises(IntegrityError, match=rule):
        frame(session, key, **facts)
    session.rollback()


@pytest.mark.parametrize(("label", "position"), [("1", 2), ("2", 1)])
def test_a_roll_has_each_label_and_each_position_once(session: Session, label: str, position: int) -> None:
    key = roll(session)
    frame(session, key)
    with pytest.raises(IntegrityError, match="UNIQUE"):
        frame(session, key, label, position)
    session.rollback()


@pytest.mark.parametrize(
    ("facts", "rule"),
    [
        ({"slot": 1}, "ck_strip_place"),
        ({"page_id": 1}, "ck_strip_place"),
        ({"page_id": 1, "slot": 0}, "ck_strip_measures"),
        ({"length_mm": 0}, "ck_strip_measures"),
        ({"offset_mm": -1}, "ck_strip_measures"),
        ({"page_id": 77, "slot": 1}, "FOREIGN KEY"),
    ],
)
def test_a_strip_lies_in_a_slot_of_a_page_or_nowhere(session: Session, facts: dict[str, Any], rule: str) -> None:
    session.add(tables.Page(binder_id=1, number=1, layout_key="135-7x6", ring_side="left"))
    key = roll(session)
    session.add(tables.Strip(**{"roll_id": key, "position": 1, "length_mm": 228.0} | facts))
    with pytest.raises(IntegrityError, match=rule):
        session.flush()
    session.rollback()


def test_a_frame_lies_once_on_a_strip_as_a_known_part(session: Session) -> None:
    key = roll(session)
    of = frame(session, key)
    strip = tables.Strip(roll_id=key, position=1, length_mm=228)
    session.add(strip)
    session.flush()
    assert strip.id is not None
    put = text("INSERT INTO strip_frame (strip_id, frame_id, position, start_mm, part) VALUES (:s, :f, 1, 0, :part)")
    connection, where = session.connection(), {"s": strip.id, "f": of}
    with pytest.raises(IntegrityError, match="ck_strip_frame_part"):
        connection.execute(put, where | {"part": "middle"})
    connection.execute(put, where | {"part": "whole"})
    with pytest.raises(IntegrityError, match="UNIQUE"):
        connection.execute(put, where | {"part": "head"})


@pytest.mark.parametrize("facts", [{"temperature_c": 61}, {"temperature_c": -1}, {"time_s": 0}])
def test_a_bath_is_neither_frozen_nor_boiling_and_takes_time(session: Session, facts: dict[str, Any]) -> None:
    key = roll(session)
    session.add(tables.ProcessRecord(roll_id=key, **facts))
    with pytest.raises(IntegrityError, match="ck_process_record_measures"):
        session.flush()
    session.rollback()


def test_film_with_frames_cannot_be_deleted_from_under_them(session: Session) -> None:
    key = roll(session)
    frame(session, key)
    with pytest.raises(IntegrityError, match="FOREIGN KEY"):
        session.connection().execute(text("DELETE FROM roll"))


def test_a_gap_has_a_reason(session: Session) -> None:
    session.add(tables.NumberGap(number="2031-002", reason=" "))
    with pytest.raises(IntegrityError, match="ck_number_gap_reason"):
        session.flush()
    session.rollback()
