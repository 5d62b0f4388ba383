"""Listening: this machine only, a stable port, and words when a port cannot be had."""

from __future__ import annotations

import io
import socket

import pytest

from goodlength.errors import InputError
from goodlength.web import server, server_sockets
from goodlength.web.http.passcode_sessions import Sharing


def test_it_listens_on_this_machine_only_and_without_waiting_for_fuller_packets() -> None:
    listening = server_sockets.bind_socket(None)
    try:
        assert listening.getsockname()[0] == "127.0.0.1"
        assert listening.proto == socket.IPPROTO_TCP  # else asyncio leaves the 40 ms wait on
    finally:
        listening.close()


def test_a_taken_port_is_told_and_the_usual_one_gives_way(monkeypatch: pytest.MonkeyPatch) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(InputError, match=str(port)):
            server_sockets.bind_socket(port)
        monkeypatch.setattr(server_sockets, "USUAL_PORT", port)
        other = server_sockets.bind_socket(0)
        assert other.getsockname()[1] != port
        other.close()


@pytest.mark.parametrize("port", [70_000, -1])
def test_a_port_that_cannot_be_is_told(port: int) -> None:
    with pytest.raises(InputError, match="1024 to 65535"):
        server_sockets.bind_socket(port)


def test_a_port_is_never_shared_on_windows(monkeypatch: pytest.MonkeyPatch) -> None:
    """There SO_REUSEADDR lets two programs take one port (simulated: the option has another number there)."""
    set_options: list[tuple[int, int, int]] = []

    class Recorded:
        def setsockopt(self, level: int, option: int, value: int) -> None:
            set_options.append((level, option, value))

    monkeypatch.setattr(socket, "SO_EXCLUSIVEADDRUSE", ~socket.SO_REUSEADDR, raising=False)
    server_sockets.own_the_port(Recorded())  # type: ignore[arg-type]
    assert set_options == [(socket.SOL_SOCKET, ~socket.SO_REUSEADDR, 1)]


@pytest.mark.parametrize("encoding", ["cp1252", "cp437", "ascii", "utf-8"])
def test_address_and_code_are_printed_on_any_console(monkeypatch: pytest.MonkeyPatch, encoding: str) -> None:
    console = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    monkeypatch.setattr("sys.stdout", console)
    server.print_addresses(server.shared_words(Sharing("ABCD2345"), ["http://192.168.7.2:8765/"], False))
    printed = console.buffer.getvalue().decode(encoding)  # type: ignore[attr-defined]
    assert "http://192.168.7.2:8765/" in printed
    assert "ABCD 2345" in printed
