"""Fixtures: an empty archive in a temporary folder, a session on it, and a browser."""

from collections.abc import Iterator
from pathlib import Path
from shutil import copytree

import pytest
from hypothesis import settings
from playwright.sync_api import Browser, Page, sync_playwright
from serving import ARGUMENTS, CHROMIUM
from sqlmodel import Session

from catalogue.rolls.file import add_binder
from catalogue.store.engine import Archive, open_archive

# Without a deadline: on a loaded machine the first example of many takes longer than any that hypothesis allows.
settings.register_profile("stripleaf", deadline=None, max_examples=50)
settings.load_profile("stripleaf")


@pytest.fixture(scope="session")
def fresh_archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of an archive with one binder, to be copied: making one runs every migration, a copy runs none."""
    folder = tmp_path_factory.mktemp("fresh") / "archive"
    opened = open_archive(folder)
    with opened.session() as session:
        add_binder(session, "Binder 1")
    opened.close()
    return folder


@pytest.fixture
def archive(tmp_path: Path, fresh_archive: Path) -> Iterator[Archive]:
    """An empty archive with one binder."""
    copytree(fresh_archive, tmp_path / "archive")
    opened = open_archive(tmp_path / "archive")
    yield opened
    opened.close()


@pytest.fixture
def session(archive: Archive) -> Iterator[Session]:
    """A session on the archive."""
    with archive.session() as opened:
        yield opened


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """Debian's Chromium without a window."""
    with sync_playwright() as play:
        started = play.chromium.launch(executable_path=CHROMIUM or "/usr/bin/chromium", args=ARGUMENTS)
        yield started
        started.close()


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page at desktop width; nothing may be loaded from outside."""
    context = browser.new_context(viewport={"width": 1280, "height": 900})
    opened = context.new_page()
    foreign: list[str] = []
    opened.on("request", lambda r: None if r.url.startswith("http://127.0.0.1:") else foreign.append(r.url))
    yield opened
    assert not foreign, "a page loaded something from outside"
    context.close()
