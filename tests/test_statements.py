"""How many statements a page, an answer or a command asks of the database: stated here, and the same for 10 and 1,000 rolls."""

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
from catalogue.rolls.find import find
from catalogue.rolls.page import roll_pages
from catalogue.scans.check.coverage import covered_rolls
from catalogue.scans.look.proof_pictures import proof_pictures

FRAME = "/rolls/{number}/scans/{label}"
MOST = {"/rolls/{number}": 40, FRAME: 40, f"{FRAME}/prints": 40, f"{FRAME}/choice": 40, "/scans/{scan_id}": 45}
"""The pages that ask for more than the rest, with what they may ask for."""
USUAL = 30


@pytest.fixture(scope="module")
def apps(tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[TestClient]]:
    folder: Path = tmp_path_factory.mktemp("sizes")
    for count in (10, 1000):
        make(folder / str(count), count).close()
    clients = [TestClient(create_app(folder / str(count))) for count in (10, 1000)]
    yield clients
    for client in clients:
        client.app.state.archive.close()  # type: ignore[attr-defined]


def test_every_page_asks_as_much_of_a_large_archive_as_of_a_small_one(apps: list[TestClient]) -> None:
    asked: dict[str, list[int]] = {}
    for client in apps:
        archive = client.app.state.archive  # type: ignore[attr-defined]
        given = samples(archive)
        for path, route in routes():
            if {p.name for p in route.dependant.path_params} <= given.keys():
                address = path.format_map(given)
                client.get(address)
                with Statements(archive.engine) as counted:
                    answer = client.get(address, params={"q": given["q"]} if path in ("/", "/api/find") else None)
                assert len(answer.content) < 150_000, path
                asked.setdefault(path, []).append(counted.count)
    assert {path: counts for path, counts in asked.items() if len(set(counts)) != 1} == {}
    assert {path: counts[0] for path, counts in asked.items() if counts[0] > MOST.get(path, USUAL)} == {}
    assert len(asked) > 45


def captions_of_72_frames(session: Session) -> object:
    """What the contact sheet of two rolls is drawn from."""
    numbers = [roll.number for roll in list_rolls(session, limit=60)][::30]
    return proof_pictures(session, [page for number in numbers for page in roll_pages(session, number)[1]])


COMMANDS: list[tuple[Callable[[Session], object], int]] = [
    (lambda session: find(session, "gate", limit=27), 18),
    (lambda session: find(session, "5 3"), 21),
    (lambda session: covered_rolls(session), 6),
    (lambda session: list_rolls(session, limit=10), 4),
]


@pytest.mark.parametrize(("command", "most"), COMMANDS, ids=["words", "reference", "coverage", "rolls"])
def test_every_command_that_reads_too(apps: list[TestClient], command: Callable[[Session], object], most: int) -> None:
    counts = []
    for client in apps:
        archive = client.app.state.archive  # type: ignore[attr-defined]
        with archive.session(reading=True) as session, Statements(archive.engine) as counted:
            command(session)
        counts.append(counted.count)
    assert counts[0] == counts[1] <= most


def test_captions_of_72_frames_are_a_few_statements(apps: list[TestClient]) -> None:
    archive = apps[1].app.state.archive  # type: ignore[attr-defined]
    with archive.session(reading=True) as session, Statements(archive.engine) as counted:
        captions_of_72_frames(session)
    assert counted.count <= 40
