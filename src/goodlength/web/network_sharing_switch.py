"""Sharing on the local network, switched on and off while the page is open.

The page itself listens on this computer only. Switched on, a second listener opens on the addresses of this
computer's networks, behind a pass code drawn anew; switched off, it is closed and its sessions end.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

import uvicorn

from goodlength.errors import Conflict, InputError
from goodlength.web.http.connection_limits import TimedProtocol
from goodlength.web.http.passcode_sessions import Sharing
from goodlength.web.server_sockets import addresses_here, bind_socket

if TYPE_CHECKING:
    import socket

    from fastapi import FastAPI

STOPS_WITHIN_S = 5.0
NO_NETWORK = "No network was found, so no other device can reach the page. Join a network, then try again."


class _SecondServer(uvicorn.Server):
    """A listener beside the page's own, which alone listens to Ctrl+C."""

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        """Leave the signals to the first server."""
        yield


class NetworkSwitch:
    """The listener for other devices, where there is one now; used from the page's own event loop."""

    def __init__(self, app: FastAPI, hosts: set[str]) -> None:
        self._app, self._hosts = app, hosts
        self._names: frozenset[str] = frozenset()
        self._server: _SecondServer | None = None
        self._task: asyncio.Task[None] | None = None
        self._turn = asyncio.Lock()  # switched on while it is being switched off, it would be forgotten

    @property
    def is_on(self) -> bool:
        """Whether it was switched on here."""
        return self._server is not None

    async def switch_on(self, port: int) -> None:
        """Share the page on this computer's networks, at the port of the page.

        Raises
        ------
        InputError
            This computer is in no network, or the port is taken there.
        Conflict
            The page is shared already.
        """
        async with self._turn:
            self._listen(port)

    def _listen(self, port: int) -> None:
        if self._app.state.sharing is not None:
            raise Conflict("The page is shared already.")
        names = addresses_here()
        if not names:
            raise InputError(NO_NETWORK)
        sockets: list[socket.socket] = []
        try:
            for name in names:
                sockets.append(bind_socket(port, name))
        except InputError:
            for listening in sockets:
                listening.close()
            raise
        config = uvicorn.Config(
            self._app,
            http=TimedProtocol,
            log_level="warning",
            timeout_graceful_shutdown=1,
            server_header=False,
            lifespan="off",
            ws="none",
            proxy_headers=False,
        )
        sharing = Sharing()
        self._app.state.gate = sharing  # before anything listens: nobody passes it by
        self._names = frozenset(names) - self._hosts
        self._hosts |= self._names
        self._server = _SecondServer(config)
        self._task = asyncio.create_task(self._server.serve(sockets=sockets))
        self._app.state.sharing = sharing
        self._app.state.addresses = tuple(f"http://{name}:{port}/" for name in names)

    async def switch_off(self) -> None:
        """Close the listener and end every session; nothing happens where it was not switched on."""
        async with self._turn:
            await self._stop()

    async def _stop(self) -> None:
        if self._server is None or self._task is None:
            return
        self._app.state.gate.close()
        self._app.state.sharing, self._app.state.addresses = None, ()
        self._server.should_exit = True
        with suppress(TimeoutError):
            await asyncio.wait_for(self._task, STOPS_WITHIN_S)
        self._hosts -= self._names
        self._server, self._task = None, None
