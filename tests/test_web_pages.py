"""The web pages without a browser: forms keep what was typed, answer with a sentence, and escape everything."""

from collections.abc import Iterator

import pytest
from builders import registered
from fastapi.testclient import TestClient

from api.app import create_app
from catalogue.rolls.change import get_roll
from catalogue.store.engine import Archive

ROLL = {
    "number": "2031-014",
    "format": "135-24x36",
    "frames": "1-12",
    "where": "new",
    "binder": "Binder 1",
    "layout": "135-7x6",
    "do": "save",
}


@pytest.fixture
def client(archive: Archive) -> Iterator[TestClient]:
    """A browser without scripts, and roll 2031-001 in the archive."""
    with archive.session() as session:
        registered(session, number="2031-001", subject="<script>x</script>", captions={"5": '"><img src=x>'})
    app = create_app(archive.folder)
    with TestClient(app, follow_redirects=False) as opened:
        yield opened
    app.state.archive.close()


@pytest.mark.parametrize("path", ["/", "/?q=5", "/pages/1?frame=2031-001%2F5", "/rolls/2031-001", "/print?roll=2031-001"])
def test_what_was_typed_is_never_markup(client: TestClient, path: str) -> None:
    text = client.get(path).text
    assert "<script>x" not in text
    assert "<img src=x>" not in text


@pytest.mark.parametrize("path", ["/", "/register", "/binders", "/binders/1", "/pages/1", "/rolls/2031-001", "/print"])
def test_no_page_has_scripts_or_styles_in_it(client: TestClient, path: str) -> None:
    text = client.get(path).text
    assert "<style" not in text
    assert " style=" not in text
    assert text.count("<script") == text.count('<script type="module" src=')


def test_a_roll_is_registered_without_scripts(client: TestClient) -> None:
    shown = client.post("/register", data={**ROLL, "do": "plan", "subject": "Quay"})
    assert "12 frames on 2 strips" in shown.text
    assert 'value="Quay"' in shown.text
    assert client.get("/rolls/2031-014").status_code == 404
    saved = client.post("/register", data=ROLL)
    assert (saved.status_code, saved.headers["location"]) == (303, "/rolls/2031-014?new=1")


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"number": "2031-001"}, "issued before"),
        ({"frames": "zz"}, "not a frame number"),
        ({"first_slot": "abc"}, "is no slot"),
        ({"first_slot": "²"}, "is no slot"),
        ({"first_slot": "99"}, "no slot 99"),
        ({"where": "99"}, "no page 99"),
        ({"developer": "x" * 5000}, "Developer"),
        ({"cuts": "1-3 | 4-6"}, "7"),
    ],
)
def test_a_refused_roll_keeps_everything_typed(client: TestClient, change: dict[str, str], words: str) -> None:
    answer = client.post("/register", data={**ROLL, "subject": "Typed with care", **change})
    assert answer.status_code == 422
    problem = answer.text.partition('role="alert">')[2].partition("</p>")[0]
    assert words in problem
    assert 'value="Typed with care"' in answer.text
    assert client.get("/rolls/2031-014").status_code == 404


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({"do": "process", "time": "abc"}, "not a number"),
        ({"do": "process", "time": "nan"}, "not a number"),
        ({"do": "move", "strip": "1", "page_id": "²", "slot": "1"}, "whole number|number from 1"),
        ({"do": "move", "strip": "1", "page_id": "1", "slot": "99"}, "no slot 99"),
        ({"do": "over", "strip": "99"}, "no such strip"),
        ({"do": "out", "strip": "1", "why": ""}, "why"),
        ({"do": "nonsense"}, "Load the page again"),
    ],
)
def test_a_refused_form_of_the_roll_says_why(client: TestClient, form: dict[str, str], words: str) -> None:
    answer = client.post("/rolls/2031-001", data=form)
    assert answer.status_code == 422
    problem = answer.text.partition('role="alert">')[2].partition("</p>")[0]
    assert any(w in problem for w in words.split("|"))


@pytest.mark.parametrize(
    "form",
    [
        {"do": "process", "time": "abc", "developer": "Kept words"},
        {"do": "facts", "exposed": "zzz", "stock": "Kept words"},
    ],
)
def test_a_refused_form_of_the_roll_keeps_what_was_typed(client: TestClient, form: dict[str, str]) -> None:
    assert 'value="Kept words"' in client.post("/rolls/2031-001", data=form).text


def test_strips_go_out_and_come_back(client: TestClient, archive: Archive) -> None:
    for do, out in (("out", True), ("back", False)):
        assert client.post("/rolls/2031-001", data={"do": do, "strip": "1", "why": "printing"}).status_code == 303
        with archive.session() as session:
            assert get_roll(session, "2031-001").strips[0].out is out
    assert "printing" in client.get("/rolls/2031-001").text


def test_a_year_that_is_no_number_narrows_nothing(client: TestClient) -> None:
    assert client.get("/?year=²").status_code == 200


@pytest.mark.parametrize("back", ["//elsewhere.example", "https://elsewhere.example", "/\\elsewhere.example"])
def test_the_ground_switch_leads_nowhere_else(client: TestClient, back: str) -> None:
    answer = client.post("/ground", data={"to": "dim", "back": back})
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    assert 'data-ground="dim"' in client.get("/").text
