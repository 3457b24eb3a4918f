"""Bottles through HTTP: every kind of entry and every refusal, undo and correction, who shared a bath, pages, the tag."""

import io
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Any

import pdfplumber
import pytest
from bench_scene import Bench, set_up
from fastapi.testclient import TestClient
from httpx import Response

from api.app import create_app
from catalogue.bench.bottles.shelf import bottle_view
from catalogue.bench.sink.hang import finish_session
from catalogue.bench.sink.plan import NewSession, plan_session
from catalogue.rolls.number import renumber_roll
from catalogue.store.engine import Archive

TODAY = date.today()
FILL: dict[str, Any] = {"kind": "filled", "chemical": "Kit K developer", "volume_ml": 946, "capacity": 16}
Client = TestClient


@pytest.fixture
def bench(archive: Archive) -> Bench:
    with archive.session() as session:
        return set_up(session, rolls=17)


@pytest.fixture
def client(archive: Archive, bench: Bench) -> Iterator[TestClient]:
    app = create_app(archive.folder)
    with TestClient(app, follow_redirects=False) as opened:
        yield opened
    app.state.archive.close()


def write(client: Client, bottle: int, **entry: Any) -> Response:
    return client.post(f"/api/bottles/{bottle}/entries", json=entry)


def empty_bottle(client: Client, name: str = "Brown 9", holds_ml: object = 1000) -> int:
    return int(client.post("/api/bottles", json={"name": name, "holds_ml": holds_ml}).json()["id"])


def test_a_bottle_lives_through_every_kind_of_entry(client: Client, bench: Bench) -> None:
    key = empty_bottle(client)
    mixed = str(TODAY - timedelta(10))
    fill = FILL | {"on": mixed, "mixed_days": 42, "open_days": 28, "replenish_ml": "50", "price": "8,40", "note": "lot 7"}
    assert write(client, key, **fill).status_code == 201
    assert write(client, key, kind="opened", on=str(TODAY - timedelta(4))).status_code == 201
    done = write(client, key, kind="rolls done", rolls=list(bench.rolls[:2]), ml=600, poured_back_ml=595.5)
    assert done.status_code == 201, done.text
    bath = done.json()["bath"]
    assert (bath["left"], bath["done"], bath["in_bottle_ml"], bath["out_ml"]) == (14, 2, 941.5, 0)
    assert (bath["next_roll"], bath["price"], bath["rolls"]) == (3, "8.40", list(bench.rolls[:2]))
    # Opened 4 days ago and good for 28: 24 are left, sooner than 42 - 10 = 32 from mixing.
    assert bath["days_left"] == 24
    assert done.json()["next_times"] == [{"recipe": "Kit K, colour", "step": "developer", "seconds": 195}]
    assert write(client, key, kind="replenished", ml=100, drawn_off_ml=100).json()["bath"]["left"] == 16
    for seconds, fresh in ((40, True), (60, False)):
        assert write(client, key, kind="clearing time", seconds=seconds, fresh=fresh).status_code == 201
    clearing = client.get(f"/api/bottles/{key}/clearing").json()
    assert (clearing["fix_s"], clearing["fix_at_most_s"], clearing["state"]) == (120, 180, "can't say yet")
    assert write(client, key, kind="clearing time", seconds=80).json()["clearing"]["state"] == "spent"
    assert write(client, key, kind="overruled", rolls=[bench.rolls[2]], reason="a test roll").status_code == 201
    out = write(client, key, kind="rolls done", rolls=[bench.rolls[2]], ml="300")
    assert out.json()["bath"]["out_ml"] == 300
    assert write(client, key, kind="poured back", ml=300).json()["bath"]["out_ml"] == 0
    view = write(client, key, kind="emptied").json()
    assert view["bath"] is None and view["former"][0]["emptied_on"] == str(TODAY)
    kinds = {entry["kind"] for entry in view["entries"]}
    assert kinds == {"filled", "opened", "rolls done", "poured back", "replenished", "clearing time", "overruled", "emptied"}
    undone = client.post(f"/api/bottles/{key}/undo", json={"word": "wrong bottle"}).json()
    assert undone["bath"] is not None and undone["entries"][-2]["undone_by"] == undone["entries"][-1]["number"]
    instead = {"kind": "poured back", "ml": 290}
    number = next(e["number"] for e in view["entries"] if e["words"] == "poured back: 300 ml")
    fixed = client.post(f"/api/bottles/{key}/entries/{number}/correct", json={"instead": instead, "word": "misread"}).json()
    assert fixed["bath"]["in_bottle_ml"] == undone["bath"]["in_bottle_ml"] - 10
    assert fixed["entries"][number - 1]["corrected_by"] == len(fixed["entries"])
    assert client.post(f"/api/bottles/{key}/thrown-away").json()["thrown_away"]
    assert key not in {b["id"] for b in client.get("/api/bottles").json()}
    assert key in {b["id"] for b in client.get("/api/bottles?thrown_away=true").json()}
    assert not client.post(f"/api/bottles/{key}/back").json()["thrown_away"]


