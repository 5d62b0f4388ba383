"""Playable files of a match: the proxy where one was made, else the original."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import quote

from goodlength import tasks
from goodlength.errors import FootageError, FootageGone
from goodlength.footage.media.frame_presentation_time_table import FrameTable
from goodlength.media_time import Part
from goodlength.record.model import Footage
from goodlength.tasks.footage import camera_calibration
from goodlength.tasks.footage.stored_video_probe import copy_reason
from goodlength.web.http.remote_file_access_policy import kind_within
from goodlength.web.page_json_types.video_playback_and_jobs import PartJson

if TYPE_CHECKING:
    from goodlength.jobs.job_queue import Jobs
    from goodlength.record.store import Library
    from goodlength.tasks.match.lazy_match import OpenMatch

UNPLAYED = "browsers do not"  # how the reasons of `needs_proxy` begin that leave nothing to see


@dataclass(frozen=True)
class PagePart:
    """One file on the match's time line, and where the page gets it.

    `shift_us` is what the clock of the played file lacks to that of the original.
    """

    id: str
    url: str
    starts_us: int
    first_us: int
    end_us: int
    shift_us: int

    def as_json(self) -> PartJson:
        """Return the part as the player of the page takes it."""
        return {
            "id": self.id,
            "url": self.url,
            "starts_us": self.starts_us,
            "first_us": self.first_us,
            "end_us": self.end_us,
            "shift_us": self.shift_us,
        }


@dataclass(frozen=True)
class MatchFiles:
    """All files of a match that can be placed in time, and words where something is awaited."""

    parts: tuple[PagePart, ...] = ()
    waits: str = ""

    @property
    def length_us(self) -> int | None:
        """Match time at which the last file is over; None without footage."""
        if not self.parts:
            return None
        return max(part.starts_us + part.end_us - part.first_us for part in self.parts)


def films_of(opened: OpenMatch) -> MatchFiles:
    """Return the files of a match on its time line; a copy finished since the last look is taken into use."""
    library = opened.library
    files = {footage_file.id: _with_copy(library, footage_file) for footage_file in opened.footage}
    placed = () if opened.timeline is None else opened.timeline.parts
    parts = tuple(_page_part(library, files[part.footage_id], part) for part in placed)
    return MatchFiles(parts, " ".join(words for file in files.values() if (words := _waits(library, file))))


def part_of(opened: OpenMatch, footage_id: str) -> PagePart:
    """Return one file of a match for the player, although it has no place on the time line yet."""
    placed = next((part for part in films_of(opened).parts if part.id == footage_id), None)
    if placed is not None:
        return placed
    file = opened.file(footage_id)
    first = file.first_us or 0
    return _page_part(opened.library, file, Part(footage_id, 0, first, file.end_us or first))


def _with_copy(library: Library, footage_file: Footage) -> Footage:
    if footage_file.proxy is None and tasks.proxy_path(library, footage_file.id).is_file():
        return tasks.note_proxy(library, footage_file.id)
    return footage_file


def _page_part(library: Library, footage_file: Footage, part: Part) -> PagePart:
    copy = copy_of(library, footage_file)
    shift = 0 if copy is None else table_at(table_path(library, footage_file)).shift_us
    address = f"/api/footage/{quote(footage_file.id, safe='')}/media?of={'file' if copy is None else 'copy'}"
    return PagePart(footage_file.id, address, part.starts_us, part.first_us, part.end_us, shift)


def copy_of(library: Library, footage_file: Footage) -> Path | None:
    """Return the copy made for playing, where there is one with its table of frames."""
    if footage_file.proxy is None:
        return None
    path = library.folder / footage_file.proxy
    if kind_within(library, path) not in ("copy that plays", "demo film"):
        return None
    return path if path.is_file() and path.with_suffix(".frames.npz").is_file() else None


def played_path(library: Library, footage_file: Footage) -> Path:
    """Return the file the page plays.

    Raises
    ------
    FootageGone
        If it is not where it was, or was never added on this machine; words name the file and the next step.
    """
    copy = copy_of(library, footage_file)
    if copy is not None:
        return copy
    original = footage_file.where
    if (
        footage_file.frames is None
    ):  # written only when this library looked at the file, never taken from an import
        raise FootageGone(
            f"The video {original.name} was not added on this computer, so it does not play here. "
            "Add the file on the match's Footage page."
        )
    if not original.is_file():
        raise FootageGone(missing_words(footage_file))
    return original


def missing_words(footage_file: Footage) -> str:
    """Return what to do about a file that is not there, or that came by name only."""
    return (
        tasks.to_be_found_words(footage_file.path)
        if footage_file.to_be_found
        else gone_words(footage_file.where)
    )


def gone_words(path: Path) -> str:
    """Return what to do about a file that is not there."""
    return (
        f"The video {path} cannot be found: it was moved or renamed, or its disk is not connected. "
        "Move it back, or add it again on the Footage page. The match log is safe."
    )


def table_path(library: Library, footage_file: Footage) -> Path:
    """Return where the table of frames of the played file lies."""
    copy = copy_of(library, footage_file)
    if copy is not None:
        return copy.with_suffix(".frames.npz")
    if footage_file.frames is None:
        raise FootageError(
            f"The file {footage_file.path} has no table of frames yet. Add it again on the Footage page."
        )
    return library.folder / footage_file.frames


def table_at(path: Path) -> FrameTable:
    """Return a table of frames, read once while its file is the same."""
    return _table(path, path.stat().st_mtime_ns if path.is_file() else 0)


@lru_cache(maxsize=16)
def _table(path: Path, _changed: int) -> FrameTable:
    return FrameTable.load(path)


def _waits(library: Library, footage_file: Footage) -> str:
    """Return what stands in the picture's place while a file cannot be shown; empty where it can."""
    if copy_of(library, footage_file) is not None:
        return ""
    if not footage_file.where.is_file():
        return missing_words(footage_file)
    reason = copy_reason(footage_file) or ""
    if not reason.startswith(UNPLAYED):
        return ""
    return (
        f"{Path(footage_file.path).name} cannot be shown here: {reason}. "
        "Make a browser-friendly copy on the Footage page. "
        "You can keep logging meanwhile, but without times."
    )


def job_of(jobs: Jobs, library: Library, footage_file: Footage) -> str | None:
    """Return the job that is making a copy of this file now."""
    target = str(tasks.proxy_path(library, footage_file.id))
    for job in jobs.states():
        if job.state in ("queued", "running") and job.args is not None and job.args.get("dst") == target:
            return job.id
    return None


def begin_copy(library: Library, jobs: Jobs, footage_file: Footage, *, wanted: bool = False) -> None:
    """Begin a copy where one is needed or wanted, unless it is being made or there."""
    if not jobs.owner or not (wanted or copy_reason(footage_file)):
        return
    if copy_of(library, footage_file) is None and job_of(jobs, library, footage_file) is None:
        tasks.start_proxy(library, footage_file.id, jobs)


def begin_work(library: Library, jobs: Jobs, footage_file: Footage) -> None:
    """Begin what is done by itself once a file was added: its court is looked for, a copy made if needed."""
    if jobs.owner:
        camera_calibration.start_court_detection(library, footage_file.id, jobs)
    begin_copy(library, jobs, footage_file)
