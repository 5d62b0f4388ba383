"""`player brief`: one page for a person, the same as data, a sentence when there is nothing."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from goodlength.cli import main


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory, demo_library: Path) -> Path:
    folder = tmp_path_factory.mktemp("brief")
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


def test_a_page_for_a_person(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "player", "brief", "petra", "--library", str(library))
    assert code == 0
    assert out.startswith("Petra Lindqvist-Ode: from two matches")
    assert "Try first: the lob from the right box. The return was loose or missed on 14 of 20" in out
    assert "Not enough data, over 2 matches: Not enough" not in out  # not said twice


def test_as_data(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(
        capsys, "player", "brief", "petra", "--since", "2025-10-01", "--json", "--library", str(library)
    )
    page = json.loads(out)
    assert (code, page["matches"]) == (0, 1)
    assert page["serve"]["grade"] in {"leaning", "too-few"}


def test_nobody_of_that_name(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "player", "brief", "zed", "--library", str(library))
    assert (code, out) == (1, "")
    assert "'zed'" in err
