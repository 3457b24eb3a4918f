"""The print desk: the queue, bad values refused, only what changed, one PDF a paper, a look beforehand, and stopping."""

import io
import shutil
import subprocess
import threading
from collections.abc import Iterator
from pathlib import Path

import pypdf
import pytest
from builders import Statements, registered
from fastapi.testclient import TestClient
from PIL import Image
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from api.app import create_app
from api.desk.queue import put_in_thing
from catalogue.desk.queue import changed_since, empty, last_printed, move, note_printed, put_in, take_out, waiting
from catalogue.errors import NotFound, StripleafError
from catalogue.rolls.change import FrameChanges, RollChanges, update_frame, update_roll
from catalogue.rolls.file import add_binder
from catalogue.store.engine import Archive, open_archive
from printing.canvas.merging import Gathered, drawn_checksums


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An archive of two binders: two pages in the first, none in the second."""
    folder = tmp_path_factory.mktemp("desk") / "archive"
    archive = open_archive(folder)
    with archive.session() as session:
        add_binder(session, "Binder 1")
        registered(session, 12, number="2031-001", subject="Heron on the mole")
        registered(session, 8, number="2031-002", subject="Skarvholm", page_id=None, layout="135-7x6")
        add_binder(session, "Binder 2")
    archive.close()
    return folder


@pytest.fixture
def client(made: Path, tmp_path: Path) -> Iterator[TestClient]:
    shutil.copytree(made, tmp_path / "archive")
    with TestClient(create_app(tmp_path / "archive"), follow_redirects=False) as opened:
        yield opened


def archive_of(client: TestClient) -> Archive:
    archive: Archive = client.app.state.archive  # type: ignore[attr-defined]
    return archive


def put(client: TestClient, kind: str, **what: object) -> None:
    answer = client.post("/api/print-desk/queue", json={"kind": kind, "what": what})
    assert answer.status_code == 201, answer.text


def print_all(client: TestClient, **how: object) -> tuple[str, dict[str, pypdf.PdfReader]]:
    """What is said at the end, and the PDFs made by this printing, by name."""
    before = {f["name"] for f in client.get("/api/print-desk/files").json()}
    assert client.post("/api/print-desk/making", json=how).status_code == 202
    client.app.state.background.wait("printing")  # type: ignore[attr-defined]
    progress = client.get("/api/print-desk/making").json()
    assert not progress["running"]
    found = {}
    for file in client.get("/api/print-desk/files").json():
        if file["name"] not in before:
            content = client.get(f"/api/print-desk/files/{file['name']}").content
            assert len(content) == file["byte_size"]
            found[file["name"]] = pypdf.PdfReader(io.BytesIO(content), strict=True)
    return progress["words"], found


def titles(pdf: pypdf.PdfReader) -> list[str]:
    return [str(entry.title) for entry in pdf.outline if not isinstance(entry, list)]


def test_the_queue_keeps_order_and_holds_a_thing_once(session: Session) -> None:
    first, second, third = (put_in(session, "page-label", {"page_id": n, "paper": "A4"}) for n in (1, 2, 3))
    assert put_in(session, "page-label", {"paper": "A4", "page_id": 2}).id == second.id  # the order of names is no matter
    move(session, third.id, up=True)
    move(session, first.id, up=True)  # the first stays first
    move(session, second.id, up=False)  # and the last last
    assert [w.id for w in waiting(session)] == [first.id, third.id, second.id]
    assert [w.position for w in waiting(session)] == [1, 2, 3]
    move(session, first.id, up=False)
    take_out(session, third.id)
    assert [w.id for w in waiting(session)] == [first.id, second.id]
    with pytest.raises(NotFound, match="not in the print queue"):
        take_out(session, third.id)
    assert (empty(session), waiting(session)) == (2, ())


def test_what_changed_is_told_by_leaf(session: Session) -> None:
    what = {"binder_id": 1}
    note_printed(session, "book", what, {"title": "A", "page 1": "B"})
    note_printed(session, "book", what, {"page 1": "C"})
    assert last_printed(session, "book", what) == {"title": "A", "page 1": "C"}
    assert changed_since(session, "book", what, {"title": "A", "page 1": "D", "page 2": "E"}) == ("page 1", "page 2")
    assert changed_since(session, "book", {"binder_id": 2}, {"title": "A"}) == ("title",)


@pytest.mark.parametrize(
    "row",
    [
        "print_wish (kind, what, wanted_at, position) VALUES (' ', '{}', '', 1)",
        "print_wish (kind, what, wanted_at, position) VALUES ('book', '{half', '', 1)",
        "print_wish (kind, what, wanted_at, position) VALUES ('book', '{}', '', 0)",
        "printed_leaf (kind, what, leaf, checksum, printed_at) VALUES ('book', '{}', 'title', '', '')",
    ],
)
def test_the_tables_refuse_what_cannot_be(session: Session, row: str) -> None:
    with pytest.raises(IntegrityError, match="CHECK"):
        session.connection().execute(text(f"INSERT INTO {row}"))


@pytest.mark.parametrize(
    ("kind", "what", "said"),
    [
        ("poster", {}, "nothing that can be printed"),
        ("page-label", {}, "page id is missing"),
        ("page-label", {"page_id": "one"}, "page id can't be understood"),
        ("page-label", {"page_id": 99}, "no page 99"),
        ("page-label", {"page_id": 1, "paper": "napkin"}, "not a paper known here"),
        ("page-label", {"page_id": 1, "colour": "blue"}, "colour is no part of it"),
        ("page-sheet", {"page_id": 1, "fit": "squeeze"}, "no way to fit"),
        ("roll-sheet", {"roll": "9999"}, "no roll 9999"),
        ("roll-label", {"roll": "2031-001", "stock": "a4-3x8", "start": 25}, "25"),
        ("roll-label", {"roll": "2031-001", "dx": 6}, "less than or equal to 5"),
        ("cassette-numbers", {"count": 0}, "count can't be understood"),
        ("print-card", {"roll": "2031-001", "frame": "99"}, "99"),
        ("spine", {"binder_id": 1, "width_mm": float("nan")}, "width mm"),
        ("book", {"binder_id": 1, "paper": "A3"}, "A4 or Letter"),
        ("out-slips", {}, "No strip is out"),
    ],
)
def test_bad_values_are_refused_when_put_in(made: Path, kind: str, what: dict[str, object], said: str) -> None:
    archive = open_archive(made)
    try:
        with archive.session() as session:
            with pytest.raises(StripleafError, match=said) as refused:
                put_in_thing(session, kind, what)
            assert str(refused.value).endswith((".", "?"))
            assert waiting(session) == ()
    finally:
        archive.close()


def test_a_refusal_is_a_4xx_and_a_sentence_on_the_page(client: TestClient) -> None:
    answer = client.post("/api/print-desk/queue", json={"kind": "page-label", "what": {"page_id": 99}})
    assert (answer.status_code, "no page 99" in answer.json()["detail"]) == (404, True)
    page = client.post("/print/later", data={"kind": "page-label", "page_id": "99"})
    assert page.status_code == 422 and 'role="alert"' in page.text and "no page 99" in page.text
    away = client.post("/print/later", data={"kind": "page-label", "page_id": "1", "back": "//elsewhere.test/"})
    assert (away.status_code, away.headers["location"]) == (303, "/print#queue")
    for path in (
        "/api/print-desk/files/none.pdf",
        "/api/print-desk/files/..%2Fstripleaf.db",
        "/print/look?kind=book&binder_id=9",
    ):
        assert client.get(path).status_code == 404
    assert client.get("/print/look?kind=poster").status_code == 422


def test_a_whole_binder_is_one_pdf_with_an_entry_for_each_thing(client: TestClient, tmp_path: Path) -> None:
    queue = client.post("/api/print-desk/binders/1", json={}).json()
    pages = client.get("/api/binders/1").json()["pages"]
    assert len(queue) == 1 + 3 * len(pages) + 1  # spine; label, strip list and contact sheet a page; book
    put(client, "roll-label", roll="2031-001", start=3)
    put(client, "roll-label", roll="2031-002")
    put(client, "finding-aid")
    words, files = print_all(client)
    assert [name[18:] for name in files] == ["plain paper A4.pdf", "A4 3 × 8 labels.pdf"]
    assert words.startswith("2 PDFs are ready.")
    plain, labels = files.values()
    assert (len(labels.pages), titles(labels)) == (1, ["Label of roll 2031-001 and 1 more"])
    wanted = [
        "Spine of Binder 1",
        "Index label",
        "Strip list of Binder 1, page 1",
        "Contact sheet of Binder 1, page 1",
        "Book of",
    ]
    assert not [part for part in wanted if not any(title.startswith(part) for title in titles(plain))]
    # ISO 216: A4 is 210 × 297 mm; PDF counts 72 units an inch (ISO 32000-1, 8.3.2.3). Both from memory.
    assert {tuple(sorted(round(float(s) / 72 * 25.4) for s in page.mediabox[2:])) for page in plain.pages} == {(210, 297)}
    assert plain.root_object["/ViewerPreferences"]["/PrintScaling"] == "/None"
    # Book and finding aid both have leaves of the same names: every link stays within its own.
    starts = [plain.get_destination_page_number(e) for e in plain.outline if not isinstance(e, list)]
    number = {page.indirect_reference.idnum: n for n, page in enumerate(plain.pages) if page.indirect_reference}
    links = [
        (n, number[link.get_object()["/Dest"][0].idnum]) for n, page in enumerate(plain.pages) for link in page.get("/Annots", [])
    ]
    assert len(links) > 20
    assert [(a, b) for a, b in links if sum(s <= a for s in starts) != sum(s <= b for s in starts)] == []
    if checker := shutil.which("qpdf"):
        for name in files:
            subprocess.run([checker, "--check", str(archive_of(client).folder / "prints" / name)], check=True)


def test_only_what_changed_is_printed_again(client: TestClient) -> None:
    def put_all() -> None:
        for page in (1, 2):
            put(client, "page-sheet", page_id=page)
        put(client, "book", binder_id=1)

    put_all()
    words, files = print_all(client, changed_only=True)  # nothing was ever printed, so all of it is new
    (name,), (whole,) = files.keys(), files.values()
    assert len(client.get("/api/print-desk/queue").json()) == 3  # neither making nor downloading is printing
    assert client.post(f"/api/print-desk/files/{name}/printed").status_code == 204
    assert client.get("/api/print-desk/queue").json() == []

    put_all()
    words, none = print_all(client, changed_only=True)
    assert none == {}
    assert words == "No PDF was made. Left out, as nothing on them has changed since the last print: 3 things."

    with archive_of(client).session() as session:
        update_frame(session, "2031-001", "3", FrameChanges(caption="Zeppelin over the ferry"))
    words, some = print_all(client, changed_only=True)
    (pdf,) = some.values()
    assert titles(pdf) == ["Book of Binder 1"]  # captions stand in the book; a contact sheet has none
    book = "\n".join(page.extract_text() for page in pdf.pages)
    assert 0 < len(pdf.pages) < len(whole.pages) - 2
    assert "Zeppelin over the ferry" in book
    assert "2 things and" in words and "Take these old leaves out" in words

    with archive_of(client).session() as session:
        update_roll(session, "2031-001", RollChanges(subject="Zeppelin"))
    _, some = print_all(client, changed_only=True)
    assert titles(*some.values()) == ["Contact sheet of Binder 1, page 1", "Book of Binder 1"]  # and not that of page 2
    client.post(f"/api/print-desk/files/{next(iter(some))}/printed")
    assert client.get("/api/print-desk/queue").json() == []  # the unchanged sheet left with the rest
    assert print_all_is_refused(client)


def print_all_is_refused(client: TestClient) -> bool:
    answer = client.post("/api/print-desk/making", json={})
    return (answer.status_code, answer.json()["detail"][:32]) == (404, "Nothing waits to be printed. Put")


def test_date_place_and_address_make_no_other_sheet(client: TestClient) -> None:
    first = client.get("/api/print-desk/thing.pdf", params={"kind": "page-label", "page_id": 1}).content
    other = client.get("/api/print-desk/thing.pdf", params={"kind": "page-label", "page_id": 2}).content
    assert drawn_checksums(first) == drawn_checksums(first)
    assert drawn_checksums(first) != drawn_checksums(other)
    put(client, "roll-label", roll="2031-001", start=1)
    (name,) = print_all(client)[1]
    client.post(f"/api/print-desk/files/{name}/printed")
    put(client, "roll-label", roll="2031-001", start=5)
    assert print_all(client, changed_only=True)[1] == {}


@pytest.mark.parametrize(
    ("params", "proportion"),
    [
        ({"kind": "strip-list", "page_id": "1"}, 297 / 210),  # ISO 216, from memory
        ({"kind": "book", "binder_id": "1", "paper": "Letter", "sheet": "2"}, 11 / 8.5),
    ],
)
def test_a_sheet_is_looked_at_in_its_proportion(client: TestClient, params: dict[str, str], proportion: float) -> None:
    answer = client.get("/api/print-desk/sheet.png", params=params | {"width": "400"})
    assert answer.headers["content-type"] == "image/png"
    image = Image.open(io.BytesIO(answer.content))
    assert image.format == "PNG"
    assert image.width == 400 and abs(image.height / image.width - proportion) < 0.01
    low, high = image.convert("L").getextrema()
    assert (low < 100, high) == (True, 255)  # something dark stands on white paper
    assert client.get("/api/print-desk/sheet.png", params=params | {"sheet": "900"}).status_code == 404
    page = client.get("/print/look", params=params).text
    assert "Sheet " in page and "/api/print-desk/sheet.png?" in page


def test_stopping_leaves_no_file_and_the_queue_as_it_was(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    put(client, "page-label", page_id=1)
    put(client, "strip-list", page_id=1)
    before = client.get("/api/print-desk/queue").json()
    halfway, go_on = threading.Event(), threading.Event()
    written = Gathered.write

    def slow(self: Gathered, out: io.BufferedWriter, kept: object) -> None:
        written(self, out, kept)
        halfway.set()
        go_on.wait(20)

    monkeypatch.setattr(Gathered, "write", slow)
    client.post("/api/print-desk/making", json={})
    assert halfway.wait(20)
    folder = archive_of(client).folder / "prints"
    assert [p.suffix for p in folder.iterdir()] == [".part"]
    running = client.get("/print/making").text
    assert "Stop" in running and "<progress" in running and "again.js" in running
    client.app.state.background.stop("printing")  # type: ignore[attr-defined]
    go_on.set()
    stopped = client.request("DELETE", "/api/print-desk/making").json()
    assert (stopped["running"], stopped["words"][:8]) == (False, "Stopped.")
    assert list(folder.iterdir()) == []
    assert client.get("/api/print-desk/queue").json() == before


def test_a_pdf_that_is_not_ours_is_not_noted_and_can_be_removed(client: TestClient) -> None:
    folder = archive_of(client).folder / "prints"
    folder.mkdir()
    (folder / "2031-01-01 000000 plain paper A4.pdf").write_bytes(b"%PDF-1.4 and no more")
    name = client.get("/api/print-desk/files").json()[0]["name"]
    answer = client.post(f"/api/print-desk/files/{name}/printed")
    assert (answer.status_code, "doesn't say what is on it" in answer.json()["detail"]) == (422, True)
    assert client.post("/print/files", data={"do": "remove", "name": name}).status_code == 303
    assert list(folder.iterdir()) == []


def test_a_thing_that_can_no_longer_be_made_is_told_and_the_rest_is_printed(client: TestClient) -> None:
    put(client, "strip-list", page_id=1)
    with archive_of(client).session() as session:
        put_in(session, "page-sheet", {"page_id": 77, "paper": "A4", "fit": "two sheets"})
    assert "printed now" in client.get("/print").text
    words, files = print_all(client)
    assert [titles(pdf) for pdf in files.values()] == [["Strip list of Binder 1, page 1"]]
    assert "1 thing could not be drawn: There is no page 77" in words


def test_the_finding_aid_is_a_pdf_too(client: TestClient) -> None:
    answer = client.get("/api/finding-aid.pdf?paper=Letter")
    text_of = "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(answer.content)).pages)
    assert "2031-002" in text_of and "Extent and medium" in text_of
    assert client.get("/api/finding-aid.pdf?paper=A3").status_code == 422


def printed(client: TestClient, **how: object) -> None:
    """Everything that waits is made and has come out of the printer."""
    _, files = print_all(client, **how)
    for name in files:
        assert client.post(f"/api/print-desk/files/{name}/printed").status_code == 204


def test_leaves_printed_anew_are_remembered(client: TestClient) -> None:
    for _ in range(2):  # the second time all of it counts as new, though all of it was printed before
        put(client, "book", binder_id=1)
        printed(client, changed_only=False)
    put(client, "book", binder_id=1)
    words, files = print_all(client, changed_only=True)
    assert (files, "nothing on them has changed" in words) == ({}, True)


@pytest.mark.parametrize(("kind", "what"), [("page-label", {"page_id": 1}), ("strip-list", {"page_id": 2})])
def test_what_took_the_number_of_a_printed_thing_stays_in_the_queue(
    client: TestClient, kind: str, what: dict[str, object]
) -> None:
    put(client, "strip-list", page_id=1)
    _, files = print_all(client)
    (old,) = client.get("/api/print-desk/queue").json()
    assert client.delete(f"/api/print-desk/queue/{old['id']}").status_code == 204
    put(client, kind, **what)
    (new,) = client.get("/api/print-desk/queue").json()
    assert new["id"] == old["id"]  # the store gives a number that is free again
    (name,) = files
    assert client.post(f"/api/print-desk/files/{name}/printed").status_code == 204
    assert client.get("/api/print-desk/queue").json() == [new]


def test_every_leaf_of_a_book_can_be_looked_at_and_no_other(client: TestClient) -> None:
    book = {"kind": "book", "binder_id": "1"}
    whole = pypdf.PdfReader(io.BytesIO(client.get("/api/print-desk/thing.pdf", params=book).content))
    last = len(whole.pages)
    found = [client.get("/api/print-desk/sheet.png", params=book | {"sheet": str(n)}).status_code for n in (1, last, last + 1)]
    assert (last > 2, found) == (True, [200, 200, 404])


def test_the_leaves_left_out_are_counted(client: TestClient) -> None:
    put(client, "book", binder_id=1)
    whole = print_all(client)[1]
    (name, pdf), *_ = whole.items()
    client.post(f"/api/print-desk/files/{name}/printed")
    with archive_of(client).session() as session:
        update_frame(session, "2031-001", "3", FrameChanges(caption="Zeppelin over the ferry"))
    put(client, "book", binder_id=1)
    put(client, "strip-list", page_id=1)  # never printed: nothing of it is left out
    words, some = print_all(client, changed_only=True)
    again = sum(len(one.pages) for one in some.values()) - 1
    assert 0 < again < len(pdf.pages)
    assert f"since the last print: {len(pdf.pages) - again} sheets and leaves of other things." in words


def test_the_queue_is_moved_taken_from_and_emptied(client: TestClient) -> None:
    def waits() -> list[int]:
        return [w["what"]["page_id"] for w in client.get("/api/print-desk/queue").json()]

    for n in (1, 2):
        put(client, "strip-list", page_id=n)
    first, second = (w["id"] for w in client.get("/api/print-desk/queue").json())
    assert [w["id"] for w in client.post(f"/api/print-desk/queue/{second}/move", json={"up": True}).json()] == [second, first]
    assert client.post("/print/queue", data={"do": "down", "id": str(second)}).status_code == 303 and waits() == [1, 2]
    assert client.delete(f"/api/print-desk/queue/{first}").status_code == 204 and waits() == [2]
    for missing in (
        client.delete(f"/api/print-desk/queue/{first}"),
        client.post(f"/api/print-desk/queue/{first}/move", json={"up": True}),
    ):
        assert missing.status_code == 404
    assert client.post("/print/queue", data={"do": "dance", "id": "1"}).status_code == 422
    assert client.delete("/api/print-desk/queue").status_code == 204 and waits() == []
    put(client, "strip-list", page_id=1)
    (name,) = print_all(client)[1]
    assert client.delete(f"/api/print-desk/files/{name}").status_code == 204
    assert client.delete(f"/api/print-desk/files/{name}").status_code == 404


def test_a_long_queue_is_shown_a_part_at_a_time_for_as_many_statements(client: TestClient) -> None:
    def statements() -> int:
        with Statements(archive_of(client).engine) as counted:
            assert client.get("/print").status_code == 200
        return counted.count

    def fill(until: int) -> None:
        with archive_of(client).session() as session:
            for n in range(until):
                put_in(session, "spine", {"binder_id": 1, "paper": "A4", "width_mm": 10 + n / 10})

    fill(20)
    few = statements()
    fill(120)
    assert statements() == few
    text = client.get("/print?queue_from=21").text
    assert "Things 21 to 40 of 120" in text and "Make the PDF of all 120" in text
