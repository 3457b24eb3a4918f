"""The archive's own page: name, numbers, units, gaps; own sleeve pages and formats added by measuring."""

from collections.abc import Iterator

import pytest
from builders import registered
from fastapi.testclient import TestClient

from api.app import create_app
from catalogue.own_shapes import own_formats, own_layouts
from catalogue.rolls.change import get_roll
from catalogue.rolls.number import next_roll_number
from catalogue.settings import archive_name
from catalogue.sleeves.layouts import find_layout
from catalogue.store.engine import Archive

PAGE = {
    "name": "Tall six", "rows": "6", "columns": "1", "page_width": "260", "page_height": "320", "slot_length": "234",
    "slot_width": "37", "row_pitch": "41,5", "column_pitch": "", "first_x": "18", "first_y": "40", "index_x": "18",
    "index_y": "5", "index_width": "230", "index_height": "30", "ring_side": "left", "first_frame_at": "ring",
    "gauges": "135", "material": "polypropylene",
}  # fmt: skip
FORMAT = {
    "name": "35 mm, 24 × 30", "kind": "strip", "gauge": "135", "gauge_width": "35", "frame_along": "30",
    "frame_across": "24", "pitch": "32", "exposures": "43",
}  # fmt: skip


@pytest.fixture
def client(archive: Archive) -> Iterator[TestClient]:
    app = create_app(archive.folder)
    with TestClient(app, follow_redirects=False) as opened:
        yield opened


def test_the_name_goes_on_the_sheets(client: TestClient, archive: Archive) -> None:
    assert client.post("/archive", data={"do": "name", "name": " Alder  house "}).status_code == 303
    with archive.session(reading=True) as session:
        assert archive_name(session) == "Alder house"
    refused = client.post("/archive", data={"do": "name", "name": "  "})
    assert refused.status_code == 422
    assert "1 to 80 characters" in refused.text


def test_the_pattern_numbers_the_next_roll(client: TestClient, archive: Archive) -> None:
    assert client.post("/archive", data={"do": "pattern", "pattern": "H{number:04}"}).status_code == 303
    with archive.session(reading=True) as session:
        assert next_roll_number(session) == "H0001"
    refused = client.post("/archive", data={"do": "pattern", "pattern": "always this"})
    assert refused.status_code == 422
    assert "not a pattern" in refused.text
    assert 'value="always this"' in refused.text


def test_a_gap_is_kept_and_its_number_never_issued(client: TestClient) -> None:
    assert client.post("/archive", data={"do": "gap", "number": "2031-003", "reason": "blank"}).status_code == 303
    assert "2031-003" in client.get("/archive").text
    twice = client.post("/archive", data={"do": "gap", "number": "2031-003", "reason": "blank"})
    assert (twice.status_code, "issued before" in twice.text) == (422, True)


def test_units_change_what_is_read_and_typed_not_what_is_stored(client: TestClient, archive: Archive) -> None:
    with archive.session() as session:
        registered(session, 6, number="2031-001")
    client.post("/archive", data={"do": "units", "length": "inch", "temperature": "°F", "volume": "US quart"})
    shown = client.post("/register/plan", data={"format": "135-24x36", "frames": "1-6", "where": "new", "layout": "135-7x6"})
    assert "9.0 in" in shown.text  # six frames at 38 mm are 228 mm
    assert client.post("/rolls/2031-001", data={"do": "process", "temperature": "68"}).status_code == 303
    with archive.session(reading=True) as session:
        process = get_roll(session, "2031-001").process
        assert process is not None
        assert process.temperature_c == 20  # 68 °F
    assert 'value="68"' in client.get("/rolls/2031-001").text
    assert client.post("/archive", data={"do": "units", "length": "ell"}).status_code == 422


