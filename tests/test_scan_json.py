"""Scans over the JSON service: a folder read, approved and undone, what is put right by hand, and every odd thing sent to it."""

import json
import shutil
import sqlite3
import time
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from PIL import Image
from scan_scenes import as_image, copied, frame_picture, web_copies

from api.app import create_app
from catalogue.rolls.file import add_binder
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.register import register_roll
from catalogue.store.engine import DATABASE_NAME, open_archive

LABELS = ["1", "2", "3", "4"]
HUGE = 10**30
TABLES = ("scan", "scan_file", "reading_run", "run_file", "film_positive", "file_event", "dx_stock")


def rows(folder: Path) -> dict[str, int]:
    connection = sqlite3.connect(folder / DATABASE_NAME)
    try:
        return {t: connection.execute(f"SELECT count(*) FROM {t}").fetchone()[0] for t in TABLES}
    finally:
        connection.close()


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Roll 2031-001 of four frames whose folder was read as reading 1, with one broken file; roll 2031-002 has no scan."""
    folder = tmp_path_factory.mktemp("scan-json") / "archive"
    archive = open_archive(folder)
    with archive.session() as session:
        add_binder(session, "Binder 1")
        for number in ("2031-001", "2031-002"):
            register_roll(session, NewRoll(number=number, frames=4, layout="135-7x6"))
    archive.close()
    web_copies(folder / "scans" / "2031-001", LABELS)
    (folder / "scans" / "2031-001" / "broken.jpg").write_bytes(b"\xff\xd8\xff no picture")
    app = create_app(folder)
    with TestClient(app) as client:
        begun = client.post("/api/rolls/2031-001/readings", json={"folder": "2031-001"})
        assert begun.status_code == 202, begun.text
        assert ended(client)["state"] == "read"
    return folder


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    shutil.copytree(made, tmp_path / "archive")
    return tmp_path / "archive"


@pytest.fixture
def client(folder: Path) -> Iterator[TestClient]:
    with TestClient(create_app(folder), raise_server_exceptions=False) as client:
        yield client


@pytest.fixture(scope="module")
def kept(made: Path) -> Iterator[TestClient]:
    """For what is refused: the archive itself, which must stay as it is."""
    before = rows(made)
    with TestClient(create_app(made), raise_server_exceptions=False) as client:
        yield client
    assert rows(made) == before


def ended(client: TestClient, run: int = 1, seconds: float = 30) -> dict[str, Any]:
    """The reading once nothing is at work on it."""
    deadline = time.monotonic() + seconds
    while (told := client.get(f"/api/readings/{run}").json())["at_work"]:
        assert time.monotonic() < deadline, told
        time.sleep(0.01)
    assert isinstance(told, dict)
    return told


def refused(answer: Any, *statuses: int) -> str:
    """The one sentence of a refusal in problem details (RFC 9457)."""
    assert answer.status_code in (statuses or (404, 422)), answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    detail = answer.json()["detail"]
    assert isinstance(detail, str)
    assert 10 < len(detail) < 800
    assert "\n" not in detail
    assert "Traceback" not in detail
    return detail


def approved(client: TestClient) -> list[dict[str, Any]]:
    """Approves reading 1 and gives the first scan of each frame."""
    assert client.post("/api/readings/1/approve").json() == {"scans": 4}
    return [f["scans"][0] for f in client.get("/api/rolls/2031-001").json()["frames"]]


def test_a_folder_is_read_proposed_approved_and_undone(client: TestClient, folder: Path) -> None:
    told = client.get("/api/rolls/2031-001/readings").json()
    assert [(r["id"], r["files"], r["done"], r["refused"], r["method"]) for r in told] == [(1, 5, 5, 1, "names")]
    lines = client.get("/api/readings/1/proposal").json()
    assert [(line["label"], bool(line["refused"])) for line in lines] == [*((n, False) for n in LABELS), (None, True)]
    assert rows(folder)["scan"] == 0
    assert [s["path"] for s in approved(client)] == [f"2031-001/{n}.jpg" for n in LABELS]
    assert client.post("/api/readings/1/undo").json() == {"scans": 4}
    assert rows(folder)["scan"] == 0


def test_approving_and_undoing_twice_is_refused_and_changes_nothing(client: TestClient, folder: Path) -> None:
    assert "nothing to undo" in refused(client.post("/api/readings/1/undo"), 422)
    approved(client)
    before = rows(folder)
    assert "already" in refused(client.post("/api/readings/1/approve", json={"polarity": "negative"}), 422)
    assert "already" in refused(client.post("/api/readings/1/proposal", json={"by": "order"}), 422)
    assert rows(folder) == before
    assert client.post("/api/readings/1/undo").status_code == 200
    assert "nothing to undo" in refused(client.post("/api/readings/1/undo"), 422)
    assert client.post("/api/readings/1/approve").json() == {"scans": 4}


def test_going_on_with_what_is_tied_leaves_it_tied(client: TestClient) -> None:
    approved(client)
    assert "Undo it first" in refused(client.post("/api/readings/1/go-on"), 422)
    assert ended(client)["state"] == "linked"
    assert client.post("/api/readings/1/undo").json() == {"scans": 4}


def test_stopping_what_is_not_running_is_no_mistake(client: TestClient) -> None:
    for state in ("read", "linked", "undone"):
        if state == "linked":
            approved(client)
        elif state == "undone":
            client.post("/api/readings/1/undo")
        assert client.post("/api/readings/1/stop").json()["state"] == state


def test_a_choice_by_hand_belongs_to_its_own_reading(client: TestClient) -> None:
    again = client.post("/api/rolls/2031-002/readings", json={"folder": "2031-001"}).json()["id"]
    ended(client, again)
    mine = client.get("/api/readings/1/proposal").json()[0]
    assert "no read file" in refused(client.put(f"/api/readings/{again}/proposal/{mine['id']}", json={"frame": None}), 404)
    lines = client.put(f"/api/readings/1/proposal/{mine['id']}", json={"frame": "4"}).json()
    assert next(line for line in lines if line["id"] == mine["id"]) | {"label": "4", "chosen": True} in lines
    refused(client.put(f"/api/readings/1/proposal/{mine['id']}", json={"frame": "77"}), 404)


def test_a_pattern_given_is_the_pattern_tried(client: TestClient) -> None:
    client.post("/api/readings/1/proposal", json={"pattern": "x{frame}"})
    told = client.get("/api/readings/1").json()
    assert (told["method"], told["pattern"]) == ("names", "x{frame}")


READINGS = (
    ("get", "/api/readings/{}", None),
    ("post", "/api/readings/{}/stop", None),
    ("post", "/api/readings/{}/go-on", None),
    ("post", "/api/readings/{}/proposal", {}),
    ("get", "/api/readings/{}/proposal", None),
    ("put", "/api/readings/{}/proposal/1", {"frame": None}),
    ("put", "/api/readings/1/proposal/{}", {"frame": "1"}),
    ("post", "/api/readings/{}/approve", None),
    ("post", "/api/readings/{}/undo", None),
)
SCANS = (
    ("patch", "/api/scans/{}", {"mirrored": True}),
    ("delete", "/api/scans/{}", None),
    ("get", "/api/scans/{}/picture", None),
    ("post", "/api/scans/{}/edge", None),
    ("post", "/api/scans/files/{}/accept", None),
    ("post", "/api/strips/{}/scan", {"path": "2031-001/1.jpg"}),
    ("post", "/api/pages/{}/photograph", {"path": "2031-001/1.jpg"}),
)


@pytest.mark.parametrize("key", [0, -1, 999_999, 2**63 - 1, HUGE, "x", "1.5"])
def test_ids_that_are_none_get_a_sentence(kept: TestClient, made: Path, key: object) -> None:
    before = rows(made)
    for method, path, body in READINGS + SCANS:
        refused(kept.request(method, path.format(key), json=body))
    assert rows(made) == before


ROLLS = (
    ("post", "readings", {"folder": "2031-001"}), ("get", "readings", None), ("put", "positive", {"kind": "slide"}),
    ("delete", "positive", None), ("post", "sidecars", None), ("get", "scan-names.csv", None),
)  # fmt: skip


@pytest.mark.parametrize("number", ["1999-001", "x" * 500, "%00", "<script>"])
def test_rolls_that_are_none_get_a_sentence(kept: TestClient, number: str) -> None:
    for method, what, body in ROLLS:
        assert "no roll" in refused(kept.request(method, f"/api/rolls/{number}/{what}", json=body), 404)


@pytest.mark.parametrize(
    ("path", "method", "body"),
    [
        ("/api/rolls/2031-001/readings", "post", {"folder": "x" * 1001}),
        ("/api/rolls/2031-001/readings", "post", {"folder": 7}),
        ("/api/rolls/2031-001/readings", "post", {"folder": "2031-001", "all": True}),
        ("/api/rolls/2031-001/readings", "post", {"folder": "no such folder"}),
        ("/api/rolls/2031-001/readings", "post", {"folder": "n" * 300}),
        ("/api/rolls/2031-001/readings", "post", {"folder": "a\x00b"}),
        ("/api/rolls/2031-001/readings", "post", {"folder": "\ud800"}),
        ("/api/rolls/2031-001/readings", "post", {"folder": "2031-001/1.jpg"}),
        ("/api/readings/1/proposal", "post", {"by": "magic"}),
        ("/api/readings/1/proposal", "post", {"by": "names", "pattern": "{nonsense"}),
        ("/api/readings/1/proposal", "post", {"by": "names"}),
        ("/api/readings/1/proposal", "post", {"by": "pictures"}),
        ("/api/readings/1/proposal/1", "put", {}),
        ("/api/readings/1/proposal/1", "put", {"frame": "x" * 21}),
        ("/api/readings/1/approve", "post", {"polarity": "both"}),
        ("/api/rolls/2031-001/positive", "put", {"kind": "hologram"}),
        ("/api/rolls/2031-002/positive", "put", {"kind": "colour negative"}),
        ("/api/rolls/2031-001/positive", "put", {"kind": "slide", "strip": 999}),
        ("/api/rolls/2031-001/positive", "put", {"kind": "slide", "strip": HUGE}),
        ("/api/rolls/2031-001/positive", "put", {"kind": "slide", "strip": 2}),
        ("/api/rolls/2031-001/positive", "put", {"kind": "colour negative", "x": 2}),
        ("/api/strips/1/scan", "post", {"path": ""}),
        ("/api/strips/1/scan", "post", {"path": "/etc/passwd"}),
        ("/api/strips/1/scan", "post", {"path": "2031-001/broken.jpg"}),
        ("/api/strips/1/scan", "post", {"path": "2031-001/1.jpg", "part": [0, 0, 2, 1]}),
        ("/api/strips/1/scan", "post", {"path": "2031-001/1.jpg", "part": [0, 0, 1]}),
        ("/api/pages/1/photograph", "post", {"path": "2031-001/none.jpg"}),
        ("/api/scans/aim", "put", {"ppi": HUGE}),
        ("/api/scans/aim", "put", {"ppi": -1}),
        ("/api/scans/check", "post", {"megabytes": 0}),
        ("/api/scans/check", "post", {"megabytes": HUGE}),
        ("/api/dx/79-7", "put", {"stock": " "}),
        ("/api/dx/79-7", "put", {"stock": "x" * 121}),
        ("/api/dx/nonsense", "put", {"stock": "Ashgrove 100"}),
        ("/api/dx/9999999999-9", "put", {"stock": "Ashgrove 100"}),
        ("/api/dx/²", "put", {"stock": "Ashgrove 100"}),
    ],
)
def test_odd_values_are_refused_whole(kept: TestClient, made: Path, path: str, method: str, body: dict[str, object]) -> None:
    before = rows(made)
    refused(kept.request(method, path, content=json.dumps(body), headers={"Content-Type": "application/json"}))
    assert rows(made) == before


@pytest.mark.parametrize("path", ["..", "../..", "/etc", "2031-001/../../scans/../.."])
def test_a_folder_outside_the_scan_folder_is_not_read(kept: TestClient, path: str) -> None:
    assert "scan folder" in refused(kept.post("/api/rolls/2031-001/readings", json={"folder": path}), 422)


@pytest.mark.parametrize("body", [b"", b"{", b"[]", b"null", b"7", b"\xff\xfe", b'{"ppi": ' + b"9" * 5000 + b"}"])
def test_bodies_that_are_none_are_refused(kept: TestClient, body: bytes) -> None:
    for method, path in (
        ("post", "/api/rolls/2031-001/readings"), ("post", "/api/readings/1/proposal"), ("put", "/api/rolls/2031-001/positive"),
        ("put", "/api/scans/aim"), ("post", "/api/scans/check"), ("put", "/api/dx/79-7"), ("post", "/api/strips/1/scan"),
    ):  # fmt: skip
        refused(kept.request(method, path, content=body, headers={"Content-Type": "application/json"}), 400, 422)


@pytest.mark.parametrize("name", ["slope", "stops", "x"])
def test_numbers_that_are_none_make_no_positive(client: TestClient, folder: Path, name: str) -> None:
    approved(client)
    for number in ("NaN", "Infinity", "1e999", "1e300", "-1e300", "-50"):
        body = f'{{"kind": "black-and-white negative", "scan": 1, "x": 0.5, "y": 0.5, "{name}": {number}}}'
        headers = {"Content-Type": "application/json"}
        refused(client.put("/api/rolls/2031-001/positive", content=body, headers=headers), 422)
    assert rows(folder)["film_positive"] == 0


def test_half_a_point_is_not_passed_over(client: TestClient) -> None:
    approved(client)
    for some in ({"scan": 1}, {"x": 0.5, "y": 0.5}, {"scan": 1, "x": 0.5}):
        body = {"kind": "black-and-white negative", **some}
        assert "together" in refused(client.put("/api/rolls/2031-001/positive", json=body), 422)


def test_a_positive_is_set_and_taken_back(client: TestClient, folder: Path) -> None:
    approved(client)
    said = client.put("/api/rolls/2031-001/positive", json={"kind": "black-and-white negative", "exposure": "each"})
    assert said.status_code == 200, said.text
    assert said.json()["found"]
    shown, original = (client.get(f"/api/scans/1/picture?original={n}").content for n in ("false", "true"))
    assert shown != original
    assert Image.open(BytesIO(shown)).format == "JPEG"
    assert client.delete("/api/rolls/2031-001/positive").status_code == 204
    assert client.get("/api/scans/1/picture").content == original


def test_what_a_scan_says_is_put_right(client: TestClient) -> None:
    first = approved(client)[0]
    there = f"/api/scans/{first['id']}"
    assert client.patch(there, json={"quarter_turns": 3, "mirrored": True, "role": "web"}).json()["quarter_turns"] == 3
    for wrong in ({"quarter_turns": 4}, {"role": "best"}, {"polarity": "both"}, {"frame": "99"}, {"frame": ""}, {"path": "x"}):
        refused(client.patch(there, json=wrong))
    assert client.patch(there, json={}).json()["mirrored"] is True
    assert client.patch(there, json={"frame": "02"}).status_code == 200
    assert [len(f["scans"]) for f in client.get("/api/rolls/2031-001").json()["frames"]] == [0, 2, 1, 1]
    assert client.delete(there).status_code == 204
    refused(client.delete(there), 404)


def test_a_file_that_is_gone_or_none_is_said_with_its_picture(client: TestClient, folder: Path) -> None:
    first = approved(client)[0]
    (folder / "scans" / first["path"]).unlink()
    shutil.rmtree(folder / "previews", ignore_errors=True)
    assert first["path"].rpartition("/")[2] in refused(client.get(f"/api/scans/{first['id']}/picture"), 422)
    refused(client.post(f"/api/scans/{first['id']}/edge"), 422)
    assert client.get("/api/pages/1").status_code == 200


def test_an_edge_is_read_where_there_is_none(client: TestClient) -> None:
    approved(client)
    told = client.post("/api/scans/1/edge").json()
    assert told["codes"] == []
    assert "No edge code" in told["words"]


def test_a_strip_and_a_page_are_tied_from_one_file(client: TestClient, folder: Path) -> None:
    copied("1", 1).resize((900, 140)).save(folder / "scans" / "strip.png")
    strip = client.get("/api/rolls/2031-002").json()["strips"][0]["id"]
    body = {"path": "strip.png", "from_the_end": True}
    assert client.post(f"/api/strips/{strip}/scan", json=body).json() == {"count": 4}
    assert client.post(f"/api/strips/{strip}/scan", json=body).json() == {"count": 4}  # again, and nothing is doubled
    page = client.get("/api/rolls/2031-002").json()["page_ids"][0]
    assert client.post(f"/api/pages/{page}/photograph", json={"path": "strip.png"}).status_code == 200
    assert rows(folder)["scan_file"] == 5


def test_coverage_and_aim(client: TestClient) -> None:
    approved(client)
    told = client.get("/api/scans/coverage").json()
    assert [r["counts"]["not scanned"] for r in told["rolls"]] == [0, 4]
    assert client.put("/api/scans/aim", json={"ppi": 200}).json() == {"ppi": 200}
    assert client.get("/api/scans/coverage").json()["aim_ppi"] == 200


def test_changed_moved_and_missing_files_are_told_and_accepted(client: TestClient, folder: Path) -> None:
    scans = [folder / "scans" / s["path"] for s in approved(client)]
    assert client.post("/api/scans/check", json={"megabytes": 1}).json()["troubles"] == []
    as_image(frame_picture("9")).save(scans[0])
    scans[1].rename(scans[1].with_name("moved.jpg"))
    scans[2].unlink()
    told = client.post("/api/scans/check", json={}).json()
    assert sorted((t["state"], bool(t["moved_to"])) for t in told["troubles"]) == [
        ("changed", False), ("missing", False), ("missing", True),
    ]  # fmt: skip
    assert client.post("/api/scans/moves/accept").json() == {"count": 1}
    assert client.post("/api/scans/moves/accept").json() == {"count": 0}
    changed = next(t["file_id"] for t in told["troubles"] if t["state"] == "changed")
    assert client.post(f"/api/scans/files/{changed}/accept").json()["state"] == "there"
    assert "hasn't changed" in refused(client.post(f"/api/scans/files/{changed}/accept"), 422)
    assert [t["state"] for t in client.get("/api/scans/troubles").json()] == ["missing"]


def test_a_move_on_to_a_file_read_meanwhile_is_no_clash(client: TestClient, folder: Path) -> None:
    first = folder / "scans" / approved(client)[0]["path"]
    first.rename(first.with_name("renamed.jpg"))
    client.post("/api/scans/check", json={})
    again = client.post("/api/rolls/2031-001/readings", json={"folder": "2031-001"}).json()["id"]
    ended(client, again)
    answer = client.post("/api/scans/moves/accept")
    assert (answer.status_code, answer.json()) == (200, {"count": 1})  # both rows of the file become one
    assert client.get("/api/scans/troubles").json() == []


def test_sidecars_and_names(client: TestClient, folder: Path) -> None:
    for method, what in (("post", "sidecars"), ("get", "scan-names.csv")):
        refused(client.request(method, f"/api/rolls/2031-002/{what}"), 422)
    approved(client)
    assert client.post("/api/rolls/2031-001/sidecars").json() == {"count": 4}
    listed = client.get("/api/rolls/2031-001/scan-names.csv")
    assert listed.headers["content-type"].startswith("text/csv")
    assert len(listed.text.splitlines()) == 5


def test_a_sidecar_from_elsewhere_that_cannot_be_read_is_left_and_said(client: TestClient, folder: Path) -> None:
    path = folder / "scans" / approved(client)[0]["path"]
    foreign = path.with_suffix(".xmp")
    foreign.write_bytes(b"<not xml")
    refused(client.post("/api/rolls/2031-001/sidecars"), 422)
    assert foreign.read_bytes() == b"<not xml"


def picture_bytes(label: str, kind: str = "JPEG") -> bytes:
    out = BytesIO()
    as_image(frame_picture(label)).save(out, kind)
    return out.getvalue()


def test_a_picture_finds_its_negative(client: TestClient) -> None:
    nothing = client.post("/api/from-picture", content=picture_bytes("3")).json()
    assert (nothing["hits"], "nothing to compare" in nothing["words"]) == ([], True)
    approved(client)
    found = client.post("/api/from-picture", content=picture_bytes("3", "PNG"), headers={"Content-Type": "image/png"}).json()
    assert (found["hits"][0]["hit"]["frame"], found["hits"][0]["sure"]) == ("3", True)
    assert found["hits"][0]["hit"]["address"]["binder"] == "Binder 1"


@pytest.mark.parametrize("body", [b"", b"no picture", b"\xff\xd8\xff\xe0" + bytes(50), b"{}", b"GIF89a"])
@pytest.mark.parametrize("kind", ["image/jpeg", "application/octet-stream", "application/json", "multipart/form-data"])
def test_what_is_no_picture_is_said(kept: TestClient, body: bytes, kind: str) -> None:
    refused(kept.post("/api/from-picture", content=body, headers={"Content-Type": kind}), 400, 422)


def test_a_picture_larger_than_any_screen_is_said(kept: TestClient) -> None:
    out = BytesIO()
    Image.new("1", (9000, 9000)).save(out, "PNG")  # 81 million pixels in a few kilobytes
    assert "9000 × 9000" in refused(kept.post("/api/from-picture", content=out.getvalue()), 422)


@pytest.mark.parametrize(
    ("path", "size", "status"),
    [
        ("/api/from-picture", 43_000_000, 413),
        ("/api/from-picture", 41_000_000, 422),  # let in, and found to be no picture
        ("/api/rolls/2031-001/readings", 2_200_000, 413),
        ("/api/readings/1/proposal", 2_200_000, 413),
        ("/api/rolls/2031-001/sidecars", 2_200_000, 413),
    ],
)
def test_bodies_are_bounded(kept: TestClient, path: str, size: int, status: int) -> None:
    refused(kept.post(path, content=bytes(size)), status)


def test_a_service_shut_down_while_reading_goes_on_after_it_starts_again(folder: Path) -> None:
    labels = [str(n) for n in range(1, 21)]
    web_copies(folder / "scans" / "long", labels)
    with TestClient(create_app(folder)) as client:
        run = client.post("/api/rolls/2031-002/readings", json={"folder": "long"}).json()["id"]
        while client.get(f"/api/readings/{run}").json()["done"] < 2:
            time.sleep(0.005)
    between = rows(folder)
    with TestClient(create_app(folder)) as client:
        told = client.get(f"/api/readings/{run}").json()
        assert (told["state"], told["at_work"]) == ("stopped", False)
        assert 2 <= told["done"] < 20
        assert between["scan_file"] == 4 + told["done"]  # each file that is said to be read is kept, and no other
        gone_on = client.post("/api/rolls/2031-002/readings", json={"folder": "long"}).json()
        assert (gone_on["id"], gone_on["done"]) == (run, told["done"])
        done = ended(client, run)
    assert (done["state"], done["files"], done["done"]) == ("read", 20, 20)
    after = rows(folder)
    assert (after["scan_file"], after["run_file"], after["reading_run"]) == (4 + 20, 5 + 20, 2)


def test_reading_cut_off_with_nothing_left_to_read_is_said_to_be_at_no_work(client: TestClient, folder: Path) -> None:
    connection = sqlite3.connect(folder / DATABASE_NAME)
    connection.execute("UPDATE reading_run SET state = 'reading'")  # as a computer switched off leaves it
    connection.commit()
    connection.close()
    assert client.get("/api/readings/1").json()["at_work"] is False
    refused(client.post("/api/readings/1/approve"), 422)
    assert client.post("/api/readings/1/go-on").status_code == 202
    assert ended(client)["state"] == "read"
    assert client.post("/api/readings/1/approve").json() == {"scans": 4}


def test_names_that_no_text_can_hold_are_left_out_with_a_sentence(client: TestClient, folder: Path) -> None:
    place = folder / "scans" / "odd"
    web_copies(place, ["1"])
    for name in (b"\xff.jpg", b"\xfe.jpg"):  # no UTF-8; a disk made elsewhere holds such names
        (Path(str(place)) / name.decode(errors="surrogateescape")).write_bytes((place / "1.jpg").read_bytes())
    answer = client.post("/api/rolls/2031-002/readings", json={"folder": "odd"})
    assert answer.status_code == 202, answer.text
    told = ended(client, answer.json()["id"])
    assert (told["files"], told["refused"]) == (3, 2)
