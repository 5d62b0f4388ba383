"""Sessions for sharing on the local network: a pass code, expiry, rate-limited tries.

Only when asked for (`goodlength open --network`). Requests from this machine itself need no code, as without
sharing; every other one needs a session, save for the door, the page's own files, and single handout links.

```
 request ── from this machine ──────────────────────────────> page
        └── from the network ── door, own files, handout link ─> answered
                              ├─ session that holds ──────────> page, as far as the table in `network` allows
                              └─ none ────────────────────────> the door
```
"""

from __future__ import annotations

import hmac
import json
import secrets
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from http.cookies import CookieError, SimpleCookie
from ipaddress import ip_address
from urllib.parse import quote

from starlette.datastructures import Headers
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from goodlength.web.http.error_handlers import answer
from goodlength.web.http.host_origin_and_body_size_guard import HEADERS
from goodlength.web.http.remote_request_allowlist import may_over_network

COOKIE = "goodlength_session"
LETTERS = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"  # nothing that is misread
CODE_LETTERS = 8
# Ends of a session and tries at the door: our own choice. 8 of 32 letters, 30 tries an hour from each of 254
# addresses: 16,000 years. No limit counts all addresses together: one device would shut everybody out
ASSUMED_IDLE_S, ASSUMED_LONGEST_S = 2 * 3600.0, 12 * 3600.0
ASSUMED_TRIES, ASSUMED_TRIES_S = 5, 60.0
ASSUMED_TRIES_LONG, ASSUMED_TRIES_LONG_S = 30, 3600.0
ASSUMED_ASKED, ASSUMED_ASKED_S = 600, 10.0  # requests of one address
MOST_SESSIONS = 50
OPEN_PATHS = ("/enter", "/static/", "/favicon.ico", "/handed/")
HERE_WORDS = "This can only be done on the computer where goodlength runs. Nothing was changed."


@dataclass
class Limit:
    """At most so many in so many seconds."""

    most: int
    within_s: float
    seen: deque[float] = field(default_factory=deque)

    def allows(self, now: float) -> bool:
        """Return whether one more may be; it is counted if so."""
        while self.seen and self.seen[0] <= now - self.within_s:
            self.seen.popleft()
        if len(self.seen) >= self.most:
            return False
        self.seen.append(now)
        return True


class Sharing:
    """The pass code, the sessions that hold, and the tries at the door.

    Parameters
    ----------
    code : str, optional
        Drawn anew at each start when left out; it is never kept.
    clock : callable
        Seconds that only grow.
    """

    def __init__(self, code: str | None = None, clock: Callable[[], float] = time.monotonic) -> None:
        self.code = code or "".join(secrets.choice(LETTERS) for _ in range(CODE_LETTERS))
        self.clock = clock
        self.secure = False  # set when the page is served with a certificate
        self._sessions: dict[str, tuple[float, float]] = {}  # begun, last seen
        self._tries: dict[str, Limit] = {}
        self._asked: dict[str, Limit] = {}
        self._tries_long: dict[str, Limit] = {}
        self.refused = 0
        self.closed = False

    def close(self) -> None:
        """End every session and let nobody in any more."""
        self.closed = True
        self._sessions.clear()

    @property
    def code_words(self) -> str:
        """The code in two groups, as it is read out."""
        half = len(self.code) // 2
        return f"{self.code[:half]} {self.code[half:]}"

    def enter(self, typed: str, client: str) -> str | None:
        """Return a new session for the right code; None for a wrong one.

        Raises
        ------
        TooManyTries
            From this address, in a minute or an hour: also the right code waits then.
        """
        now = self.clock()
        if not self._limit(self._tries, client, ASSUMED_TRIES, ASSUMED_TRIES_S).allows(now):
            raise TooManyTries
        if not self._limit(self._tries_long, client, ASSUMED_TRIES_LONG, ASSUMED_TRIES_LONG_S).allows(now):
            raise TooManyTries
        code = "".join(typed.upper().split()).replace("-", "")
        if not hmac.compare_digest(code.encode(), self.code.encode()):
            self.refused += 1
            return None
        self._ended(now)
        while len(self._sessions) >= MOST_SESSIONS:
            self._sessions.pop(min(self._sessions, key=lambda text: self._sessions[text][1]))
        token = secrets.token_urlsafe(32)
        self._sessions[token] = (now, now)
        return token

    def holds(self, token: str | None) -> bool:
        """Return whether a session is known and has not ended; seeing it keeps it from going idle."""
        now = self.clock()
        self._ended(now)
        if token is None or token not in self._sessions:
            return False
        self._sessions[token] = (self._sessions[token][0], now)
        return True

    def leave(self, token: str | None) -> None:
        """End a session."""
        if token is not None:
            self._sessions.pop(token, None)

    def may_ask(self, client: str) -> bool:
        """Return whether an address has not asked for too much lately."""
        return self._limit(self._asked, client, ASSUMED_ASKED, ASSUMED_ASKED_S).allows(self.clock())

    def _limit(self, limits: dict[str, Limit], client: str, most: int, within_s: float) -> Limit:
        if len(limits) > 1000 and client not in limits:
            limits.pop(next(iter(limits)))
        return limits.setdefault(client, Limit(most, within_s))

    def _ended(self, now: float) -> None:
        for token, (started, seen) in list(self._sessions.items()):
            if now - seen > ASSUMED_IDLE_S or now - started > ASSUMED_LONGEST_S:
                del self._sessions[token]


