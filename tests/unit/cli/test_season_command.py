"""`findings search`: rallies under their matches, the same as JSON, wrong words told in a sentence."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from goodlength import demo
from goodlength.cli import main


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("search")
    demo.build(folder, footage=False)
    return folder


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = 0
    try:
        main(args=words)
    except SystemExit as left:
        code = int(left.code or 0)
    said = capsys.readouterr()
    return code, said.out, said.err


def test_rallies_stand_under_their_matches(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ("--player", "imogen", "--serving", "--kind", "lob", "--left", "weak", "--lost")
    code, out, _ = run(capsys, "findings", "search", *words, "--library", str(library))
    assert code == 0
    assert "Imogen Vale v Oona Marsh-Tallis, 2025-10-02 (demo-left)" in out
    assert "Imogen Vale won 0 of" in out
    assert "%" not in out
    assert "luck" in out


def test_as_data(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(
        capsys, "findings", "search", "--text", "length", "--since", "2025-10-01", "--json",
        "--library", str(library),
    )  # fmt: skip
    found = json.loads(out)
    assert code == 0
    assert found["total"] == len(found["rallies"]) > 0
    assert all("length" in rally["note"].lower() for rally in found["rallies"])


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("--player", "nobody"), 1, "player list"),
        (("--kind", "smash"), 1, "lob"),
        (("--since", "tomorrow"), 2, "tomorrow"),
        (("--limit", "0"), 1, "1 or more"),
        (("--match", "nope"), 1, "match list"),
    ],
)
def test_what_cannot_be_asked_is_told(
    words: tuple[str, ...], code: int, said: str, library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    left, out, err = run(capsys, "findings", "search", *words, "--library", str(library))
    assert (left, out) == (code, "")
    assert said in err
