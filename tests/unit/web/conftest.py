"""A library in a temporary folder with one match, and a browser-like client of its page."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from goodlength import tasks
from goodlength.scoring.model import Side, Start
from goodlength.web import create_app

with warnings.catch_warnings():
    # Starlette would rather have its client's successor, which the lock does not hold yet
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

ADDRESS = "http://127.0.0.1:8765"


@pytest.fixture
def client(tmp_path: Path) -> Iterator[TestClient]:
    """The page of a fresh library, asked by the name a browser would use."""
    with TestClient(create_app(tmp_path / "library"), base_url=ADDRESS, follow_redirects=False) as one:
        yield one


@pytest.fixture
def library(client: TestClient) -> Any:
    """The library behind the page."""
    return client.app.state.library


@pytest.fixture
def match_id(library: Any) -> str:
    """A match of two invented players, A to serve first."""
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
def say(client: TestClient, match_id: str) -> Say:
    """Send one answer as the page would; gives the sheet it makes."""

    def one(
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
        answer = client.post(f"/api/matches/{match_id}/entries", json={"entries": [entry]})
        assert answer.status_code == 200, answer.text
        return answer.json()["sheet"]

    return one
