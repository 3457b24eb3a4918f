"""The moment as it is written into the archive."""

from datetime import UTC, datetime


def now() -> str:
    """This moment in local time with its offset, to the second."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


def moment_now() -> str:
    """This moment in UTC, ISO 8601 with milliseconds and Z."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
