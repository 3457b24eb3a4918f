"""Makes archives of any size through the project's own operations: `python tests/archive_maker.py FOLDER ROLLS`.

Mixed formats in their usual sleeve pages, thirty pages a binder, captions on some frames, a process record for most
rolls, and scans (rows only, the files aren't there) of one roll in three. The same number gives the same archive.
"""

import sys
from collections.abc import Iterator
from pathlib import Path

from sqlmodel import Session, select

from catalogue.rolls.file import add_binder, list_binders
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.process import ProcessInput
from catalogue.rolls.register import register_rolls
from catalogue.store.bulk import Rows
from catalogue.store.engine import Archive, open_archive
from catalogue.store.tables.rolls import Frame, Roll
from catalogue.store.tables.scans import Scan, ScanFile

PAGES = 30
"""In a binder."""
BATCH = 500
"""Rolls in one transaction."""
FILMS = (("135-24x36", 36, "C-41"), ("135-24x36", 36, "black and white"), ("120-6x6", 12, "C-41"), ("135-24x36", 24, "E-6"))
STOCKS = ("Lantern Pan", "Tarn 100", "Loma 400", "Fellside Chrome")
PLACES = ("Skarvholm", "Alder Lane", "Old weir", "Ferry landing", "Upper quarry")


def rolls(first: int, count: int) -> Iterator[NewRoll]:
    """The rolls from this one on, each on a page of its own."""
    for n in range(first, first + count):
        film, frames, process = FILMS[n % len(FILMS)]
        year = 1990 + n % 40
        yield NewRoll(
            number=f"{year}-{n:05}", format=film, frames=frames, binder=f"Binder {n // PAGES + 1}",
            stock=STOCKS[n % 4], camera=f"Field {n % 5}", subject=f"Walk {n}", place=PLACES[n % 5],
            exposed=f"{year}-{n % 12 + 1:02}", captions={str(k): f"Gate {n} {k}" for k in range(1, 7)} if n % 4 == 0 else {},
            process=ProcessInput(process=process, developer=f"Bath {n % 3}") if n % 5 else None,
        )  # fmt: skip


def add_scans(session: Session, numbers: tuple[str, ...]) -> None:
    """A file a frame for every third of these rolls, each tied as its master."""
    rows = Rows(session)
    chosen = dict(session.exec(select(Roll.id, Roll.number).where(Roll.number.in_(numbers[::3]))).all())  # type: ignore[attr-defined]
    for key, roll_id in session.exec(select(Frame.id, Frame.roll_id).where(Frame.roll_id.in_(chosen))).all():  # type: ignore[attr-defined]
        path = f"{chosen[roll_id]}/{key}.tif"
        file = rows.add(
            ScanFile, path=path, sha256=f"{key:064x}", width_px=6000, height_px=4000, kind="TIFF", fingerprint=b"\0" * 600
        )
        rows.add(Scan, frame_id=key, file_id=file["id"], linked_at="2031-01-01T00:00:00+00:00")
    rows.write()


def fill(archive: Archive, count: int, first: int = 0) -> None:
    """Adds so many rolls, with the binders they need."""
    for start in range(first, first + count, BATCH):
        some = list(rolls(start, min(BATCH, first + count - start)))
        with archive.session() as session:
            there = {binder.name for binder in list_binders(session)}
            for name in dict.fromkeys(str(roll.binder) for roll in some):
                if name not in there:
                    add_binder(session, name)
            add_scans(session, register_rolls(session, some))


def make(folder: Path, count: int) -> Archive:
    """A new archive of so many rolls."""
    archive = open_archive(folder)
    fill(archive, count)
    return archive


if __name__ == "__main__":
    make(Path(sys.argv[1]), int(sys.argv[2])).close()
