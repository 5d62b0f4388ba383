"""Detect the attempts of practice recordings in a job, to be marked hit or miss on the page."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, TypedDict

from goodlength.errors import Conflict, FootageGone, InputError, NotFound
from goodlength.files import library_layout
from goodlength.files.tilde_path_expansion import with_home
from goodlength.tasks.practice.library_and_custom_drills import drill_named
from goodlength.tasks.removal.generated_and_copied_file_removal import files_of_args
from goodlength.tasks.removal.recycle_bin import bin_recording

if TYPE_CHECKING:
    from goodlength.footage.audio.practice_hit_detection import Attempts
    from goodlength.footage.media.frame_presentation_time_table import FrameTable
    from goodlength.jobs.job_queue import Jobs, JobState
    from goodlength.record.store import Library

KIND = "attempts"


class AttemptJson(TypedDict):
    """One attempt heard: seconds of media time, and whether it is doubtful."""

    start_s: float
    strike_s: float
    end_s: float
    doubtful: bool


@dataclass(frozen=True)
class PracticeRecording:
    """A recording of practice that was, or is being, listened to.

    `attempts` holds start, strike and end in seconds of media time and whether it is doubtful.
    """

    id: str
    player: str
    drill: str
    path: str
    state: str
    words: str
    attempts: tuple[AttemptJson, ...]


def detect_attempts(path: str | Path) -> Attempts:
    """Return the attempts heard in a practice recording; nothing is stored.

    Raises
    ------
    FootageGone, NotFootage, Unfinished
        Each with its own words and next step.
    """
    from goodlength.footage.audio.practice_hit_detection import detect_attempts

    return detect_attempts(path)


def start_recording(library: Library, player_id: str, drill_id: str, path: str | Path, jobs: Jobs) -> str:
    """Begin listening to a practice recording in a process of its own; gives the recording's id.

    The same file for the same player and drill, if it was heard already or is being heard, gives that one.

    Raises
    ------
    NotFound
        No such player or drill.
    InputError, FootageError
        The file cannot be a recording.
    """
    from goodlength.footage.audio.practice_hit_detection import attempts_job
    from goodlength.footage.media.file_completeness import WATCH_S
    from goodlength.footage.media.video_probe import probe

    library.player(player_id)
    drill = drill_named(library, drill_id)
    where = with_home(path)
    if not where.is_absolute():
        raise InputError(
            f"The path {str(path)!r} is not complete. Give the full path of the file, for "
            "example /videos/match.mp4."
        )
    seen = probe(where, settle_s=WATCH_S)
    for recording in recordings_of(jobs, player_id):
        if (recording.drill, recording.path) == (drill.id, str(where)) and recording.state in (
            "queued",
            "running",
            "done",
        ):
            return recording.id
    mark = sha256(f"{player_id}/{seen.fingerprint}".encode()).hexdigest()[:20]
    args = {"src": str(where), "player": player_id, "drill": drill.id, "noted": seen.fingerprint}
    made = {
        name: str(path)
        for name, path in zip(("keep", "proxy"), _practice_files(library.folder, mark), strict=True)
    }
    return jobs.start(KIND, attempts_job, {**args, **made})


def recordings_of(jobs: Jobs, player_id: str) -> tuple[PracticeRecording, ...]:
    """Return a player's recordings of practice, the newest first."""
    return tuple(
        _recording(job)
        for job in jobs.states()
        if job.kind == KIND and (job.args or {}).get("player") == player_id
    )


def recording_named(jobs: Jobs, player_id: str, recording_id: str) -> PracticeRecording:
    """Return one recording of a player.

    Raises
    ------
    NotFound
        There is none of that name for this player.
    """
    found = next(
        (recording for recording in recordings_of(jobs, player_id) if recording.id == recording_id), None
    )
    if found is None:
        raise NotFound("That practice video no longer exists. Open the practice videos and choose another.")
    return found


def noted_content(jobs: Jobs, recording: PracticeRecording) -> str | None:
    """Return the fingerprint noted when the recording was added; None where none was."""
    noted = (jobs.state(recording.id).args or {}).get("noted")
    return noted if isinstance(noted, str) and noted else None


def played_recording(jobs: Jobs, recording: PracticeRecording) -> Path:
    """Return the file the page plays: the copy where one was needed, else the recording itself.

    Raises
    ------
    FootageGone
        If neither is there.
    """
    proxy = Path(str((jobs.state(recording.id).args or {}).get("proxy", "")))
    if proxy.is_file():
        return proxy
    original = Path(recording.path)
    if not original.is_file():
        raise FootageGone(
            f"The video {original} cannot be found: it was moved or renamed, or its disk is not connected. "
            "Move it back; the sets logged from it are safe."
        )
    return original


def recording_frames(jobs: Jobs, recording: PracticeRecording) -> FrameTable:
    """Return when the frames of the file that the page plays begin, so that it steps frame by frame.

    Raises
    ------
    FootageGone, NotFootage, Unfinished
        Each with its own words and next step.
    """
    path = played_recording(jobs, recording)
    return _table(path, path.stat().st_mtime_ns)


@lru_cache(maxsize=4)
def _table(path: Path, _changed: int) -> FrameTable:
    from goodlength.footage.media.video_probe import probe_with_frames

    return probe_with_frames(path, settle_s=0)[1]


def forget_recording(library: Library, jobs: Jobs, player_id: str, recording_id: str) -> str:
    """Remove a recording from the list, with what was made from it, into the bin; return the id.

    The file itself and logged sets stay.

    Raises
    ------
    Conflict
        It is still being listened to.
    NoSpace
        The bin cannot be written; nothing was removed.
    """
    recording = recording_named(jobs, player_id, recording_id)
    if recording.state in ("queued", "running"):
        raise Conflict("Attempts are still being detected. Stop that first.")
    args = jobs.state(recording.id).args or {}
    others = [
        jobs.state(other.id).args or {}
        for other in recordings_of(jobs, player_id)
        if other.id != recording.id
    ]
    going = [library_layout.job_file(library.folder, recording.id)]
    if not any(other.get("proxy") == args.get("proxy") for other in others):
        going += files_of_args(library.folder, args)
    return bin_recording(library, player_id, Path(recording.path).name, going)


def _practice_files(folder: Path, mark: str) -> tuple[Path, Path]:
    return library_layout.practice_files(folder, mark)


def _recording(job: JobState) -> PracticeRecording:
    args = job.args or {}
    result = job.result if isinstance(job.result, dict) else {}
    words = job.error or str(result.get("words") or job.words)
    return PracticeRecording(
        job.id,
        str(args.get("player", "")),
        str(args.get("drill", "")),
        str(args.get("src", "")),
        job.state,
        words,
        tuple(result.get("attempts", ())),
    )