REFUSED: list[dict[str, Any]] = [
    {"kind": "rolls done", "rolls": []},
    {"kind": "rolls done", "rolls": ["no such roll"]},
    {"kind": "rolls done", "rolls": ["2031-001", "2031-001"]},
    {"kind": "rolls done", "rolls": ["ROLL"], "ml": 951},
    {"kind": "rolls done", "rolls": ["ROLL"], "ml": 0},
    {"kind": "rolls done", "rolls": ["ROLL"], "ml": 500, "poured_back_ml": 501},
    {"kind": "rolls done", "rolls": ["ROLL"], "poured_back_ml": 100},
    {"kind": "rolls done", "rolls": ["ROLL"], "on": str(TODAY + timedelta(1))},
    {"kind": "rolls done", "rolls": ["ROLL"], "on": "1031-01-01"},
    {"kind": "rolls done", "rolls": ["ROLL"], "on": "never"},
    {"kind": "opened", "on": "9999-12-31"},
    {"kind": "poured back", "ml": 5},
    {"kind": "poured back", "ml": -5},
    {"kind": "poured back", "ml": 1e300},
    {"kind": "poured back", "ml": "NaN"},
    {"kind": "poured back", "ml": "one"},
    {"kind": "poured back"},
    {"kind": "replenished", "ml": 5},
    {"kind": "replenished", "ml": 500, "ml_per_unit": 50},
    {"kind": "replenished", "ml": 50, "ml_per_unit": 0},
    {"kind": "replenished", "ml": 50, "ml_per_unit": 50, "drawn_off_ml": "1/0"},
    {"kind": "clearing time", "seconds": 0},
    {"kind": "clearing time", "seconds": 10**30},
    {"kind": "clearing time", "seconds": 1.5},
    {"kind": "emptied", "ml": 951},
    {"kind": "emptied", "on": str(TODAY - timedelta(9))},
    {"kind": "overruled", "rolls": [], "reason": "x"},
    {"kind": "overruled", "rolls": ["ROLL"], "reason": "  "},
    FILL,
    FILL | {"volume_ml": 10**12},
    FILL | {"mixed_on": "2999-01-01"},
    {"kind": "stirred"},
    {},
]


def test_a_refusal_is_a_sentence_and_writes_nothing(client: Client, bench: Bench) -> None:
    before = client.get(f"/api/bottles/{bench.developer}").json()
    for entry in REFUSED:
        if entry.get("rolls") == ["ROLL"]:
            entry = entry | {"rolls": [bench.rolls[0]]}
        answer = write(client, bench.developer, **entry)
        assert answer.status_code in (404, 409, 422), f"{entry}: {answer.text}"
        assert answer.json()["detail"].endswith((".", ".)")), entry
        assert client.get(f"/api/bottles/{bench.developer}").json() == before, entry


