"""How the cost of pages, registering, memory and start grows with the archive. Run: python tests/benchmark_growth.py [ROLLS ...]

Not a test: figures depend on the machine, ratios much less. For archives of 30, 300 and 3,000 rolls, or of those
named, it prints for each page and JSON route the server's processor time as a ratio to an empty page of FastAPI and
Jinja on the same machine, the size of the answer and the statements; then registering a roll of 36 against the same
rows by executemany in one durable transaction, the memory of a service at rest, and how long commands take to start.
"""

import http.client
import os
import resource
import shutil
import sqlite3
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from fastapi import FastAPI, Request
from fastapi.templating import Jinja2Templates
from jinja2 import DictLoader, Environment
from sqlalchemy import event
from sqlmodel import func, select

sys.path.insert(0, str(Path(__file__).parent.parent))

from archive_maker import make
from builders import Statements
from commanding import ROOT
from serving import free_port, serving

from api.app import _PAGES, _ROOMS, create_app
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.register import register_roll
from catalogue.store.engine import DATABASE_NAME, Archive, open_archive
from catalogue.store.tables.rolls import Frame, Page, Roll, Strip
from catalogue.store.tables.scans import Scan

TIMES = 5
NO_PAGE = (".pdf", ".png", ".html", "/picture", "/api/docs", "/print/look", "/print/making")
"""Ends of the addresses that answer with pictures or paper, or that wait."""


def every_get() -> list[tuple[str, Any]]:
    """Everything that is read, with its whole address, as the application has it."""
    every = [("/api" if room in _ROOMS else "", r) for room in (*_ROOMS, *_PAGES) for r in room.router.routes]
    return [(before + r.path, r) for before, r in every if "GET" in r.methods]


def routes() -> list[tuple[str, Any]]:
    """Every page and JSON route: no picture, no paper."""
    return [(path, route) for path, route in every_get() if not path.endswith(NO_PAGE)]


