"""Bad input gets one clear sentence, and nothing is half-written."""

import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from PIL import Image
from sqlalchemy import event

from api.app import create_app
from catalogue.errors import ArchiveProblem
from catalogue.store.engine import DATABASE_NAME, open_archive

TABLES = ("binder", "page", "roll", "frame", "strip", "scan")
ROLL = {
    "number": "2031-001",
    "format": "135-24x36",
    "frames": "1-36",
    "layout": "135-7x6",
    "binder": "Binder 1",
}


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "archive"


@pytest.fixture
def client(folder: Path) -> Iterator[TestClient]:
    app = create_app(folder)
    with TestClient(app, raise_server_exceptions=False) as client:
        client.post("/api/binders", json={"name": "Binder 1"})
        assert client.post("/api/rolls", json=ROLL).status_code == 201
        yield client
    app.state.archive.close()


def counts(folder: Path) -> dict[str, int]:
    connection = sqlite3.connect(folder / DATABASE_NAME)
    try:
        return {t: connection.execute(f"SELECT count(*) FROM {t}").fetchone()[0] for t in TABLES}
    finally:
        connection.close()


BAD_ROLLS = {
    "an unknown format": {"format": "137-9x9"},
    "no frames": {"frames": 0},
    "ten thousand frames": {"frames": 10_000},
    "an emoji as number": {"number": "🎞️"},
    "an empty list of frames": {"frames": []},
    "an emoji as frame": {"frames": ["🎞"]},
    "a date that is none": {"exposed": "some day"},
    "an unknown layout": {"layout": "no such page"},
    "film wider than the slot": {"format": "120-6x6", "frames": 12},
    "a slot that isn't there": {"layout": None, "page_id": 1, "first_slot": 300},
    "a page that isn't there": {"layout": None, "page_id": 999},
    "a binder that isn't there": {"binder": "Binder 77"},
    "a page id beyond the database": {"layout": None, "page_id": 2**70},
    "half a character": {"subject": "\ud800"},
    "a field nobody knows": {"shelf": "3"},
    "a bath that boils": {"process": {"temperature_c": 300}},
}


