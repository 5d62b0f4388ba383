"""Sockets that the page listens on, and the addresses of this machine."""

from __future__ import annotations

import contextlib
import socket

from goodlength.errors import InputError
from goodlength.web.http.connection_limits import Listening, OpenConnections, descriptors, is_loopback

HOST = "127.0.0.1"
ANY = "0.0.0.0"
USUAL_PORT = 8765


def addresses_here() -> tuple[str, ...]:
    """Return this machine's addresses on its networks; no packet is sent to learn them."""
    found: dict[str, None] = {}
    for probe in ("192.0.2.1", "198.51.100.1"):  # documentation addresses: a route is looked up, nothing more
        with contextlib.suppress(OSError), socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as socket_item:
            socket_item.connect((probe, 9))
            found[socket_item.getsockname()[0]] = None
    with contextlib.suppress(OSError):
        for family, _, _, _, place in socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET):
            if family == socket.AF_INET:
                found[str(place[0])] = None
    return tuple(name for name in found if not name.startswith("127."))


def own_the_port(listening: socket.socket) -> None:
    """Let a port be used again right after a stop, and never by two programs at once.

    On Windows SO_REUSEADDR lets a second program take a port that is in use; there the option that forbids it
    is SO_EXCLUSIVEADDRUSE, and a port is free right after a stop without any.
    """
    exclusive = getattr(socket, "SO_EXCLUSIVEADDRUSE", None)
    option = socket.SO_REUSEADDR if exclusive is None else exclusive
    listening.setsockopt(socket.SOL_SOCKET, option, 1)


def bind_socket(port: int | None, host: str = HOST) -> Listening:
    """Return a bound socket: on the port named, or on the usual one, or on any."""
    tries = [port] if port else [USUAL_PORT, 0]
    for wanted in tries:
        # with the protocol named, asyncio switches the 40 ms wait for fuller packets off (TCP_NODELAY)
        listening = Listening(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        listening.connections = OpenConnections(descriptors(), is_loopback)
        own_the_port(listening)
        try:
            listening.bind((host, wanted))
        except (OSError, OverflowError) as error:
            listening.close()
            why = getattr(error, "strerror", None) or "there is no such port"
        else:
            listening.listen(128)
            return listening
    raise InputError(
        f"The page cannot listen on port {port}: {why}. Name another port (1024 to 65535), or leave it out."
    )
