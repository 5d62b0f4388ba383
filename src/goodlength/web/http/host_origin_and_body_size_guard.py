"""Request guard: Host and Origin checks, response headers, and a limit on bodies.

A page on another site, or a name that a stranger points at this machine, must not reach the library.
Browsers send Origin with every request that can change something; `Sec-Fetch-Site` is not sent to a plain
HTTP name, so it only adds to the check and never stands alone.
"""

from __future__ import annotations

import asyncio
import json
import re
from collections.abc import Collection
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOCAL_HOSTS = ("127.0.0.1", "localhost", "::1")
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
FORM_LIMIT_BYTES = 2_000_000  # ASSUMED_: 200 rallies waiting for the connection are about 600 kB
PIECE_LIMIT_BYTES = 4 * 1024 * 1024  # a piece of a video: `tasks.transfer` cuts it so
IMPORT_LIMIT_BYTES = 17_000_000  # a little over what `tasks.import_match` reads, which says so in words

# Uploads of any length; an id may be "upload" as well, so the whole path counts
OPEN_PATHS = re.compile(r"/api/matches/[^/]+/footage/upload|/api/settings/restore/upload")
LIMITS = {"import": IMPORT_LIMIT_BYTES, "piece": PIECE_LIMIT_BYTES}  # by the last part of the path

# Our own choice: a form may take ten seconds, and as long as its bytes need on a very slow network; an upload
# any time, but something of it has to come
ASSUMED_BODY_S = 10.0
ASSUMED_SLOWEST_B_S = 50_000.0
ASSUMED_PAUSE_S = 30.0

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'self'",
        "base-uri 'none'",
        "object-src 'none'",
        "form-action 'self'",
        "frame-ancestors 'none'",
    )
)
HEADERS = {
    "content-security-policy": CONTENT_SECURITY_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "x-frame-options": "DENY",
}


class Guard:
    """ASGI middleware: refuses foreign hosts and origins, and sets the headers of every answer.

    Parameters
    ----------
    app : ASGIApp
        What stands behind it.
    hosts : collection of str
        Names this page answers to, without port; what is added to it later counts too.
    """

    def __init__(self, app: ASGIApp, hosts: Collection[str] = LOCAL_HOSTS) -> None:
        self.app = app
        self.hosts = hosts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Check one request, then pass it on."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            return  # no other kind of connection is served
        headers = Headers(scope=scope)
        refusal = self.refusal(scope["method"], scope["scheme"], headers)
        if refusal is not None:
            await _refuse(send, *refusal)
            return
        await self.app(scope, receive, _with_headers(send))

    def refusal(self, method: str, scheme: str, headers: Headers) -> tuple[int, str] | None:
        """Say why a request is refused, as status and words; None when it may pass."""
        host = headers.get("host", "")
        if _host_name(host) not in self.hosts:
            return 400, (
                f"This page does not answer to the name {host!r}. "
                f"Open it by one of: {', '.join(sorted(self.hosts))}."
            )
        if method in SAFE_METHODS:
            return None
        origin = headers.get("origin")
        if origin is not None and origin != f"{scheme}://{host}":
            return 403, "Another page tried to change this library. Nothing was changed."
        if origin is None and headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return 403, "Another page tried to change this library. Nothing was changed."
        return None


class BodyLimit:
    """ASGI middleware: refuses bodies over a limit, whether or not they say their length, and slow ones.

    Uploads have routes of their own that watch the disk instead: `OPEN_PATHS`. They may be of any length,
    but must not stop coming.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Count the bytes of one request, and the time, while they come in."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        body = _Body(receive, OPEN_PATHS.fullmatch(scope["path"]) is not None)
        if not body.open_ended:
            body.limit = LIMITS.get(scope["path"].rpartition("/")[2], FORM_LIMIT_BYTES)
            length = Headers(scope=scope).get("content-length", "0")
            if not (length.isascii() and length.isdigit()) or int(length) > body.limit:
                await _refuse(send, 413, body.too_long)
                return
            body.seconds = ASSUMED_BODY_S + int(length) / ASSUMED_SLOWEST_B_S
        began = False

        async def sender(message: Message) -> None:
            nonlocal began
            if body.refusal is None:  # else the app's own answer to the broken body is not sent
                began = True
                await send(message)

        await self.app(scope, body.receive, sender)
        if body.refusal is not None and not began:
            await _refuse(send, *body.refusal, close=True)


class _Body:
    """The body of a request: what is too long or too slow ends as if the other side had gone."""

    def __init__(self, receive: Receive, open_ended: bool) -> None:
        self.open_ended = open_ended
        self.limit = 0
        self.seconds = ASSUMED_PAUSE_S
        self.refusal: tuple[int, str] | None = None
        self._from = receive
        self._seen = 0
        self._whole = False
        self._until: float | None = None

    @property
    def too_long(self) -> str:
        """The refusal of what is over the limit."""
        return f"That is more than {self.limit // 1_000_000} MB, which is the most this form takes."

    async def receive(self) -> Message:
        """Give the next part."""
        if self.refusal is not None:
            return {"type": "http.disconnect"}
        try:
            async with asyncio.timeout_at(None if self._whole else self._deadline()):
                message = await self._from()
        except TimeoutError:
            self.refusal = (408, "What was sent took too long to arrive. Nothing was changed; send it again.")
            return {"type": "http.disconnect"}
        self._whole = self._whole or not message.get("more_body", False)
        self._seen += len(message.get("body", b""))
        if not self.open_ended and self._seen > self.limit:
            self.refusal = (413, self.too_long)
            return {"type": "http.disconnect"}
        return message

    def _deadline(self) -> float:
        now = asyncio.get_running_loop().time()
        if self._until is None or self.open_ended:
            self._until = now + self.seconds
        return self._until


def _host_name(host: str) -> str:
    """Give the name of a Host header without its port; empty when it cannot be read."""
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return ""


def _with_headers(send: Send) -> Send:
    """Add the headers to the start of an answer, keeping those a route set on purpose."""

    async def sender(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
        await send(message)

    return sender


async def _refuse(send: Send, status: int, words: str, *, close: bool = False) -> None:
    """Answer with the one JSON shape of errors; `close` ends the connection, where a body was not read."""
    body = json.dumps({"error": {"kind": "refused", "words": words}}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    headers += [(name.encode(), value.encode()) for name, value in HEADERS.items()]
    if close:
        headers.append((b"connection", b"close"))
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
