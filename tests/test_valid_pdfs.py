"""Every kind of paper is a valid PDF: qpdf's checker (through pikepdf) reads each and has nothing to say."""

from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pikepdf
import pytest
from bench_scene import set_up
from builders import filed
from fastapi.testclient import TestClient

from api.app import create_app
from catalogue.bench.sink.plan import NewSession, plan_session
from catalogue.rolls.file import add_binder
from catalogue.rolls.move import take_out
from catalogue.rolls.plan import NewRoll

PATHS = (
    "rolls/2031-001/contact-sheet.pdf", "rolls/2031-001/contact-sheet.pdf?side=emulsion&boxes=true",
    "rolls/2031-001/contact-sheet.pdf?percent=150", "pages/1/contact-sheet.pdf?fit=fit", "pages/1/label.pdf",
    "pages/1/strip-list.pdf", "rolls/2031-001/frames/5/print-card.pdf", "rolls/2031-001/label.pdf", "numbers.pdf",
    "label-test.pdf", "bottle-tag.pdf?name=Fixer", "bottles/1/tag.pdf", "binders/1/spine.pdf", "slips.pdf", "binders/1/book.pdf",
    "finding-aid.pdf", "sessions/1/tank-card.pdf",
)  # fmt: skip


@pytest.fixture(scope="module")
def client(tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """One of everything that can be printed."""
    folder: Path = tmp_path_factory.mktemp("valid") / "archive"
    app = create_app(folder)
    with app.state.archive.session() as session:
        add_binder(session, "Binder 1")
        roll = filed(session, NewRoll(number="2031-001", frames=36, subject="Reiher am Pier, 霧の渡し船, منارة"))
        take_out(session, roll.strips[1].id, "with the printer", "2031-11-30")
        bench = set_up(session)
        reels = [{"number": n, "reel": reel} for reel, n in enumerate(bench.rolls, 1)]
        plan_session(session, NewSession.model_validate({"recipe_id": bench.recipe, "rolls": reels}))
    with TestClient(app) as opened:
        yield opened


def checked(data: bytes) -> int:
    """How many pages a PDF has in which nothing is wrong."""
    with pikepdf.open(BytesIO(data)) as pdf:
        assert pdf.check_pdf_syntax() == []
        return len(pdf.pages)


@pytest.mark.parametrize("path", PATHS)
def test_what_is_printed_is_valid(client: TestClient, path: str) -> None:
    answer = client.get(f"/api/{path}")
    assert answer.status_code == 200, answer.text
    assert checked(answer.content) >= 1


def test_the_cut_card_is_valid(client: TestClient) -> None:
    answer = client.post("/api/cut-card.pdf", json={"number": "2031-002", "frames": "1-36"})
    assert checked(answer.content) >= 1


def test_a_broken_pdf_is_told(client: TestClient) -> None:
    """The checker does find what is wrong: a file cut short."""
    whole = client.get("/api/pages/1/label.pdf").content
    with pytest.raises((pikepdf.PdfError, AssertionError)):
        checked(whole[: len(whole) // 2])
