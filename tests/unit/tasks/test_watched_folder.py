"""Videos that appear in a folder: added once whole, never twice, and what is refused in words."""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from goodlength import tasks
from goodlength.errors import InputError, NotFound
from goodlength.record.model import MatchInfo, Player
from goodlength.synthetic.numbered_frame_video import Recipe, draw
from goodlength.tasks.transfer.watched_folder import MOST_LISTED, WatchEvent

LONG_AGO_S = 100.0


@pytest.fixture(scope="module")
def films(tmp_path_factory: pytest.TempPathFactory) -> list[Path]:
    folder = tmp_path_factory.mktemp("films")
    return [draw(folder / f"{n}.mp4", Recipe(tuple(range(n, n + 20)), sound="")) for n in range(3)]


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Any]:
    with tasks.open_library(tmp_path / "library") as made:
        for player in (Player("p1", "Petra"), Player("p2", "Opal")):
            made.save_player(player)
        made.save_match(MatchInfo("m1", ("p1", "p2")))
        yield made


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "new videos"
    made.mkdir()
    return made


def put(film: Path, target: Path, age_s: float = LONG_AGO_S) -> Path:
    shutil.copy(film, target)
    then = time.time() - age_s
    os.utime(target, (then, then))
    return target


def offered(library: Any, folder: Path) -> list[tuple[str, bool]]:
    return [(video.path.name, video.complete) for video in tasks.folder_videos(library, folder)]


def steps(*acts: Callable[[], object]) -> Callable[[], None]:
    """What happens in the folder between the looks; after the last the coach presses Ctrl+C."""
    left = list(acts)

    def pause() -> None:
        if not left:
            raise KeyboardInterrupt
        left.pop(0)()

    return pause


def watched(library: Any, folder: Path, *acts: Callable[[], object], **more: Any) -> list[WatchEvent]:
    found = []
    with pytest.raises(KeyboardInterrupt):
        for event in tasks.watch_folder(library, "m1", folder, pause=steps(*acts), **more):
            found.append(event)
    return found


def nothing() -> None:
    """A look at which nothing happened."""


def test_new_videos_are_offered_newest_first_and_only_once(
    library: Any, folder: Path, films: list[Path]
) -> None:
    assert offered(library, folder) == []
    put(films[0], folder / "old.MOV", 300)
    put(films[1], folder / "new.mp4", 100)
    (folder / "notes.txt").write_text("x")
    (folder / ".hidden.mp4").write_text("x")
    (folder / "empty.mp4").touch()
    (folder / "folder.mp4").mkdir()
    put(films[2], folder / "folder.mp4" / "deeper.mp4")
    assert offered(library, folder) == [("new.mp4", True), ("old.MOV", True)]
    tasks.add_footage(library, "m1", folder / "new.mp4")
    assert offered(library, folder) == [("old.MOV", True)]
    shutil.copy2(folder / "new.mp4", folder / "the same under another name.mp4")
    assert offered(library, folder) == [("old.MOV", True)]


