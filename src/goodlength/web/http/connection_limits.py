"""Limits on open connections: counted as accepted, closed where a request is not finished in time.

A device on the network that opens many and sends nothing would else use up the descriptors of the process,
and then nobody is answered, this machine included.

```
 accept ── from the network: 20 an address, half of all descriptors together ──> page
       └── from this machine: a quarter of them an address, never counted with the network
 the rest stays for the library, films and clips
```
"""

from __future__ import annotations

import asyncio
import socket
from collections import Counter
from collections.abc import Callable
from ipaddress import ip_address
from typing import Any

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

# Our own choice: a slow phone sends its headers in well under a second, a browser opens six connections
ASSUMED_HEADERS_S = 5.0
ASSUMED_AN_ADDRESS = 20
ASSUMED_DESCRIPTORS = 512  # where the system names no limit, as on Windows


class OpenConnections:
    """Connections open now, by address.

    Parameters
    ----------
    descriptors : int
        How many files and connections the process may have open.
    is_here : callable
        Whether an address is this machine's.
    """

    def __init__(self, descriptors: int, is_here: Callable[[str], bool]) -> None:
        self.most_from_network = descriptors // 2
        self.most_from_here = descriptors // 4
        self._is_here = is_here
        self._open: Counter[str] = Counter()
        self._from_network = 0

    def admit(self, address: str) -> bool:
        """Return whether one more connection of an address is taken; it is counted if so."""
        here = self._is_here(address)
        if self._open[address] >= (self.most_from_here if here else ASSUMED_AN_ADDRESS):
            return False
        if not here and self._from_network >= self.most_from_network:
            return False
        self._open[address] += 1
        self._from_network += not here
        return True

    def release(self, address: str) -> None:
        """Count a connection that was closed."""
        self._open[address] -= 1
        if self._open[address] <= 0:
            del self._open[address]
        self._from_network -= not self._is_here(address)


class Listening(socket.socket):
    """A listening socket that closes at once what `OpenConnections` does not admit."""

    connections: OpenConnections | None = None

    def another(self) -> Listening:
        """Return a socket on the same port and with the same connections, to be closed by itself."""
        other = Listening(self.family, self.type, self.proto, fileno=self.dup().detach())
        other.connections = self.connections
        return other

    def accept(self) -> tuple[socket.socket, Any]:
        """Return the next connection that is admitted."""
        while True:
            made, address = super().accept()
            if self.connections is None:
                return made, address
            if self.connections.admit(address[0]):
                return _Counted(made, self.connections, address[0]), address
            made.close()


class _Counted(socket.socket):
    """A connection that tells `OpenConnections` when it is closed."""

    def __init__(self, made: socket.socket, connections: OpenConnections, address: str) -> None:
        super().__init__(made.family, made.type, made.proto, fileno=made.detach())
        self._connections: OpenConnections | None = connections
        self._address = address

    def close(self) -> None:
        """Close it, and count it out once."""
        connections, self._connections = self._connections, None
        super().close()
        if connections is not None:
            connections.release(self._address)


class TimedProtocol(H11Protocol):
    """HTTP/1.1 as uvicorn speaks it, with a time limit on the headers of each request."""

    _late: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for the first request."""
        super().connection_made(transport)
        self._wait_for_headers()

    def data_received(self, data: bytes) -> None:
        """Take bytes in; the time runs from the first byte of a request until its headers are whole."""
        super().data_received(data)
        if self.conn.their_state is not h11.IDLE:
            self._stop_waiting()
        elif self._late is None:
            self._wait_for_headers()

    def connection_lost(self, exc: Exception | None) -> None:
        """Stop waiting."""
        self._stop_waiting()
        super().connection_lost(exc)

    def _wait_for_headers(self) -> None:
        self._late = self.loop.call_later(ASSUMED_HEADERS_S, self.transport.abort)

    def _stop_waiting(self) -> None:
        if self._late is not None:
            self._late.cancel()
            self._late = None


def descriptors() -> int:
    """Return how many files and connections this process may have open at once."""
    try:
        import resource
    except ImportError:  # Windows
        return ASSUMED_DESCRIPTORS
    soft, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    return ASSUMED_DESCRIPTORS if soft == resource.RLIM_INFINITY else min(int(soft), 4096)


def is_loopback(address: str) -> bool:
    """Return whether an address is this machine's own."""
    try:
        return ip_address(address.split("%", maxsplit=1)[0]).is_loopback
    except ValueError:
        return False