@pytest.mark.parametrize("bad", BAD_ROLLS.values(), ids=BAD_ROLLS)
def test_a_bad_roll_is_refused_whole(client: TestClient, folder: Path, bad: dict[str, object]) -> None:
    import json

    before = counts(folder)
    body = json.dumps(ROLL | {"number": "2031-002"} | bad)
    answer = client.post("/api/rolls", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code in (404, 409, 422), answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    detail = answer.json()["detail"]
    assert 10 < len(detail) < 800
    assert "\n" not in detail
    assert "Traceback" not in detail
    assert counts(folder) == before


def test_a_slot_that_is_taken_is_said_with_the_roll_and_the_free_ones(client: TestClient, folder: Path) -> None:
    page_id = client.get("/api/rolls/2031-001").json()["page_ids"][0]
    before = counts(folder)
    body = {"number": "2031-002", "frames": "1-6", "page_id": page_id, "first_slot": 2}
    answer = client.post("/api/rolls", json=body)
    assert answer.status_code == 409
    assert "2031-001" in answer.json()["detail"]
    assert "7" in answer.json()["detail"]
    assert counts(folder) == before


@pytest.mark.parametrize("path", ["../outside", "/etc", "a/../../outside"])
def test_a_path_outside_the_scan_folder_is_refused(client: TestClient, folder: Path, path: str) -> None:
    (folder / "scans").mkdir()
    (folder / "outside").mkdir()
    answer = client.post("/api/rolls/2031-001/scans", json={"folder": path})
    assert answer.status_code == 422
    assert "scan folder" in answer.json()["detail"]
    assert counts(folder)["scan"] == 0


def test_a_truncated_jpeg_is_left_out_with_the_reason(client: TestClient, folder: Path) -> None:
    scans = folder / "scans"
    scans.mkdir()
    Image.effect_noise((400, 300), 80).save(scans / "2031-001_1.jpg")
    whole = (scans / "2031-001_1.jpg").read_bytes()
    (scans / "2031-001_2.jpg").write_bytes(whole[: len(whole) // 2])
    answer = client.post("/api/rolls/2031-001/scans", json={"folder": ""})
    assert answer.status_code == 200, answer.text
    assert [label for label, _path in answer.json()["linked"]] == ["1"]
    assert "2031-001_2.jpg" in str(answer.json()["skipped"])
    assert counts(folder)["scan"] == 1
    assert (scans / "2031-001_1.jpg").read_bytes() == whole


@pytest.mark.parametrize("path", ["/api/pages/99999999999999999999999", "/api/pages/x", "/api/pages/-1"])
def test_an_id_that_is_none_is_no_mistake_of_the_service(client: TestClient, path: str) -> None:
    assert client.get(path).status_code in (404, 422)


@pytest.mark.parametrize("q", ['"', "a OR", "NEAR(", "*", "roll:x", "\x00", "🎞", "'; DROP TABLE roll; --", "(" * 250])
def test_no_search_text_breaks_the_search(client: TestClient, q: str) -> None:
    assert client.get("/api/find", params={"q": q}).status_code == 200
    assert client.get("/api/rolls/2031-001").status_code == 200


@pytest.mark.parametrize("body", [b"", b"{", b"[]", b"null", b"\xff\xfe", b'{"format": NaN}'])
def test_a_body_that_is_no_object_is_refused(client: TestClient, body: bytes) -> None:
    answer = client.post("/api/cut-plan", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code in (400, 422)
    assert answer.headers["content-type"] == "application/problem+json"


SPEAKS = [("/api/binders", "application/problem+json"), ("/binders", "text/html; charset=utf-8")]


def added(client: TestClient, path: str, name: str) -> Any:
    return client.post(path, **{"json" if path.startswith("/api") else "data": {"name": name}})


@pytest.mark.parametrize(("path", "kind"), SPEAKS)
def test_what_the_database_itself_refuses_is_a_clash(client: TestClient, folder: Path, path: str, kind: str) -> None:
    connection = sqlite3.connect(folder / DATABASE_NAME)
    connection.execute("CREATE TRIGGER late BEFORE INSERT ON binder BEGIN SELECT RAISE(ABORT, 'just now'); END")
    connection.close()
    before = counts(folder)
    answer = added(client, path, "Binder 2")
    assert (answer.status_code, answer.headers["content-type"]) == (409, kind)
    assert "clashes with what the archive holds now" in answer.text
    assert counts(folder) == before


@pytest.mark.parametrize(("path", "kind"), SPEAKS)
def test_an_archive_that_somebody_else_holds_is_busy(client: TestClient, folder: Path, path: str, kind: str) -> None:
    engine = client.app.state.archive.engine  # type: ignore[attr-defined]
    engine.dispose()
    event.listen(engine, "connect", lambda connection, _: connection.execute("PRAGMA busy_timeout=50"))  # not 15 s
    holder = sqlite3.connect(folder / DATABASE_NAME, isolation_level=None)
    holder.execute("BEGIN IMMEDIATE")
    answer = added(client, path, "Binder 2")
    assert (answer.status_code, answer.headers["content-type"]) == (503, kind)
    assert "Try again in a moment" in answer.text
    assert client.get("/api/binders").status_code == 200  # who only reads waits for nobody
    holder.execute("ROLLBACK")
    holder.close()
    assert added(client, path, "Binder 2").status_code in (200, 201)


def test_a_database_from_a_newer_version_is_refused_and_left_alone(folder: Path) -> None:
    open_archive(folder).close()
    connection = sqlite3.connect(folder / DATABASE_NAME)
    connection.execute("UPDATE alembic_version SET version_num = 'from-the-future'")
    connection.commit()
    connection.close()
    before = (folder / DATABASE_NAME).read_bytes()
    with pytest.raises(ArchiveProblem, match="newer version"):
        create_app(folder)
    assert (folder / DATABASE_NAME).read_bytes() == before


@pytest.mark.parametrize("path", ["/api/rolls/none", "/api/nowhere", "/nowhere"])
def test_what_isnt_there_is_titled_not_found(client: TestClient, path: str) -> None:
    answer = client.get(path)
    assert answer.status_code == 404
    if path.startswith("/api"):
        assert (answer.json()["title"], answer.json()["status"]) == ("Not found", 404)
    else:
        assert "Not found" in answer.text and "Not possible" not in answer.text


def test_a_method_that_isnt_there_is_titled_not_possible(client: TestClient) -> None:
    answer = client.delete("/api/rolls")
    assert (answer.status_code, answer.json()["title"]) == (405, "Not possible")


def test_whatever_a_form_holds_the_page_comes_back_with_a_sentence(client: TestClient) -> None:
    for path, form, said in (
        ("/archive/formats", {}, "Measure this too: film, width"),
        ("/archive/pages", {}, "Measure this too: page, width"),
        ("/archive", {"do": "gap"}, 'class="problem"'),
        ("/archive", {"do": "unknown"}, "That form isn&#39;t known here"),
        ("/binders", {"name": " "}, 'class="problem"'),
        ("/binders/1/pages", {"layout": "none"}, 'class="problem"'),
    ):
        answer = client.post(path, data=form)
        assert (path, answer.status_code) == (path, 422)
        assert said in answer.text, path
    assert client.post("/binders/99/pages", data={"layout": "135-7x6"}).status_code == 404
    long = client.post("/rolls/2031-001", data={"do": "facts", "notes": "x" * 100_000, "stock": "y" * 5000})
    assert (long.status_code, "at most" in long.text) == (422, True)
