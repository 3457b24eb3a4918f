"""Recipes, tanks, times and dilutions as JSON: there and back, and refused with a sentence."""

from collections.abc import Iterator
from pathlib import Path
from shutil import copytree
from typing import Any

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from catalogue.store.engine import Archive

DEVELOPER: dict[str, Any] = {
    "kind": "developer", "name": "developer", "seconds": 570, "temperature_c": 20, "solution": "one-shot", "chemical": "Alderine",
    "dilution": "1+9", "per_degree": 0.081, "valid_from_c": 18, "valid_to_c": 26, "push_table": [[0, 570], [1, 735]],
}  # fmt: skip
RECIPE: dict[str, Any] = {"name": "Corvane 400 in Alderine", "process": "black-and-white", "steps": [DEVELOPER]}


@pytest.fixture
def client(archive: Archive) -> Iterator[TestClient]:
    """The service."""
    app = create_app(archive.folder)
    with TestClient(app) as opened:
        yield opened
    app.state.archive.close()


@pytest.fixture(scope="module")
def untouched(fresh_archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """The service on an archive that every request is refused by, so that it stays as it is."""
    folder = tmp_path_factory.mktemp("untouched") / "archive"
    copytree(fresh_archive, folder)
    app = create_app(folder)
    with TestClient(app) as opened:
        yield opened
    app.state.archive.close()


def test_a_recipe_there_and_back(client: TestClient) -> None:
    made = client.post("/api/recipes", json=RECIPE)
    assert made.status_code == 201
    kept = made.json()
    assert client.get(f"/api/recipes/{kept['id']}").json() == kept
    whole = {name: value for name, value in kept.items() if name not in ("id", "put_away")}
    fix = {"kind": "fix", "name": "fix", "seconds": 300, "solution": "bath", "chemical": "Brackwater fix"}
    put = client.put(f"/api/recipes/{kept['id']}", json={**whole, "steps": [*whole["steps"], fix]}).json()
    assert [s["name"] for s in put["steps"]] == ["developer", "fix"]
    assert put["steps"][0] == kept["steps"][0]
    assert client.put(f"/api/recipes/{kept['id']}/put-away", json={}).json()["put_away"]
    assert client.get("/api/recipes").json() == []
    assert len(client.get("/api/recipes?put_away_too=true").json()) == 1
    assert not client.put(f"/api/recipes/{kept['id']}/put-away", json={"put_away": False}).json()["put_away"]


def test_a_standard_start_can_be_kept(client: TestClient) -> None:
    """3:15 at 37.8 °C in a C-41 developer: an encyclopaedia and two darkroom guides, tolerance from memory."""
    start = client.get("/api/recipes/standard/C-41").json()
    assert (start["steps"][0]["seconds"], start["steps"][0]["temperature_c"]) == (195, 37.8)
    assert client.post("/api/recipes", json=start).status_code == 201
    assert client.post("/api/recipes", json=start).status_code == 409
    assert client.get("/api/recipes/standard/Z-9").status_code == 404


def test_a_time_tonight(client: TestClient) -> None:
    """9:30 at 20 °C is 6:52 at 24 °C by k = 0.081, which fits the usual chart: common practice, no published source."""
    number = client.post("/api/recipes", json=RECIPE).json()["id"]
    warm = client.post(f"/api/recipes/{number}/time", json={"temperature_c": 24}).json()
    assert warm["seconds"] == 6 * 60 + 52
    assert warm["reasons"] == ["24 °C instead of 20 °C."]
    pushed = client.post(f"/api/recipes/{number}/time", json={"push_stops": 1}).json()
    assert pushed["seconds"] == 735 and "starting point" in pushed["warnings"][0]
    assert client.post(f"/api/recipes/{number}/time", json={"push_stops": 3}).status_code == 422
    assert client.post(f"/api/recipes/{number}/time", json={"temperature_c": 30}).status_code == 422
    assert client.post(f"/api/recipes/{number}/time", json={"step": 2}).status_code == 404
    assert client.post("/api/recipes/99/time", json={}).status_code == 404


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"temperature_table": [[20, 570]], "per_degree": None}, "two lines or more"),
        ({"temperature_table": [[18, 700], [20, 570], [22, 600]]}, "the warmer, the shorter"),
        ({"valid_from_c": 26, "valid_to_c": 18, "per_degree": None}, "from the cooler to the warmer"),
        ({"chemical": ""}, "name the chemical"),
        ({"name": " "}, "needs a name"),
        ({"every_s": 30, "for_s": 60}, "every 30 s for 60 s"),
        ({"seconds": 10**20}, "172800"),
    ],
)
def test_an_impossible_step_is_refused(untouched: TestClient, change: dict[str, object], words: str) -> None:
    refused = untouched.post("/api/recipes", json={**RECIPE, "steps": [{**DEVELOPER, **change}]})
    assert refused.status_code == 422
    assert words in refused.json()["detail"]
    assert untouched.get("/api/recipes").json() == []


def test_a_figure_that_is_no_number_is_refused(untouched: TestClient) -> None:
    """A JSON reader takes NaN, which is no number in RFC 8259."""
    middle = "[[18, 700], [NaN, 600], [22, 500]]"
    body = f'{{"name": "x", "steps": [{{"name": "d", "seconds": 600, "temperature_c": 20, "temperature_table": {middle}}}]}}'
    refused = untouched.post("/api/recipes", content=body, headers={"content-type": "application/json"})
    assert refused.status_code == 422


def test_dilutions_and_the_colon(client: TestClient) -> None:
    """1+9 in 600 ml is 60 + 540, a tenth of the whole: arithmetic."""
    assert client.post("/api/dilution", json={"text": "1+9", "volume": "600 ml"}).json() == {
        "dilution": "1+9", "volume_ml": 600, "concentrates_ml": [60], "water_ml": 540, "exact_ml": [60, 540],
        "words": "60 ml concentrate + 540 ml water",
    }  # fmt: skip
    asked = client.post("/api/dilution", json={"text": "1:9", "volume": "600"})
    assert asked.status_code == 422
    assert "1+9" in asked.json()["detail"] and "1+8" in asked.json()["detail"]
    assert client.get("/api/colon").json() == {"means": None}
    assert client.post("/api/colon", json={"means": "sideways"}).status_code == 422
    assert client.post("/api/colon", json={"means": None}).status_code == 422
    assert client.post("/api/colon", json={"means": "in all"}).json() == {"means": "in all"}
    made = client.post("/api/dilution", json={"text": "1:10", "volume": "600"}).json()
    assert (made["dilution"], made["concentrates_ml"]) == ("1+9", [60])


def test_tanks(client: TestClient) -> None:
    made = client.post("/api/tanks", json={"name": "Two-reel tank", "holds_ml": 660})
    assert (made.status_code, made.json()["least_ml"]) == (201, 300)
    assert client.get("/api/tanks").json() == [made.json()]
    assert client.post("/api/tanks", json={"name": "two-reel tank", "holds_ml": 660}).status_code == 409
    assert client.post("/api/tanks", json={"name": "Other", "holds_ml": 200, "least_ml": 300}).status_code == 422
