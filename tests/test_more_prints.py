"""Cards, lists, labels and books through the service: each answers with a PDF that says what it is, or with a sentence."""

import io
from collections.abc import Iterator
from pathlib import Path

import pypdf
import pytest
from builders import registered
from fastapi.testclient import TestClient

from api.app import create_app
from catalogue.rolls.file import add_binder
from catalogue.rolls.move import take_out
from catalogue.rolls.number import next_roll_number
from catalogue.store.engine import Archive, open_archive


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """Two rolls in Binder 1, one strip of the first out."""
    folder: Path = tmp_path_factory.mktemp("prints") / "archive"
    archive: Archive = open_archive(folder)
    with archive.session() as session:
        add_binder(session, "Binder 1")
        roll = registered(session, 12, number="2031-001", subject="Heron on the mole", stock="Tarn 100", exposed="2031-05")
        registered(session, 36, number="2031-002", place="Skarvholm", keywords="boats, fog")
        add_binder(session, "Binder 2")
        take_out(session, roll.strips[1].id, "with the printer", "2031-11-30")
    archive.close()
    with TestClient(create_app(folder), follow_redirects=False) as opened:
        yield opened


def words(client: TestClient, path: str, **form: object) -> str:
    """The text of the PDF that this address answers with."""
    answer = client.post(path, json=form) if form else client.get(path)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "application/pdf"
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(answer.content)).pages)


@pytest.mark.parametrize(
    ("path", "said"),
    [
        ("/api/pages/1/strip-list.pdf", ["1–6", "out"]),
        ("/api/rolls/2031-001/frames/3/print-card.pdf", ["2031-001", "3"]),
        ("/api/rolls/2031-001/label.pdf?stock=a4-3x7&start=5", ["2031-001", "Tarn 100"]),
        ("/api/numbers.pdf?count=3&copies=2", ["-001", "-002", "-003"]),
        ("/api/label-test.pdf?stock=letter-3x10", ["Test sheet"]),
        ("/api/binders/1/spine.pdf?width_mm=35", ["Binder 1", "2031-001", "2031-002"]),
        ("/api/slips.pdf", ["with the printer", "30 November 2031"]),
        ("/api/binders/1/book.pdf?paper=Letter", ["Heron on the mole", "Skarvholm", "fog"]),
    ],
)
def test_each_print_says_what_it_is(client: TestClient, path: str, said: list[str]) -> None:
    text = words(client, path)
    assert not [part for part in said if part not in text]


def test_the_cut_card_comes_before_the_scissors_and_stores_nothing(client: TestClient) -> None:
    text = words(client, "/api/cut-card.pdf", number="2031-003", frames="1-12", layout="135-7x6")
    assert "2031-003" in text
    assert "100 mm" in text
    assert client.get("/api/rolls/2031-003").status_code == 404
    form = {"number": "2031-003", "format": "135-24x36", "frames": "1-12", "where": "1", "do": "card"}
    by_form = client.post("/register", data=form)
    assert by_form.headers["content-type"] == "application/pdf"
    refused = client.post("/register", data={**form, "frames": "0-"})
    assert (refused.status_code, 'role="alert"' in refused.text) == (422, True)


def test_numbers_printed_ahead_are_not_issued(client: TestClient) -> None:
    archive: Archive = client.app.state.archive  # type: ignore[attr-defined]
    with archive.session(reading=True) as session:
        before = next_roll_number(session)
    words(client, "/api/numbers.pdf?count=5")
    with archive.session(reading=True) as session:
        assert next_roll_number(session) == before


def test_the_finding_aid_is_plain_html_by_level(client: TestClient) -> None:
    text = client.get("/api/finding-aid.html").text
    for part in ("Binder 1", "2031-002", "Scope and content", "Extent and medium"):
        assert part in text
    assert "<script" not in text


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/api/pages/99/strip-list.pdf", 404),
        ("/api/pages/1/strip-list.pdf?paper=napkin", 422),
        ("/api/rolls/2031-001/frames/99/print-card.pdf", 404),
        ("/api/rolls/9999/label.pdf", 404),
        ("/api/rolls/2031-001/label.pdf?stock=cloth", 422),
        ("/api/rolls/2031-001/label.pdf?start=400", 422),
        ("/api/numbers.pdf?count=0", 422),
        ("/api/numbers.pdf?count=9999", 422),
        ("/api/binders/99/book.pdf", 404),
        ("/api/binders/99/spine.pdf", 404),
        ("/api/binders/1/spine.pdf?width_mm=2", 422),
    ],
)
def test_what_cannot_be_printed_is_said(client: TestClient, path: str, status: int) -> None:
    answer = client.get(path)
    assert answer.status_code == status, answer.text
    assert answer.json()["detail"]


def test_the_print_page_offers_all_of_it(client: TestClient) -> None:
    text = client.get("/print").text
    for link in (
        "/api/binders/1/book.pdf",
        "/api/binders/1/spine.pdf",
        "/api/finding-aid.html",
        "/api/slips.pdf",
        'value="cassette-numbers"',
    ):
        assert link in text
    assert "/api/binders/2/book.pdf" not in text  # an empty binder has no book
