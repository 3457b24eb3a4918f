"""Scans apart from their files; readings of folders, positives, re-checks, stocks by DX number; the frame log."""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None
TEXT = sqlmodel.sql.sqltypes.AutoString()


def upgrade() -> None:
    op.create_table(
        "dx_stock",
        sa.Column("dx_number", TEXT, nullable=False),
        sa.Column("stock", TEXT, nullable=False),
        sa.PrimaryKeyConstraint("dx_number", name=op.f("pk_dx_stock")),
    )
    op.create_table(
        "scan_file",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("path", TEXT, nullable=False),
        sa.Column("sha256", TEXT, nullable=False),
        sa.Column("byte_size", sa.Integer(), nullable=False),
        sa.Column("mtime_ns", sa.Integer(), nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("width_px", sa.Integer(), nullable=False),
        sa.Column("height_px", sa.Integer(), nullable=False),
        sa.Column("bits", sa.Integer(), nullable=False),
        sa.Column("channels", sa.Integer(), nullable=False),
        sa.Column("profile", TEXT, nullable=False),
        sa.Column("captured", TEXT, nullable=False),
        sa.Column("stand_camera", TEXT, nullable=False),
        sa.Column("file_date", TEXT, nullable=False),
        sa.Column("notes", TEXT, nullable=False),
        sa.Column("fingerprint", sa.LargeBinary(), nullable=True),
        sa.Column("read_at", TEXT, nullable=False),
        sa.Column("checked_at", TEXT, nullable=False),
        sa.Column("state", TEXT, nullable=False),
        sa.Column("moved_to", TEXT, nullable=False),
        sa.CheckConstraint("state IN ('there', 'changed', 'missing')", name=op.f("ck_scan_file_state")),
        sa.CheckConstraint("width_px > 0 AND height_px > 0", name=op.f("ck_scan_file_pixels")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_scan_file")),
        sa.UniqueConstraint("path", name=op.f("uq_scan_file_path")),
    )
    with op.batch_alter_table("scan_file", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_scan_file_checked_at"), ["checked_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_scan_file_sha256"), ["sha256"], unique=False)

    op.create_table(
        "file_event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("at", TEXT, nullable=False),
        sa.Column("what", TEXT, nullable=False),
        sa.Column("path", TEXT, nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=True),
        sa.Column("words", TEXT, nullable=False),
        sa.CheckConstraint(
            "what IN ('checked', 'changed', 'missing', 'moved', 'back', 'accepted')", name=op.f("ck_file_event_what")
        ),
        sa.ForeignKeyConstraint(["file_id"], ["scan_file.id"], name=op.f("fk_file_event_file_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_file_event")),
    )
    with op.batch_alter_table("file_event", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_file_event_file_id"), ["file_id"], unique=False)

    op.create_table(
        "reading_run",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("folder", TEXT, nullable=False),
        sa.Column("roll_id", sa.Integer(), nullable=True),
        sa.Column("state", TEXT, nullable=False),
        sa.Column("method", TEXT, nullable=False),
        sa.Column("pattern", TEXT, nullable=False),
        sa.Column("started_at", TEXT, nullable=False),
        sa.Column("ended_at", TEXT, nullable=False),
        sa.Column("demoted", TEXT, nullable=False),
        sa.CheckConstraint("state IN ('reading', 'stopped', 'read', 'linked', 'undone')", name=op.f("ck_reading_run_state")),
        sa.ForeignKeyConstraint(["roll_id"], ["roll.id"], name=op.f("fk_reading_run_roll_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading_run")),
    )
    with op.batch_alter_table("reading_run", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_reading_run_roll_id"), ["roll_id"], unique=False)

    op.create_table(
        "run_file",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("run_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("path", TEXT, nullable=False),
        sa.Column("byte_size", sa.Integer(), nullable=False),
        sa.Column("state", TEXT, nullable=False),
        sa.Column("reason", TEXT, nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=True),
        sa.Column("frame_id", sa.Integer(), nullable=True),
        sa.Column("role", TEXT, nullable=False),
        sa.Column("sureness", sa.Float(), nullable=False),
        sa.Column("doubt", TEXT, nullable=False),
        sa.Column("chosen", sa.Boolean(), nullable=False),
        sa.Column("mirrored", sa.Boolean(), nullable=False),
        sa.Column("quarter_turns", sa.Integer(), nullable=False),
        sa.Column("inverted", sa.Boolean(), nullable=False),
        sa.CheckConstraint("state IN ('waiting', 'read', 'refused')", name=op.f("ck_run_file_state")),
        sa.CheckConstraint("quarter_turns BETWEEN 0 AND 3 AND sureness BETWEEN 0 AND 1", name=op.f("ck_run_file_proposal")),
        sa.ForeignKeyConstraint(["file_id"], ["scan_file.id"], name=op.f("fk_run_file_file_id")),
        sa.ForeignKeyConstraint(["frame_id"], ["frame.id"], name=op.f("fk_run_file_frame_id")),
        sa.ForeignKeyConstraint(["run_id"], ["reading_run.id"], name=op.f("fk_run_file_run_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_run_file")),
        sa.UniqueConstraint("run_id", "path", name=op.f("uq_run_file_run_id_path")),
    )
    with op.batch_alter_table("run_file", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_run_file_run_id"), ["run_id"], unique=False)

    op.create_table(
        "film_positive",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("roll_id", sa.Integer(), nullable=False),
        sa.Column("strip_id", sa.Integer(), nullable=True),
        sa.Column("inversion", TEXT, nullable=False),
        sa.Column("exposure", TEXT, nullable=False),
        sa.Column("found", TEXT, nullable=False),
        sa.CheckConstraint("exposure IN ('common', 'each')", name=op.f("ck_film_positive_exposure")),
        sa.ForeignKeyConstraint(["roll_id"], ["roll.id"], name=op.f("fk_film_positive_roll_id")),
        sa.ForeignKeyConstraint(["strip_id"], ["strip.id"], name=op.f("fk_film_positive_strip_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_film_positive")),
        sa.UniqueConstraint("strip_id", name=op.f("uq_film_positive_strip_id")),
    )
    with op.batch_alter_table("film_positive", schema=None) as batch_op:
        batch_op.create_index("ix_film_positive_one_roll", ["roll_id"], unique=True, sqlite_where=sa.text("strip_id IS NULL"))
        batch_op.create_index(batch_op.f("ix_film_positive_roll_id"), ["roll_id"], unique=False)

    with op.batch_alter_table("frame", schema=None) as batch_op:
        batch_op.add_column(sa.Column("taken_at", TEXT, nullable=False, server_default=""))
        batch_op.add_column(sa.Column("shutter", TEXT, nullable=False, server_default=""))
        batch_op.add_column(sa.Column("aperture", sa.Float(), nullable=True))
        batch_op.add_column(sa.Column("latitude", sa.Float(), nullable=True))
        batch_op.add_column(sa.Column("longitude", sa.Float(), nullable=True))
        batch_op.create_check_constraint(
            op.f("ck_frame_log"), "latitude BETWEEN -90 AND 90 AND longitude BETWEEN -180 AND 180 AND aperture > 0"
        )

    # The facts of a file move to a row of its own; a frame's first scan is its master.
    op.drop_index("ix_scan_frame_id", "scan")
    op.drop_index("ix_scan_sha256", "scan")
    op.rename_table("scan", "scan_before")
    op.create_table(
        "scan",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("frame_id", sa.Integer(), nullable=False),
        sa.Column("file_id", sa.Integer(), nullable=False),
        sa.Column("role", TEXT, nullable=False),
        sa.Column("mirrored", sa.Boolean(), nullable=False),
        sa.Column("quarter_turns", sa.Integer(), nullable=False),
        sa.Column("area_x", sa.Float(), nullable=True),
        sa.Column("area_y", sa.Float(), nullable=True),
        sa.Column("area_w", sa.Float(), nullable=True),
        sa.Column("area_h", sa.Float(), nullable=True),
        sa.Column("polarity", TEXT, nullable=False),
        sa.Column("balance", TEXT, nullable=False),
        sa.Column("fingerprint", sa.LargeBinary(), nullable=True),
        sa.Column("run_id", sa.Integer(), nullable=True),
        sa.Column("linked_at", TEXT, nullable=False),
        sa.CheckConstraint("role IN ('master', 'working', 'cropped', 'web')", name=op.f("ck_scan_role")),
        sa.CheckConstraint("quarter_turns BETWEEN 0 AND 3", name=op.f("ck_scan_turns")),
        sa.CheckConstraint("polarity IN ('', 'negative', 'positive')", name=op.f("ck_scan_polarity")),
        sa.CheckConstraint("area_w > 0 AND area_h > 0 AND area_x >= 0 AND area_y >= 0", name=op.f("ck_scan_area")),
        sa.ForeignKeyConstraint(["file_id"], ["scan_file.id"], name=op.f("fk_scan_file_id")),
        sa.ForeignKeyConstraint(["frame_id"], ["frame.id"], name=op.f("fk_scan_frame_id")),
        sa.ForeignKeyConstraint(["run_id"], ["reading_run.id"], name=op.f("fk_scan_run_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_scan")),
        sa.UniqueConstraint("frame_id", "file_id", name=op.f("uq_scan_frame_id_file_id")),
    )
    op.execute(
        "INSERT INTO scan_file (path, sha256, byte_size, mtime_ns, kind, width_px, height_px, bits, channels, profile,"
        " captured, stand_camera, file_date, notes, fingerprint, read_at, checked_at, state, moved_to)"
        " SELECT path, sha256, 0, 0, '', width_px, height_px, 8, 3, '', '', '', file_date, '', NULL, linked_at, '', 'there', ''"
        " FROM scan_before WHERE id IN (SELECT max(id) FROM scan_before GROUP BY path) ORDER BY id"
    )
    op.execute(
        "INSERT INTO scan (id, frame_id, file_id, role, mirrored, quarter_turns, polarity, balance, linked_at)"
        " SELECT b.id, b.frame_id, f.id, CASE WHEN b.id = (SELECT min(id) FROM scan_before WHERE frame_id = b.frame_id)"
        " THEN 'master' ELSE 'working' END, 0, 0, '', '', b.linked_at FROM scan_before b JOIN scan_file f ON f.path = b.path"
    )
    op.drop_table("scan_before")
    op.create_index("ix_scan_frame_id", "scan", ["frame_id"])
    op.create_index("ix_scan_file_id", "scan", ["file_id"])
    op.create_index("ix_scan_run_id", "scan", ["run_id"])
    op.create_index("ix_scan_one_master", "scan", ["frame_id"], unique=True, sqlite_where=sa.text("role = 'master'"))
