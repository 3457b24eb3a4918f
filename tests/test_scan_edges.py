"""Scans through the JSON service and the web pages: each refusal a sentence, nothing half-done, nothing unescaped."""

import io
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from PIL import Image
from scan_scenes import as_image, copied, frame_picture, web_copies
from sqlmodel import select

from api.app import create_app
from catalogue.filing import add_binder
from catalogue.registering import NewRoll, register_roll
from catalogue.rolls import FrameChanges, get_roll, update_frame
from catalogue.store.database import Archive, open_archive
from catalogue.store.scan_tables import ScanFile

LABELS = ["1", "2", "3", "4", "5", "6"]
HOSTILE = "<script>x<b>.jpg"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive with a roll of six and a folder of its pictures; nothing is tied yet."""
    place = tmp_path_factory.mktemp("edges") / "archive"
    archive = open_archive(place)
    with archive.session() as session:
        add_binder(session, "Binder 1")
        facts = {"number": "2031-001", "frames": 6, "layout": "135-6x6", "process": {"process": "C-41"}}
        register_roll(session, NewRoll.model_validate(facts))
        update_frame(session, "2031-001", "2", FrameChanges(caption='"><img src=x>'))
    archive.close()
    web_copies(place / "scans" / "2031-001", LABELS)
    (place / "scans" / "2031-001" / HOSTILE).write_bytes(b"\xff\xd8\xffbroken")
    return place


@pytest.fixture
def client(folder: Path, tmp_path: Path) -> Iterator[TestClient]:
    import shutil

    shutil.copytree(folder, tmp_path / "archive")
    with TestClient(create_app(tmp_path / "archive"), follow_redirects=False) as opened:
        yield opened


def archive_of(client: TestClient) -> Archive:
    found: Archive = client.app.state.archive  # type: ignore[attr-defined]
    return found


def read(client: TestClient, folder: str = "2031-001") -> int:
    """Reads a folder through the service and waits until its proposal is there."""
    answer = client.post("/api/rolls/2031-001/readings", json={"folder": folder})
    assert answer.status_code == 202, answer.text
    run = int(answer.json()["id"])
    deadline = time.monotonic() + 60
    while client.get(f"/api/readings/{run}").json()["method"] == "" and time.monotonic() < deadline:
        time.sleep(0.05)
    return run


@pytest.fixture
def tied(client: TestClient) -> TestClient:
    """The six pictures tied."""
    assert client.post(f"/api/readings/{read(client)}/approve", json={"polarity": "positive"}).json() == {"scans": 6}
    return client


def scan_ids(client: TestClient) -> dict[str, int]:
    return {f["label"]: f["scans"][0]["id"] for f in client.get("/api/rolls/2031-001").json()["frames"] if f["scans"]}


def jpeg(image: Image.Image) -> bytes:
    out = io.BytesIO()
    image.save(out, "JPEG", quality=80)
    return out.getvalue()


# The JSON service


def test_a_folder_is_read_proposed_approved_and_undone(client: TestClient) -> None:
    run = read(client)
    progress = client.get(f"/api/readings/{run}").json()
    assert (progress["files"], progress["done"], progress["refused"], progress["state"]) == (7, 7, 1, "read")
    lines = client.get(f"/api/readings/{run}/proposal").json()
    assert {line["path"]: line["label"] for line in lines if not line["refused"]} == {f"2031-001/{n}.jpg": n for n in LABELS}
    assert client.get("/api/rolls/2031-001").json()["frames"][0]["scans"] == []
    assert client.post(f"/api/readings/{run}/approve").json() == {"scans": 6}
    assert client.post(f"/api/readings/{run}/approve").status_code == 422
    scan = client.get("/api/rolls/2031-001").json()["frames"][0]["scans"][0]
    # 320 pixels on 36 mm are 225.8 to the inch, 213 on 24 mm are 225.4: the lower counts.
    assert (scan["role"], scan["ppi"], scan["width_px"]) == ("master", 225, 320)
    assert client.post(f"/api/readings/{run}/undo").json() == {"scans": 6}
    assert client.post(f"/api/readings/{run}/undo").status_code == 422
    assert [r["state"] for r in client.get("/api/rolls/2031-001/readings").json()] == ["undone"]


def test_a_file_is_settled_by_hand(client: TestClient) -> None:
    run = read(client)
    line = next(x for x in client.get(f"/api/readings/{run}/proposal").json() if x["label"] == "3")
    lines = client.put(f"/api/readings/{run}/proposal/{line['id']}", json={"frame": None}).json()
    assert next(x for x in lines if x["id"] == line["id"])["chosen"]
    assert client.post(f"/api/readings/{run}/approve").json() == {"scans": 5}


@pytest.mark.parametrize(
    ("method", "path", "body", "status"),
    [
        ("post", "/api/rolls/2031-001/readings", {"folder": "../.."}, 422),
        ("post", "/api/rolls/2031-001/readings", {"folder": "none"}, 404),
        ("post", "/api/rolls/9999/readings", {"folder": ""}, 404),
        ("post", "/api/rolls/2031-001/readings", {"folder": "x" * 1001}, 422),
        ("get", "/api/readings/99", None, 404),
        ("get", "/api/readings/99999999999999999999", None, 422),
        ("post", "/api/readings/99/stop", None, 404),
        ("post", "/api/readings/99/approve", None, 404),
        ("post", "/api/readings/99/undo", None, 404),
        ("post", "/api/readings/99/edges", None, 404),
        ("post", "/api/readings/99/proposal", {"by": "magic"}, 422),
        ("put", "/api/readings/99/proposal/99", {"frame": "1"}, 404),
        ("patch", "/api/scans/99", {"role": "master"}, 404),
        ("patch", "/api/scans/99", {"role": "best"}, 422),
        ("delete", "/api/scans/99", None, 404),
        ("get", "/api/scans/99/picture", None, 404),
        ("post", "/api/scans/99/edge", None, 404),
        ("put", "/api/dx/abc", {"stock": "Tarn 100"}, 422),
        ("put", "/api/dx/79-7", {"stock": " "}, 422),
        ("put", "/api/rolls/2031-001/positive", {"kind": "tin type"}, 422),
        ("put", "/api/rolls/2031-001/positive", {"kind": "colour negative"}, 422),  # nothing is scanned to measure
        ("post", "/api/strips/99/scan", {"path": "a.jpg"}, 404),
        ("post", "/api/strips/1/scan", {"path": "../stripleaf.db"}, 422),
        ("post", "/api/pages/99/photograph", {"path": "a.jpg"}, 404),
        ("post", "/api/pages/1/photograph", {"path": "a.jpg", "part": [0.5, 0, 0.9, 1]}, 422),
        ("post", "/api/rolls/2031-001/sidecars", None, 422),
        ("get", "/api/rolls/2031-001/scan-names.csv", None, 422),
        ("put", "/api/scans/aim", {"ppi": 3}, 422),
        ("post", "/api/scans/check", {"megabytes": 0}, 422),
        ("post", "/api/scans/files/99/accept", None, 404),
    ],
)
def test_what_cannot_be_is_refused_with_a_sentence(client: TestClient, method: str, path: str, body: object, status: int) -> None:
    answer = client.request(method, path, json=body) if body is not None else client.request(method, path)
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["detail"]
    assert "Traceback" not in answer.text


def test_a_scan_is_put_right_and_its_picture_follows(tied: TestClient) -> None:
    ids = scan_ids(tied)
    before = tied.get(f"/api/scans/{ids['1']}/picture").content
    changed = tied.patch(f"/api/scans/{ids['1']}", json={"quarter_turns": 1, "mirrored": True})
    assert (changed.json()["quarter_turns"], changed.json()["mirrored"]) == (1, True)
    with (
        Image.open(io.BytesIO(tied.get(f"/api/scans/{ids['1']}/picture").content)) as after,
        Image.open(io.BytesIO(before)) as old,
    ):
        assert after.size == (old.height, old.width)
    assert tied.get(f"/api/scans/{ids['1']}/picture?original=1").content == before
    moved = tied.patch(f"/api/scans/{ids['1']}", json={"frame": "2"})
    assert moved.json()["role"] == "working"  # frame 2 has a master
    assert tied.patch(f"/api/scans/{ids['1']}", json={"frame": "99"}).status_code == 404
    assert tied.delete(f"/api/scans/{ids['1']}").status_code == 204
    assert scan_ids(tied).keys() == {"2", "3", "4", "5", "6"}


def test_a_picture_finds_its_negative_and_odd_bodies_are_refused(tied: TestClient) -> None:
    crop = copied("4").crop((100, 40, 1180, 760))
    found = tied.post("/api/from-picture", content=jpeg(crop), headers={"content-type": "image/jpeg"}).json()
    assert (found["hits"][0]["hit"]["frame"], found["hits"][0]["sure"], found["enough"]) == ("4", True, True)
    assert found["hits"][0]["hit"]["address"]["words"].endswith("fourth frame from the ring side")
    flat = tied.post("/api/from-picture", content=jpeg(Image.new("L", (600, 400), 90)), headers={"content-type": "image/jpeg"})
    assert (flat.json()["enough"], flat.json()["hits"]) == (False, [])
    for body in (b"", b"no picture at all"):
        assert tied.post("/api/from-picture", content=body, headers={"content-type": "image/jpeg"}).status_code == 422
    large = tied.post("/api/from-picture", content=b"x" * 42_000_001, headers={"content-type": "image/jpeg"})
    assert (large.status_code, "42,000,000" in large.json()["detail"]) == (413, True)
    assert tied.post("/api/scans/check", content=b"x" * 2_000_001).status_code == 413


def test_coverage_and_re_check(tied: TestClient) -> None:
    covered = tied.get("/api/scans/coverage").json()
    assert covered["aim_ppi"] == 2400
    assert covered["rolls"][0]["counts"] == {"not scanned": 0, "preview only": 6, "below aim": 0, "at aim": 0}
    assert tied.put("/api/scans/aim", json={"ppi": 4000}).json() == {"ppi": 4000}
    scans = archive_of(tied).folder / "scans"
    (scans / "2031-001" / "1.jpg").rename(scans / "away.jpg")
    (scans / "2031-001" / "2.jpg").write_bytes(jpeg(as_image(frame_picture("3"))))
    (scans / "2031-001" / "3.jpg").unlink()
    report = tied.post("/api/scans/check", json={}).json()
    states = {t["path"]: (t["state"], t["moved_to"]) for t in report["troubles"]}
    assert states == {
        "2031-001/1.jpg": ("missing", "away.jpg"), "2031-001/2.jpg": ("changed", ""), "2031-001/3.jpg": ("missing", ""),
    }  # fmt: skip
    assert report["troubles"][0]["path"] == "2031-001/2.jpg"  # a changed master comes first
    assert report["troubles"][0]["master_of"] == ["2031-001 / 2"]
    assert tied.post("/api/scans/moves/accept").json() == {"count": 1}
    changed = report["troubles"][0]["file_id"]
    assert tied.post(f"/api/scans/files/{changed}/accept").status_code == 200
    assert [t["path"] for t in tied.get("/api/scans/troubles").json()] == ["2031-001/3.jpg"]


def test_sidecars_are_written_and_names_proposed(tied: TestClient) -> None:
    assert tied.post("/api/rolls/2031-001/sidecars").json() == {"count": 6}
    assert (archive_of(tied).folder / "scans" / "2031-001" / "1.jpg.xmp").is_file()
    names = tied.get("/api/rolls/2031-001/scan-names.csv")
    assert names.headers["content-type"].startswith("text/csv")
    assert names.text.count("\r\n") == 7


def test_a_service_shut_down_while_reading_goes_on_after_its_start(folder: Path, tmp_path: Path) -> None:
    import shutil

    place = tmp_path / "archive"
    shutil.copytree(folder, place)
    web_copies(place / "scans" / "many", [str(n) for n in range(1, 25)])
    with TestClient(create_app(place)) as client:
        run = client.post("/api/rolls/2031-001/readings", json={"folder": "many"}).json()["id"]
    with TestClient(create_app(place)) as client:
        assert client.post(f"/api/readings/{run}/go-on").status_code == 202
        deadline = time.monotonic() + 60
        while client.get(f"/api/readings/{run}").json()["state"] != "read" and time.monotonic() < deadline:
            time.sleep(0.05)
        assert client.get(f"/api/readings/{run}").json()["done"] == 24
        with archive_of(client).session(reading=True) as session:
            paths = [f.path for f in session.exec(select(ScanFile))]
    assert len(paths) == len(set(paths)) == 24


# The web pages

PAGES = ("/rolls/2031-001/scans", "/rolls/2031-001/scans/2", "/readings/1", "/scans", "/from-picture", "/pages/1")


def test_no_page_has_markup_of_files_or_scripts_in_it(tied: TestClient) -> None:
    for path in PAGES:
        text = tied.get(path).text
        assert "<script>x" not in text, path
        assert "<img src=x>" not in text, path
        assert "<style" not in text, path
        assert " style=" not in text, path
        assert text.count("<script") == text.count('<script type="module" src="/static/'), path


def test_the_whole_way_by_forms(client: TestClient) -> None:
    begun = client.post("/rolls/2031-001/readings", data={"folder": "2031-001"})
    assert begun.status_code == 303
    address = begun.headers["location"]
    deadline = time.monotonic() + 60
    while "Approve all of it" not in client.get(address).text and time.monotonic() < deadline:
        time.sleep(0.05)
    shown = client.get(address).text
    assert "6 files have a frame proposed" in shown
    assert "&lt;script&gt;x&lt;b&gt;.jpg" in shown
    line = next(x for x in client.get("/api/readings/1/proposal").json() if x["label"] == "6")
    done = client.post(address, data={"do": "approve", "polarity": "positive", f"line:{line['id']}": ""})
    assert (done.status_code, done.headers["location"]) == (303, "/rolls/2031-001/scans")
    assert "5 of 6 frames have a scan" in client.get("/rolls/2031-001/scans").text
    assert client.post(address, data={"do": "undo"}).status_code == 303
    assert "0 of 6 frames have a scan" in client.get("/rolls/2031-001/scans").text


@pytest.mark.parametrize(
    ("path", "form", "words"),
    [
        ("/rolls/2031-001/readings", {"folder": "Kept words"}, "There is no folder"),
        ("/rolls/2031-001/scans", {"do": "strip", "strip": "1", "path": "Kept words"}, "There is no file"),
        ("/rolls/2031-001/scans", {"do": "positive", "kind": "tin", "exposure": "each"}, "no kind of film"),
        ("/rolls/2031-001/scans", {"do": "positive", "kind": "slide", "slope": "steep"}, "not a number"),
        ("/rolls/2031-001/scans", {"do": "fly"}, "isn&#39;t known here"),
        ("/rolls/2031-001/log", {"lines": "99 1/250"}, "no frame 99"),
        ("/rolls/2031-001/log", {"lines": "1 1/250", "zone": "Atlantis"}, "no time zone"),
        ("/scans", {"do": "aim", "ppi": "²"}, "whole number"),
        ("/scans", {"do": "check", "megabytes": "0"}, "can&#39;t be checked"),
        ("/scans", {"do": "fly"}, "isn&#39;t known here"),
        ("/from-picture", {}, "Choose a picture file first"),
    ],
)
def test_a_refused_form_says_why_and_keeps_what_was_typed(
    client: TestClient, path: str, form: dict[str, str], words: str
) -> None:
    answer = client.post(path, data=form)
    assert answer.status_code == 422
    assert words in answer.text
    if "Kept words" in form.values():
        assert 'value="Kept words"' in answer.text


def test_one_scan_is_put_right_by_its_buttons(tied: TestClient) -> None:
    scan = scan_ids(tied)["1"]

    def facts() -> tuple[int, bool, str, str]:
        with archive_of(tied).session(reading=True) as session:
            found = next(s for f in get_roll(session, "2031-001").frames for s in f.scans if s.id == scan)
        return found.quarter_turns, found.mirrored, found.role, found.polarity

    assert tied.post(f"/scans/{scan}", data={"do": "turn"}).headers["location"] == "/rolls/2031-001/scans/1"
    tied.post(f"/scans/{scan}", data={"do": "mirror"})
    assert facts() == (1, True, "master", "positive")
    tied.post(f"/scans/{scan}", data={"do": "turn"})  # seen mirrored, a turn to the right is one to the left in the file
    tied.post(f"/scans/{scan}", data={"do": "role", "role": "web"})
    tied.post(f"/scans/{scan}", data={"do": "polarity", "polarity": ""})
    assert facts() == (0, True, "web", "")
    pointed = tied.post(f"/scans/{scan}", data={"spot.x": "30", "spot.y": "20", "width": "400", "height": "266"})
    assert (pointed.status_code, "Pointed at" in pointed.text) == (200, True)
    edge = tied.post(f"/scans/{scan}", data={"do": "edge"})
    assert "No edge code can be read" in edge.text
    assert tied.post(f"/scans/{scan}", data={"do": "role", "role": "best"}).status_code == 422
    assert tied.post("/scans/999", data={"do": "turn"}).status_code == 404
    assert tied.post(f"/scans/{scan}", data={"do": "untie"}).status_code == 303
    assert "1" not in scan_ids(tied)


def test_a_picture_handed_in_by_the_form_finds_its_frame(tied: TestClient) -> None:
    answer = tied.post("/from-picture", files={"picture": ("x.jpg", jpeg(copied("5").crop((0, 0, 1100, 800))), "image/jpeg")})
    assert "2031-001 / 5" in answer.text
    broken = tied.post("/from-picture", files={"picture": ("x.jpg", b"\xff\xd8\xff nothing", "image/jpeg")})
    assert (broken.status_code, "no picture that can be read" in broken.text) == (422, True)


def test_a_log_with_a_track_places_the_frames(client: TestClient) -> None:
    table = (
        "frame,time,shutter,aperture,caption\r\n1,2031-05-14T10:00:00,1/250,5.6,Heron\r\n2,2031-05-14T11:00:00,1/60,8,Mole\r\n"
    )
    track = (
        '<gpx xmlns="http://www.topografix.com/GPX/1/1" version="1.1" creator="t"><trk><trkseg>'
        '<trkpt lat="48.5" lon="-3.25"><time>2031-05-14T08:00:30Z</time></trkpt></trkseg></trk></gpx>'
    )
    files = {"csv": ("log.csv", table.encode(), "text/csv"), "track": ("t.gpx", track.encode(), "application/gpx+xml")}
    answer = client.post("/rolls/2031-001/log", data={"zone": "+02:00", "behind": "30"}, files=files)
    assert answer.status_code == 200, answer.text
    assert "2 frames noted, 1 of them placed by the track" in answer.text
    assert client.get("/api/find?q=heron").json()["hits"][0]["frame"] == "1"
    bad = client.post("/rolls/2031-001/log", files={"csv": ("log.csv", b"frame,time\r\n1,soon\r\n2,later\r\n", "text/csv")})
    assert bad.status_code == 422
    assert "Line 2" in bad.text
    assert "Line 3" in bad.text
