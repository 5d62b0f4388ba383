"""A file named on the command line that is missing, or is not what it should be: the same words everywhere."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from goodlength.cli import main

WITH_JSON = [
    ("footage", "calibrate", "demo-game-1", "--marks"),
    ("footage", "measure", "demo", "4", "--marks"),
    ("court", "calibrate", "a-court"),
    ("practice", "drills", "--add"),
]
WITH_JOINTS = ("show", "disguise", "demo", "--joints")


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory, demo_library: Path) -> Path:
    folder = tmp_path_factory.mktemp("named")
    shutil.copytree(demo_library, folder, dirs_exist_ok=True)
    return folder


def told(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    with pytest.raises(SystemExit) as left:
        main(args=words)
    assert left.value.code == 1
    said = capsys.readouterr()
    assert said.out == ""
    assert "Errno" not in said.err
    assert "pickle" not in said.err
    assert "error of its own" not in said.err
    return said.err


@pytest.mark.parametrize("words", [*WITH_JSON, WITH_JOINTS], ids=lambda words: " ".join(words[:2]))
def test_a_file_that_is_not_there(
    words: tuple[str, ...], library: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    gone = tmp_path / "gone.json"
    said = told(capsys, "--library", str(library), *words, str(gone))
    assert said == f"Cannot find {gone}. Check its name and folder.\n"


@pytest.mark.parametrize("words", WITH_JSON, ids=lambda words: " ".join(words[:2]))
@pytest.mark.parametrize(
    ("content", "where"),
    [
        (b'[{"u": 1},\n{"u"', " (see line 2)"),
        (b"", " (see line 1)"),
        (b"\xff\xfe\x00", ""),
        (b"[" * 200_000, ""),
        (b"9" * 5000, ""),
    ],
    ids=["cut off", "empty", "no text", "nested", "long number"],
)
def test_a_file_that_is_not_json(
    words: tuple[str, ...],
    content: bytes,
    where: str,
    library: Path,
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
) -> None:
    file = tmp_path / "typed.json"
    file.write_bytes(content)
    said = told(capsys, "--library", str(library), *words, str(file))
    assert said.startswith(f"typed.json is not JSON{where}. ")
    assert said.rstrip().endswith(".")


@pytest.mark.parametrize("content", [b"hello", b"", b"PK\x03\x04 cut off", b"\x93NUMPY"])
def test_a_file_that_holds_no_body_points(
    content: bytes, library: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "joints.npz"
    file.write_bytes(content)
    said = told(capsys, "--library", str(library), *WITH_JOINTS, str(file))
    assert said.startswith("joints.npz cannot be read as a file of body points (.npz). ")
