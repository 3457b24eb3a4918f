"""How many statements each page and JSON route asks of the database: as written here, for thirty rolls and for four hundred."""

from pathlib import Path

import pytest
from archive_maker import fill, make
from benchmark_growth import routes, samples
from builders import Statements
from fastapi.testclient import TestClient

from api.app import create_app

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
    "/api/papers": 21,
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
    "/papers": 14,
    "/papers/label-sheets": 16,
    "/print": 20,
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
def few_and_many(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, int], dict[str, int]]:
    folder = tmp_path_factory.mktemp("growing") / "archive"
    archive = make(folder, 30)
    archive.close()
    few = counted(folder)
    archive = make(folder, 0)
    fill(archive, 370, first=30)
    archive.close()
    return few, counted(folder)


def test_each_asks_as_often_as_said(few_and_many: tuple[dict[str, int], dict[str, int]]) -> None:
    assert few_and_many[0] == ASKED


def test_more_rolls_are_no_more_statements(few_and_many: tuple[dict[str, int], dict[str, int]]) -> None:
    few, many = few_and_many
    assert {path: (few[path], count) for path, count in many.items() if count > few[path]} == {}
