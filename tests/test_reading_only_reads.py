"""Every page, answer and print is read without writing, without the write lock, and without a look at the scans' files."""

from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

import pytest
from bench_scene import set_up
from benchmark_growth import NO_PAGE, every_get
from fastapi.testclient import TestClient
from sqlalchemy import event, text
from sqlmodel import col, select

from api.app import create_app
from catalogue.bench.sink.plan import NewSession, plan_session
from catalogue.rolls.change import list_rolls
from catalogue.scans.read.folder_runs import read_run, start_run
from catalogue.store.engine import Archive, open_archive
from catalogue.store.tables.scans import ScanFile
from example_archive import build as builder

PICTURES = (
    "/api/scans/{scan_id}/picture", "/frames/{frame_id}/picture", "/scans/{scan_id}/picture", "/files/{file_id}/picture",
    "/pages/{page_id}/photograph",
)  # fmt: skip
"""What shows a file itself may open it."""
NOTHING_THERE = {"/api/print-desk/files/{name}"}
"""A finished PDF is made by a job first."""
WAITING = ("/bench/rolls/{number}", "/api/waiting/{number}")
ASKED: dict[str, str] = {"digits": "012714", "squares": "101010101010", "process": "C-41", "q": "14", "name": "Tray A"}
THING = {"kind": "page-label", "page_id": "1"}
ROWS = {
    "run_id": "SELECT max(id) FROM reading_run", "session_id": "SELECT max(id) FROM tank_session",
    "print_id": "SELECT max(id) FROM print_record", "recipe_id": "SELECT max(id) FROM recipe",
    "bottle_id": "SELECT max(bottle_id) FROM bottle_event", "page_id": "SELECT min(id) FROM page",
    "waits": "SELECT r.number FROM roll r JOIN waiting_roll w ON w.roll_id = r.id AND w.state <> 'sleeved' ORDER BY r.id DESC",
    "binder_id": "SELECT min(id) FROM binder", "scan_id": "SELECT min(id) FROM scan", "file_id": "SELECT min(id) FROM scan_file",
}  # fmt: skip


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    report = builder.build(tmp_path_factory.mktemp("example") / "archive")
    with report.archive.session() as session:
        bench = set_up(session, tank="Tank of two")
        rolls = [{"number": number, "reel": reel} for reel, number in enumerate(bench.rolls, 1)]
        bottles = {1: bench.developer, 3: bench.fixer}
        values = {"recipe_id": bench.recipe, "tank_id": bench.tank, "bottles": bottles, "rolls": rolls}
        plan_session(session, NewSession.model_validate(values))
        file = session.exec(select(ScanFile).order_by(col(ScanFile.path))).first()
        assert file is not None
        run = start_run(session, str(Path(file.path).parent), "2031-001")
    read_run(report.archive, run.id)
    report.archive.close()
    return report.archive.folder


def given(archive: Archive) -> dict[str, str]:
    """A value for each name in an address, from the archive."""
    with archive.session(reading=True) as session:
        found = {name: str(session.connection().execute(text(query)).scalar()) for name, query in ROWS.items()}
        printed = (
            "SELECT r.number, f.label, f.id FROM frame f JOIN roll r ON r.id = f.roll_id JOIN print_record p ON p.frame_id = f.id"
        )
        number, label, frame = session.connection().execute(text(printed)).first() or (None, None, None)
        assert number and list_rolls(session, limit=1)
    return ASKED | found | {"number": number, "label": label, "frame_id": str(frame), "roll": number}


def addresses(values: dict[str, str]) -> Iterator[tuple[str, str]]:
    for path, route in every_get():
        wanted = [p.name for p in route.dependant.query_params if p.field_info.is_required() or p.name == "q"]
        more = {name: values.get(name, "") for name in wanted}
        if "kind" in more or path in ("/print/look", "/print/thing"):
            more = THING
        if path == "/bench/bottles/{bottle_id}/rolls":
            more = {"roll": values["number"]}
        if path == "/api/print-records/{print_id}/time":
            more |= {"width_mm": "180", "height_mm": "240"}
        here = values | {"name": "none.pdf"} | ({"number": values["waits"]} if path in WAITING else {})
        if path.endswith("/entries/{number}"):
            here |= {"number": "1"}
        yield path, f"{path.format_map(here)}?{urlencode(more)}"


def files(folder: Path) -> list[Path]:
    return sorted(p for p in folder.rglob("*") if "elsewhere" not in p.parts and p.suffix not in (".db-wal", ".db-shm"))


def test_no_get_writes_or_opens_a_scan(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    app = create_app(folder)
    archive: Archive = app.state.archive
    client, values = TestClient(app), given(archive)
    sessions = Archive.session

    def reading(self: Archive, *, reading: bool = False) -> Any:
        assert reading, "takes the write lock"
        return sessions(self, reading=True)

    monkeypatch.setattr(Archive, "session", reading)
    event.listen(archive.engine, "connect", lambda connection, _: connection.execute("PRAGMA query_only=ON"))
    archive.engine.dispose()
    (folder / "scans").rename(folder / "elsewhere")
    (folder / "scans").write_text("no folder: whatever opens a file in it fails")
    asked = [(path, address) for path, address in addresses(values) if path not in PICTURES]
    there = files(folder)
    for on_paper in (False, True):
        for path, address in asked:
            if path.endswith(NO_PAGE) == on_paper:
                answer = client.get(address)
                assert (answer.status_code == 200) != (path in NOTHING_THERE), (path, answer.text[-700:])
        # Only paper makes pictures: those it draws.
        assert [p for p in files(folder) if p not in there and (not on_paper or "previews" not in p.parts)] == []


def test_a_write_would_have_been_refused(folder: Path) -> None:
    archive = open_archive(folder)
    event.listen(archive.engine, "connect", lambda connection, _: connection.execute("PRAGMA query_only=ON"))
    archive.engine.dispose()
    with pytest.raises(Exception, match="readonly"), archive.session(reading=True) as session:
        session.connection().execute(text("DELETE FROM setting"))
    archive.close()
