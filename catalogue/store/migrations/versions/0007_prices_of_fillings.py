"""What a filling of a bottle cost stands in a table, no longer in the settings under a key made of its numbers."""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None
KEY = "bath_price/"


def upgrade() -> None:
    table = op.create_table(
        "filling_price",
        sa.Column("bottle_id", sa.Integer(), nullable=False),
        sa.Column("entry", sa.Integer(), nullable=False),
        sa.Column("price", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.CheckConstraint("entry >= 1 AND trim(price) <> ''", name=op.f("ck_filling_price_price")),
        sa.ForeignKeyConstraint(["bottle_id"], ["bottle.id"], name=op.f("fk_filling_price_bottle_id")),
        sa.PrimaryKeyConstraint("bottle_id", "entry", name=op.f("pk_filling_price")),
    )
    here = op.get_bind()
    kept = here.execute(sa.text("SELECT key, value FROM setting WHERE substr(key, 1, 11) = :key AND value <> ''"), {"key": KEY})
    places = {tuple(map(int, key.removeprefix(KEY).split("/"))): value for key, value in kept}
    rows = [{"bottle_id": bottle, "entry": entry, "price": value} for (bottle, entry), value in places.items()]
    if rows:
        here.execute(table.insert(), rows)
    here.execute(sa.text("DELETE FROM setting WHERE substr(key, 1, 11) = :key"), {"key": KEY})
