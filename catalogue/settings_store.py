"""The archive's own settings: its name, the roll number pattern, the scan folder."""

from pathlib import Path

from sqlmodel import Session

from catalogue.store.tables import Setting

ARCHIVE_NAME, ROLL_PATTERN, SCAN_FOLDER = "archive_name", "roll_pattern", "scan_folder"


def get_setting(session: Session, key: str, default: str = "") -> str:
    """The value kept under the key, or the default."""
    found = session.get(Setting, key)
    return found.value if found else default


def set_setting(session: Session, key: str, value: str) -> None:
    """Keeps the value under the key."""
    session.merge(Setting(key=key, value=value))
    session.flush()


def scan_folder(session: Session) -> Path:
    """The scan folder the person set, else the archive's own `scans` folder."""
    named = get_setting(session, SCAN_FOLDER)
    return Path(named) if named else Path(session.info["folder"]) / "scans"
