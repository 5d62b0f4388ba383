"""A file is written whole or not at all."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path

import pytest

from goodlength.errors import NoSpace
from goodlength.files.atomic_write import LEFTOVER, atomic_write, sweep


def test_the_name_appears_only_at_the_end(tmp_path: Path) -> None:
    with atomic_write(tmp_path / "new" / "a.txt") as part:
        part.write_text("whole")
        assert not (tmp_path / "new" / "a.txt").exists()
        assert part.parent == tmp_path / "new"
    assert (tmp_path / "new" / "a.txt").read_text() == "whole"
    assert len(list((tmp_path / "new").iterdir())) == 1


def test_a_failure_leaves_the_old_file(tmp_path: Path) -> None:
    (tmp_path / "a.txt").write_text("old")
    with pytest.raises(ZeroDivisionError), atomic_write(tmp_path / "a.txt") as part:
        part.write_text("half")
        raise ZeroDivisionError
    assert (tmp_path / "a.txt").read_text() == "old"
    assert len(list(tmp_path.iterdir())) == 1


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (errno.ENOSPC, "is full"),
        (errno.EDQUOT, "is full"),
        (errno.EROFS, "may not be written"),
        (errno.EACCES, "may not be written"),
        (errno.EIO, "cannot be reached"),
    ],
)
def test_disk_troubles_are_sentences(tmp_path: Path, code: int, words: str) -> None:
    with pytest.raises(NoSpace, match=words) as caught, atomic_write(tmp_path / "a.mp4"):
        raise OSError(code, os.strerror(code))
    assert "a.mp4" in str(caught.value)
    assert not list(tmp_path.iterdir())


def test_other_errors_are_not_dressed_up(tmp_path: Path) -> None:
    with pytest.raises(OSError, match="strange"), atomic_write(tmp_path / "a"):
        raise OSError(errno.ENOTSOCK, "strange")


def test_leftovers_of_a_kill_are_swept_and_nothing_else(tmp_path: Path) -> None:
    (tmp_path / f"{LEFTOVER}abc.mp4").touch()
    (tmp_path / "mine.mp4").touch()
    assert sweep(tmp_path, older_than_s=60) == 0
    assert sweep(tmp_path) == 1
    assert [p.name for p in tmp_path.iterdir()] == ["mine.mp4"]
    assert sweep(tmp_path / "away") == 0


LIMITED = """
import resource, signal, sys
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[3]), int(sys.argv[3])))
from goodlength.errors import NoSpace
from goodlength.footage.edit.clip_export import encode_clip
try:
    encode_clip(sys.argv[1], 0, 2_000_000, sys.argv[2])
except NoSpace as error:
    print(error)
    sys.exit(7)
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a limit on file sizes; wakes on Linux and macOS")
@pytest.mark.parametrize("limit", [1, 2000, 9000])
def test_a_disk_that_really_runs_full_in_the_middle_of_a_clip(even: Path, tmp_path: Path, limit: int) -> None:
    """The system refuses to let the file grow: at its beginning, in its middle, when it is closed."""
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(even), str(tmp_path / "c.mp4"), str(limit)],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 7, done.stderr
    assert "is full" in done.stdout
    assert not list(tmp_path.iterdir())


def open_once(monkeypatch: pytest.MonkeyPatch, times: int) -> None:
    """Refuse to replace a file so many times, as Windows does while another program has it open."""
    left, replace = [times], Path.replace

    def refuse(part: Path, dst: Path) -> Path:
        if left[0] == 0:
            return replace(part, dst)
        left[0] -= 1
        error = PermissionError(errno.EACCES, "in use", str(dst))
        error.winerror = 32  # type: ignore[attr-defined,unused-ignore]
        raise error

    monkeypatch.setattr(Path, "replace", refuse)
    monkeypatch.setattr("goodlength.files.atomic_write.FILE_IN_USE_PAUSE_S", 0.0, raising=False)


def test_a_file_open_once_for_a_moment_is_written_all_the_same(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a.txt").write_text("old")
    open_once(monkeypatch, 3)
    with atomic_write(tmp_path / "a.txt") as part:
        part.write_text("new")
    assert (tmp_path / "a.txt").read_text() == "new"


def test_a_file_open_once_for_long_is_named_and_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "a.txt").write_text("old")
    open_once(monkeypatch, 99)
    with (
        pytest.raises(NoSpace, match="another program has it open"),
        atomic_write(tmp_path / "a.txt") as part,
    ):
        part.write_text("new")
    assert (tmp_path / "a.txt").read_text() == "old"
    assert len(list(tmp_path.iterdir())) == 1