def test_an_own_page_is_looked_at_then_kept(client: TestClient, archive: Archive) -> None:
    form = client.get("/archive/pages?like=135-7x6").text
    assert 'value="234"' in form
    with archive.session() as other:  # somebody else writes: looking waits for nobody
        other.connection()
        seen = client.post("/archive/pages", data={**PAGE, "do": "look"})
    assert seen.text.count('class="slot"') == 6
    assert "6 of 35 mm 24 × 36" in seen.text
    with archive.session(reading=True) as session:
        assert own_layouts(session) == ()
    assert client.post("/archive/pages", data={**PAGE, "do": "keep"}).status_code == 303
    with archive.session() as session:
        (kept,) = own_layouts(session)
        assert (kept.key, kept.row_pitch_mm, kept.page.height) == ("own-tall-six", 41.5, 320)
        assert registered(session, 36, layout=kept.key).strips[-1].slot == 6


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"page_height": "200"}, "slot 4 would reach"),
        ({"row_pitch": "30"}, "overlap"),
        ({"slot_length": ""}, "Measure this too: slot, length"),
        ({"slot_length": "long"}, "not a number"),
        ({"rows": "²"}, "whole number"),
        ({"name": "!!"}, "Give it a name"),
        ({"index_height": "60"}, "index area"),
    ],
)
def test_an_impossible_page_is_refused_and_what_was_typed_stays(
    client: TestClient, archive: Archive, change: dict[str, str], words: str
) -> None:
    answer = client.post("/archive/pages", data={**PAGE, **change, "do": "keep"})
    assert answer.status_code == 422
    assert words in answer.text
    assert 'value="41,5"' in answer.text or "row_pitch" in change
    with archive.session(reading=True) as session:
        assert own_layouts(session) == ()


def test_measures_are_typed_in_inches_where_inches_are_set(client: TestClient, archive: Archive) -> None:
    client.post("/archive", data={"do": "units", "length": "inch", "temperature": "°C", "volume": "ml"})
    inches = {k: f"{float(v.replace(',', '.')) / 25.4:.4f}" for k, v in PAGE.items() if "_" in k and v[:1].isdigit()}
    assert client.post("/archive/pages", data={**PAGE, **inches, "do": "keep"}).status_code == 303
    with archive.session(reading=True) as session:
        assert own_layouts(session)[0].slot_length_mm == pytest.approx(234, abs=0.01)


def test_an_own_format_is_kept_and_takes_its_page(client: TestClient, archive: Archive) -> None:
    assert client.post("/archive/formats", data=FORMAT).status_code == 303
    with archive.session() as session:
        (kept,) = own_formats(session)
        assert (kept.frame_along_mm, kept.pitch_mm, kept.usual_exposures) == (30, 32, (43,))
        # 234 mm hold seven frames at a pitch of 32 mm
        assert find_layout("135-7x6").frames_per_slot(kept) == 7
        assert len(registered(session, 43, format=kept.key).strips[0].labels) == 7
    again = client.post("/archive/formats", data=FORMAT)
    assert (again.status_code, "already" in again.text) == (422, True)
    wide = client.post("/archive/formats", data={**FORMAT, "name": "Wide", "frame_across": "40"})
    assert (wide.status_code, "can&#39;t lie on film" in wide.text) == (422, True)


def test_a_roll_is_renumbered_and_a_strip_gets_a_day_to_be_back(client: TestClient, archive: Archive) -> None:
    with archive.session() as session:
        strip = registered(session, 6, number="2031-001").strips[0].id
    out = client.post("/rolls/2031-001", data={"do": "out", "strip": str(strip), "why": "printing", "due": "2031-11-30"})
    assert out.status_code == 303
    assert "due back 30 November 2031" in client.get("/rolls/2031-001").text
    odd = client.post("/rolls/2031-001", data={"do": "out", "strip": str(strip), "why": "printing", "due": "soon"})
    assert odd.status_code == 422
    moved = client.post("/rolls/2031-001", data={"do": "renumber", "new_number": "2031-001a"})
    assert (moved.status_code, moved.headers["location"]) == (303, "/rolls/2031-001a")
    assert "Former number: 2031-001" in client.get("/rolls/2031-001a").text


def test_a_page_carries_a_note_and_a_page_of_no_kind_is_refused_on_its_form(client: TestClient, archive: Archive) -> None:
    with archive.session() as session:
        page = registered(session, 6).page_ids[0]
    assert client.post(f"/pages/{page}/hang", data={"how": "note", "notes": "Seam torn at slot 3"}).status_code == 303
    assert 'value="Seam torn at slot 3"' in client.get(f"/pages/{page}").text
    odd = client.post("/binders/1/pages", data={"layout": "no such page"})
    assert (odd.status_code, "not a sleeve page known here" in odd.text, "Add an empty page" in odd.text) == (422, True, True)
