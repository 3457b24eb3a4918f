"""The archive's own settings: its name, the roll number pattern, the scan folder."""

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
