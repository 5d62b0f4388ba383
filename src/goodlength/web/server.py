"""Serve the page on this machine: one process, a free port if none is given, and the browser opened."""

from __future__ import annotations

import contextlib
import logging
import sys
import threading
import time
import webbrowser
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import uvicorn

from goodlength.errors import GoodlengthError, disk_trouble
from goodlength.tasks.library.remembered_library import remember_library
from goodlength.web.app import create_app
from goodlength.web.http.connection_limits import TimedProtocol
from goodlength.web.http.host_origin_and_body_size_guard import LOCAL_HOSTS
from goodlength.web.http.library_switch_on_running_server import LibraryReopening
from goodlength.web.http.passcode_sessions import Sharing
from goodlength.web.server_sockets import ANY, HOST, addresses_here, bind_socket

if TYPE_CHECKING:
    from fastapi import FastAPI

LOG = logging.getLogger("goodlength.web")
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
    hosts = (*LOCAL_HOSTS, *names)
    app = create_app(library_path, sharing=sharing, hosts=hosts)
    listening = bind_socket(port, ANY if network else HOST)
    at = listening.getsockname()[1]
    scheme = "https" if network and network.certificate else "http"
    address = f"{scheme}://{HOST}:{at}/"
    words = f"goodlength is open at {address}\nStop it with Ctrl+C.\n"
    addresses = tuple(f"{scheme}://{name}:{at}/" for name in names)
    if sharing is not None:
        sharing.secure = scheme == "https"
        words += shared_words(sharing, addresses, sharing.secure)
    before: str | Path | None = None
    place, fault = library_path, ""
    with listening, contextlib.suppress(KeyboardInterrupt):
        while True:
            if sharing is not None:
                app.state.addresses = addresses
            server = uvicorn.Server(_config(app, network))
            app.state.reopening = reopening = LibraryReopening(server, fault)
            if words:
                opening = (server, address, open_browser, words)
                threading.Thread(target=_when_ready, args=opening, daemon=True).start()
            server.run(sockets=[listening.another()])
            words, wanted = "", reopening.folder
            if wanted is not None:
                before, fault = place, ""
                try:
                    app, place = create_app(wanted, sharing=sharing, hosts=hosts), wanted
                    remember_library(place)
                except Exception as error:  # whatever it is, the library before has to open again
                    app, fault = create_app(place, sharing=sharing, hosts=hosts), _fault_words(wanted, error)
            elif before is not None and not server.started:  # it opened, and what it begins with failed
                fault = _fault_words(place, None)
                app, place = create_app(before, sharing=sharing, hosts=hosts), before
                remember_library(place)
                before = None
            else:
                return


def _fault_words(folder: str | Path | None, error: Exception | None) -> str:
    """Return why a library could not be opened; what goodlength does not know by name is logged too."""
    if isinstance(error, OSError):
        error = disk_trouble(error) or error
    if isinstance(error, GoodlengthError):
        return error.page_words
    if error is not None:
        LOG.error("opening %s", folder, exc_info=error)
    why = f" ({error})" if error is not None else ""
    return (
        f"The library {folder} cannot be opened{why}. Nothing in it was removed. "
        "Check its folder on the command line with “goodlength library check”, or restore a back-up."
    )


def _config(app: FastAPI, network: Network | None) -> uvicorn.Config:
    return uvicorn.Config(
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
