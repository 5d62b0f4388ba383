"""A library in a temporary folder with one match, and a browser-like client of its page."""

from __future__ import annotations

import re
import shutil
import sys
import threading
import types
import warnings
from collections.abc import Callable, Iterator, Mapping
from datetime import date
from enum import Enum
from functools import cache
from pathlib import Path
from typing import (
    Annotated,
    Any,
    Literal,
    NotRequired,
    Union,
    get_args,
    get_origin,
    get_type_hints,
    is_typeddict,
)
from uuid import uuid4

import pytest

from goodlength import tasks
from goodlength.record import entry_log_replay
from goodlength.record.effective_answers import PROGRAM_TABS
from goodlength.record.record_json_conversion import entry_from_plain
from goodlength.record.store import Library
from goodlength.scoring.scoring_types import Side, Start
from goodlength.web import create_app
from goodlength.web.page_json_types import ANSWERS

with warnings.catch_warnings():
    # Starlette would rather have its client's successor, which the lock does not hold yet
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

APART = ("goodlength check", "goodlength tidy")  # threads of the program itself, busy after its start
ADDRESS = "http://127.0.0.1:8765"


def shape_faults(kind: Any, value: Any, where: str = "answer") -> list[str]:
    """Return where a JSON value differs from the type that the page's scripts are told."""
    origin, args = get_origin(kind), get_args(kind)
    if origin in (Annotated, NotRequired):
        return shape_faults(args[0], value, where)
    if is_typeddict(kind):
        return dict_faults(kind, value, where)
    if origin in (Union, types.UnionType):
        tried = [shape_faults(arg, value, where) for arg in args]
        return [] if [] in tried else tried[0]
    if origin is tuple and isinstance(value, list) and len(value) == len(args):
        return [f for n, item in enumerate(args) for f in shape_faults(item, value[n], f"{where}[{n}]")]
    if origin is list and isinstance(value, list):
        return [f for n, item in enumerate(value) for f in shape_faults(args[0], item, f"{where}[{n}]")]
    if origin in (dict, Mapping) and isinstance(value, dict):
        return [f for key, item in value.items() for f in shape_faults(args[1], item, f"{where}.{key}")]
    if origin is Literal:
        return [] if value in args else [f"{where} is {value!r}, not one of {args}"]
    return plain_faults(kind, value, where)


def dict_faults(kind: Any, value: Any, where: str) -> list[str]:
    """Return which keys are missing or too many, and the faults inside the others."""
    if not isinstance(value, dict):
        return [f"{where} is {value!r:.60}, not a {kind.__name__}"]
    hints = hints_of(kind)
    found = [f"{where} lacks {key}" for key in sorted(kind.__required_keys__ - value.keys())]
    found += [
        f"{where} has {key}, which {kind.__name__} lacks" for key in sorted(value.keys() - hints.keys())
    ]
    return found + [
        f
        for key in hints.keys() & value.keys()
        for f in shape_faults(hints[key], value[key], f"{where}.{key}")
    ]


@cache
def hints_of(kind: Any) -> dict[str, Any]:
    """Return the types of a dictionary's values, resolved once."""
    return get_type_hints(kind, include_extras=True)


def plain_faults(kind: Any, value: Any, where: str) -> list[str]:
    """Return what is wrong with a value that holds no other."""
    if kind in (Any, object):
        return []
    if isinstance(kind, type) and issubclass(kind, Enum):
        return [] if value in {item.value for item in kind} else [f"{where} is {value!r}, no {kind.__name__}"]
    wanted = (int, float) if kind is float else kind
    fits = (
        isinstance(value, wanted) and isinstance(value, bool) == (kind is bool)
        if isinstance(wanted, type | tuple)
        else False
    )
    return [] if fits else [f"{where} is {value!r:.60}, no {kind}"]


class CheckedClient(TestClient):
    """A client that holds each JSON answer for the page's scripts against the shape they are told."""

    def request(self, method: str, url: Any, **more: Any) -> Any:
        answer = super().request(method, url, **more)
        asked = f"{method} {answer.request.url.path}"
        for path, kind in ANSWERS.items():
            if answer.status_code < 300 and re.fullmatch(re.sub(r"\{\w+\}", "[^/]+", path), asked):
                assert shape_faults(kind, answer.json()) == [], asked
        return answer


