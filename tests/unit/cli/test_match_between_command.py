"""`match between`: lines for the coach, the same as JSON, one sentence when it cannot."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from goodlength.cli import main


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory, demo_library: Path) -> Path:
    folder = tmp_path_factory.mktemp("between")
    shutil.copytree(demo_library, folder, dirs_exist_ok=True)
    return folder


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = 0
    try:
        main(args=words)
    except SystemExit as left:
        code = int(left.code or 0)
    said = capsys.readouterr()
    return code, said.out, said.err


def test_every_line_says_which_games_it_is_about(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A line over four games and a count of game 4 stand under one heading."""
    _, out, _ = run(capsys, "match", "between", "demo", "--library", str(library))
    _, *lines, note = out.strip().split("\n\n")
    assert all(", over 4 games. " in line or "A count only, in game 4. " in line for line in lines)
    assert any("A count only, in game 4. Unforced errors: Imogen 1, Petra 1." in line for line in lines)
    assert note == "The match is over: use these lines to prepare the next one."
    _, out, _ = run(capsys, "match", "between", "demo", "--game", "1", "--library", str(library))
    assert "Pick one line" in out.strip().split("\n\n")[-1]


def test_at_most_three_lines_without_a_percentage(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "match", "between", "demo", "--library", str(library))
    statements = [block.splitlines() for block in out.strip().split("\n\n")]
    assert code == 0
    assert statements[0][0].startswith("After game 4: Imogen 11–8, 7–11, 9–11, 8–11")
    statements.pop()  # how to use the lines
    assert 1 < len(statements) <= 4
    assert all(len(lines) == 1 or "likely nearer" in lines[1] for lines in statements)
    assert sum(len(lines) for lines in statements) <= 5
    assert "%" not in out


def test_as_data_each_line_names_its_rallies(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "match", "between", "demo", "--game", "2", "--json", "--library", str(library))
    sheet = json.loads(out)
    assert (code, sheet["game"]) == (0, 2)
    assert len(sheet["lines"]) == 3
    assert all({"words", "grade", "rallies"} <= line.keys() for line in sheet["lines"])


def test_a_game_that_was_not_played_ends_with_one(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "match", "between", "demo", "--game", "7", "--library", str(library))
    assert (code, out) == (1, "")
    assert "Game 7" in err
