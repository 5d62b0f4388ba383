"""What a page or command over many matches costs: each match is replayed once at most."""

from __future__ import annotations

import shutil
import sys
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from starlette.testclient import TestClient

from goodlength import tasks
from goodlength.cli.root_command import root
from goodlength.practice.planning.practice_plan import Time, plan_form
from goodlength.record import entry_log_replay
from goodlength.tasks.findings.season_search import forget_season

PLAYER = "demo-imogen-vale"
PAGES = {
    "/matches/demo/tell": 3,
    f"/aim?player={PLAYER}": 3,
    f"/aim/path?player={PLAYER}&across=3&above=2&pace=20": 0,
    f"/players/{PLAYER}": 3,
    f"/players/{PLAYER}/brief": 3,
    f"/practice/{PLAYER}": 3,
    f"/search?player={PLAYER}": 3,
}
COMMANDS = (
    "show disguise demo",
    f"practice progress {PLAYER}",
    f"player serves {PLAYER}",
    f"player brief {PLAYER}",
    f"findings search --player {PLAYER}",
    f"serve aim --box right --kind lob --player {PLAYER}",
)


@pytest.fixture
def full(tmp_path: Path, planned_library: Path) -> Path:
    """The three demo matches, a plan between the earlier two and the last, nothing read before."""
    shutil.copytree(planned_library, tmp_path / "library")
    return tmp_path / "library"


@pytest.fixture(scope="module")
def planned_library(tmp_path_factory: pytest.TempPathFactory, demo_library: Path) -> Path:
    """The library of `full`, built once: to be copied, never changed."""
    folder = tmp_path_factory.mktemp("planned") / "library"
    shutil.copytree(demo_library, folder)
    with tasks.open_library(folder) as library:
        begins = date(2025, 9, 1)
        plan = plan_form(tasks.propose_plan(tasks.open_match(library, "demo"), Time(2, 60), begins=begins))
        tasks.save_plan(library, PLAYER, {**plan, "match": "demo"})
        forget_season(library)
        assert len(library.matches()) == 3
    return folder


@pytest.fixture
def page_of(full: Path, open_client: Callable[..., TestClient]) -> Iterator[TestClient]:
    with open_client(full) as client:
        yield client


@pytest.mark.parametrize("page", PAGES)
def test_a_page_over_many_matches_replays_each_once(page_of: TestClient, page: str, cost: Any) -> None:
    """Asked for the first time; before, up to twice for each match and once more for the page's own."""
    cost.begin()
    answer = page_of.get(page)
    assert answer.status_code == 200
    assert cost.replays <= PAGES[page]


@pytest.mark.parametrize("command", COMMANDS)
def test_a_command_over_many_matches_replays_each_once(
    full: Path, command: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    counted, replayed = [], entry_log_replay.match_from
    for module in list(sys.modules.values()):
        if getattr(module, "match_from", None) is replayed:
            monkeypatch.setattr(
                module, "match_from", lambda *given, **named: counted.append(1) or replayed(*given, **named)
            )
    done = CliRunner().invoke(root, ["--library", str(full), *command.split()])
    assert done.exit_code == 0, done.output
    assert len(counted) <= 3
