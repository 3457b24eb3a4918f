"""Runs the revisions on the connection that the database module hands over."""

from alembic import context
from sqlmodel import SQLModel


def _mine(name: str | None, kind: str, _parents: object) -> bool:
    """The full-text index and its shadow tables aren't Alembic's business."""
    return not (kind == "table" and (name or "").startswith("found"))


context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=SQLModel.metadata,
    render_as_batch=True,
    include_name=_mine,
)
context.run_migrations()
