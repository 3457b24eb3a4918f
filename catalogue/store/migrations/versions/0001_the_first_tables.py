"""The first tables, and the full-text index."""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "binder",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("notes", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_binder_name")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_binder")),
        sa.UniqueConstraint("name", name=op.f("uq_binder_name")),
    )
    op.create_table(
        "number_gap",
        sa.Column("number", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("reason", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.CheckConstraint("trim(reason) <> ''", name=op.f("ck_number_gap_reason")),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_number_gap")),
    )
    op.create_table(
        "own_format",
        sa.Column("key", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("data", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_own_format")),
    )
    op.create_table(
        "own_layout",
        sa.Column("key", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("data", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_own_layout")),
    )
    op.create_table(
        "roll",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("number_sort", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("format_key", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("measured_along_mm", sa.Float(), nullable=True),
        sa.Column("measured_across_mm", sa.Float(), nullable=True),
        sa.Column("measured_pitch_mm", sa.Float(), nullable=True),
        sa.Column("stock", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("camera", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("lens", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("exposed", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("exposed_from", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("exposed_to", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("processed", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("processed_from", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("processed_to", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("sleeved", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("sleeved_from", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("sleeved_to", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("subject", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("place", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("keywords", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("notes", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("created_at", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.CheckConstraint("trim(number) <> ''", name=op.f("ck_roll_number")),
        sa.CheckConstraint(
            "measured_along_mm > 0 AND measured_across_mm > 0 AND measured_pitch_mm > 0",
            name=op.f("ck_roll_measured"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_roll")),
        sa.UniqueConstraint("number", name=op.f("uq_roll_number")),
    )
    with op.batch_alter_table("roll", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_roll_number_sort"), ["number_sort"], unique=False)

    op.create_table(
        "setting",
        sa.Column("key", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("value", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_setting")),
    )
    op.create_table(
        "former_number",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("roll_id", sa.Integer(), nullable=False),
        sa.Column("number", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("changed_at", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.ForeignKeyConstraint(["roll_id"], ["roll.id"], name=op.f("fk_former_number_roll_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_former_number")),
        sa.UniqueConstraint("number", name=op.f("uq_former_number_number")),
    )
    with op.batch_alter_table("former_number", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_former_number_roll_id"), ["roll_id"], unique=False)

    op.create_table(
        "frame",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("roll_id", sa.Integer(), nullable=False),
        sa.Column("label", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("state", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("start_mm", sa.Float(), nullable=True),
        sa.Column("length_mm", sa.Float(), nullable=True),
        sa.Column("caption", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("subject", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("place", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("keywords", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("lens", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("exposed", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("exposed_from", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("exposed_to", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("notes", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.CheckConstraint("position >= 1 AND trim(label) <> ''", name=op.f("ck_frame_position")),
        sa.CheckConstraint(
            "state IN ('picture', 'blank', 'partial', 'overlapped', 'double', 'cut in two')",
            name=op.f("ck_frame_state"),
        ),
        sa.CheckConstraint("length_mm > 0", name=op.f("ck_frame_length")),
        sa.ForeignKeyConstraint(["roll_id"], ["roll.id"], name=op.f("fk_frame_roll_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_frame")),
        sa.UniqueConstraint("roll_id", "label", name=op.f("uq_frame_roll_id_label")),
        sa.UniqueConstraint("roll_id", "position", name=op.f("uq_frame_roll_id_position")),
    )
    with op.batch_alter_table("frame", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_frame_roll_id"), ["roll_id"], unique=False)

    op.create_table(
        "page",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("binder_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("layout_key", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("ring_side", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("turned", sa.Boolean(), nullable=False),
        sa.Column("notes", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.CheckConstraint("ring_side IN ('left', 'right')", name=op.f("ck_page_ring_side")),
        sa.CheckConstraint("number >= 1", name=op.f("ck_page_number")),
        sa.ForeignKeyConstraint(["binder_id"], ["binder.id"], name=op.f("fk_page_binder_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_page")),
        sa.UniqueConstraint("binder_id", "number", name=op.f("uq_page_binder_id_number")),
    )
    with op.batch_alter_table("page", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_page_binder_id"), ["binder_id"], unique=False)

    op.create_table(
        "process_record",
        sa.Column("roll_id", sa.Integer(), nullable=False),
        sa.Column("process", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("developer", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("dilution", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("temperature_c", sa.Float(), nullable=True),
        sa.Column("time_s", sa.Integer(), nullable=True),
        sa.Column("push_stops", sa.Float(), nullable=True),
        sa.Column("done_on", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("done_by", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("notes", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.CheckConstraint("temperature_c BETWEEN 0 AND 60 AND time_s > 0", name=op.f("ck_process_record_measures")),
        sa.ForeignKeyConstraint(["roll_id"], ["roll.id"], name=op.f("fk_process_record_roll_id")),
        sa.PrimaryKeyConstraint("roll_id", name=op.f("pk_process_record")),
    )
    op.create_table(
        "scan",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("frame_id", sa.Integer(), nullable=False),
        sa.Column("path", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("sha256", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("width_px", sa.Integer(), nullable=False),
        sa.Column("height_px", sa.Integer(), nullable=False),
        sa.Column("file_date", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("linked_at", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.CheckConstraint("width_px > 0 AND height_px > 0", name=op.f("ck_scan_pixels")),
        sa.ForeignKeyConstraint(["frame_id"], ["frame.id"], name=op.f("fk_scan_frame_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_scan")),
        sa.UniqueConstraint("frame_id", "path", name=op.f("uq_scan_frame_id_path")),
    )
    with op.batch_alter_table("scan", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_scan_frame_id"), ["frame_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_scan_sha256"), ["sha256"], unique=False)

    op.create_table(
        "strip",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("roll_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("length_mm", sa.Float(), nullable=False),
        sa.Column("page_id", sa.Integer(), nullable=True),
        sa.Column("slot", sa.Integer(), nullable=True),
        sa.Column("offset_mm", sa.Float(), nullable=False),
        sa.Column("upside_down", sa.Boolean(), nullable=False),
        sa.Column("turned_over", sa.Boolean(), nullable=False),
        sa.Column("out", sa.Boolean(), nullable=False),
        sa.Column("out_reason", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("out_since", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("due", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.CheckConstraint("(page_id IS NULL) = (slot IS NULL)", name=op.f("ck_strip_place")),
        sa.CheckConstraint("length_mm > 0 AND offset_mm >= 0 AND (slot IS NULL OR slot >= 1)", name=op.f("ck_strip_measures")),
        sa.ForeignKeyConstraint(["page_id"], ["page.id"], name=op.f("fk_strip_page_id")),
        sa.ForeignKeyConstraint(["roll_id"], ["roll.id"], name=op.f("fk_strip_roll_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_strip")),
        sa.UniqueConstraint("roll_id", "position", name=op.f("uq_strip_roll_id_position")),
    )
    with op.batch_alter_table("strip", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_strip_page_id"), ["page_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_strip_roll_id"), ["roll_id"], unique=False)

    op.create_table(
        "strip_frame",
        sa.Column("strip_id", sa.Integer(), nullable=False),
        sa.Column("frame_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("start_mm", sa.Float(), nullable=False),
        sa.Column("part", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.CheckConstraint("part IN ('whole', 'head', 'tail')", name=op.f("ck_strip_frame_part")),
        sa.ForeignKeyConstraint(["frame_id"], ["frame.id"], name=op.f("fk_strip_frame_frame_id")),
        sa.ForeignKeyConstraint(["strip_id"], ["strip.id"], name=op.f("fk_strip_frame_strip_id")),
        sa.PrimaryKeyConstraint("strip_id", "frame_id", name=op.f("pk_strip_frame")),
    )
    with op.batch_alter_table("strip_frame", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_strip_frame_frame_id"), ["frame_id"], unique=False)

    op.create_table(
        "strip_move",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("strip_id", sa.Integer(), nullable=False),
        sa.Column("at", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("what", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("from_page_id", sa.Integer(), nullable=True),
        sa.Column("from_slot", sa.Integer(), nullable=True),
        sa.Column("to_page_id", sa.Integer(), nullable=True),
        sa.Column("to_slot", sa.Integer(), nullable=True),
        sa.Column("why", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.ForeignKeyConstraint(["strip_id"], ["strip.id"], name=op.f("fk_strip_move_strip_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_strip_move")),
    )
    with op.batch_alter_table("strip_move", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_strip_move_strip_id"), ["strip_id"], unique=False)
    # Kept by the operations, not by triggers: the text is folded in Python first.
    op.execute(
        "CREATE VIRTUAL TABLE found USING fts5("
        "roll_id UNINDEXED, frame_id UNINDEXED, words, roll_words,"
        " tokenize = 'unicode61 remove_diacritics 2')"
    )
