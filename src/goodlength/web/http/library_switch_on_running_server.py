"""Another library opened in place: the page ends with the one it has, and begins again with the other.

```
 Settings ──> checked ──> the server stops as at its end ──> the same port, the same program, another library
                               jobs stop and go on when their library is opened again
```
Connections that come in between wait in the queue of the listening socket. A page made for the library
before may still be open in some window: `LibraryCheck` refuses what it sends.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import parse_qs
from uuid import uuid4

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.types import ASGIApp, Receive, Scope, Send

from goodlength.web.http.error_handlers import answer
from goodlength.web.http.host_origin_and_body_size_guard import SAFE_METHODS

if TYPE_CHECKING:
    import uvicorn

SHARED = (
    "The page is shared on the network, and everyone with the pass code would see the other library. "
    "Stop sharing first."
)
NOT_BY_ITSELF = (
    "This page was not started by goodlength itself, so it cannot open another library. "
    "Close it, and start goodlength with that folder."
)

HEADER = "x-goodlength-library"  # of what scripts send; a form names its library in the address, as `FIELD`
FIELD = "library"
ANOTHER_IS_OPEN = (
    "Another library is open now than the one that this page belongs to. Nothing was changed. "
    "Open that library again under Settings to go on here, or reload the page to work in the new one."
)
ASKED_WHILE_OPENING = "/api/settings/library"  # by the page that waits for the other library


class LibraryCheck:
    """ASGI middleware: refuses what a page sends that was made for another library than the open one.

    The status is 503: scripts keep what they could not send, and send it when that library is open again.
    A request that names no library passes, as of a script that knows no page.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Look at one request."""
        if scope["type"] == "http":
            named = _library_named(scope)
            if named and named != scope["app"].state.library_id:
                refusal = await run_in_threadpool(
                    answer, Request(scope), 503, "another-library", ANOTHER_IS_OPEN
                )
                await refusal(scope, receive, send)
                return
        await self.app(scope, receive, send)


def _library_named(scope: Scope) -> str:
    if scope["method"] in SAFE_METHODS and (
        scope["path"] == ASKED_WHILE_OPENING or not scope["path"].startswith("/api/")
    ):
        return ""
    named = Headers(scope=scope).get(HEADER, "")
    if named or scope["method"] in SAFE_METHODS:
        return named
    query: str = scope["query_string"].decode("latin-1")
    return parse_qs(query).get(FIELD, [""])[-1]


class LibraryReopening:
    """Which library comes after the one that is open; `run` tells one opening from the next.

    Parameters
    ----------
    server : uvicorn.Server, optional
        The server to be ended; None where another program serves the page.
    fault : str
        Why the library wanted last could not be opened; empty where nothing went wrong.
    """

    def __init__(self, server: uvicorn.Server | None = None, fault: str = "") -> None:
        self.run = uuid4().hex[:12]
        self.fault = fault
        self.folder: Path | None = None
        self._server = server

    @property
    def is_possible(self) -> bool:
        """Whether the program that serves the page can begin again."""
        return self._server is not None

    def begin(self, folder: Path) -> None:
        """End the server; what started it opens this folder then."""
        assert self._server is not None
        self.folder = folder
        self._server.should_exit = True
