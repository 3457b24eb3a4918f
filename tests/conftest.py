"""Fixtures: an empty archive in a temporary folder, and a session on it."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlmodel import Session

from catalogue.filing import add_binder
from catalogue.store.database import Archive, open_archive


@pytest.fixture
def archive(tmp_path: Path) -> Iterator[Archive]:
    """An empty archive with one binder."""
    opened = open_archive(tmp_path / "archive")
    with opened.session() as session:
        add_binder(session, "Binder 1")
    yield opened
    opened.close()


@pytest.fixture
def session(archive: Archive) -> Iterator[Session]:
    """A session on the archive."""
    with archive.session() as opened:
        yield opened
