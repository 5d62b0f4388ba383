"""Who may ask: hosts, origins, headers, sizes."""

from __future__ import annotations

import pytest
from starlette.testclient import TestClient

from goodlength.web.http.host_origin_and_body_size_guard import FORM_LIMIT_BYTES


@pytest.mark.parametrize("host", ["127.0.0.1:8765", "localhost:8765", "[::1]:8765", "localhost"])
def test_the_page_answers_to_this_machine(client: TestClient, host: str) -> None:
    assert client.get("/matches", headers={"host": host}).status_code == 200


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1.evil.example", "evil.example:8765", "[::1", ""])
def test_a_strangers_name_for_this_machine_is_refused(client: TestClient, host: str) -> None:
    answer = client.get("/matches", headers={"host": host})
    assert answer.status_code == 400
    assert "does not answer to the name" in answer.json()["error"]["words"]


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"origin": "http://127.0.0.1:8765"}, 200),
        ({}, 200),
        ({"sec-fetch-site": "same-origin"}, 200),
        ({"origin": "http://evil.example"}, 403),
        ({"origin": "null"}, 403),
        ({"origin": "http://127.0.0.1:9999"}, 403),
        ({"origin": "https://127.0.0.1:8765"}, 403),
        ({"sec-fetch-site": "cross-site"}, 403),
        ({"sec-fetch-site": "same-site"}, 403),
    ],
)
def test_another_page_cannot_change_anything(
    client: TestClient, headers: dict[str, str], status: int
) -> None:
    answer = client.post("/api/settings/room", json={"room": "dim"}, headers=headers)
    assert answer.status_code == status
    dim = 'data-theme="dim"' in client.get("/settings").text
    assert dim is (status == 200)


def test_reading_is_not_held_to_an_origin(client: TestClient) -> None:
    assert client.get("/matches", headers={"origin": "http://evil.example"}).status_code == 200


@pytest.mark.parametrize(
    "path", ["/matches", "/nowhere", "/static/css/base/tokens.css", "/api/matches/none/sheet"]
)
def test_every_answer_carries_the_headers(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    policy = headers["content-security-policy"]
    assert "default-src 'self'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "same-origin"


def test_a_refusal_carries_them_too(client: TestClient) -> None:
    headers = client.get("/matches", headers={"host": "evil.example"}).headers
    assert headers["x-content-type-options"] == "nosniff"


def test_a_body_over_the_limit_is_refused_by_its_length(client: TestClient) -> None:
    answer = client.post("/api/settings/room", content=b"x" * (FORM_LIMIT_BYTES + 1))
    assert answer.status_code == 413
    assert "2 MB" in answer.json()["error"]["words"]


def test_a_body_that_hides_its_length_is_refused_while_it_comes(client: TestClient) -> None:
    chunks = (b"x" * 100_000 for _ in range(FORM_LIMIT_BYTES // 100_000 + 2))
    answer = client.post("/api/settings/room", content=chunks, headers={"content-type": "application/json"})
    assert answer.status_code == 413


@pytest.mark.parametrize(
    "path",
    ["/static/../guard.py", "/static/%2e%2e/guard.py", "/static/..%2fguard.py", "/static//etc/hostname"],
)
def test_static_files_end_at_their_folder(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404


def test_json_sent_as_text_is_not_read(client: TestClient) -> None:
    answer = client.post(
        "/api/settings/room", content='{"room": "dim"}', headers={"content-type": "text/plain"}
    )
    assert answer.status_code == 422


def test_interactive_docs_that_would_load_from_elsewhere_are_off(client: TestClient) -> None:
    assert client.get("/docs").status_code == 404
    assert client.get("/redoc").status_code == 404
    assert client.get("/openapi.json").status_code == 200


@pytest.mark.parametrize("path", ["/players/upload", "/api/matches/m1/review/upload"])
def test_an_id_called_upload_lifts_no_limit(client: TestClient, path: str) -> None:
    assert client.post(path, content=b"x" * (FORM_LIMIT_BYTES + 1)).status_code == 413
