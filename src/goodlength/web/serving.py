"""Serving the page on this machine: one process, a free port if none is named, and the browser opened."""

from __future__ import annotations

import contextlib
import socket
import sys
import threading
import time
import webbrowser
from pathlib import Path

import uvicorn

from goodlength.errors import InputError
from goodlength.web.app import create_app

HOST = "127.0.0.1"
USUAL_PORT = 8765


def serve(library_path: str | Path | None = None, port: int | None = None, open_browser: bool = True) -> None:
    """Serve the page until it is stopped with Ctrl-C.

    Parameters
    ----------
    library_path : str or Path, optional
        As for `create_app`.
    port : int, optional
        Left out or 0: 8765 or, where that is taken, any free one. The same port each time matters: the
        browser keeps unsent answers by address.
    open_browser : bool
        Open the page in the user's browser once it answers.

    Raises
    ------
    InputError
        If the named port cannot be used.
    """
    app = create_app(library_path)
    listening = _listen(port)
    address = f"http://{HOST}:{listening.getsockname()[1]}/"
    config = uvicorn.Config(
        app, log_level="warning", timeout_graceful_shutdown=1, server_header=False, lifespan="on", ws="none"
    )
    server = uvicorn.Server(config)
    threading.Thread(target=_when_ready, args=(server, address, open_browser), daemon=True).start()
    with contextlib.suppress(KeyboardInterrupt):
        server.run(sockets=[listening])


def _listen(port: int | None) -> socket.socket:
    """A bound socket: on the port named, or on the usual one, or on any."""
    tries = [port] if port else [USUAL_PORT, 0]
    for wanted in tries:
        # with the protocol named, asyncio switches the 40 ms wait for fuller packets off (TCP_NODELAY)
        listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM, socket.IPPROTO_TCP)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            listening.bind((HOST, wanted))
        except (OSError, OverflowError) as error:
            listening.close()
            why = getattr(error, "strerror", None) or str(error)
        else:
            listening.listen(128)
            return listening
    raise InputError(
        f"The page cannot listen on port {port}: {why}. Name another port (1024 to 65535), or leave it out."
    )


def _when_ready(server: uvicorn.Server, address: str, open_browser: bool) -> None:
    """Print the address, and open it, once the server answers."""
    while not server.started and not server.should_exit:
        time.sleep(0.02)
    if server.should_exit:
        return
    sys.stdout.write(f"goodlength is open at {address}\nStop it with Ctrl-C.\n")
    sys.stdout.flush()
    if open_browser:
        webbrowser.open(address)
