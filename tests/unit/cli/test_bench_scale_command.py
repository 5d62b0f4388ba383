"""`bench scale --server` and `--hosts` join the figures of servers of their own, or says why there are none."""

from __future__ import annotations

import json
import subprocess
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from goodlength.bench import large_library_response_times
from goodlength.cli import bench
from goodlength.errors import GoodlengthError

FOUND = {"server": "tried", "first_search_second_coach_s": 2.5, "one_changed_s": 0.2, "matches": 10}


@dataclass(frozen=True)
class Figures:
    matches: int = 3


@pytest.fixture(autouse=True)
def quick(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(large_library_response_times, "bench_scale", lambda *_, **__: Figures())


def answered(monkeypatch: pytest.MonkeyPatch, code: int, text: str, error: str = "") -> list[Any]:
    asked: list[Any] = []

    def run(command: list[str], **named: Any) -> Any:
        asked.append((command, named["cwd"]))
        return subprocess.CompletedProcess(command, code, text, error)

    monkeypatch.setattr(subprocess, "run", run)
    return asked


def test_the_figures_of_the_server_stand_beside_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = answered(monkeypatch, 0, json.dumps(FOUND))
    done = CliRunner().invoke(bench.bench_command, ["scale", "--server", "--seed", "5", "--json"])
    assert done.exit_code == 0, done.output
    printed = json.loads(done.output)
    assert (printed["matches"], printed["server"]) == (3, FOUND)
    assert (printed["first_search_second_coach_s"], printed["one_changed_s"]) == (2.5, 0.2)
    ((command, folder),) = asked
    assert command[1:] == ["-m", "robustness", "season", "--seed", "5", "--json"]
    assert (Path(folder) / "robustness").is_dir()


def test_the_figures_of_several_hosts_stand_beside_the_others(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = answered(monkeypatch, 0, json.dumps({"hosts": "tried", "identical": True}))
    done = CliRunner().invoke(bench.bench_command, ["scale", "--hosts", "--seed", "5", "--json"])
    assert json.loads(done.output)["hosts"] == {"hosts": "tried", "identical": True}
    ((command, _),) = asked
    assert command[1:] == ["-m", "robustness", "batches", "--seed", "5", "--json"]


def test_without_the_option_no_server_is_started(monkeypatch: pytest.MonkeyPatch) -> None:
    asked = answered(monkeypatch, 0, "")
    done = CliRunner().invoke(bench.bench_command, ["scale", "--json"])
    assert (done.exit_code, asked) == (0, [])
    assert "server" not in json.loads(done.output)


def test_what_went_wrong_on_the_server_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    answered(monkeypatch, 1, "", "initdb failed\n")
    done = CliRunner().invoke(bench.bench_command, ["scale", "--server"])
    assert isinstance(done.exception, GoodlengthError)
    assert str(done.exception) == "initdb failed"


def test_the_installed_program_says_where_the_server_s_part_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench.goodlength, "__file__", "/nowhere/lib/site/goodlength/__init__.py")
    done = CliRunner().invoke(bench.bench_command, ["scale", "--server"])
    assert "bench scale --server is not in the installed program" in str(done.exception)
