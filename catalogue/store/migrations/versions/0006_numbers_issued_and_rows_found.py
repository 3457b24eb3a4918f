"""Every number issued in one table, the full-text index by rows that a roll's key gives, files in trouble by an index."""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

from catalogue.film.roll_numbers import sort_text, squeezed, tail

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None
TEXT = sqlmodel.sql.sqltypes.AutoString()


def upgrade() -> None:
    issued = op.create_table(
        "issued_number",
        sa.Column("folded", TEXT, nullable=False),
        sa.Column("number", TEXT, nullable=False),
        sa.Column("sort", TEXT, nullable=False),
        sa.Column("squeezed", TEXT, nullable=False),
        sa.Column("tail", TEXT, nullable=False),
        sa.Column("roll_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["roll_id"], ["roll.id"], name=op.f("fk_issued_number_roll_id")),
        sa.PrimaryKeyConstraint("folded", name=op.f("pk_issued_number")),
    )
    for name in ("sort", "squeezed", "tail", "roll_id"):
        op.create_index(op.f(f"ix_issued_number_{name}"), "issued_number", [name])
    op.create_index("ix_scan_file_trouble", "scan_file", ["path"], sqlite_where=sa.text("state <> 'there'"))
    here = op.get_bind()
    # Present numbers first: where an older archive holds one twice but for its case, the roll that has it keeps it.
    asked = (
        "SELECT number, id FROM roll UNION ALL SELECT number, roll_id FROM former_number"
        " UNION ALL SELECT number, NULL FROM number_gap"
    )
    rows: dict[str, dict[str, object]] = {}
    for number, roll_id in here.execute(sa.text(asked)):
        row = {"number": number, "sort": sort_text(number), "squeezed": squeezed(number), "tail": tail(number)}
        rows.setdefault(number.casefold(), {"folded": number.casefold(), **row, "roll_id": roll_id})
    if rows:
        here.execute(issued.insert(), list(rows.values()))
    # A roll's rows of the index stand together: its key shifted by 16 bits, and in these the frame's position.
    op.execute("CREATE TEMP TABLE kept AS SELECT roll_id, frame_id, words, roll_words FROM found")
    op.execute("DELETE FROM found")
    op.execute(
        "INSERT INTO found (rowid, roll_id, frame_id, words, roll_words)"
        " SELECT (k.roll_id << 16) + coalesce(f.position, 0), k.roll_id, k.frame_id, k.words, k.roll_words"
        " FROM kept k LEFT JOIN frame f ON f.id = k.frame_id"
    )
    op.execute("DROP TABLE kept")
