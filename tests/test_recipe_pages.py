"""The recipe form and the reckon page without scripts: nothing typed is lost, and the sums are right."""

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path
from shutil import copytree

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.web.bench.recipe_form import STEP_FIELDS, read_steps, texts_of
from catalogue.bench.recipes import list_recipes, recipe_as_typed
from catalogue.bench.rules.times.temperature_table import parse_temperature_table, temperature_table_text
from catalogue.bench.sink.recipe_words import step_temperature_words
from catalogue.errors import InvalidInput
from catalogue.settings import set_units
from catalogue.store.engine import Archive
from catalogue.units import Units
from example_archive.bench_data import ONE_SHOT, colour_kit, fill_bench

Texts = dict[str, str]


@pytest.fixture(scope="module")
def reckoner(fresh_archive: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """A browser without scripts on an archive that is only read: recipes and tanks of the example are in it."""
    folder = tmp_path_factory.mktemp("reckon") / "archive"
    copytree(fresh_archive, folder)
    app = create_app(folder)
    with app.state.archive.session() as session:
        fill_bench(session)
    with TestClient(app) as opened:
        yield opened
    app.state.archive.close()


@pytest.fixture
def client(archive: Archive) -> Iterator[TestClient]:
    """A browser without scripts."""
    app = create_app(archive.folder)
    with TestClient(app, follow_redirects=False) as opened:
        yield opened
    app.state.archive.close()


def everything(steps: int = 3) -> Texts:
    """A form with something told apart in every field, sensible or not."""
    form = {"name": "A & <b>", "process": "bw", "source": 'page "4"', "notes": "one\ntwo", "steps": str(steps)}
    for nr in range(1, steps + 1):
        form |= {f"{nr}-{name}": f"{name} of {nr} é" for name in STEP_FIELDS}
        form |= {f"{nr}-kind": "fix", f"{nr}-solution": "bath", f"{nr}-notes": f"\nline\n{nr}"}
    return form


def fields(html: str) -> Texts:
    """What a browser would post back from the form, read from the page."""
    found: Texts = {}
    form = html[html.index('class="recipe-form"') :]
    for tag in re.findall(r"<input [^>]+>", form):
        name, value = re.search(r' name="([^"]*)"', tag), re.search(r' value="([^"]*)"', tag)
        assert name and value
        found[name[1]] = unescape(value[1])
    for name, text in re.findall(r'<textarea [^>]*name="([^"]+)"[^>]*>\n(.*?)</textarea>', form, re.DOTALL):
        found[name] = unescape(text)
    for name, options in re.findall(r'<select [^>]*name="([^"]+)"[^>]*>(.*?)</select>', form, re.DOTALL):
        chosen = re.search(r'value="([^"]*)" selected', options)
        found[name] = unescape(chosen[1]) if chosen else ""
    return found


def of_step(form: Texts, prefix: str) -> Texts:
    return {name: form[f"{prefix}-{name}"] for name in STEP_FIELDS}


def test_moving_steps_about_keeps_everything_typed(client: TestClient) -> None:
    form = everything()
    up = client.post("/bench/recipes/new", data={**form, "do": "up 3"})
    assert up.status_code == 200
    assert "is step 2 now" in up.text
    moved = fields(up.text)
    assert [of_step(moved, nr) for nr in "123"] == [of_step(form, nr) for nr in "132"]
    assert {n: moved[n] for n in ("name", "process", "source", "notes")} == {
        n: form[n] for n in ("name", "process", "source", "notes")
    }
    back = fields(client.post("/bench/recipes/new", data={**moved, "do": "down 2"}).text)
    assert back == form
    added = fields(client.post("/bench/recipes/new", data={**form, "do": "add 1"}).text)
    assert added["steps"] == "4" and added["2-name"] == ""
    assert [of_step(added, nr) for nr in "134"] == [of_step(form, nr) for nr in "123"]
    out = fields(client.post("/bench/recipes/new", data={**form, "do": "out 2"}).text)
    assert out["steps"] == "2" and of_step(out, "out") == of_step(form, "2")
    assert fields(client.post("/bench/recipes/new", data={**out, "do": "back"}).text) == form
    with client.app.state.archive.session() as session:  # type: ignore[attr-defined]
        assert list_recipes(session) == ()


def test_the_ends_of_moving(client: TestClient) -> None:
    one = everything(1)
    refused = client.post("/bench/recipes/new", data={**one, "do": "out 1"})
    assert refused.status_code == 422 and fields(refused.text) == one
    full = everything(40)
    refused = client.post("/bench/recipes/new", data={**full, "do": "add 7"})
    assert refused.status_code == 422 and "up to 40 steps" in refused.text and fields(refused.text) == full
    for count in ("0", "41", "x", "²"):
        assert client.post("/bench/recipes/new", data={"steps": count}).status_code == 422
    assert client.post("/bench/recipes/new", data={**one, "do": "up 9"}).status_code == 422
    assert client.post("/bench/recipes/9/edit", data=one).status_code == 404


def test_an_error_keeps_what_was_typed_and_stands_beside_its_step(client: TestClient) -> None:
    form = everything(2)
    wrong = client.post("/bench/recipes/new", data={**form, "do": "keep"})
    assert wrong.status_code == 422 and fields(wrong.text) == form
    sentence = "Time: “time of 2 é” is not a time"
    assert wrong.text.count(sentence) == 2
    assert wrong.text.index('id="step-2"') < wrong.text.rindex(sentence)
    bad = client.post("/bench/recipes/new", data=simple(**{"1-k": "0.08", "1-temperatures": "", "1-first": "9999"}))
    assert "Turned over at first, in s: Input should be less than or equal to 3600" in bad.text
    assert '<a href="#step-2">Step 2</a>' in wrong.text and "<b>" not in fields(wrong.text)["source"]


def simple(**changes: str) -> Texts:
    form = {
        "name": "Corvane in Alderine", "process": "black-and-white", "steps": "1", "1-kind": "developer", "1-time": "9:30",
        "1-temperature": "20", "1-first": "30", "1-for": "5", "1-every": "60", "1-solution": "one-shot",
        "1-chemical": "Alderine", "1-dilution": "1+9", "1-temperatures": "20: 9:30\r\n24: 6:52",
        "1-pushes": "0: 9:30\r\n+1: 12:00", "do": "keep",
    }  # fmt: skip
    return form | {name.replace("_", "-"): value for name, value in changes.items()}


def test_a_recipe_is_kept_shown_and_changed(client: TestClient) -> None:
    kept = client.post("/bench/recipes/new", data=simple())
    assert kept.status_code == 303
    shown = client.get(kept.headers["location"]).text
    for words in ("9:30", "20 °C", "Turn over for the first 30 s, then for 5 s every 60 s.", "6:52", "12:00", "Cautions"):
        assert words in shown
    assert "Colour developing agents" not in shown and "Developers can bring on rashes" in shown
    form = fields(client.get("/bench/recipes/1/edit").text)
    assert (form["1-name"], form["1-temperatures"], form["1-pushes"]) == ("developer", "20: 9:30\n24: 6:52", "0: 9:30\n+1: 12:00")
    again = client.post("/bench/recipes/1/edit", data={**form, "1-time": "570 s", "do": "keep"})
    assert again.headers["location"] == "/bench/recipes/1?kept=true"
    taken = client.post("/bench/recipes/new", data=simple())
    assert taken.status_code == 422 and "another name" in taken.text and fields(taken.text)["1-chemical"] == "Alderine"
    assert "Corvane in Alderine, copy" in client.get("/bench/recipes/new?copy=1").text
    assert client.post("/bench/recipes/1/put-away", data={"to": "away"}).status_code == 303
    assert "Take out again" in client.get("/bench/recipes").text


def test_a_colon_is_asked_about_once(client: TestClient) -> None:
    """1:9 is 1+9 to most in the darkroom and one in nine in a laboratory: common practice, no published source."""
    asked = client.post("/bench/recipes/new", data=simple(**{"1-dilution": "1:9"}))
    assert asked.status_code == 422
    assert "1+9: one part and nine more" in asked.text and "1+8: one part in nine" in asked.text
    form = fields(asked.text)
    assert form["1-dilution"] == "1:9"
    kept = client.post("/bench/recipes/new", data={**form, "do": "read as in all"})
    assert kept.status_code == 303
    assert client.get("/api/recipes/1").json()["steps"][0]["dilution"] == "1+8"
    other = client.post("/bench/recipes/new", data=simple(name="Other", **{"1-dilution": "1:10"}))
    assert other.status_code == 303
    assert client.post("/bench/recipes/new", data=simple(do="read as nothing")).status_code == 422


@pytest.mark.parametrize("units", [Units(), Units(temperature="°F", volume="US quart")], ids=["SI", "US"])
def test_a_recipe_comes_back_from_its_texts(units: Units) -> None:
    for recipe in (ONE_SHOT, colour_kit()):
        typed = texts_of(recipe, units)
        steps = read_steps(typed, units)
        assert typed.troubles == {}
        for was, now in zip(recipe.steps, steps, strict=True):
            assert now is not None
            tables = {"temperature_table", "temperature_c", "tolerance_c", "least_ml"}
            assert now.model_dump(exclude=tables) == was.model_dump(exclude=tables)
            assert now.temperature_c == pytest.approx(was.temperature_c, abs=0.003)
            assert now.tolerance_c == pytest.approx(was.tolerance_c, abs=0.001)
            assert now.least_ml == pytest.approx(was.least_ml, abs=0.01)
            assert [s for _, s in now.temperature_table] == [s for _, s in was.temperature_table]
            assert [t for t, _ in now.temperature_table] == pytest.approx([t for t, _ in was.temperature_table], abs=0.003)


def test_a_table_by_temperature_is_read() -> None:
    """68 °F is 20 °C and 75.2 °F is 24 °C by definition."""
    assert parse_temperature_table("75.2: 6:52\n68: 9:30", "°F") == ((20, 570), (24, 412))
    assert parse_temperature_table("68 °F: 9:30; 24 = 412 s") == ((20, 570), (24, 412))
    assert temperature_table_text([(20, 570), (24, 412)], "°F") == "68: 9:30\n75.2: 6:52"
    for wrong, words in (("20 9.30", "a colon"), ("20: 9:30\n20: 9:00", "twice"), ("90: 9:30", "0 to 60"), (": 9:30", "a colon")):
        with pytest.raises(InvalidInput, match=words):
            parse_temperature_table(wrong)


def test_the_sheet_speaks_the_persons_units(client: TestClient, archive: Archive) -> None:
    """A C-41 developer at 37.8 ± 0.15 °C is 100.04 ± 0.27 °F: °F = °C × 9/5 + 32."""
    with archive.session() as session:
        fill_bench(session)
        colour = next(r for r in list_recipes(session) if r.process == "C-41")
        set_units(session, Units(temperature="°F", volume="US quart"))
        assert recipe_as_typed(colour) == colour_kit()
    assert step_temperature_words(colour.steps[0], "°F") == "100.04 °F ± 0.27"
    text = client.get(f"/bench/recipes/{colour.id}").text
    assert "100.04 °F ± 0.27" in text and "1–4" in text and "Colour developing agents" in text


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("ratio=1%2B9&volume=600", "600 ml of 1+9: 60 ml concentrate + 540 ml water."),  # a tenth of the whole
        ("ratio=1%2B9&tank=1&reels35=2&least=25+ml", "600 ml of 1+9: 60 ml concentrate + 540 ml water."),
        ("ratio=1%2B9&tank=1&reels35=2&least=50+ml", "But Two-reel tank holds 660 ml"),  # 100 ml × 10 parts don't go in
        ("ratio=1%2B9&volume=400&tank=1&reels35=2", "too little"),
        ("ratio=1%2B9", "1 part concentrate + 9 parts water"),
        # 9:30 at 20 °C by k = 0.081, a fit to the usual chart: common practice, no published source
        ("time=9:30&at=20&bath=24", "6:52 at 24 °C instead of 9:30 at 20 °C."),
        ("time=9:30&at=20&bath=22&time2=6:52&at2=24", "8:05 at 22 °C"),
        ("time=9:30&at=20&bath=24&k=0.081", "6:52 at 24 °C"),
        ("time=9:30&at=20&bath=40", "outside 18 to 26"),
        ("recipe=1&tonight=24", "developer: 6:52"),
        ("recipe=1&push=%2B1", "developer: 12:15"),
        ("recipe=2&done=5", "developer: 3:30"),
        ("recipe=1&done=5", "no times by rolls done"),
        ("recipe=99", "no recipe 99"),
        ("recipe=x", "no recipe"),
        ("pspeed=400&pindex=1600&normal=6:00&factor=1.5", "13:30 for +2"),  # 6:00 × 1.5²
        ("stops=1&lines=0:+6:00%0A%2B1:+8:00", "8:00 for +1"),
        ("dstart=20&dend=20&dtime=9:30&dat=20&dwanted=9:30", "9:30 so far count as 9:30"),
        ("clear=45+s", "Fix for 1:30"),  # twice the clearing time: common practice, no published source
        ("speed=400&index=1600", "ISO 400/27° exposed at EI 1600 is +2"),  # ISO 5800: 10 lg 400 + 1
        ("speed=100", "ISO 100/21°"),
        ("figure=102+°F", "102 °F = 38.9 °C"),
        ("figure=38", "38 °C = 100.4 °F"),
        ("figure=1+gal", "1 gal = 3785 ml = 4 qt = 128 fl oz"),  # NIST Handbook 44, from memory: 3785.4 ml
        ("figure=soup", "is not a volume"),
        ("clear=%3Cb%3E", "“&lt;b&gt;” is not a time"),
    ],
)
def test_the_sums(reckoner: TestClient, query: str, words: str) -> None:
    answered = reckoner.get(f"/bench/reckon?{query}")
    said = re.findall(r'<(?:p class="(?:sentence|problem|warning)"[^>]*|p)>(.*?)</p>', answered.text)
    assert [s for s in said if words in (s if "&lt;" in words else unescape(s))], said
    assert ('class="problem"' in answered.text) == (answered.status_code == 422)
    assert answered.status_code in (200, 422)


def test_the_reckon_page_asks_about_a_colon_and_goes_on(client: TestClient) -> None:
    asked = client.get("/bench/reckon?ratio=1:9&volume=600&clear=45+s")
    assert asked.status_code == 422 and "Fix for 1:30" in asked.text
    query = re.search(r'name="query" value="([^"]*)"', asked.text)
    assert query
    gone = client.post("/bench/reckon/colon", data={"means": "plus", "query": unescape(query[1])})
    assert gone.status_code == 303
    assert "60 ml concentrate + 540 ml water" in client.get(gone.headers["location"]).text


def test_tanks_are_added(client: TestClient) -> None:
    wrong = client.post("/bench/tanks", data={"name": "Two-reel", "reels": "2", "holds": "soup"})
    assert wrong.status_code == 422 and 'value="Two-reel"' in wrong.text
    assert client.post("/bench/tanks", data={"name": "Two-reel", "reels": "2", "holds": "16 fl oz"}).status_code == 303
    assert "473 ml" in client.get("/bench/tanks").text
