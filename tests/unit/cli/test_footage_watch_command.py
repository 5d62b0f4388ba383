"""`goodlength footage watch`: what it prints, what it leaves alone."""

from __future__ import annotations

from pathlib import Path

import pytest

from goodlength import tasks
from goodlength.cli import main
from goodlength.record.model import MatchInfo, Player
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.transfer import watched_folder


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    with tasks.open_library(tmp_path / "library") as made:
        for player in (Player("p1", "Petra"), Player("p2", "Opal")):
            made.save_player(player)
        made.save_match(MatchInfo("m1", ("p1", "p2")))
    (tmp_path / "new").mkdir()
    draw(tmp_path / "new" / "match.mp4", Recipe(tuple(range(20)), sound=""))
    return tmp_path / "new"


def run(capsys: pytest.CaptureFixture[str], folder: Path, *words: str) -> tuple[int, str, str]:
    code = 0
    try:
        main(args=["footage", "watch", *words, "--library", str(folder.parent / "library")])
    except SystemExit as left:
        code = int(left.code or 0)
    said = capsys.readouterr()
    return code, said.out, said.err


def test_once_adds_what_is_there(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (folder / "text.mp4").write_text("hello " * 99)
    code, out, notes = run(capsys, folder, "m1", str(folder), "--once")
    assert code == 0
    assert "Added: match.mp4" in notes
    with tasks.open_library(folder.parent / "library") as library:
        assert out.split() == [item.id for item in library.footage("m1")]
    assert run(capsys, folder, "m1", str(folder), "--once")[1] == ""


def test_ctrl_c_stops_watching(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def pressed(_: float) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(watched_folder.time, "sleep", pressed)
    code, out, notes = run(capsys, folder, "m1", str(folder))
    assert (code, out) == (0, "")
    assert "Ctrl+C stops" in notes
    assert "Stopped watching" in notes


@pytest.mark.parametrize(
    ("match_id", "path", "said"), [("m9", "", "m9"), ("m1", "none", "There is no folder")]
)
def test_what_cannot_be_watched_is_told(
    folder: Path, capsys: pytest.CaptureFixture[str], match_id: str, path: str, said: str
) -> None:
    code, out, notes = run(capsys, folder, match_id, str(folder / path))
    assert (code, out) == (1, "")
    assert said in notes
    assert "Traceback" not in notes