def samples(archive: Archive) -> dict[str, str]:
    """A roll in the middle of the archive that has scans, and what belongs to it, by the names of parameters."""
    with archive.session(reading=True) as session:
        count = session.exec(select(func.count()).select_from(Scan)).one()
        scan, frame, roll, page = session.exec(
            select(Scan, Frame, Roll, Page)
            .where(Scan.frame_id == Frame.id, Frame.roll_id == Roll.id, Strip.roll_id == Roll.id, Strip.page_id == Page.id)
            .order_by(Scan.id)  # type: ignore[arg-type]
            .offset(count // 2)
            .limit(1)
        ).one()
        found: dict[str, object] = {
            "number": roll.number, "label": frame.label, "page_id": page.id, "binder_id": page.binder_id, "scan_id": scan.id,
            "frame_id": frame.id, "roll": roll.number, "process": "C-41", "q": "gate walk",
        }  # fmt: skip
    return {name: str(value) for name, value in found.items()}


class Asked:
    """A service of this process, asked as a browser asks it."""

    def __init__(self, at: str) -> None:
        self._connection = http.client.HTTPConnection(at.removeprefix("http://"))

    def get(self, address: str) -> tuple[int, int]:
        """Status and size of the answer."""
        self._connection.request("GET", address)
        answer = self._connection.getresponse()
        size = len(answer.read())
        self._connection.close()
        return answer.status, size

    def cost_ms(self, address: str) -> float:
        """Processor time of the server, all threads but the one that asks, for one answer; the middle of several."""
        taken = []
        for _ in range(TIMES):
            began = time.process_time() - time.thread_time()
            self.get(address)
            taken.append((time.process_time() - time.thread_time() - began) * 1000)
        return statistics.median(taken)


def empty() -> FastAPI:
    """An application with one page and nothing on it."""
    app = FastAPI()
    templates = Jinja2Templates(env=Environment(loader=DictLoader({"empty.html": "<!doctype html><title>{{ title }}</title>"})))

    @app.get("/")
    def page(request: Request) -> Any:
        return templates.TemplateResponse(request, "empty.html", {"title": "Nothing"})

    return app


def pages(folder: Path, report: dict[str, list[str]]) -> list[str]:
    """Adds a column for this archive to the report; gives the routes that it has nothing to show for."""
    app, missing = create_app(folder), []
    given = samples(app.state.archive)
    with serving(app) as at, serving(empty()) as bare_at:
        asked, bare = Asked(at), Asked(bare_at)
        bare.get("/")
        for path, route in routes():
            names = [p.name for p in route.dependant.path_params]
            more = [p.name for p in route.dependant.query_params if p.field_info.is_required() or p.name == "q"]
            if not set(names + more) <= set(given):
                missing.append(path)
                continue
            address = f"{path.format(**given)}?{urlencode({name: given[name] for name in more})}"
            asked.get(address)
            with Statements(app.state.archive.engine) as counted:
                status, size = asked.get(address)
            if status != 200:
                missing.append(f"{path} ({status})")
                continue
            ratio = asked.cost_ms(address) / bare.cost_ms("/")
            report.setdefault(path, []).append(f"{ratio:8.1f} {size / 1000:8.1f} {counted.count:6}")
    return missing


def register_ratio(folder: Path) -> tuple[float, float]:
    """Milliseconds to register a roll of 36, and for the same rows bare; both in copies of this archive."""
    with tempfile.TemporaryDirectory(dir=folder.parent) as name:
        ours, bare = Path(name, "ours"), Path(name, "bare.db")
        ours.mkdir()
        shutil.copy(folder / DATABASE_NAME, ours / DATABASE_NAME)
        shutil.copy(folder / DATABASE_NAME, bare)
        archive, inserts = open_archive(ours), list[list[tuple[str, Any]]]()

        @event.listens_for(archive.engine, "before_cursor_execute")
        def _kept(_c: Any, _cursor: Any, statement: str, parameters: Any, _context: Any, many: bool) -> None:
            if statement.startswith("INSERT"):
                inserts[-1].append((statement, parameters if many else [parameters]))

        def register(n: int) -> None:
            inserts.append([])
            with archive.session() as session:
                register_roll(session, NewRoll(number=f"2099-{n:05}", frames=36, layout="135-6x6", subject=f"Harbour {n}"))

        connection = sqlite3.connect(bare, isolation_level=None)
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA synchronous=FULL")

        def write(n: int) -> None:
            connection.execute("BEGIN IMMEDIATE")
            for statement, rows in inserts[n]:
                connection.executemany(statement, rows)
            connection.execute("COMMIT")

        times = 40
        found = median_ms(register, times), median_ms(write, times)
        connection.close()
        archive.close()
        return found


def median_ms(work: Callable[[int], object], times: int) -> float:
    """The middle of so many runs, in milliseconds of the clock; the first ten, which warm up, aren't counted."""
    taken = []
    for n in range(times):
        began = time.perf_counter()
        work(n)
        taken.append((time.perf_counter() - began) * 1000)
    return statistics.median(taken[10:])


def at_rest_mb(folder: Path) -> tuple[float, float]:
    """Memory of a service that has just started, and after its first page, in megabytes."""
    port = free_port()
    command = [sys.executable, "-m", "api", "serve", "--archive", str(folder), "--port", str(port)]
    with subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True) as child:
        assert child.stdout is not None
        child.stdout.readline()

        def memory() -> float:
            status = Path(f"/proc/{child.pid}/status").read_text(encoding="ascii")
            return int(status.split("VmRSS:")[1].split()[0]) / 1000

        time.sleep(2)
        first = memory()
        Asked(f"127.0.0.1:{port}").get("/register")
        last = memory()
        child.terminate()
    return first, last


def start_s(*arguments: str) -> float:
    """Processor time of a command in a process of its own, the middle of five."""
    taken = []
    for _ in range(5):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, "-m", "api", *arguments], cwd=ROOT, env=os.environ, capture_output=True, check=False)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        taken.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return statistics.median(taken)


def main(sizes: list[int]) -> None:
    """Prints the tables."""
    report: dict[str, list[str]] = {}
    missing: list[str] = []
    lines = []
    with tempfile.TemporaryDirectory() as name:
        for size in sizes:
            folder = Path(name, str(size))
            began = time.perf_counter()
            make(folder, size).close()
            made = time.perf_counter() - began
            missing = pages(folder, report)
            ours, bare = register_ratio(folder)
            first, last = at_rest_mb(folder)
            found = start_s("find", "gate", "--archive", str(folder))
            lines.append(
                f"{size} rolls: made in {made:.0f} s; registering {ours:.1f} ms, the same rows {bare:.1f} ms, ratio "
                f"{ours / bare:.1f}; at rest {first:.0f} MB, after a page {last:.0f} MB; find {found:.2f} s"
            )
        lines.append(f"--help {start_s('--help'):.2f} s")
    print("each: times the empty page, kB, statements".ljust(52), *(f"{size:>24}" for size in sizes))
    for path, cells in sorted(report.items()):
        print(path.ljust(52), *cells)
    print("nothing to show:", *missing)
    print(*lines, sep="\n")


if __name__ == "__main__":
    main([int(size) for size in sys.argv[1:]] or [30, 300, 3000])
