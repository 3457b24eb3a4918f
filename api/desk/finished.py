"""Finished PDFs in the archive's folder `prints`: listed, noted as printed, removed; there whole or not at all."""

import re
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from catalogue.errors import NotFound
from catalogue.store.engine import Archive

FOLDER = "prints"
_OURS = re.compile(r"\d{4}-\d\d-\d\d \d{6} [\w .×()-]+\.pdf")


@dataclass(frozen=True)
class FinishedPdf:
    """A finished PDF: name, bytes, and when it was made (local time, ISO 8601 to the minute)."""

    name: str
    byte_size: int
    made_at: str

    @property
    def size(self) -> str:
        """The size in words."""
        return f"{self.byte_size / 1e6:.1f} MB" if self.byte_size >= 100_000 else f"{max(1, round(self.byte_size / 1000))} kB"


def prints_folder(archive: Archive) -> Path:
    """Where finished PDFs lie; made where it isn't there."""
    folder = archive.folder / FOLDER
    folder.mkdir(exist_ok=True)
    return folder


def finished_pdfs(archive: Archive) -> tuple[FinishedPdf, ...]:
    """The PDFs that the desk made, newest first."""
    folder = archive.folder / FOLDER
    found = []
    for path in sorted(folder.iterdir(), reverse=True) if folder.is_dir() else ():
        if _OURS.fullmatch(path.name) and path.is_file():
            facts = path.stat()
            at = datetime.fromtimestamp(facts.st_mtime).astimezone().isoformat(timespec="minutes")
            found.append(FinishedPdf(path.name, facts.st_size, at))
    return tuple(found)


def finished_pdf(archive: Archive, name: str) -> Path:
    """The finished PDF of this name; raises `NotFound`."""
    if not _OURS.fullmatch(name) or not (archive.folder / FOLDER / name).is_file():
        raise NotFound(f"There is no finished PDF “{name[:80]}”. Look at the list on the print page.")
    return archive.folder / FOLDER / name


def remove_finished(archive: Archive, name: str) -> None:
    """Removes a finished PDF; what it printed stays noted. Raises `NotFound`."""
    finished_pdf(archive, name).unlink(missing_ok=True)


def kept_with(archive: Archive, name: str) -> Any:
    """What a finished PDF says of itself; raises `NotFound`."""
    from printing.canvas.merging import kept_in  # heavy: here, so that a service at rest is without it

    with finished_pdf(archive, name).open("rb") as file:
        return kept_in(file)


def clear_unfinished(archive: Archive) -> None:
    """Removes what a PDF that was broken off left behind."""
    for path in prints_folder(archive).glob(".*.part"):
        path.unlink(missing_ok=True)
