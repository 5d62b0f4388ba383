"""Serve the page on this machine: one process, a free port if none is given, and the browser opened."""

from __future__ import annotations

import contextlib
import socket
import sys
import threading
import time
import webbrowser
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import uvicorn

from goodlength.errors import InputError
from goodlength.web.app import create_app
from goodlength.web.http.connection_limits import (
    Listening,
    OpenConnections,
    TimedProtocol,
    descriptors,
    is_loopback,
)
from goodlength.web.http.passcode_sessions import Sharing
from goodlength.web.http.request_guard import LOCAL_HOSTS

HOST = "127.0.0.1"
ANY = "0.0.0.0"
USUAL_PORT = 8765
BLOCKS = frozenset("\u2580\u2584\u2588")  # of which the picture code is drawn


@dataclass(frozen=True)
class Network:
    """How the page is shared: more names it answers to, and a certificate with its key where there is one."""

    names: tuple[str, ...] = ()
    certificate: str | None = None
    key: str | None = None


def serve(
    library_path: str | Path | None = None,
    port: int | None = None,
    open_browser: bool = True,
    network: Network | None = None,
) -> None:
    """Serve the page until it is stopped with Ctrl+C.

    Parameters
    ----------
    library_path : str or Path, optional
        As for `create_app`.
    port : int, optional
        Left out or 0: 8765 or, where that is taken, any free one. The same port each time matters: the
        browser keeps unsent answers by address.
    open_browser : bool
        Open the page in the user's browser once it answers.
    network : Network, optional
        Share the page on the local network behind a pass code; left out, only this machine is answered.

    Raises
    ------
    InputError
        If the named port cannot be used.
    """
    sharing = None if network is None else Sharing()
    names = () if network is None else (*addresses_here(), *network.names)
    app = create_app(library_path, sharing=sharing, hosts=(*LOCAL_HOSTS, *names))
    listening = bind_socket(port, ANY if network else HOST)
    at = listening.getsockname()[1]
    config = uvicorn.Config(
        app,
        http=TimedProtocol,
        log_level="warning",
        timeout_graceful_shutdown=1,
        server_header=False,
        lifespan="on",
        ws="none",
        proxy_headers=False,
        ssl_certfile=network.certificate if network else None,
        ssl_keyfile=network.key if network else None,
    )
    scheme = "https" if config.ssl_certfile else "http"
    words = f"goodlength is open at {scheme}://{HOST}:{at}/\nStop it with Ctrl+C.\n"
    if sharing is not None and network is not None:
        sharing.secure = scheme == "https"
        app.state.addresses = tuple(f"{scheme}://{name}:{at}/" for name in names)
        words += shared_words(sharing, app.state.addresses, sharing.secure)
    server = uvicorn.Server(config)
    address = f"{scheme}://{HOST}:{at}/"
    threading.Thread(target=_when_ready, args=(server, address, open_browser, words), daemon=True).start()
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=[listening])


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


def shared_words(sharing: Sharing, addresses: Sequence[str], secure: bool) -> str:
    """Return what to do with a phone or tablet, and what the code does not do."""
    import io

    import segno

    if not addresses:
        return "No network was found, so nobody else can reach the page. Join one and start again.\n"
    picture = io.StringIO()
    segno.make(addresses[0], error="m").terminal(picture, compact=True)
    lines = [
        picture.getvalue().rstrip("\n"),
        f"Shared on the local network: {' or '.join(addresses)}",
        f"Pass code: {sharing.code_words}   (new at each start; a session ends after two hours unused)",
        "The site contains videos and names, perhaps of juniors: share it only on a network you trust.",
    ]
    if not secure:
        lines.append(
            "Without a certificate, someone on the same network can read the traffic, the code included. To "
            "prevent that, give --certificate and --key."
        )
    return "\n".join(lines) + "\n"


def own_the_port(listening: socket.socket) -> None:
    """Let a port be used again right after a stop, and never by two programs at once.

    On Windows SO_REUSEADDR lets a second program take a port that is in use; there the option that forbids it
    is SO_EXCLUSIVEADDRUSE, and a port is free right after a stop without any.
    """
    exclusive = getattr(socket, "SO_EXCLUSIVEADDRUSE", None)
    option = socket.SO_REUSEADDR if exclusive is None else exclusive
    listening.setsockopt(socket.SOL_SOCKET, option, 1)


def bind_socket(port: int | None, host: str = HOST) -> socket.socket:
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
            why = getattr(error, "strerror", None) or str(error)
        else:
            listening.listen(128)
            return listening
    raise InputError(
        f"The page cannot listen on port {port}: {why}. Name another port (1024 to 65535), or leave it out."
    )


def _when_ready(server: uvicorn.Server, address: str, open_browser: bool, words: str) -> None:
    """Print the address, and open it, once the server answers."""
    while not server.started and not server.should_exit:
        time.sleep(0.02)
    if server.should_exit:
        return
    print_addresses(words)
    if open_browser:
        webbrowser.open(address)


def print_addresses(words: str) -> None:
    """Print on any console; the picture code is left out where it cannot be drawn."""
    encoding = getattr(sys.stdout, "encoding", None) or "utf-8"
    try:
        words.encode(encoding)
    except UnicodeEncodeError:
        lines = [line for line in words.split("\n") if not BLOCKS.intersection(line)]
        words = "\n".join(lines).encode(encoding, "replace").decode(encoding)
    sys.stdout.write(words)
    sys.stdout.flush()
