"""Small pictures of a video for scrubbing: made once by a job, many on one sheet, served as they lie."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import BaseModel, Field

from goodlength.errors import InputError, NotFound
from goodlength.files.library_layout import preview_sheet_file, previews_file
from goodlength.files.locked_json_file import JsonFile
from goodlength.files.typed_value_parsing import read_as

if TYPE_CHECKING:
    from goodlength.jobs.job_queue import Jobs
    from goodlength.record.store import Library

KIND = "previews"


@dataclass(frozen=True)
class Previews:
    """Small pictures of one file.

    Parameters
    ----------
    made : str
        Changes when they are made anew.
    times_us : tuple of int
        When each appears, media time; in order, `across` x `down` on a sheet.
    width, height : int
        Of one picture, px.
    """

    made: str
    times_us: tuple[int, ...]
    across: int
    down: int
    width: int
    height: int


class _Stored(BaseModel):
    made: str = Field(pattern="^[0-9a-f]{8}$")
    times_us: tuple[int, ...]
    across: int = Field(ge=1, le=50)
    down: int = Field(ge=1, le=50)
    width: int = Field(ge=1, le=1000)
    height: int = Field(ge=1, le=1000)


def previews_of(library: Library, footage_id: str) -> Previews | None:
    """Return the small pictures of a file; None where they are not made, or their list is damaged.

    Raises
    ------
    NotFound
        The library has no such file.
    """
    library.footage_file(footage_id)
    stored = JsonFile(previews_file(library.folder, footage_id)).shown()
    try:
        return Previews(**read_as(_Stored, stored, "previews").model_dump()) if stored else None
    except InputError:
        return None


def preview_sheet(library: Library, footage_id: str, number: int) -> Path:
    """Return one sheet of small pictures.

    Raises
    ------
    NotFound
        There is none of that number.
    """
    library.footage_file(footage_id)
    path = preview_sheet_file(previews_file(library.folder, footage_id), number)
    if not 0 <= number < 1000 or not path.is_file():
        raise NotFound("These preview pictures are not there any more. Reload the page.")
    return path


def start_previews(library: Library, footage_id: str, played: Path, shift_us: int, jobs: Jobs) -> bool:
    """Begin making the small pictures of a file, unless they are there; whether they are awaited.

    Parameters
    ----------
    played : Path
        The file the page plays: a copy, which is quicker to read, or the original.
    shift_us : int
        What the clock of `played` lacks to that of the original.
    """
    from goodlength.footage.edit.thumbnail_sheets import previews_job

    target = str(previews_file(library.folder, footage_id))
    of_file = [job for job in jobs.states() if job.kind == KIND and (job.args or {}).get("dst") == target]
    if any(job.state in ("queued", "running") for job in of_file):
        return True
    if not jobs.owner or (of_file and of_file[0].state == "failed") or not played.is_file():
        return False
    jobs.start(KIND, previews_job, {"src": str(played), "dst": target, "shift_us": shift_us})
    return True
