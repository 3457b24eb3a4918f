"""How many statements each page and JSON route asks of the database: as written here, for thirty rolls and for a thousand."""

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from archive_maker import make
from benchmark_growth import routes, samples
from builders import Statements
from fastapi.testclient import TestClient
from sqlmodel import Session

from api.app import create_app
from catalogue.rolls.change import list_rolls
from catalogue.rolls.file import add_binder
from catalogue.rolls.find import find
from catalogue.rolls.page import roll_pages
from catalogue.scans.check.coverage import covered_rolls
from catalogue.scans.look.proof_pictures import proof_pictures
from catalogue.store.engine import Archive

ASKED = {
    "/": 19,
    "/api/binders": 4,
    "/api/binders/{binder_id}": 4,
    "/api/bottles": 2,
    "/api/colon": 2,
    "/api/find": 18,
    "/api/formats": 2,
    "/api/health": 0,
    "/api/layouts": 2,
    "/api/pages/{page_id}": 10,
    "/api/papers": 22,
    "/api/print-desk/files": 0,
    "/api/print-desk/making": 0,
    "/api/print-desk/queue": 2,
    "/api/recipes": 2,
    "/api/recipes/standard/{process}": 0,
    "/api/rolls": 4,
    "/api/rolls/{number}": 19,
    "/api/rolls/{number}/baths": 5,
    "/api/rolls/{number}/choices": 21,
    "/api/rolls/{number}/cost": 14,
    "/api/rolls/{number}/frames/{label}/print-records": 5,
    "/api/rolls/{number}/readings": 3,
    "/api/rolls/{number}/scan-names.csv": 21,
    "/api/rolls/{number}/selects": 3,
    "/api/scans/coverage": 13,
    "/api/scans/troubles": 3,
    "/api/sessions": 2,
    "/api/stocks": 3,
    "/api/supplies": 25,
    "/api/tanks": 2,
    "/api/waiting": 2,
    "/archive": 12,
    "/archive/formats": 5,
    "/archive/pages": 10,
    "/bench": 12,
    "/bench/bottles": 5,
    "/bench/recipes": 2,
    "/bench/recipes/new": 4,
    "/bench/reckon": 7,
    "/bench/sessions": 2,
    "/bench/sessions/plan": 9,
    "/bench/supplies": 28,
    "/bench/tanks": 5,
    "/binders": 10,
    "/binders/{binder_id}": 5,
    "/from-picture": 0,
    "/pages/{page_id}": 14,
    "/papers": 17,
    "/papers/label-sheets": 17,
    "/print": 21,
    "/register": 26,
    "/rolls/{number}": 36,
    "/rolls/{number}/scans": 26,
    "/rolls/{number}/scans/{label}": 37,
    "/scans": 16,
}


def counted(folder: Path) -> dict[str, int]:
    """The statements of every route that needs no more than a roll and where it lies; each is asked once before, to warm up."""
    app = create_app(folder)
    given, found = samples(app.state.archive), {}
    with TestClient(app, base_url="http://127.0.0.1") as client:
        for path, route in routes():
            names = [p.name for p in route.dependant.path_params]
            more = [p.name for p in route.dependant.query_params if p.field_info.is_required() or p.name == "q"]
            if not set(names + more) <= set(given):
                continue
            address, query = path.format(**given), {name: given[name] for name in more}
            client.get(address, params=query)
            with Statements(app.state.archive.engine) as statements:
                answer = client.get(address, params=query, follow_redirects=False)
            if answer.status_code == 200:
                found[path] = statements.count
    return found


@pytest.fixture(scope="module")
def sizes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Archive, Archive]]:
    folder = tmp_path_factory.mktemp("sizes")
    few, many = make(folder / "few", 30), make(folder / "many", 1000)
    yield few, many
    few.close()
    many.close()


@pytest.fixture(scope="module")
def few_and_many(sizes: tuple[Archive, Archive]) -> tuple[dict[str, int], dict[str, int]]:
    few, many = sizes
    return counted(few.folder), counted(many.folder)


def test_each_asks_as_often_as_said(few_and_many: tuple[dict[str, int], dict[str, int]]) -> None:
    assert few_and_many[0] == ASKED


def test_more_rolls_are_no_more_statements(few_and_many: tuple[dict[str, int], dict[str, int]]) -> None:
    few, many = few_and_many
    assert {path: (few[path], count) for path, count in many.items() if count > few[path]} == {}


def proof(session: Session) -> object:
    """What the contact sheet of two rolls of 36 is drawn from."""
    numbers = [roll.number for roll in list_rolls(session) if roll.frame_range == "1-36"][:2]
    return proof_pictures(session, [page for number in numbers for page in roll_pages(session, number)[1]])


COMMANDS: dict[str, tuple[Callable[[Session], object], int]] = {
    "words": (lambda session: find(session, "gate", limit=27), 18),
    "reference": (lambda session: find(session, "5 3"), 21),
    "coverage": (lambda session: covered_rolls(session), 6),
    "rolls": (lambda session: list_rolls(session, limit=10), 4),
    "proof": (proof, 30),
}


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_that_reads_too(sizes: tuple[Archive, Archive], name: str) -> None:
    command, most = COMMANDS[name]
    counts = []
    for archive in sizes:
        with archive.session(reading=True) as session, Statements(archive.engine) as asked:
            command(session)
        counts.append(asked.count)
    assert counts[0] == counts[1] <= most


def test_lists_are_shown_a_screen_at_a_time_with_the_way_on(tmp_path: Path) -> None:
    """Each link leads to the rest, and nothing is left out between."""
    archive = make(tmp_path / "archive", 60)
    with archive.session() as session:
        for n in range(3, 61):
            add_binder(session, f"Binder {n}")
    archive.close()
    client = TestClient(create_app(tmp_path / "archive"), base_url="http://127.0.0.1")
    for path, first, listed in (
        ("/binders", "first", r'href="/binders/(\d+)"'),
        ("/scans", "rolls_from", r'href="/rolls/([^/"]+)/scans"'),
        ("/scans", "pages_from", r'href="/pages/(\d+)"'),
    ):
        one = client.get(path).text
        (there,) = re.findall(rf'href="({path}\?{first}=\d+#{first})"', one)
        two = client.get(there).text
        (back,) = re.findall(rf'href="({path}\?{first}=\d+#{first})"', two)
        assert client.get(back).text.count("</tr>") == one.count("</tr>")
        shown, rest = re.findall(listed, one), re.findall(listed, two)
        assert shown and rest and not set(shown) & set(rest) and len({*shown, *rest}) == 60
    every = client.get("/api/rolls").json()
    assert len(every) == 60
    assert client.get("/api/rolls", params={"after": every[17]["number"], "limit": 9}).json() == every[18:27]
    assert [b["name"] for b in client.get("/api/binders", params={"first": 59, "limit": 9}).json()] == ["Binder 59", "Binder 60"]
