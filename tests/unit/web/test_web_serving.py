"""Listening: this machine only, a stable port, and words when a port cannot be had."""

from __future__ import annotations

import socket

import pytest

from goodlength.errors import InputError
from goodlength.web import serving


def test_it_listens_on_this_machine_only_and_without_waiting_for_fuller_packets() -> None:
    listening = serving._listen(None)
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
            serving._listen(port)
        monkeypatch.setattr(serving, "USUAL_PORT", port)
        other = serving._listen(0)
        assert other.getsockname()[1] != port
        other.close()


@pytest.mark.parametrize("port", [70_000, -1])
def test_a_port_that_cannot_be_is_told(port: int) -> None:
    with pytest.raises(InputError, match="1024 to 65535"):
        serving._listen(port)
