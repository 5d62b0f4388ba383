"""Half-sent requests: closed in time, counted by address, and never in the way of this machine."""

from __future__ import annotations

import http.client
import socket
import threading
import time
from collections.abc import Iterator

import pytest
import uvicorn

from goodlength.web.http import connection_limits
from goodlength.web.http.connection_limits import Listening, OpenConnections, TimedProtocol
from goodlength.web.server_sockets import bind_socket

HALF = b"GET / HTTP/1.1\r\nHost: 127.0.0.1\r\n"


async def _app(scope: object, receive: object, send: object) -> None:
    await send({"type": "http.response.start", "status": 200, "headers": [(b"content-length", b"2")]})  # type: ignore[operator]
    await send({"type": "http.response.body", "body": b"ok"})  # type: ignore[operator]


@pytest.fixture
def listening(monkeypatch: pytest.MonkeyPatch) -> Iterator[Listening]:
    """A small page of its own, where 127.0.0.2 stands for the network."""
    monkeypatch.setattr(connection_limits, "ASSUMED_HEADERS_S", 0.6)
    made = bind_socket(None)
    assert isinstance(made, Listening)
    made.connections = OpenConnections(400, lambda address: address == "127.0.0.1")
    config = uvicorn.Config(_app, http=TimedProtocol, log_level="error", lifespan="off", ws="none")
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, args=([made],), daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield made
    server.should_exit = True
    thread.join(10)


def half_sent(port: int, many: int, address: str) -> list[socket.socket]:
    made = []
    for _ in range(many):
        item = socket.create_connection(("127.0.0.1", port), timeout=5, source_address=(address, 0))
        made.append(item)
        item.sendall(HALF)
    return made


def still_open(made: list[socket.socket]) -> int:
    count = 0
    for item in made:
        item.setblocking(False)
        try:
            count += item.recv(1) != b""
        except BlockingIOError:
            count += 1
        except OSError:
            pass
    return count


def answered(port: int) -> bool:
    page = http.client.HTTPConnection("127.0.0.1", port, timeout=3)
    try:
        page.request("GET", "/")
        return page.getresponse().status == 200
    finally:
        page.close()


def test_half_sent_requests_are_counted_and_closed_and_this_machine_is_answered(listening: Listening) -> None:
    port = listening.getsockname()[1]
    made = half_sent(port, 60, "127.0.0.2")
    try:
        time.sleep(0.1)
        assert still_open(made) == connection_limits.ASSUMED_AN_ADDRESS
        assert answered(port)
        time.sleep(1.0)
        assert still_open(made) == 0  # their time is over
        again = half_sent(port, 1, "127.0.0.2")
        assert still_open(again) == 1  # and their places are free again
        made += again
    finally:
        for item in made:
            item.close()


def test_a_second_request_half_sent_is_closed_too(listening: Listening) -> None:
    with socket.create_connection(listening.getsockname(), timeout=5) as item:
        item.sendall(HALF + b"\r\n")
        assert b"200 OK" in item.recv(1000)
        item.sendall(HALF)
        began = time.monotonic()
        while item.recv(1000):
            pass
        assert time.monotonic() - began < 2.0


def test_addresses_together_leave_a_reserve() -> None:
    held = OpenConnections(100, lambda address: address == "127.0.0.1")
    assert sum(held.admit(f"10.0.0.{n % 200}") for n in range(1100)) == 50
    assert sum(held.admit("127.0.0.1") for _ in range(1100)) == 25
    held.release("10.0.0.1")
    assert held.admit("10.0.0.7")
    assert not held.admit("10.0.0.8")
