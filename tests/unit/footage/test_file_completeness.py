"""A file still being copied is waited for or told, one that says where it ends is not waited for (growing files)."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from goodlength.errors import FootageError, Unfinished
from goodlength.footage.media import file_completeness
from goodlength.footage.media.file_completeness import WATCH_S, ends_where_it_says, settled
from goodlength.footage.media.video_probe import probe_with_frames

Film = Callable[..., Path]


class Clock:
    """Time that goes on only while somebody sleeps, and what happens at which moment."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, path: Path) -> None:
        self.now, self.path, self.slept = time.time(), path, 0.0
        self.at: list[tuple[float, Callable[[], object]]] = []
        monkeypatch.setattr(file_completeness.time, "time", lambda: self.now)
        monkeypatch.setattr(file_completeness.time, "monotonic", lambda: self.slept)
        monkeypatch.setattr(file_completeness.time, "sleep", self.sleep)

    def sleep(self, for_s: float) -> None:
        self.slept += for_s
        self.now += for_s
        while self.at and self.at[0][0] <= self.slept:
            self.at.pop(0)[1]()


def append(path: Path, data: bytes) -> Callable[[], object]:
    def more() -> None:
        with path.open("ab") as file:
            file.write(data)

    return more


@pytest.fixture
def stream(even: Path, recopy: Callable[..., Path], tmp_path: Path) -> Path:
    """A .ts, in whose structure nothing says where it ends."""
    return recopy(even, tmp_path / "copying.ts")


@pytest.mark.parametrize("pause_s", [1.0, 12.0])
def test_a_stream_that_goes_on_is_told_after_a_pause_too(
    stream: Path, monkeypatch: pytest.MonkeyPatch, pause_s: float
) -> None:
    """One write a second, or a copy that stalls for 12 s: both were taken for whole after 0.25 s."""
    clock = Clock(monkeypatch, stream)
    clock.at = [(pause_s, append(stream, bytes(188)))]
    said: list[str] = []
    with pytest.raises(Unfinished, match="still being written"):
        probe_with_frames(stream, settle_s=WATCH_S, waiting=said.append)
    assert len(said) == 1
    assert "Watching for 15 s" in said[0]
    assert clock.slept == pytest.approx(pause_s, abs=0.5)


def test_a_stream_that_stays_as_it_is_is_taken(stream: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = Clock(monkeypatch, stream)
    clock.now += 10.0  # written ten seconds ago
    assert probe_with_frames(stream, settle_s=WATCH_S)[0].frames == 60
    assert clock.slept == pytest.approx(WATCH_S - 10.0, abs=0.5)


def test_a_copy_of_an_mp4_is_not_called_cut_short(
    even: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "copying.mp4"
    data = even.read_bytes()
    path.write_bytes(data[: len(data) // 2])
    clock = Clock(monkeypatch, path)
    clock.at = [(6.0, append(path, data[len(data) // 2 :]))]
    with pytest.raises(Unfinished, match="still being written"):
        probe_with_frames(path, settle_s=WATCH_S)
    assert probe_with_frames(path, settle_s=WATCH_S)[0].frames == 60


@pytest.mark.parametrize("ending", [".mp4", ".mov", ".mkv", ".avi", ".webm"])
def test_a_file_that_ends_where_it_says_is_not_watched(
    film: Film, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, ending: str
) -> None:
    more = {"codec": "libvpx-vp9", "sound": "", "b_frames": 0} if ending == ".webm" else {}
    more |= {"sound": "mp3", "b_frames": 0} if ending == ".avi" else {}
    whole = film(f"whole{ending}", stamps=range(20), **more)
    assert ends_where_it_says(whole)
    clock = Clock(monkeypatch, whole)
    os.utime(whole)
    settled(whole, whole.stat(), WATCH_S)
    assert clock.slept == 0.0
    part = tmp_path / f"part{ending}"
    part.write_bytes(whole.read_bytes()[:-100])
    assert not ends_where_it_says(part)


def test_a_live_recording_says_nothing_of_its_end(film: Film) -> None:
    live = film("live.mkv", stamps=range(20), container={"live": "1"})
    assert not ends_where_it_says(live)
    parts = film("parts.mp4", stamps=range(40), container={"movflags": "frag_keyframe+empty_moov"})
    assert not ends_where_it_says(parts)


def test_what_is_broken_and_stays_so_keeps_its_own_words(
    even: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "cut.mp4"
    path.write_bytes(even.read_bytes()[:4000])
    Clock(monkeypatch, path)
    with pytest.raises(FootageError, match="cut short"):
        probe_with_frames(path, settle_s=WATCH_S)