def test_odd_figures_for_a_new_bottle(client: Client) -> None:
    """JSON as a careless program writes it, with NaN and Infinity, which RFC 8259 doesn't allow."""
    for figure in ("NaN", "Infinity", "-1", "0", "1e400", "1e300", '"½"', "[]", "null", '"' + "9" * 500 + '"'):
        body = f'{{"name": "Odd", "holds_ml": {figure}}}'
        answer = client.post("/api/bottles", content=body, headers={"content-type": "application/json"})
        assert answer.status_code == 422, figure
    assert client.post("/api/bottles", json={"name": "Odd", "holds_ml": "2/3"}).status_code == 201


def test_bottles_that_are_not_there(client: Client) -> None:
    assert client.get("/api/bottles/99").status_code == 404
    assert client.get("/bench/bottles/99").status_code == 404
    assert client.get(f"/api/bottles/{10**30}").status_code == 422
    assert client.post("/bench/bottles/99", data={"do": "opened"}).status_code == 404
    assert client.post("/api/bottles/99/undo", json={}).status_code == 404
    assert client.get("/api/bottles/99/tag.pdf").status_code == 404
    assert client.post("/api/bottles", json={"name": "Brown 1", "holds_ml": 5}).status_code == 409


def test_a_quart_kit_has_nothing_left_after_sixteen_and_warns_at_the_next(client: Client, bench: Bench) -> None:
    """A one-quart colour kit is reckoned at about 16 rolls: common practice, no published source."""
    key, rolls = bench.developer, bench.rolls
    for first in range(0, 16, 2):
        assert write(client, key, kind="rolls done", rolls=list(rolls[first : first + 2])).status_code == 201
    page = client.get(f"/bench/bottles/{key}").text
    assert '<b class="number">0</b> of 16 rolls left' in page
    assert "Nothing is left of its capacity of 16 rolls" in client.get("/bench/bottles").text
    asked = f"/bench/bottles/{key}/rolls?roll={rolls[16]}"
    assert "1 too many" in client.get(asked).text
    (warning,) = client.get(f"/api/bottles/{key}/warnings", params={"roll": rolls[16]}).json()
    assert warning["must_be_overruled"]
    for ml in ("nan", "inf", "-3", "951", "some"):
        assert client.get(f"/api/bottles/{key}/warnings", params={"roll": rolls[16], "ml": ml}).status_code == 422
    refused = client.post(f"/bench/bottles/{key}/rolls", data={"numbers": rolls[16], "note": "from the tin"})
    assert refused.status_code == 422 and "overrule" in refused.text and "from the tin" in refused.text
    taken = client.post(f"/bench/bottles/{key}/rolls", data={"numbers": rolls[16], "overrule": "only a test roll"})
    assert taken.status_code == 303
    bath = client.get(f"/api/bottles/{key}").json()["bath"]
    assert (bath["left"], len(bath["rolls"])) == (-1, 17)
    shown = client.get(f"/bench/bottles/{key}").text
    assert "past the capacity: only a test roll" in shown
    again = client.post(f"/bench/bottles/{key}/rolls", data={"numbers": rolls[0], "overrule": "x"})
    assert again.status_code == 422 and "went through" in again.text and 'name="again"' in again.text


def test_an_overruling_that_nothing_asks_for_is_not_written(client: Client, bench: Bench) -> None:
    view = write(client, bench.fixer, kind="rolls done", rolls=[bench.rolls[0]], overrule="just so").json()
    assert [e["kind"] for e in view["entries"]] == ["filled", "rolls done"]


