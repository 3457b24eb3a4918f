"""Settings read from outside: where the archive lies, and where the service listens."""

import os
from pathlib import Path

import platformdirs

ARCHIVE_VARIABLE = "STRIPLEAF_ARCHIVE"
DEFAULT_HOST = "127.0.0.1"
DEFAULT_PORT = 8000


def archive_folder(given: Path | None = None) -> Path:
    """The archive folder: the one given, else STRIPLEAF_ARCHIVE, else the user's data folder."""
    if given is not None:
        return given.expanduser().absolute()
    named = os.environ.get(ARCHIVE_VARIABLE, "").strip()
    return Path(named or platformdirs.user_data_dir("stripleaf")).expanduser().absolute()
