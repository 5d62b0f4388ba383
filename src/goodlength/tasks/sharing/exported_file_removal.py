"""Remove exported files one at a time: clips, reels, stills, handouts."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from goodlength.errors import Conflict, NotFound
from goodlength.files import library_layout
from goodlength.tasks.removal.recycle_bin import bin_clip
from goodlength.tasks.sharing.video_export_jobs import KINDS

if TYPE_CHECKING:
    from goodlength.jobs.job_queue import Jobs
    from goodlength.record.store import Library


def remove_clip(library: Library, jobs: Jobs, match_id: str, name: str) -> str:
    """Remove a clip, reel, pair, stills or pack of a match, into the bin; return the item's id.

    A file that was saved outside the library stays there.

    Parameters
    ----------
    name : str
        The id of the job that made it, or of the clip.

    Raises
    ------
    NotFound
        The match has nothing of that name.
    Conflict
        It is still being made.
    NoSpace
        The bin cannot be written; nothing was removed.
    """
    info = library.match_info(match_id)
    clips, of_match = library.clips(match_id), {}
    for job in jobs.states():
        args = job.args or {}
        if job.kind in KINDS and args.get("match") == match_id:
            of_match[job.id] = job
    path = next((clip.path for clip in clips if clip.id == name), None)
    if path is None and name in of_match:
        path = str((of_match[name].args or {}).get("dst", ""))
    if not path:
        raise NotFound("That is not there any more. It may have been removed already: look in the bin.")
    made = [job for job in of_match.values() if (job.args or {}).get("dst") == path]
    if any(job.state in ("queued", "running") for job in made):
        raise Conflict("It is still being made. Stop that first, then remove it.")
    files = [Path(path), *(library_layout.job_file(library.folder, job.id) for job in made)]
    return bin_clip(library, info, Path(path), tuple(clip for clip in clips if clip.path == path), files)
