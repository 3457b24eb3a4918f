"""The bench's pages and its service without a browser: every form keeps what was typed and answers with a sentence."""

from collections.abc import Iterator

import pytest
from bench_scene import Bench, set_up
from fastapi.testclient import TestClient

from api.app import create_app
from catalogue.bench.recipes import STEP_KINDS
from catalogue.bench.rules.cautions import LAST
from catalogue.bench.sink.log import session_view
from catalogue.bench.sink.plan import NewSession, plan_session
from catalogue.bench.sink.sink_words import hazards
from catalogue.bench.tanks import add_tank
from catalogue.store.engine import Archive


@pytest.fixture
def bench(archive: Archive) -> Bench:
    """Four rolls that wait, and bottles good for three."""
    with archive.session() as session:
        return set_up(session, rolls=4, capacity=3, subject="<b>weir</b>")


@pytest.fixture
def client(archive: Archive, bench: Bench) -> Iterator[TestClient]:
    """A browser without scripts."""
    app = create_app(archive.folder)
    with TestClient(app, follow_redirects=False) as opened:
        yield opened


def typed(bench: Bench, *numbers: str, **more: str) -> dict[str, str]:
    """The planning form as a person fills it in."""
    reels = {f"reel-{n}": str(reel) for reel, n in enumerate(numbers or bench.rolls[:2], 1)}
    bottles = {"bottle-1": str(bench.developer), "bottle-3": str(bench.fixer)}
    return {**reels, **bottles, "recipe": str(bench.recipe), "tank": str(bench.tank), "do": "keep", **more}


def planned(archive: Archive, bench: Bench) -> int:
    """A session of the first two rolls."""
    rolls = [{"number": n, "reel": reel} for reel, n in enumerate(bench.rolls[:2], 1)]
    given = NewSession.model_validate(
        {"recipe_id": bench.recipe, "tank_id": bench.tank, "rolls": rolls, "bottles": {1: bench.developer, 3: bench.fixer}}
    )
    with archive.session() as session:
        return plan_session(session, given)


def test_a_session_is_planned_worked_and_told_without_scripts(client: TestClient, bench: Bench, archive: Archive) -> None:
    offered = client.get(f"/bench/sessions/plan?rolls={bench.rolls[0]},{bench.rolls[1]}")
    assert "Mix 600 ml, which covers the reels." in offered.text
    assert "<b>weir</b>" not in offered.text
    assert client.post("/bench/sessions/plan", data=typed(bench, do="work")).status_code == 200
    kept = client.post("/bench/sessions/plan", data=typed(bench, done_by="Ada Wren"))
    assert kept.status_code == 303
    here = kept.headers["location"]
    assert "Planned" in client.get(here).text
    assert client.get("/bench/sessions").text.count("Session 1") == 1
    assert bench.rolls[0] not in client.get("/bench/sessions/plan").text
    finished = client.post(here, data={"do": "finish", "back-1": "590"})
    assert finished.status_code == 303
    clips = {f"clip-{number}": str(clip) for clip, number in enumerate(bench.rolls[:2], 1)}
    assert client.post(here, data={"do": "clips", **clips}).status_code == 303
    wrong = client.post(here, data={"do": "tell", "number": bench.rolls[0], "frames": "24"})
    assert wrong.status_code == 422
    assert "24 are on this film" in wrong.text and "I am sure" in wrong.text and 'value="24"' in wrong.text
    for number in bench.rolls[:2]:
        assert client.post(here, data={"do": "tell", "number": number, "frames": "36"}).status_code == 303
    assert f"/register?roll={bench.rolls[0]}" in client.get(here).text
    assert "Processed, to be sleeved" in client.get("/bench").text
    shown = client.get(f"/register?roll={bench.rolls[0]}").text
    assert "C-41" in shown and "36 frames" in shown
    with archive.session(reading=True) as session:
        assert session_view(session, 1).state == "done"


def test_a_bath_at_its_limit_asks_for_a_reason(client: TestClient, bench: Bench) -> None:
    first = client.post("/bench/sessions/plan", data=typed(bench))
    client.post(first.headers["location"], data={"do": "finish"})
    second = typed(bench, *bench.rolls[2:])
    asked = client.post("/bench/sessions/plan", data=second)
    assert asked.status_code == 422
    assert 'name="overrule-1"' in asked.text and 'name="overrule-3"' in asked.text
    kept = client.post("/bench/sessions/plan", data={**second, "overrule-1": "tests", "overrule-3": "cleared quickly"})
    assert kept.status_code == 303
    assert "overruled: tests" in client.get(kept.headers["location"]).text


