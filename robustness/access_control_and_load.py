"""Every route of the shared page tried by those who must not get in, and a club's worth of tablets at once.

The routes are those the page itself has, so that a new one is tried without being listed. Requests are handed
to the page with the address of another machine: nothing goes over a network.
"""

from __future__ import annotations

import asyncio
import http.client
import json
import re
import tempfile
import threading
import time
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit
from uuid import uuid4

import numpy as np

from goodlength import demo, tasks
from goodlength.bench.response_times_and_keypresses import page_on
from goodlength.record.model import Entry, EntryKind
from goodlength.record.store import Library
from goodlength.record.store.library_store import now_utc
from goodlength.scoring.scoring_types import Side, Start
from robustness.harness_error import OwnFault

NAME, PORT = "192.168.7.2", 8765
FAR = "192.168.7.9"
AT = f"http://{NAME}:{PORT}"
EVIL = "http://evil.example"
OPEN_ROUTES = frozenset({"/enter", "/handed/{token}", "/static"})  # meant to answer without a session
PERSON = "Imogen"
TRICKS = (
    "/static/../library.sqlite3",
    "/static/%2e%2e/%2e%2e/pyproject.toml",
    "/static/..%2f..%2fapp.py",
    "//static/../matches",
    "/enter/../matches",
    "/static/../../etc/passwd",
    "/handed/../matches",
    "/Static/x",
    "/static/%00",
    "/handed/..%2fmatches",
    "/enter%2f..%2fmatches",
    "/static/css/../../templates/layout/base.html",
    "/static/..\\\\..\\\\library.sqlite3",
    "/static/....//....//library.sqlite3",
    "/enter/%2e%2e/matches",
    "/handed/%2e%2e%2fplayers",
    "/static;/../matches",
    "/static/%252e%252e/matches",
    "/favicon.ico/../matches",
)


@dataclass
class Doors:
    """Requests tried from outside, those refused, and those that got in (none is wanted)."""

    routes: int = 0
    tried: int = 0
    refused: int = 0
    by: dict[str, int] = field(default_factory=dict)
    let_in: list[str] = field(default_factory=list)


@dataclass
class Load:
    """Clients at once on one match: answers stored, milliseconds to stored, what was lost or refused."""

    clients: int
    rallies: int
    answers: int
    answer_ms_p50: float
    answer_ms_p95: float
    sheet_ms_p95: float
    lost: int
    failed: int
    busiest_answers_per_s: float


def try_doors() -> Doors:
    """Try every route without pass code, with a stale session, under a wrong name, from a foreign page."""
    from goodlength.web import create_app
    from goodlength.web.http.passcode_sessions import Sharing

    with tempfile.TemporaryDirectory() as folder:
        demo.build(folder, footage=False)
        sharing = Sharing("ABCD2345")
        app = create_app(folder, sharing=sharing, hosts=("127.0.0.1", NAME))
        sharing.may_ask = _any_number  # type: ignore[method-assign]
        session = sharing.enter("ABCD2345", FAR)
        try:
            return asyncio.run(_try_all(app, session or ""))
        finally:
            app.state.jobs.close()
            app.state.library.close()


def _any_number(client: str) -> bool:
    """So many requests at once would be refused for that alone."""
    return bool(client)


async def _try_all(app: Any, session: str) -> Doors:
    found = Doors()
    routes = every_route(app)
    found.routes = len(routes)
    inside = f"goodlength_session={session}"
    for method, path in routes:
        for way, headers in {
            "no pass code": {"origin": AT},
            "stale session": {"origin": AT, "cookie": "goodlength_session=stale"},
            "wrong host": {"host": "evil.example", "origin": EVIL, "cookie": inside},
            "foreign origin": {"origin": EVIL, "cookie": inside},
            "no origin, other site": {"sec-fetch-site": "cross-site", "cookie": inside},
            "forwarded as this machine": {"x-forwarded-for": "127.0.0.1", "forwarded": "for=127.0.0.1"},
        }.items():
            if ("foreign" in way or "no origin" in way) and method in ("GET", "HEAD", "OPTIONS"):
                continue  # reading across sites is kept off by the browser, which gives no cookie there
            count_outcome(found, way, f"{method} {path}", *await ask_whole(app, method, path, headers))
    for path in TRICKS:
        count_outcome(found, "path trick", path, *await ask_whole(app, "GET", path, {}))
    status, _ = await ask(app, "GET", "/players", {"cookie": inside})
    if status != 200:
        found.let_in.append(
            f"the session that holds was refused too ({status}): nothing was tried in earnest"
        )
    return found


