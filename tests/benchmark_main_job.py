"""The main job's speed as ratios to the bare work below it. Run: python tests/benchmark_main_job.py

Not a test: figures depend on the machine, ratios much less. It prints
registering against the same rows through bare sqlite3, a contact sheet against
the same pictures drawn bare with ReportLab, and finding against the bare query.
"""

import io
import sqlite3
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

from PIL import Image
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas

sys.path.insert(0, str(Path(__file__).parent.parent))

from builders import filed
from small_scans import tied_by_name

from catalogue.rolls.file import add_binder, get_page
from catalogue.rolls.find import find
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.register import register_roll
from catalogue.store.engine import Archive, open_archive
from printing.sheets.documents import contact_sheet_pdf


def median_ms(work: Callable[[int], object], times: int) -> float:
    """The middle of so many runs, in milliseconds; the first, which warms up, isn't counted."""
    work(0)
    taken = []
    for n in range(1, times + 1):
        began = time.perf_counter()
        work(n)
        taken.append((time.perf_counter() - began) * 1000)
    return statistics.median(taken)


def bare_rows(path: Path) -> Callable[[int], object]:
    """One roll, 36 frames, 6 strips, their links and moves, durable, with nothing between."""
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode=WAL")
    connection.execute("PRAGMA synchronous=FULL")
    connection.execute("CREATE TABLE roll (id INTEGER PRIMARY KEY, number TEXT UNIQUE)")
    for name in ("frame", "strip", "strip_frame", "strip_move"):
        connection.execute(f"CREATE TABLE {name} (id INTEGER PRIMARY KEY, of INTEGER, label TEXT, place INTEGER)")

    def work(n: int) -> None:
        connection.execute("BEGIN IMMEDIATE")
        roll = connection.execute("INSERT INTO roll (number) VALUES (?)", (f"2031-{n:05}",)).lastrowid
        for name, count in (("frame", 36), ("strip", 6), ("strip_frame", 36), ("strip_move", 6)):
            rows = [(roll, str(k), k) for k in range(count)]
            connection.executemany(f"INSERT INTO {name} (of, label, place) VALUES (?, ?, ?)", rows)
        connection.execute("COMMIT")

    return work


def registering(archive: Archive) -> Callable[[int], object]:
    def work(n: int) -> None:
        with archive.session() as session:
            register_roll(session, NewRoll(number=f"2031-{n:05}", frames=36, layout="135-6x6", subject=f"Harbour {n}"))

    return work


def main() -> None:
    """Runs all three and prints a line each."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        archive = open_archive(folder / "archive")
        with archive.session() as session:
            add_binder(session, "Binder 1")
        ours, bare = median_ms(registering(archive), 30), median_ms(bare_rows(folder / "bare.db"), 30)
        print(f"register a roll of 36: {ours:.1f} ms, bare rows {bare:.1f} ms, ratio {ours / bare:.1f}")

        scans = folder / "archive" / "scans" / "2031-00000"
        scans.mkdir(parents=True)
        for n in range(1, 37):
            Image.effect_noise((1200, 800), 40 + n).convert("RGB").save(scans / f"{n}.jpg", quality=85)
        with archive.session() as session:
            tied_by_name(session, "2031-00000", "2031-00000")
            page_id = filed(session, NewRoll(number="2032-00001", frames=6, layout="135-7x6")).page_ids[0]
            page = get_page(session, 1)
        pictures = [f.picture for f in page.plan.frames if f.picture]

        def sheet(_: int) -> None:
            contact_sheet_pdf([page], paper="A3", fit="two sheets", roll=None, printed_on=date(2031, 1, 1), link="http://x/1")

        def bare_sheet(_: int) -> None:
            out = io.BytesIO()
            pdf = Canvas(out, invariant=1)
            for n, path in enumerate(pictures):
                pdf.drawImage(path, (n % 6) * 38 * mm, (n // 6) * 39 * mm, 36 * mm, 24 * mm)
            pdf.save()

        ours, bare = median_ms(sheet, 10), median_ms(bare_sheet, 10)
        print(f"contact sheet of {len(pictures)}: {ours:.1f} ms, the pictures alone {bare:.1f} ms, ratio {ours / bare:.2f}")

        def found(_: int) -> None:
            with archive.session(reading=True) as session:
                find(session, "harbour 7")

        raw = sqlite3.connect(folder / "archive" / "stripleaf.db")
        table = next(r[0] for r in raw.execute("SELECT name FROM sqlite_master WHERE sql LIKE '%fts5%' AND type = 'table'"))

        def bare_found(_: int) -> None:
            raw.execute(f"SELECT rowid FROM {table} WHERE {table} MATCH ? LIMIT 60", ('"harbour" "7"*',)).fetchall()

        ours, bare = median_ms(found, 30), median_ms(bare_found, 30)
        print(f"find among 31 rolls: {ours:.1f} ms, the bare query {bare:.2f} ms, ratio {ours / bare:.0f} (page {page_id})")
        archive.close()


if __name__ == "__main__":
    main()
