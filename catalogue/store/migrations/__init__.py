"""Alembic revisions, run at start from Python."""