def count_outcome(found: Doors, way: str, what: str, status: int, answer: bytes, leads_to: str) -> None:
    found.tried += 1
    # 303 must lead to the door: what was done ends in one too; 404 only where a trick names nothing
    to_the_door = status == 303 and urlsplit(leads_to).path == "/enter"
    shut = to_the_door or status in (400, 401, 403) or (way == "path trick" and status in (404, 405))
    if shut and PERSON.encode() not in answer and b"SQLite format" not in answer:
        found.refused += 1
        found.by[way] = found.by.get(way, 0) + 1
    else:
        found.let_in.append(f"{way}: {what} -> {status}")


def every_route(app: Any) -> list[tuple[str, str]]:
    """Return each method and path of the page that is not meant to be open, with something for each name."""
    values = {"match_id": "demo", "player_id": "demo-imogen-vale"}
    return sorted(
        (method, re.sub(r"\{(\w+)[^}]*\}", lambda name: values.get(name.group(1), "x"), path))
        for method, path in route_templates(app)
        if path not in OPEN_ROUTES
    )


def route_templates(app: Any) -> set[tuple[str, str]]:
    """Return method and path template of every route of an app, those of included routers too."""
    found: set[tuple[str, str]] = set()

    def walk(routes: Iterable[Any]) -> None:
        for route in routes:
            inner = getattr(route, "original_router", None) or getattr(route, "router", None)
            if inner is not None and not hasattr(route, "methods"):
                walk(inner.routes)
            elif hasattr(route, "methods") and route.methods:
                found.update((method, route.path) for method in route.methods)

    walk(app.routes)
    described = {(method.upper(), path) for path, ways in app.openapi()["paths"].items() for method in ways}
    if missed := described - found:
        raise OwnFault(f"{len(missed)} routes of the page were not found, such as {sorted(missed)[0]}.")
    return found


async def ask(
    app: Any, method: str, path: str, headers: dict[str, str], body: bytes = b"", address: str = FAR
) -> tuple[int, bytes]:
    """Hand one request to the page, as the server would for a client at `address`; status and body."""
    return (await ask_whole(app, method, path, headers, body, address))[:2]


async def ask_whole(
    app: Any, method: str, path: str, headers: dict[str, str], body: bytes = b"", address: str = FAR
) -> tuple[int, bytes, str]:
    """Return the same, with where a redirect leads to."""
    split = urlsplit(path if not path.startswith("//") else f"http:{path}")
    raw = split.path if not path.startswith("//") else path
    fields = {"host": f"{NAME}:{PORT}", "content-length": str(len(body)), **headers}
    scope = {
        "type": "http",
        "asgi": {"version": "3.0"},
        "http_version": "1.1",
        "method": method,
        "scheme": "http",
        "path": _unquoted(raw),
        "raw_path": raw.encode("latin-1", "replace"),
        "root_path": "",
        "query_string": split.query.encode("latin-1", "replace"),
        "headers": [(k.encode(), v.encode("latin-1", "replace")) for k, v in fields.items()],
        "client": (address, 50_000),
        "server": (NAME, PORT),
        "state": {},
    }
    sent: list[dict[str, Any]] = []
    waiting = [{"type": "http.request", "body": body, "more_body": False}]

    async def receive() -> dict[str, Any]:
        return waiting.pop() if waiting else {"type": "http.disconnect"}

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    await app(scope, receive, send)
    start = next((item for item in sent if item["type"] == "http.response.start"), {})
    leads_to = dict(start.get("headers", ())).get(b"location", b"").decode("latin-1")
    whole = b"".join(item.get("body", b"") for item in sent if item["type"] == "http.response.body")
    return int(start.get("status", 0)), whole, leads_to


def _unquoted(path: str) -> str:
    from urllib.parse import unquote

    return unquote(path)


