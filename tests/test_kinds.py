"""A kind of print is declared once: an invented one, known for this test only, is found at every door."""

import io
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, ClassVar

import pypdf
import pytest
import typer
from builders import registered
from fastapi.testclient import TestClient
from pydantic import Field

from api.app import create_app
from api.cli.print_commands import commands_of
from api.json.desk.prints import router_of
from catalogue.errors import InvalidInput
from catalogue.rolls.file import add_binder
from printing.canvas.items import Sheet, Text
from printing.canvas.paint import Painter
from printing.kinds.asked import Door, Now, OfPage, OnPaper, PrintedPdf, Session
from printing.kinds.registry import KINDS, find_kind
from printing.sheets.documents import finished


class GreetingAsked(OfPage, OnPaper):
    """A sheet with a word on it."""

    key: ClassVar[str] = "greeting"
    called: ClassVar[str] = "greeting to a page"
    titled: ClassVar[str] = "Greeting to {binder}, page {number}"
    filed: ClassVar[str] = "greeting {page_id}"
    said: ClassVar[str] = "A word for a page."
    doors: ClassVar[tuple[Door, ...]] = (Door("/pages/{page_id}/greeting.pdf", "greeting"),)
    word: str = Field(default="Ahoy", max_length=20, title="Which word", description="One word.")

    def drawn(self, session: Session, now: Now) -> PrintedPdf:
        """The word."""
        paper = self.sheet(session)
        painter = Painter(self.word)
        painter.draw([Sheet(paper.width_mm, paper.height_mm, (Text(20, 20, 5, self.word),))])
        return finished(painter, 1.0, 1, "One word.")


@pytest.fixture
def client(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[TestClient]:
    """A service that knows the invented kind, with one roll on a page."""
    monkeypatch.setitem(KINDS, GreetingAsked.key, GreetingAsked)
    app = create_app(tmp_path / "archive")
    app.include_router(router_of([GreetingAsked]), prefix="/api")
    with app.state.archive.session() as session:
        add_binder(session, "Binder 1")
        registered(session, 12, number="2031-001")
    with TestClient(app, follow_redirects=False) as opened:
        yield opened


def text_of(pdf: bytes) -> str:
    return "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages)


def test_its_address_and_what_the_contract_says_of_it(client: TestClient) -> None:
    answer = client.get("/api/pages/1/greeting.pdf?word=Moin")
    assert (answer.status_code, text_of(answer.content)) == (200, "Moin")
    assert answer.headers["content-disposition"] == "inline; filename*=UTF-8''greeting%201.pdf"
    assert client.get("/api/pages/9/greeting.pdf").status_code == 404
    assert client.get(f"/api/pages/1/greeting.pdf?word={'a' * 21}").status_code == 422
    told = client.get("/api/openapi.json").json()["paths"]["/api/pages/{page_id}/greeting.pdf"]["get"]
    assert told["description"] == "A word for a page."
    assert {p["name"]: p["schema"].get("maxLength") for p in told["parameters"]} == {"page_id": None, "paper": 40, "word": 20}


def test_its_form_look_and_place_in_the_queue(client: TestClient) -> None:
    assert 'href="/print/thing?kind=greeting"' in client.get("/print").text
    form = client.get("/print/thing?kind=greeting").text
    assert "Which word" in form and 'value="Ahoy"' in form and 'name="page_id" required' in form
    values = {"kind": "greeting", "page_id": "1", "word": "", "paper": "Letter"}  # what stands empty is left out
    assert text_of(client.get("/api/print-desk/thing.pdf", params=values).content) == "Ahoy"
    look = client.get("/print/look", params=values).text
    assert "Greeting to Binder 1, page 1" in look and "One word." in look
    assert client.get("/api/print-desk/sheet.png", params=values).headers["content-type"] == "image/png"
    assert client.post("/print/later", data=values).status_code == 303
    (waits,) = client.get("/api/print-desk/queue").json()
    assert (waits["title"], waits["paper"]) == ("Greeting to Binder 1, page 1", "plain paper, Letter")
    assert waits["what"] == {"page_id": 1, "paper": "Letter", "word": "Ahoy"}


def test_its_command(client: TestClient, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    command = typer.main.get_command(commands_of(KINDS.values()))
    out = tmp_path / "made.pdf"
    arguments = ["greeting", "1", "--word", "Servus", "--out", str(out), "--archive", str(tmp_path / "archive")]
    command.main(arguments, standalone_mode=False)
    assert text_of(out.read_bytes()) == "Servus"
    assert capsys.readouterr().out == f"{out}, 1 sheet: One word.\n"


def test_an_unknown_kind_is_told_which_there_are() -> None:
    with pytest.raises(InvalidInput, match="roll-sheet, page-sheet"):
        find_kind("poster")
    assert "greeting" not in KINDS


@pytest.mark.parametrize("kind", KINDS.values(), ids=lambda kind: kind.key)
def test_every_kind_has_all_its_doors(client: TestClient, kind: Any) -> None:
    paths = client.get("/api/openapi.json").json()["paths"]
    assert kind.doors and all(f"/api{door.path}" in paths for door in kind.doors)
    assert kind.said in client.get(f"/print/thing?kind={kind.key}").text.replace("&#39;", "'")
    assert (kind.command or kind.key) in typer.main.get_command(commands_of(KINDS.values())).commands  # type: ignore[attr-defined]


def test_the_kinds_are_known_without_the_store() -> None:
    import subprocess

    asked = "import sys, printing.kinds.registry; print([m for m in ('sqlalchemy', 'fastapi', 'reportlab') if m in sys.modules])"
    assert subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True).stdout == "[]\n"


@pytest.mark.parametrize("do", ["card", "plan"])
def test_looking_at_cuts_waits_for_nobody_and_writes_nothing(client: TestClient, do: str) -> None:
    archive = client.app.state.archive  # type: ignore[attr-defined]
    form = {"number": "2031-003", "format": "135-24x36", "frames": "1-12", "where": "1", "do": do}
    with archive.session() as writing:
        add_binder(writing, "Binder 2")  # another person holds the write lock
        for path, given in (("/register", form), ("/register/plan", form)):
            assert client.post(path, data=given).status_code == 200
        assert client.post("/api/cut-card.pdf", json={"number": "2031-003", "frames": "1-12"}).status_code == 200
        assert client.get("/api/print-desk/sheet.png?kind=strip-list&page_id=1").status_code == 200
    assert client.get("/api/rolls/2031-003").status_code == 404