def test_who_shared_a_bath_is_known_under_any_number(client: Client, archive: Archive, bench: Bench) -> None:
    one, two, three, four = bench.rolls[:4]
    for batch in ([one], [two, three], [four]):
        write(client, bench.fixer, kind="rolls done", rolls=batch)
    with archive.session() as session:
        renumber_roll(session, two, "A-17")
    for number in (two, "A-17"):
        (bath,) = client.get(f"/api/rolls/{number}/baths").json()
        assert (bath["bottle"], bath["before"], bath["together"], bath["after"]) == ("Brown 2", [one], [three], [four])
    assert client.get(f"/api/rolls/{bench.rolls[5]}/baths").json() == []
    assert client.get("/api/rolls/2099-001/baths").status_code == 404
    page = client.get("/rolls/A-17").text
    assert "At the sink" in page and "Brown 2" in page and "shared by 4 rolls" in page
    assert "At the sink" not in client.get(f"/rolls/{bench.rolls[5]}").text


def test_a_rolls_page_leads_to_its_session_and_its_baths(client: Client, archive: Archive, bench: Bench) -> None:
    roll = bench.rolls[0]
    with archive.session() as session:
        plan: dict[str, Any] = {"recipe_id": bench.recipe, "tank_id": bench.tank, "rolls": [{"number": roll, "reel": 1}]}
        key = plan_session(session, NewSession.model_validate(plan | {"bottles": {1: bench.developer, 3: bench.fixer}}))
        finish_session(session, key)
    page = client.get(f"/rolls/{roll}").text
    assert f"/bench/sessions/{key}" in page and f"/bench/bottles/{bench.fixer}" in page
    assert f"session {key}, fix" in client.get(f"/bench/bottles/{bench.fixer}").text


def test_rolls_are_offered_as_they_come_from_another_bottle(client: Client, bench: Bench) -> None:
    write(client, bench.developer, kind="rolls done", rolls=list(bench.rolls[3:5]))
    page = client.get(f"/bench/bottles/{bench.fixer}").text
    first = page[page.index("+2 rolls: ") :].partition("</button>")[0]
    assert bench.rolls[3] in first and bench.rolls[4] in first
    assert "went through Brown 1" in page


def test_forms_take_the_persons_unit_and_keep_what_was_typed(client: Client, archive: Archive) -> None:
    made = client.post("/bench/bottles", data={"name": "Green 1", "holds": "1 qt"})
    assert made.status_code == 303
    page = made.headers["location"]
    key = int(page.rsplit("/", 1)[1])
    form = {"do": "filled", "chemical": "Fixer F", "volume": "0.9 l", "capacity": "", "mixed_days": "60"}
    assert client.post(page, data=form).status_code == 303
    with archive.session(reading=True) as session:
        bath = bottle_view(session, key).bath
        assert bath is not None and bath.in_bottle_ml == 900 and bath.facts.capacity is None
    refused = client.post(page, data={"do": "emptied", "ml": "two cups", "note": "first half"})
    assert refused.status_code == 422 and "two cups" in refused.text and "first half" in refused.text
    for bad in ({"do": "boiled"}, {"do": "clearing time", "seconds": "soon"}, {"do": "opened", "on": "2031-02-30"},
                {"do": "price", "price": "1e3"}, {"do": "replenished", "ml": "nan"}, {"do": "filled"}):  # fmt: skip
        assert client.post(page, data=bad).status_code == 422, bad
    assert client.post(page, data={"do": "price", "price": "3,5"}).status_code == 303
    assert client.get(f"/api/bottles/{key}").json()["bath"]["price"] == "3.5"
    empty = client.post("/bench/bottles", data={"name": "Green 2", "holds": "-1"})
    assert empty.status_code == 422 and "Green 2" in empty.text
    again = {"do": "filled", "chemical": "Developer D", "volume": "500", "price": "one crown"}
    assert client.post(page, data={"do": "emptied"}).status_code == 303
    other = client.post(page, data=again)
    assert other.status_code == 422 and "one chemical for ever" in other.text
    priced = client.post(page, data=again | {"chemical": "Fixer F"})
    assert priced.status_code == 422 and "one crown" in priced.text
    assert "Empty" in client.get(page).text