def test_the_smallest_tank_that_takes_the_rolls_is_offered(client: TestClient, archive: Archive, bench: Bench) -> None:
    with archive.session() as session:
        large = add_tank(session, "Five-reel tank", 5, 1700)
    for count, tank in ((2, bench.tank), (3, large.id)):
        shown = client.get(f"/bench/sessions/plan?rolls={','.join(bench.rolls[:count])}").text
        assert f'<option value="{tank}" selected>' in shown.partition('id="tank"')[2].partition("</select>")[0]


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"recipe": ""}, "Choose a recipe"),
        ({"tank": "x"}, "whole number"),
        ({"volume": "much"}, "not a number"),
        ({"volume": "-5"}, "greater than 0"),
        ({"temp-1": "20"}, "says nothing of 20 °C"),
        ({"push": "9"}, "less than or equal to 5"),
        ({"bottle-2": "1"}, "is water"),
        ({"bottle-1": "99"}, "no bottle 99"),
    ],
)
def test_a_refused_plan_keeps_what_was_typed(client: TestClient, bench: Bench, change: dict[str, str], said: str) -> None:
    answer = client.post("/bench/sessions/plan", data=typed(bench, done_by="Ada Wren", **change))
    assert answer.status_code == 422
    assert said in answer.text
    assert 'value="Ada Wren"' in answer.text
    assert client.get("/api/sessions").json() == []


def test_the_clock_of_the_service_keeps_its_contract(client: TestClient, archive: Archive, bench: Bench) -> None:
    here = f"/api/sessions/{planned(archive, bench)}/clock"
    state = client.get(here).json()
    assert [s["name"] for s in state["steps"]] == ["developer", "rinse", "fix", "wash"]
    assert state["steps"][0]["cues"][0] == {"at_s": 0, "what": "agitate"}
    assert state["now"].endswith("Z")
    entry = {"key": "a", "step": 0, "what": "begun", "at": "2031-05-14T18:00:00.250Z"}
    for _ in range(2):
        log = client.post(here, json=entry).json()["log"]
        assert log == [{**entry, "value": None}]
    warm = {**entry, "key": "b", "what": "temperature", "value": 37.7}
    assert client.post(here, json=warm).json()["log"][1]["value"] == "37.7"
    assert len(client.delete(f"{here}/b").json()["log"]) == 1
    assert client.delete(f"{here}/never").status_code == 200
    assert client.post(here, json={**entry, "key": "c", "step": 7}).status_code == 422
    assert client.get("/api/sessions/99/clock").status_code == 404


def test_the_service_does_what_the_pages_do(client: TestClient, bench: Bench) -> None:
    body = {
        "recipe_id": bench.recipe, "tank_id": bench.tank, "bottles": {"1": bench.developer},
        "rolls": [{"number": bench.rolls[0], "reel": 1}],
    }  # fmt: skip
    assert client.post("/api/sessions/work-out", json=body).json()["volume_ml"] == 300
    made = client.post("/api/sessions", json=body)
    assert made.status_code == 201
    here = f"/api/sessions/{made.json()['id']}"
    card = client.get(f"{here}/tank-card.pdf")
    assert card.content.startswith(b"%PDF")
    assert client.post(f"{here}/finish", json={"poured_back_ml": {"1": 290}}).json()["state"] == "hanging"
    assert client.post(f"{here}/clips", json={bench.rolls[0]: 4}).json()["rolls"][0]["clip"] == 4
    told = client.post(f"{here}/rolls/{bench.rolls[0]}/told", json={"frames": 36})
    assert told.json()["state"] == "done"
    assert client.post(f"{here}/give-up").status_code == 422
    assert client.get("/api/sessions/7").status_code == 404


def test_a_waiting_roll_is_changed_on_its_page(client: TestClient, bench: Bench) -> None:
    here = f"/bench/rolls/{bench.rolls[0]}"
    assert "Hazelgrain 200" in client.get(here).text
    kept = client.post(here, data={"state": "exposed", "recipe": str(bench.recipe), "push_stops": "1", "stock": "Tarn 100"})
    assert kept.status_code == 303
    assert "C-41, Kit K developer" in client.get("/bench").text
    assert client.post(here, data={"push_stops": "9"}).status_code == 422
    assert client.post(here, data={"recipe": "77"}).status_code == 422
    assert client.get("/bench/rolls/1999-1").status_code == 404


def test_every_kind_of_step_has_its_cautions() -> None:
    """Goggles, gloves, acid into water, silver, hot water: a public waste guide, federal rules, common practice."""
    for kind in STEP_KINDS:
        assert hazards("C-41", [kind], 20)[-1] == LAST
    all_of_them = " ".join(hazards("C-41", list(STEP_KINDS), 38))
    for word in ("acid into water", "goggles", "gloves", "fresh air", "silver", "heaters", "children", "food"):
        assert word in all_of_them, word
    assert "heaters" not in " ".join(hazards("black-and-white", ["developer"], 20))
