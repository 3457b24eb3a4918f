"""The moment as it is written into the archive."""

from datetime import datetime


def now() -> str:
    """This moment in local time with its offset, to the second."""
    return datetime.now().astimezone().isoformat(timespec="seconds")
