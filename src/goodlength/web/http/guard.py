"""Who may ask, and what every answer carries: Host and Origin checks, headers, and a limit on bodies.

A page on another site, or a name that a stranger points at this machine, must not reach the library.
Browsers send Origin with every request that can change something; `Sec-Fetch-Site` is not sent to a plain
HTTP name, so it only adds to the check and never stands alone.
"""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterable
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

LOCAL_HOSTS = ("127.0.0.1", "localhost", "::1")
SAFE_METHODS = frozenset({"GET", "HEAD", "OPTIONS"})
FORM_LIMIT_BYTES = 2_000_000  # ASSUMED_: 200 rallies waiting for the connection are about 600 kB
IMPORT_LIMIT_BYTES = 17_000_000  # a little over what `tasks.import_match` reads, which says so in words

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
    hosts : iterable of str
        Names this page answers to, without port.
    """

    def __init__(self, app: ASGIApp, hosts: Iterable[str] = LOCAL_HOSTS) -> None:
        self.app = app
        self.hosts = frozenset(hosts)

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
    """ASGI middleware: refuses bodies over a limit, whether or not they say their length.

    Uploads of footage have a route of their own that watches the disk instead; `open_paths` names the
    ending of such paths.
    """

    def __init__(self, app: ASGIApp, open_path_ends: tuple[str, ...] = ("/upload",)) -> None:
        self.app = app
        self.open_path_ends = open_path_ends

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Count the bytes of one request while they come in."""
        if scope["type"] != "http" or scope["path"].endswith(self.open_path_ends):
            await self.app(scope, receive, send)
            return
        limit = IMPORT_LIMIT_BYTES if scope["path"].endswith("/import") else FORM_LIMIT_BYTES
        said = Headers(scope=scope).get("content-length", "0")
        words = f"That is more than {limit // 1_000_000} MB, which is the most this form takes."
        if not (said.isascii() and said.isdigit()) or int(said) > limit:
            await _refuse(send, 413, words)
            return
        seen = 0

        async def counted() -> Message:
            nonlocal seen
            message = await receive()
            seen += len(message.get("body", b""))
            if seen > limit:
                raise _TooLong
            return message

        async def sender(message: Message) -> None:
            if seen <= limit:  # else the app's own answer to the broken body is not sent
                await send(message)

        with contextlib.suppress(_TooLong):
            await self.app(scope, counted, sender)
        if seen > limit:
            await _refuse(send, 413, words)


class _TooLong(Exception):
    """A body without a length went over the limit."""


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


async def _refuse(send: Send, status: int, words: str) -> None:
    """Answer with the one JSON shape of errors."""
    body = json.dumps({"error": {"kind": "refused", "words": words}}).encode()
    headers = [(b"content-type", b"application/json"), (b"content-length", str(len(body)).encode())]
    headers += [(name.encode(), value.encode()) for name, value in HEADERS.items()]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": body})
