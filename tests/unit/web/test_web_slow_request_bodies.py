"""Bodies sent slowly, or broken off: a time limit, an answer in words, and nothing on the console."""

from __future__ import annotations

import logging
import socket
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
import uvicorn

from goodlength.web import create_app
from goodlength.web.http import host_origin_and_body_size_guard
from goodlength.web.http.connection_limits import TimedProtocol
from goodlength.web.server_sockets import bind_socket


@pytest.fixture
def port(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[int]:
    monkeypatch.setattr(host_origin_and_body_size_guard, "ASSUMED_BODY_S", 0.5)
    monkeypatch.setattr(host_origin_and_body_size_guard, "ASSUMED_PAUSE_S", 0.5)
    app = create_app(tmp_path / "lib")
    made = bind_socket(None)
    config = uvicorn.Config(app, http=TimedProtocol, log_level="warning", lifespan="on", ws="none")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, args=([made],), daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield made.getsockname()[1]
    server.should_exit = True
    thread.join(10)


def begun(port: int, path: str, length: str, body: bytes) -> socket.socket:
    made = socket.create_connection(("127.0.0.1", port), timeout=5)
    head = f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{port}\r\n{length}\r\n"
    kind = "Content-Type: application/x-www-form-urlencoded\r\n\r\n"
    made.sendall((head + kind).encode() + body)
    return made


@pytest.mark.parametrize(
    ("path", "length", "body"),
    [
        ("/players", "Content-Length: 100", b"name=A"),
        ("/players", "Transfer-Encoding: chunked", b"6\r\nname=A\r\n"),
        ("/api/matches/m1/entries", "Content-Length: 100", b"["),
        ("/matches/import", "Content-Length: 100", b"x"),
        ("/players", "Content-Length: 100", b""),
    ],
)
def test_a_body_that_does_not_come_is_not_waited_for(
    port: int, caplog, path: str, length: str, body: bytes
) -> None:
    with begun(port, path, length, body) as sent, caplog.at_level(logging.WARNING):
        got = b""
        while more := sent.recv(65536):  # until the connection is closed
            got += more
        assert got.startswith(b"HTTP/1.1 408")
        assert b"took too long" in got
    assert caplog.records == []


def test_one_letter_now_and_then_is_too_slow_too(port: int) -> None:
    with begun(port, "/players", "Content-Length: 100", b"") as sent, pytest.raises(OSError):
        for _ in range(30):
            sent.sendall(b"a")
            time.sleep(0.1)
            sent.setblocking(False)
            try:
                if sent.recv(65536).startswith(b"HTTP/1.1 408"):
                    raise ConnectionError
            except BlockingIOError:
                pass
            sent.setblocking(True)


def test_a_slow_upload_goes_on_as_long_as_something_comes(port: int, tmp_path: Path) -> None:
    path = "/matches/none/footage/upload?name=a.mp4"
    with begun(port, "/api" + path, "Content-Length: 100000", b"") as sent:
        assert sent.recv(65536).startswith(b"HTTP/1.1 404")  # no such match


@pytest.mark.parametrize("path", ["/players", "/api/matches/m1/entries", "/matches/import"])
def test_a_broken_off_body_is_no_mistake_of_ours(port: int, caplog, path: str) -> None:
    with caplog.at_level(logging.WARNING):
        for length in ("Content-Length: 100", "Transfer-Encoding: chunked"):
            begun(port, path, length, b"6\r\nname=A\r\n").close()
        time.sleep(0.5)
    assert [(record.name, record.getMessage()) for record in caplog.records] == []


def test_a_body_over_the_limit_without_a_length_is_no_mistake_of_ours(port: int, caplog) -> None:
    with (
        begun(port, "/api/matches/m1/entries", "Transfer-Encoding: chunked", b"") as sent,
        caplog.at_level(logging.WARNING),
    ):
        block = b"100000\r\n" + b"a" * 0x100000 + b"\r\n"
        try:
            for _ in range(4):
                sent.sendall(block)
        except OSError:
            pass
        assert sent.recv(65536).startswith(b"HTTP/1.1 413")
    assert caplog.records == []
