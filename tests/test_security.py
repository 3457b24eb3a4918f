"""What the service turns away: other hosts, writes from other sites, bodies that are too large."""

import asyncio
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from api.app import create_app
from api.security import Guard, names_for

LIMIT = 2_200_000  # above the bound of 2 MB, however a megabyte is counted


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    app = create_app(tmp_path / "archive")
    with TestClient(app, base_url="http://127.0.0.1:8000") as client:
        yield client
    app.state.archive.close()


def names(client: TestClient) -> list[str]:
    return [b["name"] for b in client.get("/api/binders").json()]


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("127.0.0.1:8000", 200),
        ("localhost", 200),
        ("LOCALHOST:9", 200),
        ("[::1]:8000", 200),
        ("elsewhere.example", 400),
        ("127.0.0.1.elsewhere.example:8000", 400),
        ("localhost.elsewhere.example", 400),
    ],
)
def test_only_its_own_names_are_answered(client: TestClient, host: str, status: int) -> None:
    assert client.get("/api/health", headers={"Host": host}).status_code == status


@pytest.mark.parametrize(
    ("listening", "host", "status"),
    [
        ("0.0.0.0", "192.0.2.7:8000", 200),  # documentation addresses of RFC 5737 and RFC 3849
        ("0.0.0.0", "[2001:db8::7]:8000", 200),
        ("0.0.0.0", "elsewhere.example", 400),
        ("192.0.2.7", "192.0.2.7:8000", 200),
        ("192.0.2.7", "192.0.2.8:8000", 400),
        ("::1", "[::1]:8000", 200),
        ("2001:db8::7", "[2001:db8::7]:8000", 200),
    ],
)
def test_a_service_in_the_network_answers_to_its_addresses(tmp_path: Path, listening: str, host: str, status: int) -> None:
    app = create_app(tmp_path / "archive", hosts=names_for(listening))
    with TestClient(app, base_url="http://127.0.0.1:8000") as client:
        assert client.get("/api/health", headers={"Host": host}).status_code == status


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({}, 201),  # a script sends neither header
        ({"Sec-Fetch-Site": "same-origin"}, 201),
        ({"Sec-Fetch-Site": "none"}, 201),
        ({"Sec-Fetch-Site": "cross-site"}, 403),
        ({"Sec-Fetch-Site": "same-site"}, 403),
        ({"Origin": "http://127.0.0.1:8000"}, 201),
        ({"Origin": "http://127.0.0.1:9000"}, 403),
        ({"Origin": "https://elsewhere.example"}, 403),
        ({"Origin": "null"}, 403),
    ],
)
def test_writes_come_from_its_own_pages_only(client: TestClient, headers: dict[str, str], status: int) -> None:
    """Header meanings after the W3C drafts Fetch Metadata and Fetch, from memory."""
    answer = client.post("/api/binders", json={"name": "Binder 1"}, headers=headers)
    assert answer.status_code == status
    assert names(client) == (["Binder 1"] if status == 201 else [])


def test_every_answer_has_the_protecting_headers(client: TestClient) -> None:
    refused = client.get("/api/health", headers={"Host": "elsewhere.example"})
    for answer in (client.get("/api/health"), client.get("/api/nowhere"), refused):
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert "default-src 'self'" in answer.headers["content-security-policy"]
        assert "unsafe" not in answer.headers["content-security-policy"]
        assert answer.headers["referrer-policy"] in ("no-referrer", "same-origin")


def test_a_body_too_large_is_refused_in_one_sentence(client: TestClient) -> None:
    body = b'{"name": "' + b"x" * LIMIT + b'"}'
    answer = client.post("/api/binders", content=body, headers={"Content-Type": "application/json"})
    assert answer.status_code == 413
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["detail"]
    assert names(client) == []


def refused_after(chunks: Iterator[bytes], headers: list[tuple[bytes, bytes]]) -> tuple[int, int]:
    """Sends chunks to the guard; gives the status and how many were read."""
    read, statuses = 0, []

    async def receive() -> dict[str, object]:
        nonlocal read
        read += 1
        return {"type": "http.request", "body": next(chunks), "more_body": True}

    async def send(message: dict[str, object]) -> None:  # type: ignore[misc]
        if message["type"] == "http.response.start":
            statuses.append(message["status"])

    async def inner(*_given: object) -> None:
        raise AssertionError("the request went through")

    scope = {
        "type": "http", "method": "POST", "path": "/api/binders", "query_string": b"",
        "headers": [(b"host", b"localhost"), *headers],
    }  # fmt: skip
    # In a thread of its own: while a browser test's session lasts, this one has a running loop already.
    with ThreadPoolExecutor(1) as apart:
        apart.submit(asyncio.run, Guard(inner, ("localhost",))(scope, receive, send)).result()  # type: ignore[arg-type]
    return statuses[0], read


def test_a_gigabyte_announced_is_not_read_at_all() -> None:
    assert refused_after(iter(lambda: b"x", b""), [(b"content-length", b"1073741824")]) == (413, 0)


def test_an_endless_chunked_body_is_read_to_the_bound_and_no_further() -> None:
    status, read = refused_after(iter(lambda: b"x" * 100_000, b""), [(b"transfer-encoding", b"chunked")])
    assert status == 413
    assert read <= LIMIT // 100_000


@pytest.mark.parametrize("length", [b"many", b"\xb2", b"9" * 5000, b"-1"])
def test_a_length_that_is_no_number_is_refused(length: bytes) -> None:
    status, read = refused_after(iter(lambda: b"x", b""), [(b"content-length", length)])
    assert status in (400, 413)
    assert read == 0