def test_an_entry_is_corrected_undone_and_brought_back_on_its_page(client: Client, bench: Bench) -> None:
    page = f"/bench/bottles/{bench.developer}/entries"
    write(client, bench.developer, kind="rolls done", rolls=list(bench.rolls[:3]), ml=500)
    shown = client.get(f"{page}/2").text
    assert f'value="{", ".join(bench.rolls[:3])}"' in shown and 'value="500"' in shown
    form = {"do": "correct", "rolls": bench.rolls[0], "ml": "400", "on": str(TODAY), "word_why": "only one was in"}
    assert client.post(f"{page}/2", data=form).status_code == 303
    assert client.get(f"/api/bottles/{bench.developer}").json()["bath"]["done"] == 1
    assert "corrected by entry 3" in client.get(f"/bench/bottles/{bench.developer}").text
    assert client.post(f"{page}/2", data={"do": "undo", "word_why": "none was"}).status_code == 303
    ledger = client.get(f"/bench/bottles/{bench.developer}").text
    assert "undone by entry 4" in ledger and "<s>+3 rolls" in ledger
    assert client.get(f"/api/bottles/{bench.developer}").json()["bath"]["done"] == 0
    assert client.post(f"{page}/2", data={"do": "bring back"}).status_code == 303
    assert client.get(f"/api/bottles/{bench.developer}").json()["bath"]["done"] == 1
    assert client.post(f"{page}/2", data=form | {"rolls": ""}).status_code == 422
    assert client.post(f"{page}/1", data={"do": "undo"}).status_code == 422  # later entries rest on it
    assert client.get(f"{page}/77").status_code == 404
    for number in range(1, 6):
        assert client.get(f"{page}/{number}").status_code == 200


def test_the_tag_says_what_is_in_the_bottle_and_ticks_what_is_done(client: Client, bench: Bench) -> None:
    write(client, bench.developer, kind="rolls done", rolls=list(bench.rolls[:3]))
    made = client.get(f"/api/bottles/{bench.developer}/tag.pdf", params={"stock": "a4-2x7", "start": 4})
    assert made.status_code == 200
    with pdfplumber.open(io.BytesIO(made.content)) as pdf:
        (sheet,) = pdf.pages
        text = sheet.extract_text()
        crosses = [line for line in sheet.lines if line["linewidth"] > 0.9]
    assert "Kit K developer" in text and "16 rolls: tick one" in text and "Brown 1, 950 ml" in text
    assert f"{TODAY - timedelta(3):%Y}" in text and "discard after ________" in text
    assert len(crosses) == 2 * 3  # two strokes of 0.35 mm in a box, 3 of 16 boxes
    assert client.get(f"/api/bottles/{bench.developer}/tag.pdf", params={"stock": "a4-4x12"}).status_code in (200, 422)
    assert client.get(f"/api/bottles/{bench.developer}/tag.pdf", params={"stock": "none"}).status_code == 422
    assert client.get(f"/api/bottles/{empty_bottle(client)}/tag.pdf").status_code == 404


def test_typed_words_are_never_markup(client: Client, bench: Bench) -> None:
    nasty = "<script>x"
    key = empty_bottle(client, nasty)
    write(client, key, **FILL | {"chemical": nasty, "note": nasty})
    write(client, key, kind="rolls done", rolls=[bench.rolls[0]], again=nasty)
    for path in ("/bench/bottles", f"/bench/bottles/{key}", f"/bench/bottles/{key}/entries/1",
                 f"/bench/bottles/{key}/rolls?more={nasty}", f"/rolls/{bench.rolls[0]}",
                 f"/bench/supplies?stock={nasty}"):  # fmt: skip
        text = client.get(path).text
        assert "<script>x" not in text and "<style" not in text and " style=" not in text


def test_an_empty_bottle_says_what_to_mix_with(client: Client) -> None:
    """Mixing with distilled water: common practice, no published source."""
    made = client.post("/api/bottles", json={"name": "Brown 9", "holds_ml": 1000})
    assert made.status_code == 201, made.text
    assert "distilled water" in client.get(f"/bench/bottles/{made.json()['id']}").text