def test_a_video_that_grows_is_not_complete(library: Any, folder: Path, films: list[Path]) -> None:
    whole = films[0].read_bytes()
    (folder / "a.mp4").write_bytes(whole[: len(whole) // 2])
    (folder / "b.mts").write_bytes(b"G" * 4000)
    assert dict(offered(library, folder)) == {"a.mp4": False, "b.mts": False}
    (folder / "a.mp4").write_bytes(whole)  # says itself where it ends
    assert dict(offered(library, folder)) == {"a.mp4": True, "b.mts": False}


def test_only_the_newest_are_listed(library: Any, folder: Path) -> None:
    for n in range(MOST_LISTED + 5):
        (folder / f"{n:03}.mp4").write_bytes(b"x")
        os.utime(folder / f"{n:03}.mp4", (n, n))
    found = offered(library, folder)
    assert len(found) == MOST_LISTED
    assert found[0][0] == f"{MOST_LISTED + 4:03}.mp4"


def test_videos_are_added_as_they_appear(library: Any, folder: Path, films: list[Path]) -> None:
    there = put(films[0], folder / "there already.mp4")
    events = watched(
        library,
        folder,
        nothing,
        lambda: put(films[1], folder / "first.mp4"),
        nothing,
        lambda: put(films[2], folder / "second.mp4"),
        lambda: put(films[2], folder / "second again.mp4"),
        nothing,
        nothing,
    )
    assert [(event.path.name, event.words) for event in events] == [("first.mp4", ""), ("second.mp4", "")]
    assert [item.where.name for item in library.footage("m1")] == ["first.mp4", "second.mp4"]
    assert all(event.added is not None and not event.added.copied for event in events)
    assert there.is_file()


def test_one_that_grows_while_watched_is_added_when_it_stands_still(
    library: Any, folder: Path, films: list[Path]
) -> None:
    whole, target = films[0].read_bytes(), folder / "slow.mp4"

    def copied(share: float) -> Callable[[], object]:
        return lambda: target.write_bytes(whole[: round(len(whole) * share)])

    events = watched(
        library, folder, copied(0.3), copied(0.6), nothing, copied(1.0), nothing, nothing, existing=True
    )
    assert [(event.path.name, event.words) for event in events] == [("slow.mp4", "")]
    assert library.footage("m1")[0].where.read_bytes() == whole


def test_those_that_are_there_are_added_when_asked_for_oldest_first(
    library: Any, folder: Path, films: list[Path]
) -> None:
    for n, film in enumerate(films):
        put(film, folder / f"{n}.mp4", 1000 - 100 * n)
    events = list(tasks.watch_folder(library, "m1", folder, once=True))
    assert [event.path.name for event in events] == ["0.mp4", "1.mp4", "2.mp4"]
    assert list(tasks.watch_folder(library, "m1", folder, once=True)) == []


def test_what_is_no_video_is_told_once_and_tried_again_when_it_changed(
    library: Any, folder: Path, films: list[Path]
) -> None:
    bad = folder / "bad.mp4"
    bad.write_text("hello " * 99)
    os.utime(bad, (1, 1))
    events = watched(
        library, folder, nothing, nothing, lambda: put(films[0], bad), nothing, nothing, existing=True
    )
    first, second = events
    assert first.added is None
    assert "text" in first.words
    assert second.added is not None


def test_a_folder_that_goes_away_is_told_once_and_awaited(
    library: Any, folder: Path, films: list[Path]
) -> None:
    away = folder.with_name("away")

    def back() -> None:
        away.rename(folder)
        put(films[0], folder / "a.mp4")

    events = watched(library, folder, lambda: folder.rename(away), nothing, nothing, back, nothing, nothing)
    assert [event.path.name for event in events] == [folder.name, "a.mp4"]
    assert "cannot be read" in events[0].words


@pytest.mark.parametrize(
    ("path", "kind", "said"),
    [
        ("videos", InputError, "not a complete path"),
        ("~nobody-of-that-name/videos", InputError, "not a complete path"),
        ("/no/such/folder", NotFound, "There is no folder"),
        ("/bad\0name", NotFound, "There is no folder"),
        ("{folder}/file.mp4", InputError, "is a file"),
        ("{library}", InputError, "belongs to the library"),
        ("{library}/uploads", InputError, "belongs to the library"),
    ],
)
def test_a_folder_that_cannot_be_watched_is_told(
    library: Any, folder: Path, path: str, kind: type[InputError], said: str
) -> None:
    (folder / "file.mp4").touch()
    (library.folder / "uploads").mkdir(exist_ok=True)
    with pytest.raises(kind, match=said):
        next(tasks.watch_folder(library, "m1", path.format(folder=folder, library=library.folder)))


def test_an_unknown_match_is_told(library: Any, folder: Path) -> None:
    with pytest.raises(NotFound):
        next(tasks.watch_folder(library, "m9", folder))