def apply_load(clients: int = 20, rallies: int = 100, seconds: float = 20.0, pause_s: float = 2.5) -> Load:
    """So many tablets on one match, each storing an answer and reading the sheet again and again.

    With a pause between answers shorter than people need at a court; then without, for how much it takes at
    most. The clients run on the same machine and take their share of it.
    """
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        keys = _match_of(folder, rallies)
        with page_on(folder) as port:
            _run_clients(port, keys, 1, 1.0, 0.05)  # warm
            calm = _run_clients(port, keys, clients, seconds, pause_s)
            busy = _run_clients(port, keys, clients, min(seconds, 5.0), 0.0)
        with Library.open(folder, create=False) as library:
            stored = {entry.id for entry in library.entries("m1")}
        confirmed = [item for run in (calm, busy) for item in run.ids]
    if not calm.ids or not busy.ids:
        raise OwnFault("no answer at all was stored, so there is nothing to be timed.")
    return Load(
        clients=clients,
        rallies=rallies,
        answers=len(calm.answer_ms),
        answer_ms_p50=float(np.percentile(calm.answer_ms, 50)),
        answer_ms_p95=float(np.percentile(calm.answer_ms, 95)),
        sheet_ms_p95=float(np.percentile(calm.sheet_ms, 95)),
        lost=sum(item not in stored for item in confirmed),
        failed=calm.failed + busy.failed,
        busiest_answers_per_s=len(busy.answer_ms) / busy.took_s,
    )


@dataclass
class LoadResult:
    answer_ms: list[float] = field(default_factory=list)
    sheet_ms: list[float] = field(default_factory=list)
    ids: list[str] = field(default_factory=list)
    failed: int = 0
    took_s: float = 0.0


def _run_clients(port: int, keys: list[str], clients: int, seconds: float, pause_s: float) -> LoadResult:
    run = LoadResult()
    until = time.monotonic() + seconds
    threads = [
        threading.Thread(target=run_client, args=(run, port, keys, n, until, pause_s)) for n in range(clients)
    ]
    began = time.monotonic()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    run.took_s = time.monotonic() - began
    return run


def run_client(run: LoadResult, port: int, keys: list[str], n: int, until: float, pause_s: float) -> None:
    page = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    time.sleep(pause_s * n / 20)
    at = n
    while time.monotonic() < until:
        entry = {
            "id": str(uuid4()),
            "observer": f"coach/{n}",
            "rally": keys[at % len(keys)],
            "what": "note",
            "at_utc": now_utc().isoformat().replace("+00:00", "Z"),
            "value": f"{n} {at}",
            "replaces": None,
        }
        try:
            if _asked(page, run.answer_ms, "POST", "/api/matches/m1/entries", {"entries": [entry]}):
                run.ids.append(str(entry["id"]))
            else:
                run.failed += 1
            run.failed += not _asked(page, run.sheet_ms, "GET", "/api/matches/m1/sheet")
        except (OSError, http.client.HTTPException):  # no answer is a failure too; a new line is taken
            run.failed += 1
            page.close()
        at += 1
        time.sleep(pause_s)
    page.close()


def _asked(
    page: http.client.HTTPConnection, taken_ms: list[float], method: str, path: str, body: Any = None
) -> bool:
    """Ask once; what was done is timed, what was refused is not: a quick refusal is no quick answer."""
    headers = {"content-type": "application/json", "origin": f"http://127.0.0.1:{page.port}"}
    began = time.perf_counter()
    page.request(method, path, None if body is None else json.dumps(body), headers)
    answer = page.getresponse()
    answer.read()
    if answer.status != 200:
        return False
    taken_ms.append((time.perf_counter() - began) * 1e3)
    return True


def _match_of(folder: Path, rallies: int) -> list[str]:
    """Return a match of so many rallies, won in turn, so that it never ends."""
    with Library.open(folder) as library:
        for name in ("iv", "pl"):
            tasks.add_player(library, name, player_id=name)
        tasks.new_match(library, ("iv", "pl"), match_id="m1", start=Start(server=Side.A))
        keys = [f"r{n}" for n in range(rallies)]
        for n, key in enumerate(keys):
            answers = ((EntryKind.KIND, "lob"), (EntryKind.LEFT, "tight"), (EntryKind.WINNER, "ab"[n % 2]))
            library.append(
                [Entry(f"{key}-{w.value}", "m1", "coach", now_utc(), key, w, value) for w, value in answers]
            )
    return keys
