"""Prints of a frame: every one kept, the latest on the card, times reckoned from it, one taken back whole."""

import io
import re
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pdfplumber
import pytest
from builders import registered
from fastapi.testclient import TestClient
from small_scans import copy_of, scanned
from sqlalchemy import text
from sqlalchemy.exc import IntegrityError
from sqlmodel import Session

from api.app import create_app
from catalogue.darkroom import print_records as enlarging
from catalogue.darkroom.print_records import (
    MarkInput,
    PrintInput,
    get_print,
    prints_of_frame,
    record_print,
    take_back_print,
    time_for,
)
from catalogue.errors import InvalidInput, NotFound
from catalogue.rolls.change import get_roll
from catalogue.rolls.choices import choose_frame
from catalogue.rolls.file import add_binder
from catalogue.settings import set_units
from catalogue.store.engine import Archive, open_archive
from catalogue.units import Units
from catalogue.views import FrameChoice

NUMBER = "2031-001"
CARD = f"/api/rolls/{NUMBER}/frames/7/print-card.pdf"
FORMS = f"/rolls/{NUMBER}/scans/7"
FULL: dict[str, Any] = {
    "enlarger": "Tarnow 67", "lens": "Orvane E 50/2.8", "height_mm": 412, "aperture": "f/8", "paper": "Corvane fibre",
    "grade": "grade 3", "base_time_s": 18.5, "developer": "Halmra print 1+9", "size_mm": [270, 180], "printed": "2031-05-14",
    "marks": [
        {"kind": "burn", "where": "sky, upper third", "change": "+1/2 stop", "area": [0, 0, 1, 0.33]},
        {"kind": "dodge", "where": "the boats", "change": "−3 s", "area": None},
    ],
    "notes": "Washed an hour.",
}  # fmt: skip


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A roll of 12 with a scan of frame 7, and nothing printed."""
    folder = tmp_path_factory.mktemp("prints") / "archive"
    archive = open_archive(folder)
    with archive.session() as session:
        add_binder(session, "Binder 1")
        scanned(session, registered(session, 12, number=NUMBER), ["7"])
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


def rows(session: Session) -> list[int]:
    return [
        session.connection().execute(text(f"SELECT count(*) FROM {name}")).scalar_one() for name in ("print_record", "print_mark")
    ]


def test_every_print_is_kept_and_the_latest_comes_first(here: Archive, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(enlarging, "now", lambda: "2029-03-04T10:00:00+00:00")
    with here.session() as session:
        before = get_roll(session, NUMBER)
        kept = {
            words: record_print(session, NUMBER, "07", PrintInput(notes=words, printed=date)).id
            for words, date in (
                ("may", "2031-05-14"), ("the whole year", "2031"), ("no date", ""), ("long ago", "1998~"),
                ("until then", "../2028"), ("no date, later", ""),
            )
        }  # fmt: skip
    with here.session(reading=True) as session:
        found = [p.notes for p in prints_of_frame(session, NUMBER, "7")]
        # What has no beginning stands at the day it was written down, in March 2029.
        assert found == ["may", "the whole year", "no date, later", "no date", "until then", "long ago"]
        assert get_print(session, kept["long ago"]).printed == "1998~"
        assert prints_of_frame(session, NUMBER, "1") == ()
        assert get_roll(session, NUMBER) == before


def test_a_print_is_read_back_as_it_was_given(here: Archive) -> None:
    with here.session() as session:
        made = record_print(session, NUMBER, "7", PrintInput.model_validate(FULL))
    with here.session(reading=True) as session:
        assert get_print(session, made.id) == made
    assert (made.roll, made.frame, made.size_mm) == (NUMBER, "7", (270, 180))
    for name in ("enlarger", "lens", "height_mm", "aperture", "paper", "grade", "base_time_s", "developer", "printed", "notes"):
        assert getattr(made, name) == FULL[name]
    assert [(m.kind, m.where, m.change, m.area) for m in made.marks] == [
        ("burn", "sky, upper third", "+1/2 stop", (0, 0, 1, 0.33)), ("dodge", "the boats", "−3 s", None)
    ]  # fmt: skip


def test_a_print_taken_back_goes_with_its_marks_and_nothing_else(here: Archive) -> None:
    with here.session() as session:
        first, second = (record_print(session, NUMBER, "7", PrintInput.model_validate(FULL)) for _ in range(2))
        choose_frame(session, NUMBER, "7", FrameChoice(True))
        before = get_roll(session, NUMBER)
        assert rows(session) == [2, 4]
        assert take_back_print(session, first.id) == first
        assert rows(session) == [1, 2]
        assert prints_of_frame(session, NUMBER, "7") == (second,)
        assert get_roll(session, NUMBER) == before
        with pytest.raises(NotFound, match=f"no print record {first.id}"):
            take_back_print(session, first.id)


BAD: list[tuple[dict[str, Any], str]] = [
    ({"height_mm": 0}, "height of 0 mm"),
    ({"height_mm": 3000.5}, "height of 3000.5 mm"),
    ({"base_time_s": -1}, "time of -1 s"),
    ({"base_time_s": 86401}, "time of 86401 s"),
    ({"size_mm": [240, 4]}, "240 × 4 mm"),
    ({"printed": "some day"}, "“some day” is not a date"),
    ({"marks": [{"kind": "burn"}] * 13}, "13 burns and dodges are more than 12"),
    ({"marks": [{"kind": "burn", "area": [0.5, 0, 0.6, 1]}]}, "burn at 50 %, 0 % measuring 60 × 100 %"),
    ({"marks": [{"kind": "dodge", "area": [0, 0, 0, 1]}]}, "has no size"),
    ({}, "Nothing is written"),
    ({"notes": "   "}, "Nothing is written"),
    ({"marks": [{"kind": "bleach"}]}, "burn"),
    ({"colour": "red"}, "colour"),
    ({"paper": "x" * 121}, "paper"),
]  # fmt: skip


def test_the_service_refuses_with_the_numbers_and_keeps_nothing(refusing: TestClient) -> None:
    path = f"/api/rolls/{NUMBER}/frames/7/print-records"
    for body, words in BAD:
        answer = refusing.post(path, json=body)
        assert answer.status_code == 422, body
        assert words in answer.json()["detail"], body
    for literal in ('{"base_time_s": NaN}', '{"height_mm": 1e400}', '{"marks": [{"kind": "burn", "area": [0, 0, NaN, 1]}]}'):
        answer = refusing.post(path, content=literal, headers={"content-type": "application/json"})
        assert answer.status_code == 422, literal
    assert refusing.get(path).json() == []
    for missing in (
        f"/api/rolls/{NUMBER}/frames/99/print-records", "/api/rolls/1/frames/1/print-records", "/api/print-records/9",
        "/api/print-records/9/steps", "/api/print-records/9/time?enlarger_height_mm=9", f"{CARD}?record=9", "/print-records/9",
    ):  # fmt: skip
        assert refusing.get(missing).status_code == 404, missing
    assert refusing.delete("/api/print-records/9").status_code == 404
    assert refusing.post("/print-records/9", data={"do": "take back"}).status_code == 404


@pytest.mark.parametrize(
    "wrong",
    [
        "INSERT INTO print_mark VALUES (NULL, 99, 1, 'burn', '', '', NULL, NULL, NULL, NULL)",
        "UPDATE print_record SET height_mm = 3001",
        "UPDATE print_record SET base_time_s = 0",
        "UPDATE print_record SET print_width_mm = NULL",
        "UPDATE print_record SET print_width_mm = 4",
        "UPDATE print_record SET frame_id = 999",
        "UPDATE print_mark SET kind = 'bleach'",
        "UPDATE print_mark SET position = 13 WHERE position = 1",
        "UPDATE print_mark SET position = 1",
        "UPDATE print_mark SET area_w = 1.1 WHERE position = 1",
        "UPDATE print_mark SET area_x = NULL WHERE position = 1",
        "DELETE FROM print_record",
    ],
)
def test_the_tables_hold_their_rules_by_themselves(here: Archive, wrong: str) -> None:
    with here.session() as session:
        record_print(session, NUMBER, "7", PrintInput.model_validate(FULL))
    with pytest.raises(IntegrityError), here.session() as session:
        session.connection().execute(text(wrong))


def test_the_service_keeps_lists_reckons_and_takes_back(client: TestClient) -> None:
    path = f"/api/rolls/{NUMBER}/frames/7/print-records"
    answer = client.post(path, json=FULL)
    assert answer.status_code == 201
    made = answer.json()
    assert {key: made[key] for key in FULL} == FULL
    assert client.get(path).json() == [made] == [client.get(f"/api/print-records/{made['id']}").json()]
    steps = client.get(f"/api/print-records/{made['id']}/steps?division=2").json()
    assert [(s["words"], round(s["seconds"], 2)) for s in steps] == [
        ("−1", 9.25), ("−1/2", 13.08), ("0", 18.5), ("+1/2", 26.16), ("+1", 37.0)
    ]  # fmt: skip
    # 270 × 180 from 36 × 24 is 7.5 times; half of it 3.75 times: 18.5 × (4.75 / 8.5)² = 5.777 by hand.
    smaller = client.get(f"/api/print-records/{made['id']}/time?width_mm=135&height_mm=90").json()
    assert smaller["seconds"] == pytest.approx(18.5 * (4.75 / 8.5) ** 2)
    assert "5.8 s instead of 18.5 s (−1.7 stops)" in smaller["words"]
    higher = client.get(f"/api/print-records/{made['id']}/time?enlarger_height_mm=824").json()
    assert (higher["seconds"], higher["stops"]) == (pytest.approx(74), pytest.approx(2))
    for query, words in (
        ("", "either another size or another height"), ("width_mm=100", "both its width and its height"),
        ("enlarger_height_mm=-3", "height of -3 mm"), ("width_mm=nan&height_mm=90", "nan"),
    ):  # fmt: skip
        refused = client.get(f"/api/print-records/{made['id']}/time?{query}")
        assert (refused.status_code, words in refused.json()["detail"]) == (422, True), query
    assert client.get(f"/api/print-records/{made['id']}/steps?division=5").status_code == 422
    assert client.delete(f"/api/print-records/{made['id']}").json() == made
    assert client.get(path).json() == []


def test_a_time_is_reckoned_from_what_was_recorded_alone(here: Archive) -> None:
    with here.session() as session:
        none = record_print(session, NUMBER, "7", PrintInput(notes="no figures"))
        timed = record_print(session, NUMBER, "7", PrintInput(base_time_s=10))
        cropped = record_print(session, NUMBER, "7", PrintInput(base_time_s=10, size_mm=(180, 240)))
        for record, more, words in (
            (none, {"height_mm": 300.0}, "no base time"),
            (timed, {"height_mm": 300.0}, "no height"),
            (timed, {"size_mm": (100.0, 100.0)}, "no size"),
        ):
            with pytest.raises(InvalidInput, match=words):
                time_for(session, record.id, **more)  # type: ignore[arg-type]
        choose_frame(session, NUMBER, "7", FrameChoice(False, (0.25, 0.25, 0.75, 0.75)))
        # Of 36 × 24 mm the crop leaves 18 × 12; 180 × 240 filled by that is 15 times, 90 × 120 is 7.5: (8.5 / 16)².
        assert time_for(session, cropped.id, size_mm=(90, 120)).seconds == pytest.approx(10 * (8.5 / 16) ** 2)


def card_words(client: TestClient, path: str) -> str:
    answer = client.get(path)
    assert answer.status_code == 200, answer.text
    with pdfplumber.open(io.BytesIO(answer.content)) as pdf:
        return "\n".join(page.extract_text() for page in pdf.pages)


def test_the_card_has_the_latest_print_or_the_one_asked_for_or_lines(client: TestClient, here: Archive) -> None:
    empty = card_words(client, CARD)
    assert "base time" in empty and "18.5" not in empty
    with here.session() as session:
        latest = record_print(session, NUMBER, "7", PrintInput.model_validate(FULL))
        earlier = record_print(session, NUMBER, "7", PrintInput(base_time_s=77.25, printed="2030"))
        other = record_print(session, NUMBER, "1", PrintInput(base_time_s=11))
    said = card_words(client, CARD)
    for value in (
        "Tarnow 67", "Orvane E 50/2.8", "412 mm", "f/8", "Corvane fibre", "grade 3", "18.5 s", "Halmra print 1+9",
        "14 May 2031", "270 × 180 mm", "burn +", "sky, upper third", "+1/2 stop", "dodge −", "the boats", "−3 s",
        "Washed an hour.",
    ):  # fmt: skip
        assert value in said, value
    assert card_words(client, f"{CARD}?record={latest.id}") == said
    older = card_words(client, f"{CARD}?record={earlier.id}")
    assert "77.25 s" in older and "2030" in older and "Tarnow" not in older
    assert client.get(f"{CARD}?record={other.id}").status_code == 404  # of another frame
    with here.session() as session:
        set_units(session, Units(length="inch"))
    assert "16.22 in" in card_words(client, CARD)  # 412 / 25.4 = 16.2205
    assert "10.63 × 7.087 in" in card_words(client, CARD)


TYPED = {
    "enlarger": "Tarnow 67", "column": "16,25", "width": "10", "height": "8", "base_time": "18,5", "printed": "2031-05",
    "kind:1": "burn", "where:1": "sky", "change:1": "+1/2 stop", "area:1": "0 0 100 33,5", "kind:5": "dodge", "where:5": "boat",
    "notes": "<b>wet</b>",
}  # fmt: skip


def test_the_form_keeps_a_print_in_the_persons_units_and_the_page_shows_it(client: TestClient, here: Archive) -> None:
    with here.session() as session:
        set_units(session, Units(length="inch"))
    assert client.post(f"{FORMS}/prints", data=TYPED).headers["location"] == f"{FORMS}#prints"
    with here.session(reading=True) as session:
        (made,) = prints_of_frame(session, NUMBER, "7")
    assert (made.height_mm, made.size_mm, made.base_time_s) == (pytest.approx(412.75), pytest.approx((254, 203.2)), 18.5)
    assert [(m.kind, m.where, m.area) for m in made.marks] == [("burn", "sky", (0, 0, 1, 0.335)), ("dodge", "boat", None)]
    page = client.get(FORMS).text
    for value in (
        "16.25 in",
        "10 × 8 in",
        "18.5 s",
        "May 2031",
        "burn + sky, +1/2 stop, 100 × 33.5 % from 0 %, 0 %",
        "dodge − boat",
    ):
        assert value in page, value
    assert "&lt;b&gt;wet&lt;/b&gt;" in page and "<b>wet" not in page
    assert f'href="{CARD}?record={made.id}"' in page
    assert re.search(r'<th scope="row">\+1/3</th><td>23\.3 s \(\+4\.8 s\)</td>', page)
    said = client.post(f"/print-records/{made.id}", data={"do": "height", "column": "32.5"}).text
    assert "At a height of 32.5 in instead of 16.25 in: 74 s instead of 18.5 s (+2.0 stops)" in said
    said = client.post(f"/print-records/{made.id}", data={"do": "size", "width": "5", "height": "4"}).text
    assert "At 5 × 4 in, 4.2 times instead of 8.5" in said  # 203.2 / 24 = 8.47 as the paper is filled
    assert client.post(f"/print-records/{made.id}", data={"do": "take back"}).headers["location"] == f"{FORMS}#prints"
    assert "None is recorded yet" in client.get(FORMS).text


def test_the_form_refuses_with_a_sentence_and_keeps_what_was_typed(refusing: TestClient) -> None:
    for change, words in (
        ({"base_time": "long"}, "“long” is not a number"),
        ({"base_time": "0"}, "time of 0 s"),
        ({"width": ""}, "both its width and its height"),
        ({"kind:5": ""}, "row 5, “boat”, is a burn or a dodge"),
        ({"kind:5": "bleach"}, "row 5"),
        ({"area:1": "0 0 100"}, "“0 0 100” in row 1 isn&#39;t four numbers"),
        ({"area:1": "0 0 100 nan"}, "“nan” is not a number"),
        ({"area:1": "50 0 100 10"}, "burn at 50 %, 0 % measuring 100 × 10 %"),
        ({"printed": "yesterday"}, "“yesterday” is not a date"),
        ({"paper": "x" * 200}, "Paper: "),
    ):
        typed = TYPED | change
        answer = refusing.post(f"{FORMS}/prints", data=typed)
        assert answer.status_code == 422, change
        assert words in answer.text, change
        for name, value in typed.items():
            if not name.startswith("kind") and name != "notes":
                assert f'name="{name}" value="{value}"' in answer.text, (change, name)
    assert "None is recorded yet" in refusing.get(FORMS).text
    assert refusing.get(f"{FORMS}/prints").headers["location"] == FORMS
    empty = refusing.post(f"{FORMS}/prints", data={})
    assert (empty.status_code, "Nothing is written about this print" in empty.text) == (422, True)


def test_what_was_written_before_is_offered_again(client: TestClient, here: Archive) -> None:
    with here.session() as session:
        record_print(session, NUMBER, "1", PrintInput(enlarger="Tarnow 67", paper="Corvane fibre"))
        record_print(session, NUMBER, "1", PrintInput(enlarger="Adel 45", marks=[MarkInput(kind="burn")]))
    page = client.get(FORMS).text
    lists = re.search(r'<datalist id="known-enlarger">(.*?)</datalist>', page)
    assert lists and re.findall(r'value="(.*?)"', lists[1]) == ["Adel 45", "Tarnow 67"]
    assert [a < b for a, b in pairwise((page.index('id="choice"'), page.index('id="prints"'), page.index("<h2>Scans</h2>")))] == [
        True, True
    ]  # fmt: skip
