"""The choice on a proof: kept, listed, refused with a sentence, typed into the page as shown, and drawn on the map."""

import re
from collections.abc import Iterator
from itertools import product
from pathlib import Path

import pytest
from builders import registered
from fastapi.testclient import TestClient
from PIL import Image
from small_scans import copy_of, scanned
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from api.app import create_app
from catalogue.errors import InvalidInput, NotFound
from catalogue.rolls.change import get_roll
from catalogue.rolls.choices import choices_of_page, choices_of_roll, choose_frame, selects_of_roll, turns_of_frame
from catalogue.rolls.file import add_binder
from catalogue.rolls.move import turn_strip
from catalogue.scans.match.linking import change_scan, link_scan
from catalogue.store.engine import Archive, open_archive
from catalogue.views import FrameChoice

NUMBER = "2031-001"
CROP = (0.1, 0.2, 0.5, 0.9)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two rolls of 12; of the first, frames 1 and 2 are scanned lying and 3 standing."""
    folder = tmp_path_factory.mktemp("choosing") / "archive"
    archive = open_archive(folder)
    with archive.session() as session:
        add_binder(session, "Binder 1")
        roll = registered(session, 12, number=NUMBER, captions={"1": "Heron"})
        registered(session, 12, number="2031-002")
        scanned(session, roll, ["1", "2"])
        Image.new("RGB", (40, 60), (90, 60, 30)).save(folder / "scans" / "scans" / "3.png")
        link_scan(session, NUMBER, "3", "scans/3.png")
    archive.close()
    return folder


@pytest.fixture
def here(made: Path, tmp_path: Path) -> Iterator[Archive]:
    archive = copy_of(made, tmp_path)
    yield archive
    archive.close()


@pytest.fixture
def client(here: Archive) -> Iterator[TestClient]:
    with TestClient(create_app(here.folder), follow_redirects=False) as opened:
        yield opened


@pytest.fixture(scope="module")
def refusing(made: Path) -> Iterator[TestClient]:
    """A service for what is refused and so changes nothing."""
    with TestClient(create_app(made), follow_redirects=False) as opened:
        yield opened


def by_label(session: Session, number: str = NUMBER) -> dict[str, FrameChoice]:
    found = choices_of_roll(session, number)
    return {f.label: found[f.id] for f in get_roll(session, number).frames if f.id in found}


def test_a_choice_is_kept_changed_and_taken_away(here: Archive) -> None:
    with here.session() as session:
        before = get_roll(session, NUMBER)
        assert choose_frame(session, NUMBER, "01", FrameChoice(True, CROP)) == FrameChoice(True, CROP)
        choose_frame(session, NUMBER, "2", FrameChoice(True))
        choose_frame(session, NUMBER, "7", FrameChoice(False, (0, 0, 1, 0.5)))
        choose_frame(session, "2031-002", "1", FrameChoice(True))
    with here.session() as session:
        assert by_label(session) == {
            "1": FrameChoice(True, CROP), "2": FrameChoice(True), "7": FrameChoice(False, (0, 0, 1, 0.5))
        }  # fmt: skip
        assert [(f.label, f.address is not None) for f in selects_of_roll(session, NUMBER)] == [("1", True), ("2", True)]
        page = before.page_ids[0]
        assert choices_of_page(session, page) == choices_of_roll(session, NUMBER)
        choose_frame(session, NUMBER, "1", FrameChoice(False, CROP))
        choose_frame(session, NUMBER, "2", FrameChoice())
        choose_frame(session, NUMBER, "3", FrameChoice())
    with here.session() as session:
        assert by_label(session) == {"1": FrameChoice(False, CROP), "7": FrameChoice(False, (0, 0, 1, 0.5))}
        assert selects_of_roll(session, NUMBER) == ()
        assert get_roll(session, NUMBER) == before  # nothing else changed


def test_what_is_no_choice_is_refused_and_the_former_one_stays(here: Archive) -> None:
    with here.session() as session:
        choose_frame(session, NUMBER, "1", FrameChoice(True, CROP))
        with pytest.raises(InvalidInput, match="60 %, 0 %, 40 %, 100 %"):
            choose_frame(session, NUMBER, "1", FrameChoice(False, (0.6, 0, 0.4, 1)))
        assert by_label(session) == {"1": FrameChoice(True, CROP)}
        for ask in (
            lambda: choose_frame(session, NUMBER, "99", FrameChoice(True)),
            lambda: choices_of_roll(session, "1999-001"),
            lambda: choices_of_page(session, 99),
            lambda: selects_of_roll(session, "1999-001"),
        ):
            with pytest.raises(NotFound):
                ask()


@pytest.mark.parametrize(
    "values",
    [
        "0, NULL, NULL, NULL, NULL",
        "1, 0.1, NULL, 0.5, 0.5",
        "1, 0.5, 0, 0.5, 1",
        "1, 0, 0, 1.01, 1",
        "1, -0.1, 0, 1, 1",
        "1, 0, 0.9, 1, 0.2",
    ],
)
def test_the_table_holds_its_rules_by_itself(here: Archive, values: str) -> None:
    with here.session() as session, pytest.raises(IntegrityError):
        session.connection().execute(text(f"INSERT INTO frame_choice VALUES (1, {values})"))


def test_a_choice_goes_through_the_service(client: TestClient) -> None:
    put = client.put(f"/api/rolls/{NUMBER}/frames/01/choice", json={"selected": True, "crop": CROP})
    assert (put.status_code, put.json()) == (200, {"roll": NUMBER, "frame": "1", "selected": True, "crop": list(CROP)})
    client.put(f"/api/rolls/{NUMBER}/frames/7/choice", json={"crop": [0, 0, 1, 0.5]})
    assert [(c["frame"], c["selected"]) for c in client.get(f"/api/rolls/{NUMBER}/choices").json()] == [("1", True), ("7", False)]
    (only,) = client.get(f"/api/rolls/{NUMBER}/selects").json()
    assert (only["label"], only["caption"]) == ("1", "Heron")
    assert "from the ring side" in only["address"]["words"]


@pytest.mark.parametrize(
    ("path", "body", "status", "words"),
    [
        ("/api/rolls/2031-001/frames/1/choice", '{"crop": [0.6, 0, 0.4, 1]}', 422, "60 %, 0 %, 40 %, 100 %"),
        ("/api/rolls/2031-001/frames/1/choice", '{"crop": [0, 0, NaN, 1]}', 422, "nan"),
        ("/api/rolls/2031-001/frames/1/choice", '{"crop": [0, 0, 1e400, 1]}', 422, "inf"),
        ("/api/rolls/2031-001/frames/1/choice", '{"crop": [0, 1]}', 422, "crop"),
        ("/api/rolls/2031-001/frames/1/choice", '{"chosen": true}', 422, "chosen"),
        ("/api/rolls/2031-001/frames/99/choice", '{"selected": true}', 404, "no frame 99"),
        ("/api/rolls/1999-001/frames/1/choice", '{"selected": true}', 404, "no roll 1999-001"),
    ],
)
def test_the_service_refuses_with_a_sentence(refusing: TestClient, path: str, body: str, status: int, words: str) -> None:
    answer = refusing.put(path, content=body, headers={"content-type": "application/json"})
    assert answer.status_code == status, answer.text
    assert words in answer.json()["detail"]
    assert refusing.get(f"/api/rolls/{NUMBER}/choices").json() == []


def form(client: TestClient, label: str, **values: str) -> tuple[int, str]:
    answer = client.post(f"/rolls/{NUMBER}/scans/{label}/choice", data={"do": "keep", **values})
    return answer.status_code, answer.text


def field(page: str, name: str) -> str:
    found = re.search(rf'name="{name}" value="([^"]*)"', page)
    assert found, name
    return found[1]


def test_the_form_keeps_a_choice_as_the_picture_is_shown(client: TestClient, here: Archive) -> None:
    typed = {"left": "10", "top": "20", "right": "50", "bottom": "90"}
    assert form(client, "1", selected="yes", **typed)[0] == 303
    page = client.get(f"/rolls/{NUMBER}/scans/1").text
    assert {edge: field(page, edge) for edge in typed} == typed
    assert re.search(r'name="selected" value="yes" checked', page)
    assert 'd="M0 0H100V100H0ZM10.00 20.00V90.00H50.00V20.00Z"' in page
    with here.session(reading=True) as session:
        kept = by_label(session)["1"]
    assert kept.crop == pytest.approx(CROP)  # shown as it lies on the film
    # Frame 3 stands where it lies on the film: its crop is turned back by the quarter that puts it upright.
    assert form(client, "3", **typed)[0] == 303
    page = client.get(f"/rolls/{NUMBER}/scans/3").text
    assert {edge: field(page, edge) for edge in typed} == typed
    with here.session(reading=True) as session:
        kept = by_label(session)["3"]
        assert turns_of_frame(session, next(f.id for f in get_roll(session, NUMBER).frames if f.label == "3")) == 1
    assert kept.crop == pytest.approx((0.2, 0.5, 0.9, 0.9))


def test_the_page_reads_back_what_was_typed_however_the_scan_is_shown(client: TestClient, here: Archive) -> None:
    typed = {"left": "12.5", "top": "0", "right": "33.3", "bottom": "90"}
    kept = set()
    for turns, mirrored in product(range(4), (False, True)):
        with here.session() as session:
            scan = next(f.scans[0].id for f in get_roll(session, NUMBER).frames if f.label == "2")
            change_scan(session, scan, quarter_turns=turns, mirrored=mirrored)
            choose_frame(session, NUMBER, "2", FrameChoice())
        assert form(client, "2", **typed)[0] == 303
        page = client.get(f"/rolls/{NUMBER}/scans/2").text
        assert {edge: field(page, edge) for edge in typed} == typed
        with here.session(reading=True) as session:
            kept.add(tuple(round(v, 6) for v in by_label(session)["2"].crop or ()))
    assert len(kept) == 3  # shown as it lies on the film, or a quarter off one way or the other


def test_ticking_select_leaves_a_finer_crop_exactly_as_it_was(client: TestClient, here: Archive) -> None:
    fine = (0.123456, 0.2, 0.765432, 0.9)
    with here.session() as session:
        choose_frame(session, NUMBER, "1", FrameChoice(False, fine))
    page = client.get(f"/rolls/{NUMBER}/scans/1").text
    form(client, "1", selected="yes", **{edge: field(page, edge) for edge in ("left", "top", "right", "bottom")})
    with here.session(reading=True) as session:
        assert by_label(session) == {"1": FrameChoice(True, fine)}
    assert client.post(f"/rolls/{NUMBER}/scans/1/choice", data={"do": "no crop", "selected": "yes", "left": "12.3"}).is_redirect
    with here.session(reading=True) as session:
        assert by_label(session) == {"1": FrameChoice(True)}


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"left": "10", "right": "50"}, "top and bottom are empty"),
        ({"left": "ten", "top": "0", "right": "50", "bottom": "9"}, "“ten” is not a number"),
        ({"left": "60", "top": "0", "right": "50", "bottom": "9"}, "from 60 to 50 % across"),
        ({"left": "0", "top": "0", "right": "150", "bottom": "9"}, "from 0 to 150 % across"),
        ({"left": "nan", "top": "0", "right": "50", "bottom": "9"}, "“nan” is not a number"),
    ],
)
def test_the_form_refuses_with_a_sentence_and_keeps_what_was_typed(
    refusing: TestClient, values: dict[str, str], words: str
) -> None:
    status, page = form(refusing, "1", selected="yes", **values)
    assert (status, words in page) == (422, True)
    assert {edge: field(page, edge) for edge in values} == values
    assert re.search(r'name="selected" value="yes" checked', page)
    assert refusing.get(f"/api/rolls/{NUMBER}/choices").json() == []


def test_the_form_of_no_frame_is_no_page(refusing: TestClient) -> None:
    assert form(refusing, "99")[0] == 404
    assert refusing.get(f"/rolls/{NUMBER}/scans/1/choice").headers["location"] == f"/rolls/{NUMBER}/scans/1"


def test_selects_are_said_and_drawn_on_the_map_and_said_on_the_roll(client: TestClient, here: Archive) -> None:
    with here.session() as session:
        choose_frame(session, NUMBER, "1", FrameChoice(True, CROP))
        choose_frame(session, NUMBER, "7", FrameChoice(False, CROP))
        page_id = get_roll(session, NUMBER).page_ids[0]
    page = client.get(f"/pages/{page_id}").text
    assert page.count('class="chosen"') == 1
    assert "1 select</text>" in page
    assert "first from the ring side, select, crop marked" in page
    assert "Selects, framed on the map" in page
    drawn = crop_of(page, "1")
    assert drawn == pytest.approx(CROP, abs=1e-3)
    with here.session() as session:  # head to foot: the map turns the crop with its frame
        strip = get_roll(session, NUMBER).strips[0].id
        turn_strip(session, strip, upside_down=True, why="")
    assert crop_of(client.get(f"/pages/{page_id}").text, "1") == pytest.approx((0.5, 0.1, 0.9, 0.8), abs=1e-3)
    roll = client.get(f"/rolls/{NUMBER}").text
    assert re.search(r'Selects: <a href="/rolls/2031-001/scans/1">1</a></span>', roll)


def crop_of(page: str, label: str) -> tuple[float, float, float, float]:
    """The crop drawn on the map for a frame, in parts of its picture's rectangle."""
    link = next(a for a in re.findall(r'<a class="frame.*?</a>', page, re.DOTALL) if f"<title>Frame {label} of" in a)
    picture, crop = (
        [float(v) for v in re.search(rf'class="{name}" x="(.*?)" y="(.*?)" width="(.*?)" height="(.*?)"', link).groups()]  # type: ignore[union-attr]
        for name in ("picture", "crop")
    )
    x, y = (crop[0] - picture[0]) / picture[2], (crop[1] - picture[1]) / picture[3]
    return x, y, x + crop[2] / picture[2], y + crop[3] / picture[3]
