"""The archive's own settings: its name, the roll number pattern, the scan folder, the units."""

from pathlib import Path

from sqlmodel import Session

from catalogue.errors import InvalidInput
from catalogue.film.roll_numbers import DEFAULT_PATTERN, RollPattern
from catalogue.store.tables.rolls import Setting
from catalogue.units import Units

ARCHIVE_NAME, ROLL_PATTERN, SCAN_FOLDER = "archive_name", "roll_pattern", "scan_folder"
_UNITS = {"length": "unit_length", "temperature": "unit_temperature", "volume": "unit_volume"}
NAMELESS = "Stripleaf archive"


def get_setting(session: Session, key: str, default: str = "") -> str:
    """The value kept under the key, or the default."""
    found = session.get(Setting, key)
    return found.value if found else default


def set_setting(session: Session, key: str, value: str) -> None:
    """Keeps the value under the key."""
    session.merge(Setting(key=key, value=value))
    session.flush()


def archive_name(session: Session) -> str:
    """The archive's name as printed on every sheet."""
    return get_setting(session, ARCHIVE_NAME, NAMELESS)


def name_archive(session: Session, name: str) -> str:
    """Gives the archive its name; raises `InvalidInput` for none or one too long for a sheet's edge."""
    plain = " ".join(name.split())
    if not plain or len(plain) > 80 or not plain.isprintable():
        raise InvalidInput("An archive needs a name of 1 to 80 characters, for example Negatives of the Alder Lane house.")
    set_setting(session, ARCHIVE_NAME, plain)
    return plain


def roll_pattern(session: Session) -> RollPattern:
    """The pattern that new roll numbers follow."""
    return RollPattern.parse(get_setting(session, ROLL_PATTERN, DEFAULT_PATTERN))


def set_roll_pattern(session: Session, text: str) -> RollPattern:
    """Sets the pattern for new numbers; those issued before keep theirs. Raises `InvalidInput`."""
    pattern = RollPattern.parse(" ".join(text.split()))
    set_setting(session, ROLL_PATTERN, pattern.text)
    return pattern


def scan_folder(session: Session) -> Path:
    """The scan folder the person set, else the archive's own `scans` folder."""
    named = get_setting(session, SCAN_FOLDER)
    return Path(named) if named else Path(session.info["folder"]) / "scans"


def get_units(session: Session) -> Units:
    """The units the person set."""
    plain = Units()
    return Units(**{name: get_setting(session, key, getattr(plain, name)) for name, key in _UNITS.items()})


def set_units(session: Session, units: Units) -> None:
    """Sets the units; what is stored stays in mm, °C and ml."""
    for name, key in _UNITS.items():
        set_setting(session, key, getattr(units, name))
