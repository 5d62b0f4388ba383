"""What a command prints arrives on every console: letters it cannot draw are replaced, never fatal."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.cli import main
from goodlength.record.model import EntryKind


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("consoles") / "library"
    with tasks.open_library(folder) as item:
        a = tasks.add_player(item, "Zoë Łęcka", player_id="zl")
        b = tasks.add_player(item, "春 Vale", player_id="hv")
        tasks.new_match(item, (a.id, b.id), match_id="m1")
        for n in range(5):
            tasks.answer(item, "m1", f"r{n}", EntryKind.WINNER, "a")
    return folder


def run(folder: Path, console: str, *words: str) -> subprocess.CompletedProcess[bytes]:
    """Return what the command printed in the letters of that console."""
    return subprocess.run(
        [sys.executable, "-m", "goodlength", "--library", str(folder), *words],
        env=os.environ | {"PYTHONIOENCODING": console},
        capture_output=True,
        check=False,
    )


def run_here(
    monkeypatch: pytest.MonkeyPatch, folder: Path, console: str, *words: str
) -> subprocess.CompletedProcess[bytes]:
    """As `run`, in this process: streams as the interpreter makes them for such a console."""
    streams = {name: io.TextIOWrapper(io.BytesIO(), encoding=console) for name in ("stdout", "stderr")}
    code = 0
    with monkeypatch.context() as patch:
        for name, stream in streams.items():
            patch.setattr(sys, name, stream)
        try:
            main(args=["--library", str(folder), *words])
        except SystemExit as left:
            code = int(left.code or 0)
    out, err = (stream.buffer for stream in streams.values())
    for stream in streams.values():
        stream.flush()
    return subprocess.CompletedProcess(words, code, out.getvalue(), err.getvalue())  # type: ignore[attr-defined]


CONSOLES = pytest.mark.parametrize("console", ["cp437", "cp850", "cp1252"])
WORDS = pytest.mark.parametrize("words", [("match", "show", "m1"), ("player", "list"), ("match", "list")])


@CONSOLES
@WORDS
def test_a_command_is_printed_on_any_console(
    library: Path, console: str, words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    done = run_here(monkeypatch, library, console, *words)
    assert (done.returncode, done.stderr) == (0, b"")
    assert "Zoë" in done.stdout.decode(console)


@CONSOLES
def test_a_program_of_its_own_prints_on_any_console(library: Path, console: str) -> None:
    done = run(library, console, "match", "show", "m1")
    assert (done.returncode, done.stderr) == (0, b"")
    assert "Zoë" in done.stdout.decode(console)


def test_a_refusal_is_printed_on_any_console(library: Path) -> None:
    done = run(library, "ascii", "match", "show", "春")
    assert done.returncode == 1
    assert b"Traceback" not in done.stderr and b"hit an error of its own" not in done.stderr


def test_json_loses_no_letter_on_any_console(library: Path) -> None:
    done = run(library, "cp850", "player", "list", "--json")
    assert "Łęcka" in json.dumps(json.loads(done.stdout), ensure_ascii=False)


def test_letters_the_console_has_are_kept(library: Path) -> None:
    assert "Zoë" in run(library, "cp850", "player", "list").stdout.decode("cp850")
    assert "春 Vale" in run(library, "utf-8", "player", "list").stdout.decode("utf-8")
