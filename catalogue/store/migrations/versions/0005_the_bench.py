"""The bench: waiting film, stocks, recipes, bottles with their ledger, tanks and sessions at the sink."""

import sqlalchemy as sa
import sqlmodel.sql.sqltypes
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None
TEXT = sqlmodel.sql.sqltypes.AutoString()


def upgrade() -> None:
    op.create_table(
        "bottle",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("holds_ml", sa.Float(), nullable=False),
        sa.Column("notes", TEXT, nullable=False),
        sa.Column("thrown_away", sa.Boolean(), nullable=False),
        sa.CheckConstraint("trim(name) <> '' AND holds_ml > 0", name=op.f("ck_bottle_bottle")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bottle")),
        sa.UniqueConstraint("name", name=op.f("uq_bottle_name")),
    )
    op.create_table(
        "recipe",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("process", TEXT, nullable=False),
        sa.Column("source", TEXT, nullable=False),
        sa.Column("notes", TEXT, nullable=False),
        sa.Column("put_away", sa.Boolean(), nullable=False),
        sa.Column("created_at", TEXT, nullable=False),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_recipe_name")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recipe")),
        sa.UniqueConstraint("name", name=op.f("uq_recipe_name")),
    )
    op.create_table(
        "stock_facts",
        sa.Column("stock", TEXT, nullable=False),
        sa.Column("process", TEXT, nullable=False),
        sa.Column("speed", sa.Float(), nullable=True),
        sa.Column("weight", sa.Float(), nullable=False),
        sa.Column("price", TEXT, nullable=False),
        sa.Column("notes", TEXT, nullable=False),
        sa.CheckConstraint("trim(stock) <> ''", name=op.f("ck_stock_facts_stock")),
        sa.CheckConstraint("speed > 0 AND weight BETWEEN 0.25 AND 4", name=op.f("ck_stock_facts_figures")),
        sa.PrimaryKeyConstraint("stock", name=op.f("pk_stock_facts")),
    )
    op.create_table(
        "tank",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("holds_ml", sa.Float(), nullable=False),
        sa.Column("reels_135", sa.Integer(), nullable=False),
        sa.Column("least_ml", sa.Float(), nullable=False),
        sa.CheckConstraint("trim(name) <> ''", name=op.f("ck_tank_name")),
        sa.CheckConstraint(
            "holds_ml > 0 AND reels_135 BETWEEN 1 AND 20 AND least_ml >= 0 AND least_ml <= holds_ml",
            name=op.f("ck_tank_measures"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tank")),
        sa.UniqueConstraint("name", name=op.f("uq_tank_name")),
    )
    op.create_table(
        "recipe_step",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recipe_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("name", TEXT, nullable=False),
        sa.Column("seconds", sa.Integer(), nullable=True),
        sa.Column("temperature_c", sa.Float(), nullable=True),
        sa.Column("tolerance_c", sa.Float(), nullable=True),
        sa.Column("first_s", sa.Integer(), nullable=False),
        sa.Column("every_s", sa.Integer(), nullable=False),
        sa.Column("for_s", sa.Integer(), nullable=False),
        sa.Column("agitation", TEXT, nullable=False),
        sa.Column("solution", TEXT, nullable=False),
        sa.Column("chemical", TEXT, nullable=False),
        sa.Column("dilution", TEXT, nullable=False),
        sa.Column("least_ml", sa.Float(), nullable=False),
        sa.Column("per_degree", sa.Float(), nullable=True),
        sa.Column("valid_from_c", sa.Float(), nullable=True),
        sa.Column("valid_to_c", sa.Float(), nullable=True),
        sa.Column("push_factor", sa.Float(), nullable=True),
        sa.Column("notes", TEXT, nullable=False),
        sa.CheckConstraint(
            "kind IN ('developer', 'water', 'stop', 'bleach', 'fix', 'blix', 'wash', 'wetting agent', 'own')",
            name=op.f("ck_recipe_step_kind"),
        ),
        sa.CheckConstraint("position >= 1 AND trim(name) <> ''", name=op.f("ck_recipe_step_position")),
        sa.CheckConstraint("solution IN ('water', 'one-shot', 'bath')", name=op.f("ck_recipe_step_solution")),
        sa.CheckConstraint(
            "first_s >= 0 AND every_s >= 0 AND for_s >= 0 AND least_ml >= 0", name=op.f("ck_recipe_step_agitation")
        ),
        sa.CheckConstraint(
            "per_degree > 0 AND valid_from_c < valid_to_c AND push_factor > 1", name=op.f("ck_recipe_step_formula")
        ),
        sa.CheckConstraint(
            "seconds > 0 AND temperature_c BETWEEN 0 AND 60 AND tolerance_c >= 0", name=op.f("ck_recipe_step_measures")
        ),
        sa.ForeignKeyConstraint(["recipe_id"], ["recipe.id"], name=op.f("fk_recipe_step_recipe_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recipe_step")),
        sa.UniqueConstraint("recipe_id", "position", name=op.f("uq_recipe_step_recipe_id_position")),
    )
    with op.batch_alter_table("recipe_step", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_recipe_step_recipe_id"), ["recipe_id"], unique=False)

    op.create_table(
        "tank_session",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("recipe_id", sa.Integer(), nullable=True),
        sa.Column("tank_id", sa.Integer(), nullable=True),
        sa.Column("title", TEXT, nullable=False),
        sa.Column("steps", TEXT, nullable=False),
        sa.Column("state", TEXT, nullable=False),
        sa.Column("volume_ml", sa.Float(), nullable=True),
        sa.Column("planned_at", TEXT, nullable=False),
        sa.Column("begun_at", TEXT, nullable=False),
        sa.Column("ended_at", TEXT, nullable=False),
        sa.Column("done_by", TEXT, nullable=False),
        sa.Column("notes", TEXT, nullable=False),
        sa.CheckConstraint(
            "state IN ('planned', 'under way', 'hanging', 'done', 'given up')", name=op.f("ck_tank_session_state")
        ),
        sa.CheckConstraint("volume_ml > 0", name=op.f("ck_tank_session_volume")),
        sa.ForeignKeyConstraint(["recipe_id"], ["recipe.id"], name=op.f("fk_tank_session_recipe_id")),
        sa.ForeignKeyConstraint(["tank_id"], ["tank.id"], name=op.f("fk_tank_session_tank_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tank_session")),
    )
    with op.batch_alter_table("tank_session", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_tank_session_recipe_id"), ["recipe_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_tank_session_state"), ["state"], unique=False)

    op.create_table(
        "waiting_roll",
        sa.Column("roll_id", sa.Integer(), nullable=False),
        sa.Column("state", TEXT, nullable=False),
        sa.Column("loaded_on", TEXT, nullable=False),
        sa.Column("finished_on", TEXT, nullable=False),
        sa.Column("exposure_index", sa.Float(), nullable=True),
        sa.Column("push_stops", sa.Float(), nullable=False),
        sa.Column("frames_expected", sa.Integer(), nullable=True),
        sa.Column("cassette_code", TEXT, nullable=False),
        sa.Column("recipe_id", sa.Integer(), nullable=True),
        sa.Column("remarks", TEXT, nullable=False),
        sa.CheckConstraint("state IN ('loaded', 'exposed', 'processed', 'sleeved')", name=op.f("ck_waiting_roll_state")),
        sa.CheckConstraint(
            "exposure_index > 0 AND push_stops BETWEEN -5 AND 5 AND frames_expected BETWEEN 1 AND 400",
            name=op.f("ck_waiting_roll_figures"),
        ),
        sa.ForeignKeyConstraint(["recipe_id"], ["recipe.id"], name=op.f("fk_waiting_roll_recipe_id")),
        sa.ForeignKeyConstraint(["roll_id"], ["roll.id"], name=op.f("fk_waiting_roll_roll_id")),
        sa.PrimaryKeyConstraint("roll_id", name=op.f("pk_waiting_roll")),
    )
    with op.batch_alter_table("waiting_roll", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_waiting_roll_recipe_id"), ["recipe_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_waiting_roll_state"), ["state"], unique=False)

    op.create_table(
        "bottle_event",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bottle_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("at", TEXT, nullable=False),
        sa.Column("data", TEXT, nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("position >= 1 AND trim(kind) <> ''", name=op.f("ck_bottle_event_line")),
        sa.ForeignKeyConstraint(["bottle_id"], ["bottle.id"], name=op.f("fk_bottle_event_bottle_id")),
        sa.ForeignKeyConstraint(["session_id"], ["tank_session.id"], name=op.f("fk_bottle_event_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bottle_event")),
        sa.UniqueConstraint("bottle_id", "position", name=op.f("uq_bottle_event_bottle_id_position")),
    )
    with op.batch_alter_table("bottle_event", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_bottle_event_bottle_id"), ["bottle_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_bottle_event_session_id"), ["session_id"], unique=False)

    op.create_table(
        "recipe_point",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("step_id", sa.Integer(), nullable=False),
        sa.Column("kind", TEXT, nullable=False),
        sa.Column("at", sa.Float(), nullable=False),
        sa.Column("seconds", sa.Integer(), nullable=False),
        sa.CheckConstraint("kind IN ('temperature', 'push', 'rolls done')", name=op.f("ck_recipe_point_kind")),
        sa.CheckConstraint("seconds > 0", name=op.f("ck_recipe_point_seconds")),
        sa.ForeignKeyConstraint(["step_id"], ["recipe_step.id"], name=op.f("fk_recipe_point_step_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recipe_point")),
        sa.UniqueConstraint("step_id", "kind", "at", name=op.f("uq_recipe_point_step_id_kind_at")),
    )
    with op.batch_alter_table("recipe_point", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_recipe_point_step_id"), ["step_id"], unique=False)

    op.create_table(
        "tank_fact",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("key", TEXT, nullable=False),
        sa.Column("step", sa.Integer(), nullable=False),
        sa.Column("what", TEXT, nullable=False),
        sa.Column("at", TEXT, nullable=False),
        sa.Column("value", TEXT, nullable=False),
        sa.Column("taken_back", sa.Boolean(), nullable=False),
        sa.CheckConstraint("what IN ('begun', 'ended', 'temperature', 'note', 'skipped')", name=op.f("ck_tank_fact_what")),
        sa.CheckConstraint("step >= 1", name=op.f("ck_tank_fact_step")),
        sa.ForeignKeyConstraint(["session_id"], ["tank_session.id"], name=op.f("fk_tank_fact_session_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tank_fact")),
        sa.UniqueConstraint("session_id", "key", name=op.f("uq_tank_fact_session_id_key")),
    )
    with op.batch_alter_table("tank_fact", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_tank_fact_session_id"), ["session_id"], unique=False)

    op.create_table(
        "tank_roll",
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("roll_id", sa.Integer(), nullable=False),
        sa.Column("reel", sa.Integer(), nullable=False),
        sa.Column("clip", sa.Integer(), nullable=True),
        sa.Column("told_by", TEXT, nullable=False),
        sa.CheckConstraint("reel BETWEEN 1 AND 20 AND clip BETWEEN 1 AND 99", name=op.f("ck_tank_roll_places")),
        sa.ForeignKeyConstraint(["roll_id"], ["roll.id"], name=op.f("fk_tank_roll_roll_id")),
        sa.ForeignKeyConstraint(["session_id"], ["tank_session.id"], name=op.f("fk_tank_roll_session_id")),
        sa.PrimaryKeyConstraint("session_id", "roll_id", name=op.f("pk_tank_roll")),
    )
    with op.batch_alter_table("tank_roll", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_tank_roll_roll_id"), ["roll_id"], unique=False)
