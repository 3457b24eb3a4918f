"""The web pages of scans without a browser: they keep what was typed, refuse with a sentence, and take no name for markup."""

import re
import shutil
import sqlite3
import time
from collections.abc import Iterator
from html import unescape
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import pytest
from fastapi.testclient import TestClient
from httpx import Response
from PIL import Image
from scan_scenes import as_image, copied, frame_picture, web_copies

from api.app import create_app
from catalogue.rolls.file import add_binder
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.register import register_roll
from catalogue.store.engine import DATABASE_NAME, open_archive

ROLL, SCANS = "2031-001", "/rolls/2031-001/scans"
HOSTILE = "\"><img src=x onerror=alert(1)>'&amp;{{7*7}}.jpg"
SUBJECT, CAPTION = "<script>subject</script>", '"><img src=caption>'
HUGE = 10**30
GPX = b'<gpx version="1.1"><trk><trkseg><trkpt lat="1" lon="2"><time>2031-05-14T10:00:00Z</time></trkpt></trkseg></trk></gpx>'


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Roll 2031-001 of four frames, hostile in all its words, its folder read as reading 1 and tied; 2031-002 has no scan."""
    folder = tmp_path_factory.mktemp("scan-pages") / "archive"
    archive = open_archive(folder)
    with archive.session() as session:
        add_binder(session, "Binder <b>1</b>")
        captions = dict.fromkeys(("1", "2", "3", "4"), CAPTION)
        register_roll(
            session, NewRoll(number=ROLL, frames=4, layout="135-7x6", subject=SUBJECT, stock=SUBJECT, captions=captions)
        )
        register_roll(session, NewRoll(number="2031-002", frames=4, layout="135-7x6"))
    archive.close()
    place = folder / "scans" / "<i>a"
    web_copies(place, ["1", "2", "3"])
    as_image(frame_picture("4")).save(place / f"4 {HOSTILE}")
    (place / f"broken {HOSTILE}").write_bytes(b"\xff\xd8\xff no picture")
    with TestClient(create_app(folder), follow_redirects=False) as client:
        begun = client.post(f"/rolls/{ROLL}/readings", data={"folder": " <i>a "})
        assert (begun.status_code, begun.headers["location"]) == (303, "/readings/1")
        ended(client)
        lines = {line["path"]: line["id"] for line in client.get("/api/readings/1/proposal").json()}
        client.put(f"/api/readings/1/proposal/{lines[f'<i>a/4 {HOSTILE}']}", json={"frame": "4"})
    return folder


def ended(client: TestClient, run: int = 1) -> None:
    deadline = time.monotonic() + 30
    while client.get(f"/api/readings/{run}").json()["at_work"]:
        assert time.monotonic() < deadline
        time.sleep(0.01)


@pytest.fixture
def folder(made: Path, tmp_path: Path) -> Path:
    shutil.copytree(made, tmp_path / "archive")
    return tmp_path / "archive"


@pytest.fixture
def client(folder: Path) -> Iterator[TestClient]:
    """A browser without scripts, and a reading that waits for approval."""
    with TestClient(create_app(folder), follow_redirects=False, raise_server_exceptions=False) as client:
        yield client


@pytest.fixture(scope="module")
def tied(made: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """One for looking and for what is refused: reading 1 is tied, a re-check has found trouble."""
    folder = tmp_path_factory.mktemp("tied") / "archive"
    shutil.copytree(made, folder)
    with TestClient(create_app(folder), follow_redirects=False, raise_server_exceptions=False) as client:
        assert client.post("/readings/1", data={"do": "approve"}).headers["location"] == SCANS
        shutil.copy(folder / "scans" / "<i>a" / "1.jpg", folder / "scans" / "<i>a" / "2.jpg")
        (folder / "scans" / "<i>a" / f"4 {HOSTILE}").rename(folder / "scans" / "<i>a" / f"moved {HOSTILE}")
        client.post("/api/scans/check", json={})
        yield client


def counts(client: TestClient) -> dict[str, int]:
    connection = sqlite3.connect(client.app.state.archive.folder / DATABASE_NAME)  # type: ignore[attr-defined]
    tables = ("scan", "scan_file", "reading_run", "run_file", "film_positive", "dx_stock", "file_event")
    try:
        return {t: connection.execute(f"SELECT count(*) FROM {t}").fetchone()[0] for t in tables}
    finally:
        connection.close()


def refused(answer: Response, *statuses: int) -> str:
    """The one sentence of a page that refuses."""
    assert answer.status_code in (statuses or (422,)), answer.text[-3000:]
    assert answer.headers["content-type"].startswith("text/html")
    found = re.findall(r'<p class="problem" role="alert">(.*?)</p>', answer.text, re.DOTALL)
    assert len(found) == 1
    assert 10 < len(found[0]) < 800
    assert "Traceback" not in found[0]
    return unescape(found[0])


PAGES = (
    SCANS,
    f"{SCANS}/1",
    f"{SCANS}/4",
    "/rolls/2031-002/scans",
    "/rolls/2031-002/scans/1",
    "/readings/1",
    "/scans",
    "/from-picture",
)


@pytest.mark.parametrize("path", PAGES)
def test_pages_hold_no_script_no_style_and_nothing_unescaped(tied: TestClient, path: str) -> None:
    answer = tied.get(path)
    assert answer.status_code == 200
    clean(answer.text)


class Looked(HTMLParser):
    """Goes through a page as a browser does, and finds what nobody wrote into a template."""

    def __init__(self) -> None:
        super().__init__()
        self.in_script = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        names = {name for name, _ in attrs}
        assert tag not in ("style", "i", "svg") or "viewbox" in names
        assert not {name for name in names if name.startswith("on") or name == "style"}, attrs
        if tag == "img":
            assert (dict(attrs)["src"] or "").startswith("/")
        if tag == "script":
            assert re.fullmatch(r"/static/\w+\.js", dict(attrs)["src"] or "")
        self.in_script = tag == "script"

    def handle_endtag(self, tag: str) -> None:
        self.in_script = False

    def handle_data(self, data: str) -> None:
        assert not self.in_script


def clean(text: str) -> None:
    looked = Looked()
    looked.feed(text)
    looked.close()
    for raw in ("<script>", "<img src=x", "<img src=caption", "<i>a", "Binder <b>", "49.jpg", "<b>x", "<such>", "<79>"):
        assert raw not in text


def test_the_proposal_is_clean_before_approval_and_tells_what_is_left_out(client: TestClient) -> None:
    shown = client.get("/readings/1")
    clean(shown.text)
    assert "broken &#34;&gt;&lt;img" in shown.text
    assert "1 left out" in shown.text
    clean(client.post("/readings/1", data={"do": "names", "pattern": "<b>"}).text)


def test_troubles_and_events_are_clean_and_told(tied: TestClient) -> None:
    text = tied.get("/scans").text
    clean(text)
    assert "has changed since it was linked" in text
    assert "lies now at" in text
    assert "Take all moves as meant" in text


def test_a_change_is_taken_as_meant_once(client: TestClient, folder: Path) -> None:
    shutil.copy(folder / "scans" / "<i>a" / "1.jpg", folder / "scans" / "<i>a" / "2.jpg")
    client.post("/api/scans/check", json={})
    file = re.findall(r'name="file" value="(\d+)"', client.get("/scans").text)
    assert len(file) == 1
    assert client.post("/scans", data={"do": "changed", "file": file[0]}).headers["location"] == "/scans"
    assert "hasn't changed" in refused(client.post("/scans", data={"do": "changed", "file": file[0]}))
    assert "No trouble is known" in client.get("/scans").text


def test_the_answer_to_a_picture_is_clean(tied: TestClient) -> None:
    out = BytesIO()
    as_image(frame_picture("3")).save(out, "JPEG")
    answer = tied.post("/from-picture", files={"picture": ("<b>.jpg", out.getvalue(), "image/jpeg")})
    assert answer.status_code == 200
    assert "It is from roll 2031-001, frame 3." in unescape(answer.text)
    assert "&lt;img src=caption&gt;" in answer.text
    clean(answer.text)


@pytest.mark.parametrize("path", ["/readings/{}", "/scans/{}", "/files/{}/picture", "/scans/{}/picture", "/frames/{}/picture"])
def test_ids_that_are_none_are_a_page_with_a_sentence(tied: TestClient, path: str) -> None:
    for key in (0, -1, 999, 2**63 - 1, HUGE, "x"):
        refused(tied.get(path.format(key)), 404, 422)
        if "picture" not in path:
            refused(tied.post(path.format(key), data={"do": "untie"}), 404, 422)
    refused(tied.post("/pages/999/photograph", data={"path": "x.jpg"}), 404)


@pytest.mark.parametrize("number", ["1999-001", "x" * 500, "<script>", "%00"])
def test_rolls_and_frames_that_are_none_are_a_page_with_a_sentence(tied: TestClient, number: str) -> None:
    for path in (f"/rolls/{number}/scans", f"/rolls/{number}/scans/1", f"{SCANS}/{number}"):
        answer = tied.get(path)
        refused(answer, 404)
        assert "<script>" not in answer.text
    for path in ("scans", "readings", "log"):
        refused(tied.post(f"/rolls/{number}/{path}", data={"do": "sidecars", "folder": "<i>a", "lines": "1 x"}), 404)


FORMS = (
    (f"/rolls/{ROLL}/readings", {"folder": "no <such>"}, "no folder"),
    (f"/rolls/{ROLL}/readings", {"folder": "../.."}, "leads out of the scan folder"),
    (f"/rolls/{ROLL}/readings", {"folder": "x" * 5000}, ""),
    (f"/rolls/{ROLL}/readings", {"folder": "a\x00b"}, ""),
    (SCANS, {}, "isn't known here"),
    (SCANS, {"do": "magic"}, "isn't known here"),
    (SCANS, {"do": "positive", "kind": "hologram", "exposure": "each", "slope": "0,7", "stops": "-1"}, ""),
    (SCANS, {"do": "positive", "kind": "colour negative", "slope": "steep"}, "is not a number"),
    (SCANS, {"do": "positive", "kind": "colour negative", "slope": "1e300"}, ""),
    (SCANS, {"do": "positive", "kind": "colour negative", "stops": "1e300"}, ""),
    (SCANS, {"do": "positive", "kind": "slide", "exposure": "none"}, "balanced"),
    (SCANS, {"do": "strip", "strip": "1", "path": "no <such>.jpg", "from_the_end": "yes"}, "no file"),
    (SCANS, {"do": "strip", "strip": "²", "path": "x.jpg"}, "is no strip"),
    (SCANS, {"do": "strip", "strip": "9" * 18, "path": "x.jpg"}, "no strip"),
    (SCANS, {"do": "move", "scan": "", "label": "1"}, "no scan"),
    (SCANS, {"do": "move", "scan": "9" * 40, "label": "1"}, "is no scan"),
    (SCANS, {"do": "move", "scan": "1", "label": "<b>"}, "no frame"),
    ("/rolls/2031-002/scans", {"do": "sidecars"}, "no scan"),
    ("/rolls/2031-002/scans", {"do": "positive", "kind": "colour negative"}, "no scan"),
    (f"/rolls/{ROLL}/log", {"lines": ""}, ""),
    (f"/rolls/{ROLL}/log", {"lines": "99 <b>none</b>", "zone": "+02:00", "behind": "12"}, "no frame 99"),
    (f"/rolls/{ROLL}/log", {"lines": "1 <b>x</b>", "zone": "<Nowhere>/At all"}, "no time zone"),
    (f"/rolls/{ROLL}/log", {"lines": "1 x", "behind": "1e300"}, "can't be 1e+300 s behind"),
    (f"/rolls/{ROLL}/log", {"lines": "1 x", "behind": "late"}, "is not a number"),
    (f"/rolls/{ROLL}/log", {"lines": "1 9999-12-31T23:59 x", "behind": "999999"}, ""),
    ("/scans/1", {}, "isn't known here"),
    ("/scans/1", {"do": "role", "role": "<best>"}, "not <best>"),
    ("/scans/1", {"do": "polarity", "polarity": "both"}, "negative or a positive"),
    ("/scans/1", {"do": "move", "label": "99"}, "no frame 99"),
    ("/scans/1", {"do": "move", "label": ""}, "no frame"),
    ("/scans/1", {"do": "stock", "dx_number": "<79>", "stock": "Ashgrove <100>"}, ""),
    ("/scans/1", {"do": "stock", "dx_number": "79-7", "stock": ""}, "Say which stock"),
    ("/scans/1", {"spot.x": "1", "spot.y": "²"}, "isn't known here"),
    ("/scans/1", {"spot.x": "1"}, "isn't known here"),
    ("/readings/1", {}, "isn't known here"),
    ("/readings/1", {"do": "approve"}, "already"),
    ("/readings/1", {"do": "names", "pattern": "{roll}"}, "already"),
    ("/readings/1", {"do": "go on"}, "Undo it first"),
    ("/scans", {}, "isn't known here"),
    ("/scans", {"do": "aim", "ppi": "5"}, "out of range"),
    ("/scans", {"do": "aim", "ppi": "<fine>"}, "is no resolution"),
    ("/scans", {"do": "check", "megabytes": "0"}, "0 MB"),
    ("/scans", {"do": "check", "megabytes": "9" * 30}, "is no number"),
    ("/scans", {"do": "changed", "file": "999"}, "no scan file 999"),
    ("/pages/1/photograph", {"path": "no <such>.jpg"}, "no file"),
    ("/pages/1/photograph", {}, ""),
    ("/from-picture", {}, "Choose a picture"),
    ("/from-picture", {"picture": "text"}, "Choose a picture"),
)  # fmt: skip
SHOWN_AGAIN = ("folder", "path", "slope", "stops", "lines", "zone", "behind", "dx_number", "stock", "ppi", "megabytes")


@pytest.mark.parametrize(("path", "form", "words"), FORMS)
def test_a_form_refused_says_why_keeps_what_was_typed_and_changes_nothing(
    tied: TestClient, path: str, form: dict[str, str], words: str
) -> None:
    before = counts(tied)
    answer = tied.post(path, data=form)
    assert words in refused(answer)
    clean(answer.text)
    assert counts(tied) == before
    text = unescape(answer.text)
    for name in set(form) & set(SHOWN_AGAIN):
        typed = form[name].strip()
        if path == "/from-picture" or not typed:
            continue
        kept = re.search(
            rf'<textarea id="{name}"[^>]*>{re.escape(typed)}<'
            if name == "lines"
            else rf'name="{name}" value="{re.escape(typed)}"',
            text,
        )
        assert kept, name
    if "strip" in form.values() and form["strip"] == "1":
        assert '<option value="1" selected>' in text
        assert '<option value="yes" selected>' in text
    if form.get("exposure") == "each":
        assert '<option value="each" selected>' in text


def test_a_pattern_and_choices_refused_are_kept_on_the_page(client: TestClient) -> None:
    line = next(n["id"] for n in client.get("/api/readings/1/proposal").json() if n["label"] == "1")
    form = {"do": "names", "pattern": "{nonsense", f"line:{line}": "3", "polarity": "positive"}
    answer = client.post("/readings/1", data=form)
    refused(answer)
    assert 'name="pattern" value="{nonsense"' in unescape(answer.text)
    assert re.search(rf'name="line:{line}">(?:(?!</select>).)*<option selected>3<', answer.text)
    assert '<option value="positive" selected>' in answer.text
    assert next(n["label"] for n in client.get("/api/readings/1/proposal").json() if n["id"] == line) == "1"


@pytest.mark.parametrize("value", ["99", "<b>", "x" * 500])
def test_a_choice_that_is_no_frame_is_refused(client: TestClient, value: str) -> None:
    line = next(n["id"] for n in client.get("/api/readings/1/proposal").json() if n["label"] == "1")
    assert "no frame" in refused(client.post("/readings/1", data={"do": "keep", f"line:{line}": value}))
    assert client.post("/readings/1", data={"do": "keep", "line:999": "1", "line:x": "1"}).status_code == 303  # none of its files


def test_a_reading_is_approved_once_and_undone_once(client: TestClient) -> None:
    assert "nothing to undo" in refused(client.post("/readings/1", data={"do": "undo"}))
    assert client.post("/readings/1", data={"do": "approve"}).headers["location"] == SCANS
    assert counts(client)["scan"] == 4
    assert "already" in refused(client.post("/readings/1", data={"do": "approve"}))
    assert client.post("/readings/1", data={"do": "stop"}).headers["location"] == "/readings/1"
    assert client.post("/readings/1", data={"do": "undo"}).status_code == 303
    assert "nothing to undo" in refused(client.post("/readings/1", data={"do": "undo"}))
    assert counts(client)["scan"] == 0


def test_success_leads_on_with_a_redirect(client: TestClient, folder: Path) -> None:
    client.post("/readings/1", data={"do": "approve"})
    forms = (
        ("/readings/1", {"do": "undo"}, SCANS),
        ("/readings/1", {"do": "order"}, "/readings/1"),
        ("/readings/1", {"do": "keep"}, "/readings/1"),
        ("/readings/1", {"do": "names", "pattern": "{frame}[ {any}]"}, "/readings/1"),
        ("/readings/1", {"do": "approve", "polarity": "positive"}, SCANS),
        (SCANS, {"do": "as scanned"}, SCANS),
        ("/scans/1", {"do": "turn"}, f"{SCANS}/1"),
        ("/scans/1", {"do": "mirror"}, f"{SCANS}/1"),
        ("/scans/1", {"do": "role", "role": "web"}, f"{SCANS}/1"),
        ("/scans/1", {"do": "polarity", "polarity": ""}, f"{SCANS}/1"),
        ("/scans/1", {"do": "stock", "dx_number": "79-7", "stock": "Ashgrove 100"}, f"{SCANS}/1"),
        ("/scans/1", {"do": "move", "label": "2"}, f"{SCANS}/1"),
        (SCANS, {"do": "move", "scan": "1", "label": "1"}, SCANS),
        ("/scans/1", {"do": "untie"}, f"{SCANS}/1"),
        ("/scans", {"do": "aim", "ppi": "300"}, "/scans"),
        ("/scans", {"do": "moves"}, "/scans"),
        ("/scans", {"do": "check"}, "/scans"),
        ("/scans", {"do": "stop"}, "/scans"),
        ("/pages/1/photograph", {"path": " <i>a/1.jpg "}, "/pages/1"),
    )  # fmt: skip
    for path, form, there in forms:
        answer = client.post(path, data=form)
        assert (answer.status_code, answer.headers.get("location")) == (303, there), (path, form, answer.text[-900:])
    assert (folder / "scans" / "<i>a" / "1.jpg").exists()


def test_what_has_a_sentence_to_say_says_it(client: TestClient, folder: Path) -> None:
    client.post("/readings/1", data={"do": "approve"})
    copied("1", 1).resize((600, 94)).save(folder / "scans" / "strip.png")
    forms = (
        (SCANS, {"do": "positive", "kind": "black-and-white negative"}, ""),
        (SCANS, {"do": "strip", "strip": "1", "path": "strip.png"}, "4 frames"),
        (SCANS, {"do": "sidecars"}, "4 sidecars"),
        (f"/rolls/{ROLL}/log", {"lines": "1 1/250 f/8 <b>Quay</b>"}, "1 frames noted"),
        ("/scans/1", {"do": "edge"}, "No edge code"),
        ("/scans/1", {"spot.x": "200", "spot.y": "3", "width": "400", "height": "0"}, ""),
    )
    for path, form, words in forms:
        answer = client.post(path, data=form)
        assert answer.status_code == 200, (form, answer.text[-900:])
        assert re.search(rf'<p class="said" role="status">.*?{words}.*?</p>', answer.text), form
        clean(answer.text)
    assert "<b>Quay" not in client.get(f"{SCANS}/1").text


@pytest.mark.parametrize(
    ("path", "there"),
    [
        (f"/rolls/{ROLL}/log", SCANS), (f"/rolls/{ROLL}/readings", SCANS), ("/scans/1", f"{SCANS}/1"),
        ("/pages/1/photograph", "/pages/1"),
    ],
)  # fmt: skip
def test_coming_back_to_a_forms_address_shows_its_page(tied: TestClient, path: str, there: str) -> None:
    """The ground button sends the person back to the address of the page shown, a refusal among them."""
    back = tied.post("/ground", data={"to": "dim", "back": path}).headers["location"]
    assert (tied.get(back).status_code, tied.get(back).headers["location"]) == (303, there)


@pytest.mark.parametrize("body", [b"", b"x", b"\xff\xd8\xff\xe0" + bytes(90), b"<svg onload=alert(1)>"])
def test_what_is_no_picture_is_said(tied: TestClient, body: bytes) -> None:
    sentence = refused(tied.post("/from-picture", files={"picture": ("<b>.jpg", body, "image/jpeg")}))
    assert "picture" in sentence


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        (b"", ""), (b"", "multipart/form-data"), (b"junk", "multipart/form-data; boundary=x"), (b"a=\xff\xfe&%zz=%", ""),
        (b"--x\r\nContent-Disposition: form-data\r\n\r\nv\r\n--x--", "multipart/form-data; boundary=x"),
        (b"{}", "application/json"),
    ],
)  # fmt: skip
def test_bodies_that_are_no_form_are_refused(tied: TestClient, body: bytes, kind: str) -> None:
    for path in (SCANS, f"/rolls/{ROLL}/log", "/readings/1", "/scans", "/scans/1", "/from-picture", "/pages/1/photograph"):
        headers = {"Content-Type": kind or "application/x-www-form-urlencoded"}
        refused(tied.post(path, content=body, headers=headers), 400, 422)


@pytest.mark.parametrize(
    ("path", "size", "status"),
    [
        ("/from-picture", 43_000_000, 413), ("/from-picture", 41_000_000, 422), (f"/rolls/{ROLL}/log", 43_000_000, 413),
        (f"/rolls/{ROLL}/log", 3_000_000, 422), (SCANS, 2_200_000, 413), ("/readings/1", 2_200_000, 413),
    ],
)  # fmt: skip
def test_files_too_large_are_refused_on_a_page(tied: TestClient, path: str, size: int, status: int) -> None:
    name = "picture" if "picture" in path else "csv"
    assert refused(tied.post(path, files={name: ("x", bytes(size), "image/jpeg")}), status)


@pytest.mark.parametrize(
    "files",
    [
        {"csv": b"frame,caption\n1,\xff"}, {"csv": b"a,b\n1,2"}, {"csv": b"frame\n1\n1"}, {"csv": b'frame\n"1'},
        {"csv": b"frame,caption\n1,x", "track": b"<gpx"}, {"csv": b"frame,caption\n1,x", "track": b"no xml"},
        {"csv": b"frame\n99"}, {"csv": bytes(500)},
        {"csv": b"frame,taken\n1,0001-01-01T00:00", "track": GPX},
    ],
)  # fmt: skip
def test_logs_that_cannot_be_used_are_refused_whole(tied: TestClient, files: dict[str, bytes]) -> None:
    before = tied.get(f"/api/rolls/{ROLL}").json()["frames"][0]["caption"]
    refused(tied.post(f"/rolls/{ROLL}/log", files={k: (k, v) for k, v in files.items()}, data={"zone": "+14:00"}))
    assert tied.get(f"/api/rolls/{ROLL}").json()["frames"][0]["caption"] == before


def test_a_file_that_is_gone_is_said_where_its_picture_would_be(client: TestClient, folder: Path) -> None:
    client.post("/readings/1", data={"do": "approve"})
    shutil.rmtree(folder / "scans" / "<i>a")
    shutil.rmtree(folder / "previews", ignore_errors=True)
    for path in ("/scans/1/picture", "/scans/1/picture?large=1&original=1", "/files/1/picture", "/frames/1/picture"):
        refused(client.get(path), 404, 422)
    refused(client.post("/scans/1", data={"do": "edge"}))
    refused(client.post(SCANS, data={"do": "positive", "kind": "colour negative"}))
    for path in (SCANS, f"{SCANS}/1", "/scans", "/readings/1", "/pages/1"):
        assert client.get(path).status_code == 200


def test_pictures_are_pictures(tied: TestClient) -> None:
    for path in ("/scans/1/picture", "/scans/1/picture?large=1&original=1", "/files/1/picture?large=1"):
        answer = tied.get(path)
        assert (answer.status_code, answer.headers["content-type"]) == (200, "image/jpeg")
        assert Image.open(BytesIO(answer.content)).size[0] > 10
    refused(tied.get("/scans/1/picture?large=perhaps"), 422)


def test_a_reading_cut_off_can_be_gone_on_with_from_the_page(client: TestClient, folder: Path) -> None:
    connection = sqlite3.connect(folder / DATABASE_NAME)
    connection.execute("UPDATE reading_run SET state = 'reading'")  # as a computer switched off leaves it
    connection.commit()
    connection.close()
    assert 'value="go on"' in client.get("/readings/1").text
    assert client.post("/readings/1", data={"do": "go on"}).headers["location"] == "/readings/1"
    ended(client)
    assert 'value="go on"' not in client.get("/readings/1").text
    assert client.post("/readings/1", data={"do": "approve"}).status_code == 303