class TooManyTries(Exception):
    """The door is shut for a while."""


class Gate:
    """ASGI middleware: lets this machine in, and from the network only who holds a session.

    Stands behind `Guard`, which has looked at host and origin already. Who is asked for the pass code is
    `gate` of the application's state: None as long as the page was never shared.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Look at one request."""
        sharing: Sharing | None = scope["app"].state.gate if scope["type"] == "http" else None
        if sharing is None or from_here(scope):
            await self.app(scope, receive, send)
            return
        path, method, client = scope["path"], scope["method"], client_of(scope)
        if sharing.closed:
            await _answer(send, 403, "Sharing was switched off on the computer.")
        elif not sharing.may_ask(client):
            sharing.refused += 1
            await _answer(send, 429, "Too many requests. Wait ten seconds.")
        elif path.startswith(OPEN_PATHS) and ".." not in path:
            await self.app(scope, receive, send)
        elif not sharing.holds(token_of(scope)):
            sharing.refused += 1
            await _to_the_door(scope, send)
        elif not may_over_network(method, path):
            sharing.refused += 1
            await answer(Request(scope), 403, "refused", HERE_WORDS)(scope, receive, send)
        else:
            await self.app(scope, receive, send)


def from_here(scope: Scope) -> bool:
    """Return whether a request comes from this machine, by the address of the connection itself."""
    client = scope.get("client")
    try:
        return client is not None and ip_address(client[0].split("%")[0]).is_loopback
    except ValueError:
        return False


def client_of(scope: Scope) -> str:
    """Return the address a request comes from."""
    client = scope.get("client")
    return "unknown" if client is None else str(client[0])


def token_of(scope: Scope) -> str | None:
    """Return the session a request names; the header is the browser's, so it is read with suspicion."""
    try:
        jar: SimpleCookie = SimpleCookie(Headers(scope=scope).get("cookie", ""))
    except CookieError:
        return None
    return jar[COOKIE].value if COOKIE in jar else None


async def _to_the_door(scope: Scope, send: Send) -> None:
    """A page is led to the door; a script is told in words."""
    wants_page = scope["method"] == "GET" and not scope["path"].startswith("/api/")
    if not wants_page:
        await _answer(send, 401, "Your session has ended. Reload the page and enter the pass code.")
        return
    target = scope["path"] + (f"?{scope['query_string'].decode('latin-1')}" if scope["query_string"] else "")
    location = f"/enter?to={quote(target, safe='')}"
    headers = [(b"location", location.encode()), (b"content-length", b"0"), (b"cache-control", b"no-store")]
    headers += [(name.encode(), value.encode()) for name, value in HEADERS.items()]
    await send({"type": "http.response.start", "status": 303, "headers": headers})
    await send({"type": "http.response.body", "body": b""})


async def _answer(send: Send, status: int, words: str) -> None:
    body = json.dumps({"error": {"kind": "refused", "words": words}}).encode()
    start: Message = {
        "type": "http.response.start",
        "status": status,
        "headers": [
            (b"content-type", b"application/json"),
            (b"content-length", str(len(body)).encode()),
            (b"cache-control", b"no-store"),
            *((name.encode(), value.encode()) for name, value in HEADERS.items()),
        ],
    }
    await send(start)
    await send({"type": "http.response.body", "body": body})
