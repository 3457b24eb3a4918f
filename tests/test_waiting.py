"""Film before it is sleeved: noted, loaded, exposed, and then filled in by registering."""

from collections.abc import Iterator

import pytest
from builders import filed
from fastapi.testclient import TestClient
from sqlmodel import Session
from test_cassette_picture import photograph

from api.app import create_app
from catalogue.bench.waiting import NewWaiting, WaitingChanges, change_waiting, note_roll, waiting_film, waiting_view
from catalogue.errors import AlreadyExists, InvalidInput, NotFound
from catalogue.rolls.change import get_roll, list_rolls, offered
from catalogue.rolls.find import find
from catalogue.rolls.number import gaps
from catalogue.rolls.plan import NewRoll
from catalogue.rolls.process import ProcessInput, record_process
from catalogue.rolls.register import register_roll
from catalogue.store.engine import Archive


@pytest.fixture
def client(archive: Archive) -> Iterator[TestClient]:
    """A browser without scripts."""
    app = create_app(archive.folder)
    with TestClient(app) as opened:
        yield opened


def test_a_roll_can_be_noted_with_nothing_known(session: Session) -> None:
    noted = note_roll(session, NewWaiting())
    assert noted.state == "exposed"
    assert noted.stock == "" and noted.since is None
    assert note_roll(session, NewWaiting()).number != noted.number
    assert [r.number for r in list_rolls(session)] == [w.number for w in waiting_film(session)]
    assert get_roll(session, noted.number).frames == ()


def test_the_cassette_tells_stock_and_exposures_and_is_asked_once(session: Session) -> None:
    """017563 is DX 109-12 with 24 exposures: public description of the cassette code."""
    first = note_roll(session, NewWaiting(cassette_code="017563", stock="Hazelgrain 200"))
    assert (first.stock, first.frames_expected) == ("Hazelgrain 200", 24)
    second = note_roll(session, NewWaiting(cassette_code="017564"))
    assert (second.stock, second.frames_expected) == ("Hazelgrain 200", 36)
    with pytest.raises(InvalidInput, match="six digits"):
        note_roll(session, NewWaiting(cassette_code="12345"))
    assert len(waiting_film(session)) == 2


def test_a_camera_holds_one_roll(session: Session) -> None:
    loaded = note_roll(session, NewWaiting(state="loaded", camera="Orlo 35"))
    with pytest.raises(AlreadyExists, match=loaded.number):
        note_roll(session, NewWaiting(state="loaded", camera="orlo 35"))
    with pytest.raises(InvalidInput, match="which camera"):
        note_roll(session, NewWaiting(state="loaded"))
    change_waiting(session, loaded.number, WaitingChanges(state="exposed", finished_on="2031-06-02"))
    assert note_roll(session, NewWaiting(state="loaded", camera="Orlo 35")).state == "loaded"
    assert [w.number for w in waiting_film(session, "exposed")] == [loaded.number]


def test_the_oldest_is_first_and_one_without_a_date_last(session: Session) -> None:
    late = note_roll(session, NewWaiting(exposed="2031-05"))
    early = note_roll(session, NewWaiting(exposed="2030~"))
    never = note_roll(session, NewWaiting())
    assert [w.number for w in waiting_film(session)] == [early.number, late.number, never.number]


def test_a_wrong_date_notes_nothing(session: Session) -> None:
    with pytest.raises(InvalidInput):
        note_roll(session, NewWaiting(loaded_on="yesterday"))
    with pytest.raises(NotFound, match="recipe"):
        note_roll(session, NewWaiting(recipe_id=9))
    assert waiting_film(session) == ()


def test_sleeving_fills_the_roll_that_waited(session: Session) -> None:
    noted = note_roll(session, NewWaiting(stock="Hazelgrain 200", camera="Orlo 35", exposed="2031-05-14", subject="the weir"))
    record_process(
        session, noted.number, ProcessInput(process="black and white", developer="Quartz", time_s=570, temperature_c=20)
    )
    sleeved = filed(
        session,
        NewRoll(number=noted.number.lower(), frames="1-36", place="Alder Lane", process=ProcessInput(developer="Quartz II")),
    )
    assert sleeved.id == noted.roll_id
    assert (sleeved.stock, sleeved.exposed, sleeved.subject, sleeved.place) == (
        "Hazelgrain 200", "2031-05-14", "the weir", "Alder Lane",
    )  # fmt: skip
    assert sleeved.process is not None
    # What was recorded at the sink stays, what was typed stands in its place.
    assert (sleeved.process.time_s, sleeved.process.developer) == (570, "Quartz II")
    assert waiting_film(session) == ()
    with pytest.raises(NotFound, match="doesn't wait"):
        waiting_view(session, noted.number)
    with pytest.raises(AlreadyExists):
        register_roll(session, NewRoll(number=noted.number, frames="1-36"))


