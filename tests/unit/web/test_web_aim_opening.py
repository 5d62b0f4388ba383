"""What the Aim page opens with: a shipped example, or the serve of the player measured most."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.record.model import EntryKind
from goodlength.record.store import Library
from goodlength.web import aim_page_first_answer, create_app
from goodlength.web.aim_page_first_answer import example_view, measured_question
from scripts.write_aim_page_example import example

MEASURED = {
    "footage": "f",
    "marks": [{"what": "front", "at_us": 0, "u": 1.0, "v": 1.0}],
    "struck_us": 0,
    "level": 0.95,
    "speed_m_s": [20.0, 19.0, 21.0],
    "up_deg": [30.0, 29.0, 31.0],
    "front_x_m": [3.5, 3.4, 3.6],
    "front_z_m": [4.0, 3.9, 4.1],
    "to_front_s": [0.4, 0.39, 0.41],
    "struck_m": [[5.8, 5.7, 5.9], [5.9, 5.8, 6.0], [1.1, 1.0, 1.2]],
    "side": "left",
    "good_of_100": 99,
    "side_first_of_100": 1,
    "dies_of_100": 50,
}


def numbers(view: Any) -> list[float]:
    return [float(n) for n in re.findall(r"-?\d+\.?\d*", json.dumps(view))]


def test_the_example_is_what_is_calculated() -> None:
    now, shipped = json.loads(json.dumps(example())), example_view()
    assert now.keys() == shipped.keys()
    for name in ("at", "above", "along", "speed", "time", "here", "misses"):
        assert numbers(now[name]) == pytest.approx(numbers(shipped[name]), abs=1.01), name
    for name in ("rows", "good"):
        assert [row["count"] for row in _rows(now[name])] == pytest.approx(
            [row["count"] for row in _rows(shipped[name])], abs=1
        )
    assert now["assumed"] == shipped["assumed"]


def _rows(view: Any) -> list[Any]:
    return view if isinstance(view, list) else [view]


@pytest.fixture
def library(tmp_path: Path, demo_library: Path) -> Iterator[Library]:
    folder = tmp_path / "library"
    shutil.copytree(demo_library, folder)
    with tasks.open_library(folder) as opened:
        yield opened


def _measure(library: Library, match_id: str, side: str, kind: str = "lob", count: int = 6) -> None:
    """Say of some serves of a player that they were measured."""
    rallies = tasks.open_match(library, match_id).match.rallies
    mine = [r for r in rallies if r.server.value == side and r.serve.kind == kind and r.box.value == "right"]
    for rally in mine[:count]:
        tasks.answer(library, match_id, rally.key, EntryKind.MEASURED, MEASURED)


def test_the_serve_measured_most_is_asked_for_and_the_demo_only_alone(library: Library) -> None:
    assert measured_question(library) == {}
    _measure(library, "demo", "a")
    assert measured_question(library) == {"player": "demo-imogen-vale", "kind": "lob", "box": "right"}
    for name in ("ann", "bea"):
        tasks.add_player(library, name.title(), player_id=name)
    tasks.new_match(library, ("ann", "bea"), match_id="own", played_on=date(2026, 1, 1))
    assert measured_question(library) == {}


def test_the_page_asks_for_it_by_its_script(tmp_path: Path, library: Library) -> None:
    _measure(library, "demo", "a")
    app = create_app(library.folder)
    client = TestClient(app, base_url="http://127.0.0.1")
    page = client.get("/aim").text
    assert "data-opens" in page
    assert "Calculating a target from the serves measured" in page
    assert '<option value="demo-imogen-vale" selected>' in page
    assert aim_page_first_answer.EXAMPLE_WORDS not in page
    app.state.jobs.close()
    app.state.library.close()
