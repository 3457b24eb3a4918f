"""The JSON service from outside: what a script can rely on."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from api.app import create_app


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    app = create_app(tmp_path / "archive")
    with TestClient(app) as client:
        assert client.post("/api/binders", json={"name": "Binder 1"}).status_code == 201
        yield client
    app.state.archive.close()


def registered(client: TestClient, **more: object) -> dict:  # type: ignore[type-arg]
    body = {
        "number": "2031-014",
        "format": "135-24x36",
        "frames": "00-23, 23A, 24-36A",
        "layout": "135-7x6",
        "binder": "Binder 1",
    }
    answer = client.post("/api/rolls", json=body | more)
    assert answer.status_code == 201, answer.text
    return answer.json()


def test_health_formats_and_layouts(client: TestClient) -> None:
    assert client.get("/api/health").json()["status"] == "ok"
    assert "120-6x6" in {f["key"] for f in client.get("/api/formats").json()}
    assert "135-7x5" in {x["key"] for x in client.get("/api/layouts").json()}


@pytest.mark.parametrize(
    ("format", "layout", "frames", "counts"),
    [
        ("120-6x6", "120-6x6", 12, [3, 3, 3, 3]),
        ("120-6x4.5", "120-6x4.5", 16, [4, 4, 4, 4]),
        ("135-24x36", "135-7x6", "1-36", [6, 6, 6, 6, 6, 6]),
    ],
)
def test_a_cut_plan_stores_nothing(client: TestClient, format: str, layout: str, frames: object, counts: list[int]) -> None:
    answer = client.post("/api/cut-plan", json={"format": format, "layout": layout, "frames": frames})
    plan = answer.json()
    assert [len(s["frames"]) for s in plan["strips"]] == counts
    assert [(s["page"], s["slot"]) for s in plan["strips"]] == [(1, n + 1) for n in range(len(counts))]
    assert plan["explanation"]
    assert plan["fits"] is True
    assert client.get("/api/rolls").json() == []
    assert client.get("/api/binders").json()[0]["pages"] == []


def test_a_cut_plan_says_what_does_not_fit_on_one_page(client: TestClient) -> None:
    body = {"format": "135", "layout": "135-7x5", "frames": "1-36", "one_page": True}
    plan = client.post("/api/cut-plan", json=body).json()
    assert plan["fits"] is False
    assert len(plan["left_over"]) == 1  # seven slots of five hold 35
    assert plan["choices"]


def test_a_roll_is_registered_filed_and_found(client: TestClient) -> None:
    roll = registered(client, captions={"23A": "Fähre im Nebel"}, process={"process": "C-41"})
    assert roll["number"] == "2031-014"
    assert roll["strips"][0]["labels"][0] == "00"
    for q in ("2031-014 23A", "2031-014/23A", "14 23a"):
        hit = client.get("/api/find", params={"q": q}).json()["hits"][0]
        assert (hit["kind"], hit["roll"], hit["frame"]) == ("frame", "2031-014", "23A")
        assert {"binder", "page", "slot", "place", "words"} <= hit["address"].keys()
        assert hit["address"]["words"].startswith("Binder 1, page 1, ")
    assert client.get("/api/find", params={"q": "fahre"}).json()["hits"][0]["frame"] == "23A"


def test_a_page_can_be_turned_and_re_punched(client: TestClient) -> None:
    page_id = registered(client, frames="1-36")["page_ids"][0]
    upright = client.get(f"/api/pages/{page_id}").json()
    assert upright["turned"] is False
    turned = client.patch(f"/api/pages/{page_id}", json={"turned": True, "ring_side": "right"}).json()
    assert (turned["turned"], turned["ring_side"]) == (True, "right")
    slots = [{f["frame"]: f["slot"] for f in page["frames"]} for page in (upright, turned)]
    assert slots[0]["1"] == 1
    assert slots[1]["1"] == 7  # of seven slots, the top one is the lowest when the page hangs head to foot


def test_strips_move_turn_go_out_and_come_back(client: TestClient) -> None:
    roll = registered(client, frames="1-12")
    strip, page_id = roll["strips"][0], roll["page_ids"][0]
    path = f"/api/strips/{strip['id']}"
    assert client.post(f"{path}/move", json={"page_id": page_id, "slot": 7}).json()["slot"] == 7
    assert client.post(f"{path}/turn", json={"upside_down": True}).json()["upside_down"] is True
    assert client.post(f"{path}/out", json={"reason": "printing"}).json()["out"] is True
    assert "printing" in client.get("/api/find", params={"q": "2031-014 1"}).json()["hits"][0]["address"]["words"]
    assert client.post(f"{path}/back").json()["out"] is False


def test_what_is_known_can_be_changed_and_a_number_replaced(client: TestClient) -> None:
    registered(client)
    assert client.patch("/api/rolls/2031-014", json={"exposed": "2031-05~"}).json()["exposed"] == "2031-05~"
    frame = client.patch("/api/rolls/2031-014/frames/36A", json={"caption": "Last light"}).json()
    assert frame["caption"] == "Last light"
    client.put("/api/rolls/2031-014/process", json={"developer": "Own mix", "time_s": 480})
    assert client.get("/api/rolls/2031-014").json()["process"]["time_s"] == 480
    renumbered = client.post("/api/rolls/2031-014/renumber", json={"number": "2031-020"}).json()
    assert renumbered["former_numbers"] == ["2031-014"]
    assert client.get("/api/rolls/2031-014").json()["number"] == "2031-020"


def test_pdfs_are_pdfs(client: TestClient) -> None:
    page_id = registered(client)["page_ids"][0]
    for path in (
        "/api/rolls/2031-014/contact-sheet.pdf?paper=A4&fit=two sheets",
        f"/api/pages/{page_id}/contact-sheet.pdf?paper=A3",
        f"/api/pages/{page_id}/label.pdf",
    ):
        answer = client.get(path)
        assert answer.status_code == 200, answer.text
        assert answer.headers["content-type"] == "application/pdf"
        assert answer.content.startswith(b"%PDF-")


def test_problems_are_problem_details(client: TestClient) -> None:
    """RFC 9457: type, title, status and detail, sent as application/problem+json."""
    registered(client)
    answers = [
        (404, client.get("/api/rolls/1999-001")),
        (404, client.get("/api/nowhere")),
        (404, client.get("/api/pages/999")),
        (405, client.delete("/api/health")),
        (409, client.post("/api/binders", json={"name": "binder 1"})),
        (409, client.post("/api/rolls", json={"number": "2031-014", "binder": "Binder 1"})),
        (422, client.post("/api/cut-plan", json={"format": "135"})),
        (422, client.get("/api/find", params={"year": "soon"})),
    ]
    for status, answer in answers:
        assert answer.status_code == status, answer.text
        assert answer.headers["content-type"] == "application/problem+json"
        problem = answer.json()
        assert problem.keys() == {"type", "title", "status", "detail"}
        assert problem["status"] == status
        assert len(problem["detail"]) > 5


def test_the_schema_lists_every_promised_endpoint(client: TestClient) -> None:
    paths = client.get("/api/openapi.json").json()["paths"]
    promised = {
        "/api/health": "get",
        "/api/formats": "get",
        "/api/layouts": "get",
        "/api/binders": "post",
        "/api/binders/{binder_id}/pages": "post",
        "/api/cut-plan": "post",
        "/api/rolls": "post",
        "/api/rolls/{number}": "get",
        "/api/rolls/{number}/scans": "post",
        "/api/pages/{page_id}": "get",
        "/api/find": "get",
        "/api/rolls/{number}/contact-sheet.pdf": "get",
        "/api/pages/{page_id}/label.pdf": "get",
    }
    assert not {path for path, method in promised.items() if method not in paths.get(path, {})}