def test_a_refused_sleeving_leaves_it_waiting(session: Session) -> None:
    noted = note_roll(session, NewWaiting())
    with pytest.raises(InvalidInput):
        register_roll(session, NewRoll(number=noted.number, frames="1-36", exposed="nonsense"))
    assert waiting_view(session, noted.number).state == "exposed"


def test_the_place_offered_is_beside_film_of_its_kind(session: Session) -> None:
    register_roll(session, NewRoll(frames="1-12", format="120-6x6", page_id=None))
    noted = note_roll(session, NewWaiting(stock="Hazelgrain 200"))
    offer = offered(session, waiting=noted.number)
    assert (offer.number, offer.format, offer.stock) == (noted.number, "135-24x36", "Hazelgrain 200")
    assert offered(session).format == "120-6x6"


def test_a_waiting_roll_is_found_and_shown(client: TestClient, archive: Archive) -> None:
    with archive.session() as session:
        noted = note_roll(session, NewWaiting(stock="Hazelgrain 200", subject="the weir", frames_expected=24))
        assert [h.roll for h in find(session, "weir").hits] == [noted.number]
    here = (f"/rolls/{noted.number}", f"/api/rolls/{noted.number}", "/?q=weir", f"/register?roll={noted.number}")
    for path in here:
        answer = client.get(path)
        assert answer.status_code == 200, path
        assert noted.number in answer.text, path
    assert "24 frames" in client.get(f"/register?roll={noted.number}").text
    assert client.get("/register?roll=1999-999").status_code == 404


def test_the_bench_notes_a_roll_and_takes_it_out_of_the_camera(client: TestClient) -> None:
    typed = {"state": "loaded", "camera": "Orlo 35", "format": "135-24x36", "cassette_code": "017564", "stock": "Hazelgrain 200"}
    assert "is noted" in client.post("/bench/note", data=typed).text
    again = client.post("/bench/note", data={**typed, "stock": ""})
    assert again.status_code == 422 and "holds roll" in again.text and 'value="Orlo 35"' in again.text
    number = client.get("/api/waiting").json()[0]["number"]
    assert client.post("/bench/finished", data={"number": number}).status_code == 200
    assert client.get(f"/api/waiting/{number}").json()["state"] == "exposed"
    assert client.post("/bench/finished", data={"number": "1999-1"}).status_code == 422
    assert client.post("/bench/note", data={"push_stops": "9"}).status_code == 422
    assert client.post("/bench/note", data={"exposure_index": "fast"}).status_code == 422
    assert client.post("/bench/note", data={"state": "eaten"}).status_code == 422


def test_a_cassette_fills_the_form(client: TestClient) -> None:
    client.post("/bench/note", data={"cassette_code": "017564", "stock": "Hazelgrain 200"})
    read = client.post("/bench/cassette", data={"squares": "101001 111011"}, files={"picture": ("c.jpg", photograph("017563"))})
    assert read.status_code == 200
    for value in ("017563", "Hazelgrain 200", "24", "125"):
        assert f'value="{value}"' in read.text, value
    assert client.post("/bench/cassette", data={"squares": ""}).status_code == 422
    assert client.post("/bench/cassette", files={"picture": ("c.jpg", b"none")}).status_code == 422


def test_the_service_says_what_a_cassette_says(client: TestClient) -> None:
    assert client.get("/api/waiting/cassette/315223").json() == {
        "code": "315223", "dx_number": "95-2", "exposures": 24, "stock": "",
    }  # fmt: skip
    sent = client.post("/api/waiting/cassette-picture", files={"picture": ("c.jpg", photograph("010804"))})
    assert sent.json()["dx_number"] == "67-8"
    assert client.get("/api/waiting/contacts/101001111011").json()["speed"] == 125
    assert client.get("/api/waiting/contacts/1").status_code == 422
    made = client.post("/api/waiting", json={"state": "loaded", "camera": "Orlo 35"})
    assert made.status_code == 201
    changed = client.patch(f"/api/waiting/{made.json()['number']}", json={"state": "exposed", "push_stops": 1})
    assert (changed.json()["state"], changed.json()["push_stops"]) == ("exposed", 1)


def test_a_note_taken_back_leaves_a_gap_and_its_number_is_never_issued_again(client: TestClient, archive: Archive) -> None:
    made = client.post("/api/waiting", json={"subject": "the weir"}).json()["number"]
    here = f"/bench/rolls/{made}"
    assert client.post(here, data={"do": "drop", "reason": " "}).status_code == 422
    assert client.post(here, data={"do": "drop", "reason": "never used"}).status_code == 200
    with archive.session() as session:
        assert gaps(session) == ((made, "never used"),)
        assert find(session, "weir").hits == ()
        with pytest.raises(AlreadyExists):
            note_roll(session, NewWaiting(number=made))
        kept = note_roll(session, NewWaiting())
        record_process(session, kept.number, ProcessInput(process="C-41"))
    assert client.delete(f"/api/waiting/{kept.number}?reason=blank").status_code == 422
    assert client.delete("/api/waiting/1999-1?reason=blank").status_code == 404
