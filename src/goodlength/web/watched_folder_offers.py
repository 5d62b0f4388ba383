"""New videos of the watched folder, as the Footage page offers them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from goodlength import tasks
from goodlength.errors import NotFound
from goodlength.web.coach_settings import read_settings
from goodlength.web.views.match_description_and_result_phrases import day_words

if TYPE_CHECKING:
    from goodlength.record.store import Library

GROWING = "It is still being copied. Reload the page when the copy is complete."
ODD_NAME = "Its name is written in an older alphabet. Rename the file with plain letters."


@dataclass(frozen=True)
class OfferedVideo:
    """A video that can be added; `path` is empty while it cannot."""

    name: str
    about: str
    path: str = ""


@dataclass(frozen=True)
class WatchedFolder:
    """The folder, empty where none is watched; why there is nothing to offer; and what there is."""

    folder: str = ""
    words: str = ""
    videos: tuple[OfferedVideo, ...] = ()


def watched_folder(library: Library, *, here: bool) -> WatchedFolder:
    """Return what the watched folder holds for a match; only the computer itself is told of it."""
    folder = read_settings(library).watched_folder if here else ""
    if not folder:
        return WatchedFolder()
    try:
        found = tasks.folder_videos(library, Path(folder))
    except NotFound as error:
        return WatchedFolder(folder, error.page_words)
    return WatchedFolder(folder, "" if found else "No new videos.", tuple(_offered(video) for video in found))


def _offered(video: tasks.FolderVideo) -> OfferedVideo:
    """Return a video with its size and when it was saved, or why it cannot be added."""
    saved = datetime.fromtimestamp(video.changed_s)
    size = f"{video.size / 1e9:.1f} GB" if video.size >= 1e9 else f"{video.size / 1e6:.1f} MB"
    about = f"{size}, saved {day_words(saved.date())}, {saved:%H:%M}."
    name, path = video.path.name, str(video.path)
    try:
        path.encode("utf-8")
    except UnicodeEncodeError:
        return OfferedVideo(name.encode("utf-8", "replace").decode(), f"{about} {ODD_NAME}")
    if not video.complete:
        return OfferedVideo(name, f"{about} {GROWING}")
    return OfferedVideo(name, about, path)
