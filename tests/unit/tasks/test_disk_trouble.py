"""A disk that is full, or that nothing can be written to: told in words, nothing half written left.

The disks are file systems in memory, which only the system's administrator can make; else these are skipped.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from click.testing import CliRunner

from goodlength import tasks
from goodlength.cli import root_command
from goodlength.errors import NoSpace
from goodlength.record.store import Library
from goodlength.tasks.findings.season_search import SeasonQuestion
from robustness.robustness_suite import small_disk


@pytest.fixture(scope="module")
def invented(tmp_path_factory: pytest.TempPathFactory, demo_library: Path) -> Path:
    folder = tmp_path_factory.mktemp("invented") / "lib"
    shutil.copytree(demo_library, folder, dirs_exist_ok=True)
    return folder


@contextmanager
def disk(place: Path, size: str) -> Iterator[Path]:
    place.mkdir()
    with small_disk(place, size) as made:
        if not made:
            pytest.skip("a small disk can be made by the system's administrator only; run as root to wake it")
        yield place


def left_on(place: Path) -> list[str]:
    return sorted(str(path.relative_to(place)) for path in place.rglob("*") if path.is_file())


def test_a_back_up_onto_a_full_disk_is_told_and_leaves_nothing(invented: Path, tmp_path: Path) -> None:
    with disk(tmp_path / "stick", "300k") as stick:
        said = CliRunner().invoke(
            root_command.root,
            ["library", "backup", str(stick), "--library", str(invented)],
            catch_exceptions=True,
        )
        assert isinstance(said.exception, NoSpace), said.exception
        assert "full" in str(said.exception)
        assert "library is as it was" in str(said.exception)
        assert left_on(stick) == []


def test_a_full_disk_while_the_season_is_read_is_told_and_leaves_no_part(
    invented: Path, tmp_path: Path
) -> None:
    with disk(tmp_path / "small", "1600k") as small:
        shutil.copytree(invented, small / "lib")
        with Library.open(small / "lib") as library:
            free = shutil.disk_usage(small).free
            (small / "ballast").write_bytes(b"x" * max(0, free - 60_000))
            with pytest.raises(NoSpace, match="full"):
                tasks.search(library, SeasonQuestion())
            assert [name for name in left_on(small) if "part" in name] == []
            (small / "ballast").unlink()


def test_a_new_form_that_finds_no_room_for_its_copy_is_told(invented: Path, tmp_path: Path) -> None:
    from goodlength.record.store import sqlite

    with disk(tmp_path / "stick", "200k") as stick:
        with pytest.raises(NoSpace, match="full"):
            sqlite.copy_to(invented / "library.sqlite3", stick / "copy")
        assert left_on(stick) == []


def test_a_disk_nothing_can_be_written_to_is_told_for_handout_and_upload(
    invented: Path, tmp_path: Path
) -> None:
    import asyncio

    from goodlength.web.app import create_app
    from robustness.access_control_and_load import ask

    host = {"host": "127.0.0.1", "origin": "http://127.0.0.1"}
    with disk(tmp_path / "stick", "16m") as stick:
        shutil.copytree(invented, stick / "lib")
        subprocess.run(["mount", "-o", "remount,ro", str(stick)], check=True)
        app = create_app(stick / "lib")
        library = app.state.library
        try:
            player = library.match_info("demo").players[0]
            assert library.player(player).consent is not None
            for path, kind, body in (
                ("/matches/demo/handout", "application/x-www-form-urlencoded", b"own=&do=make"),
                ("/api/matches/demo/footage/upload?name=x.mp4", "application/octet-stream", b"film"),
                ("/matches/import", "multipart/form-data; boundary=B", IMPORT),
            ):
                status, said = asyncio.run(
                    ask(app, "POST", path, {**host, "content-type": kind}, body, "127.0.0.1")
                )
                assert status == 507, (path, status, said[-600:])
                assert b"mistake of its own" not in said
        finally:
            app.state.jobs.close()
            library.close()


IMPORT = (
    b'--B\r\nContent-Disposition: form-data; name="file"; filename="m.csv"\r\n\r\n'
    b"player_a,player_b,winner\r\na,b,a\r\n\r\n--B--\r\n"
)


def test_what_the_system_says_of_the_disk_is_told_wherever_it_comes_up(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device", "/lib/x")

    monkeypatch.setattr(tasks, "library_check", full)
    with pytest.raises(SystemExit) as ended:
        root_command.main(args=["library", "check", "--library", str(tmp_path / "lib")])
    assert ended.value.code == 1
    assert "The disk is full: /lib/x could not be written." in capsys.readouterr().err


def test_the_report_of_a_mistake_has_a_name_nobody_could_lay_out_before(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    """It had one name in the folder all users share, and was written through a link laid there."""
    shared, precious = tmp_path / "shared", tmp_path / "precious"
    shared.mkdir()
    precious.write_text("mine")
    (shared / "goodlength-report.txt").symlink_to(precious)
    monkeypatch.setattr(tempfile, "tempdir", str(shared))

    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("planted \udc80")

    monkeypatch.setattr(tasks, "library_check", broken)
    told = []
    for _ in range(2):
        with pytest.raises(SystemExit):
            root_command.main(args=["library", "check", "--library", str(tmp_path / "lib")])
        told.append(capsys.readouterr().err)
    assert precious.read_text() == "mine"
    reports = [path for path in shared.iterdir() if not path.is_symlink()]
    assert len(reports) == 2
    assert all(any(str(path) in item for item in told) for path in reports)
    assert all("planted" in path.read_text() for path in reports)
    if os.name == "posix":
        assert {path.stat().st_mode & 0o077 for path in reports} == {0}
