"""The choice on a proof (select and crop), and records of prints with their burns and dodges."""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None
TEXT = sqlmodel.sql.sqltypes.AutoString()


def upgrade() -> None:
    op.create_table(
        "frame_choice",
        sa.Column("frame_id", sa.Integer(), nullable=False),
        sa.Column("selected", sa.Boolean(), nullable=False),
        sa.Column("crop_left", sa.Float(), nullable=True),
        sa.Column("crop_top", sa.Float(), nullable=True),
        sa.Column("crop_right", sa.Float(), nullable=True),
        sa.Column("crop_bottom", sa.Float(), nullable=True),
        sa.CheckConstraint(
            "(crop_left IS NULL) = (crop_top IS NULL) AND (crop_left IS NULL) = (crop_right IS NULL)"
            " AND (crop_left IS NULL) = (crop_bottom IS NULL)",
            name=op.f("ck_frame_choice_crop_whole"),
        ),
        sa.CheckConstraint(
            "crop_left >= 0 AND crop_left < crop_right AND crop_right <= 1"
            " AND crop_top >= 0 AND crop_top < crop_bottom AND crop_bottom <= 1",
            name=op.f("ck_frame_choice_crop"),
        ),
        sa.CheckConstraint("selected OR crop_left IS NOT NULL", name=op.f("ck_frame_choice_says_something")),
        sa.ForeignKeyConstraint(["frame_id"], ["frame.id"], name=op.f("fk_frame_choice_frame_id")),
        sa.PrimaryKeyConstraint("frame_id", name=op.f("pk_frame_choice")),
    )
    op.create_table(
        "print_record",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("frame_id", sa.Integer(), nullable=False),
        sa.Column("enlarger", TEXT, nullable=False),
        sa.Column("lens", TEXT, nullable=False),
        sa.Column("height_mm", sa.Float(), nullable=True),
        sa.Column("aperture", TEXT, nullable=False),
        sa.Column("paper", TEXT, nullable=False),
        sa.Column("grade", TEXT, nullable=False),
        sa.Column("base_time_s", sa.Float(), nullable=True),
        sa.Column("developer", TEXT, nullable=False),
        sa.Column("print_width_mm", sa.Float(), nullable=True),
        sa.Column("print_height_mm", sa.Float(), nullable=True),
        sa.Column("printed", TEXT, nullable=False),
        sa.Column("printed_from", TEXT, nullable=True),
        sa.Column("printed_to", TEXT, nullable=True),
        sa.Column("notes", TEXT, nullable=False),
        sa.Column("recorded_at", TEXT, nullable=False),
        sa.CheckConstraint("height_mm > 0 AND height_mm <= 3000", name=op.f("ck_print_record_height")),
        sa.CheckConstraint("base_time_s > 0 AND base_time_s <= 86400", name=op.f("ck_print_record_time")),
        sa.CheckConstraint("(print_width_mm IS NULL) = (print_height_mm IS NULL)", name=op.f("ck_print_record_size_whole")),
        sa.CheckConstraint(
            "print_width_mm BETWEEN 5 AND 3000 AND print_height_mm BETWEEN 5 AND 3000", name=op.f("ck_print_record_size")
        ),
        sa.ForeignKeyConstraint(["frame_id"], ["frame.id"], name=op.f("fk_print_record_frame_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_print_record")),
    )
    op.create_index(op.f("ix_print_record_frame_id"), "print_record", ["frame_id"])
    op.create_table(
        "print_mark",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("print_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("place", TEXT, nullable=False),
        sa.Column("change", TEXT, nullable=False),
        sa.Column("area_x", sa.Float(), nullable=True),
        sa.Column("area_y", sa.Float(), nullable=True),
        sa.Column("area_w", sa.Float(), nullable=True),
        sa.Column("area_h", sa.Float(), nullable=True),
        sa.CheckConstraint("kind IN ('burn', 'dodge')", name=op.f("ck_print_mark_kind")),
        sa.CheckConstraint("position BETWEEN 1 AND 12", name=op.f("ck_print_mark_position")),
        sa.CheckConstraint(
            "(area_x IS NULL) = (area_y IS NULL) AND (area_x IS NULL) = (area_w IS NULL) AND (area_x IS NULL) = (area_h IS NULL)",
            name=op.f("ck_print_mark_area_whole"),
        ),
        sa.CheckConstraint(
            "area_x >= 0 AND area_y >= 0 AND area_w > 0 AND area_h > 0 AND area_x + area_w <= 1.0001"
            " AND area_y + area_h <= 1.0001",
            name=op.f("ck_print_mark_area"),
        ),
        sa.ForeignKeyConstraint(["print_id"], ["print_record.id"], name=op.f("fk_print_mark_print_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_print_mark")),
        sa.UniqueConstraint("print_id", "position", name=op.f("uq_print_mark_print_id_position")),
    )
    op.create_index(op.f("ix_print_mark_print_id"), "print_mark", ["print_id"])
