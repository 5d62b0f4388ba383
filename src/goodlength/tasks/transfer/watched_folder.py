"""Videos that appear in a folder of this computer, such as one that a phone or a card reader copies into.

```
 in the folder ──> has stopped growing? ──> new to the library? ──> offered on a page, or added by a command
```

Only the folder itself is looked at, not the folders in it. The files stay where they are.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from goodlength.errors import GoodlengthError, InputError, NotFound
from goodlength.files.tilde_path_expansion import with_home
from goodlength.tasks.footage.footage_import_and_proxies import add_footage

if TYPE_CHECKING:
    from goodlength.record.model import Footage
    from goodlength.record.store import Library

# Names of videos: what phones, cameras and recorders write. A file with another name is added by its path
ENDINGS = frozenset(
    (".mp4", ".mov", ".m4v", ".mkv", ".avi", ".mts", ".m2ts", ".ts", ".webm", ".3gp", ".mpg", ".mpeg", ".wmv")
)
MOST_LISTED = 50  # the newest: a folder of years of films is not read at every look
PAUSE_S = 2.0
FileState = tuple[int, int]  # size in bytes, time of the last change in ns


@dataclass(frozen=True)
class FolderVideo:
    """A video in a watched folder that the library does not have.

    `size` counts bytes; `changed_s` is when it was last written, seconds since 1970; `complete` tells that it
    has stopped growing.
    """

    path: Path
    size: int
    changed_s: float
    complete: bool


@dataclass(frozen=True)
class WatchEvent:
    """A video that was added to a match, or why one was not, or why the folder cannot be read."""

    path: Path
    added: Footage | None
    words: str = ""


def checked_folder(folder: str | Path, library: Library) -> Path:
    """Return a folder that can be watched.

    Raises
    ------
    InputError
        The path is not complete, is a file, or lies in the library, whose files goodlength adds itself.
    NotFound
        There is no such folder.
    """
    path = with_home(folder)
    if not path.is_absolute():
        raise InputError(
            f"The folder {str(folder)!r} is not a complete path. Give the full path, for example /videos/new."
        )
    try:
        there, is_folder = path.exists(), path.is_dir()
    except (OSError, ValueError):
        there, is_folder = False, False
    if not there:
        raise NotFound(f"There is no folder {path}. Connect its disk, or give the path of another folder.")
    if not is_folder:
        raise InputError(f"{path} is a file. Give the path of the folder that videos appear in.")
    if path.resolve().is_relative_to(library.folder.resolve()):
        raise InputError(f"The folder {path} belongs to the library. Give a folder outside it.")
    return path


def folder_videos(library: Library, folder: Path) -> tuple[FolderVideo, ...]:
    """Return the videos of a folder that the library does not have, the newest first.

    Raises
    ------
    NotFound
        The folder cannot be read: its disk is not connected, or it was moved.
    """
    from goodlength.footage.media.file_completeness import WATCH_S, ends_where_it_says

    footage, _ = library.footage_and_clips()
    now = time.time()
    found = []
    for path, size, changed_s in _files(folder):
        if size == 0 or _is_known(path, size, footage):
            continue
        complete = now - changed_s >= WATCH_S
        if not complete:
            with suppress(OSError, GoodlengthError, IndexError):
                complete = ends_where_it_says(path)
        found.append(FolderVideo(path, size, changed_s, complete))
    return tuple(found)


def _files(folder: Path) -> list[tuple[Path, int, float]]:
    """Return the newest videos by name with size and time of the last change."""
    found = []
    try:
        for path in folder.iterdir():
            if path.name.startswith(".") or path.suffix.lower() not in ENDINGS:
                continue
            with suppress(OSError):
                if path.is_file():
                    state = path.stat()
                    found.append((path, state.st_size, state.st_mtime))
    except OSError as error:
        raise NotFound(
            f"The watched folder {folder} cannot be read ({error.strerror or error}). Connect its disk, or "
            "choose another folder."
        ) from error
    return sorted(found, key=lambda file: (-file[2], file[0].name))[:MOST_LISTED]


def _is_known(path: Path, size: int, footage: tuple[Footage, ...]) -> bool:
    """Return whether the library has a file, by its place or, of the same size, by its content."""
    from goodlength.footage.media.video_probe import fingerprint

    alike = [file for file in footage if file.size == size]
    if any(file.where == path for file in footage):
        return True
    if not alike:
        return False
    try:
        mark = fingerprint(path)
    except OSError:
        return True  # cannot be read now: not offered
    return any(file.sha256 == mark for file in alike)


def watch_folder(
    library: Library,
    match_id: str,
    folder: str | Path,
    *,
    existing: bool = False,
    once: bool = False,
    pause: Callable[[], None] = lambda: time.sleep(PAUSE_S),
) -> Iterator[WatchEvent]:
    """Add videos to a match as they appear in a folder, each once it has stopped growing; without end.

    Parameters
    ----------
    existing : bool
        Also add those that are there at the start, oldest first.
    once : bool
        Add what is complete now, and return; those there at the start count as new.
    pause : callable
        Waits between two looks.

    Yields
    ------
    WatchEvent
        One for each video added or refused, and one when the folder can no longer be read. A refused video is
        tried again when it has changed.

    Raises
    ------
    NotFound
        There is no such match or folder.
    InputError
        The folder cannot be watched.
    """
    library.match_info(match_id)
    where = checked_folder(folder, library)
    refused: dict[Path, FileState] = {}
    before: dict[Path, FileState] = {}
    unreadable = False
    if not (existing or once):
        refused = {
            video.path: state for video in folder_videos(library, where) if (state := _state(video.path))
        }
    while True:
        try:
            videos, unreadable = folder_videos(library, where), False
        except NotFound as error:
            videos = ()
            if not unreadable:
                yield WatchEvent(where, None, str(error))
            unreadable = True
        now = {video.path: state for video in videos if (state := _state(video.path))}
        for video in reversed(videos):
            state = now.get(video.path)
            still = once or before.get(video.path) == state
            if video.complete and still and state is not None and refused.get(video.path) != state:
                event = _add(library, match_id, video.path)
                if event.added is None:
                    refused[video.path] = state
                yield event
        if once:
            return
        before = now
        pause()


def _state(path: Path) -> FileState | None:
    try:
        state = path.stat()
    except OSError:
        return None
    return state.st_size, state.st_mtime_ns


def _add(library: Library, match_id: str, path: Path) -> WatchEvent:
    try:
        return WatchEvent(path, add_footage(library, match_id, path))
    except GoodlengthError as error:
        return WatchEvent(path, None, str(error))
