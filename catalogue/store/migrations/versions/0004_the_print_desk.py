"""The print desk: what waits to be printed, and what was printed last."""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None
TEXT = sqlmodel.sql.sqltypes.AutoString()


def upgrade() -> None:
    op.create_table(
        "print_wish",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("what", TEXT, nullable=False),
        sa.Column("wanted_at", TEXT, nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.CheckConstraint("trim(kind) <> '' AND json_valid(what)", name=op.f("ck_print_wish_thing")),
        sa.CheckConstraint("position >= 1", name=op.f("ck_print_wish_position")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_print_wish")),
        sa.UniqueConstraint("kind", "what", name=op.f("uq_print_wish_kind_what")),
        sa.UniqueConstraint("position", name=op.f("uq_print_wish_position")),
    )
    op.create_table(
        "printed_leaf",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("what", TEXT, nullable=False),
        sa.Column("leaf", TEXT, nullable=False),
        sa.Column("checksum", TEXT, nullable=False),
        sa.Column("printed_at", TEXT, nullable=False),
        sa.CheckConstraint("trim(kind) <> '' AND json_valid(what)", name=op.f("ck_printed_leaf_thing")),
        sa.CheckConstraint("trim(leaf) <> '' AND trim(checksum) <> ''", name=op.f("ck_printed_leaf_leaf")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_printed_leaf")),
        sa.UniqueConstraint("kind", "what", "leaf", name=op.f("uq_printed_leaf_kind_what_leaf")),
    )
