"""`match agree`: with a file, kept beside the record, and told when there is nothing to compare."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from goodlength.cli import main


@pytest.fixture
def library(tmp_path: Path, demo_library: Path) -> Path:
    shutil.copytree(demo_library, tmp_path / "lib", dirs_exist_ok=True)
    return tmp_path / "lib"


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    code = 0
    try:
        main(args=words)
    except SystemExit as left:
        code = int(left.code or 0)
    said = capsys.readouterr()
    return code, said.out, said.err


def test_the_same_record_agrees_with_itself(
    library: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "other.json"
    assert run(capsys, "match", "export", "demo", "--to", str(file), "--library", str(library))[0] == 0
    code, out, _ = run(capsys, "match", "agree", "demo", "--with", str(file), "--library", str(library))
    assert code == 0
    assert out.startswith("coach compared with coach (other.json): Both logged 78 rallies.")
    assert "Not used in findings" not in out
    assert "All answers are the same as in the first log" in out
    assert "1.00 to 1.00" not in out and "(95% range unknown)" in out
    code, out, err = run(
        capsys,
        "match",
        "agree",
        "demo",
        "--with",
        str(file),
        "--keep-as",
        "helper",
        "--json",
        "--library",
        str(library),
    )
    told = json.loads(out)
    assert (code, told["observers"], told["greyed"]) == (0, ["coach", "helper"], [])
    assert "answers saved as helper" in err
    assert {row["variable"] for row in told["variables"]} >= {"kind", "left", "winner"}


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("demo",), 1, "--with"),
        (("nope",), 1, "'nope'"),
        (("demo", "--keep-as", "x"), 2, "--with"),
        (("demo", "--with", "gone.json"), 1, "Cannot find"),
    ],
)
def test_what_cannot_be_compared_is_told(
    words: tuple[str, ...], code: int, said: str, library: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    left, out, err = run(capsys, "match", "agree", *words, "--library", str(library))
    assert (left, out) == (code, "")
    assert said in err