@pytest.fixture
def faults_of() -> Callable[[Any, Any], list[str]]:
    """Where a JSON value differs from a type."""
    return shape_faults


@pytest.fixture(scope="session")
def open_client() -> Callable[..., TestClient]:
    """Open the page of a library in a folder."""
    return lambda folder, **more: CheckedClient(create_app(folder), base_url="http://127.0.0.1", **more)


@pytest.fixture
def library_template() -> Path | None:
    """A library to begin with, built once for a module that overrides this; None for an empty one."""
    return None


@pytest.fixture
def client(tmp_path: Path, library_template: Path | None) -> Iterator[TestClient]:
    """The page of a fresh library, asked by the name a browser would use."""
    if library_template is not None:
        shutil.copytree(library_template, tmp_path / "library")
    with CheckedClient(create_app(tmp_path / "library"), base_url=ADDRESS, follow_redirects=False) as checked:
        yield checked


@pytest.fixture
def library(client: TestClient) -> Any:
    """The library behind the page."""
    return client.app.state.library


@pytest.fixture(scope="session")
def new_match() -> Callable[[Any], str]:
    """Return the function that makes a match of two invented players, A to serve first."""
    return make_match


@pytest.fixture
def match_id(library: Any, library_template: Path | None) -> str:
    """The match of two invented players: made here, or already in the library begun with."""
    return make_match(library) if library_template is None else library.matches()[0].id


def make_match(library: Any) -> str:
    a = tasks.add_player(library, "Imogen Vale", player_id="iv")
    b = tasks.add_player(library, "Petra Lindqvist-Ode", player_id="plo", hand="left")
    info = tasks.new_match(
        library,
        (a.id, b.id),
        match_id="m1",
        event="Tideway Open",
        played_on=date(2026, 3, 7),
        start=Start(server=Side.A),
    )
    return info.id


Say = Callable[..., Any]


@pytest.fixture
def say(client: TestClient, library: Library, match_id: str) -> Say:
    """Send one answer as the page would; gives the sheet it makes. A draft's answer the program stores."""

    def send_answer(
        rally: str, what: str, value: Any, *, tab: str = "t1", replaces: str | None = None, **more: Any
    ) -> Any:
        entry = {
            "id": more.get("id", uuid4().hex),
            "match": match_id,
            "observer": f"coach/{tab}",
            "at_utc": "2026-03-07T18:30:00.000Z",
            "rally": rally,
            "what": what,
            "value": value,
            "replaces": replaces,
        }
        if tab in PROGRAM_TABS:
            fields = {name: part for name, part in entry.items() if name != "match"}
            tasks.record_answers(library, match_id, [entry_from_plain(fields, match_id)])
            return client.get(f"/api/matches/{match_id}/sheet").json()
        answer = client.post(f"/api/matches/{match_id}/entries", json={"entries": [entry]})
        assert answer.status_code == 200, answer.text
        return answer.json()["sheet"]

    return send_answer


class Cost:
    """Replays, of whatever observer, and reads of the store since `begin`."""

    def __init__(self) -> None:
        self.begin()

    def begin(self) -> None:
        """Count from now on."""
        self.replays = self.reads = 0


@pytest.fixture
def cost(monkeypatch: pytest.MonkeyPatch) -> Cost:
    """What a request costs: each replay is counted, and each connection that is opened to read."""
    found, replayed, read = Cost(), entry_log_replay.match_from, Library._read

    def replay_counted(*given: Any, **named: Any) -> Any:
        found.replays += 1
        return replayed(*given, **named)

    def read_counted(library: Library) -> Any:
        found.reads += threading.current_thread().name not in APART
        return read(library)

    for module in list(sys.modules.values()):
        if getattr(module, "match_from", None) is replayed:
            monkeypatch.setattr(module, "match_from", replay_counted)
    monkeypatch.setattr(Library, "_read", read_counted)
    return found
