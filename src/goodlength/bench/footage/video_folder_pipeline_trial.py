"""Process every video of a folder through the whole pipeline (`goodlength bench films`), with outcome and
times.

Each is looked at, shown, cut, copied and listened to. Where `ffprobe` is on the machine, the number of
pictures and their times are set beside what it says. Originals are hashed before and after.
"""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from goodlength.errors import GoodlengthError, InputError
from goodlength.footage.audio.rally_detection import detect_rallies
from goodlength.footage.edit.clip_export import encode_clip
from goodlength.footage.edit.proxy_video import make_proxy
from goodlength.footage.media.frame_presentation_time_table import FrameTable
from goodlength.footage.media.still_frame_png import still
from goodlength.footage.media.video_probe import probe_with_frames

PROBE_S = 120


@dataclass(frozen=True)
class FilmOutcome:
    """How one film fared.

    `messages` are the words of a refusal or of a step that could not be done, and the problems told.
    `peer_pictures` and `peer_apart_s` (the largest difference of a time) are None without `ffprobe`.
    """

    name: str
    pictures: int
    length_s: float
    steps: dict[str, str]
    messages: tuple[str, ...]
    unchanged: bool
    peer_pictures: int | None = None
    peer_apart_s: float | None = None


def try_films(folder: str | Path) -> dict[str, object]:
    """Return figures of all files of a folder, as plain values.

    Raises
    ------
    InputError
        The folder is not there or empty.
    """
    where = Path(folder)
    files = sorted(path for path in where.iterdir() if path.is_file()) if where.is_dir() else []
    if not files:
        raise InputError(f"{folder} holds no file. Name a folder of films.")
    films = [try_film(file) for file in files]
    played = [film for film in films if film.pictures]
    compared = [outcome for outcome in played if outcome.peer_pictures is not None]
    return {
        "files": len(films),
        "refused_in_words": len(films) - len(played),
        "all_steps_done": sum(all(v == "done" for v in outcome.steps.values()) for outcome in played),
        "unchanged": sum(film.unchanged for film in films),
        "compared": len(compared),
        "same_count": sum(outcome.pictures == outcome.peer_pictures for outcome in compared),
        "same_times": sum(
            outcome.peer_apart_s is not None and outcome.peer_apart_s < 0.001 for outcome in compared
        ),
        "films": [vars(film) for film in films],
    }


def try_film(path: Path) -> FilmOutcome:
    """Return one film through every step; what is refused is kept as words."""
    before = _hash(path)
    messages: list[str] = []
    steps: dict[str, str] = {}
    table: FrameTable | None = None
    try:
        seen, table = probe_with_frames(path)
        messages += [problem.words for problem in seen.problems]
    except GoodlengthError as refusal:
        messages.append(str(refusal))
    pictures, length_s = (0, 0.0) if table is None else (len(table), _length_s(table))
    if table is not None:
        with tempfile.TemporaryDirectory() as made:
            for name, step in _steps(path, table, Path(made)).items():
                try:
                    step()
                    steps[name] = "done"
                except GoodlengthError as refusal:
                    steps[name] = str(refusal)
    peer = None if table is None else peer_times(path)
    apart = None
    if peer is not None and table is not None and len(peer) == len(table):
        apart = float(np.abs(np.sort(table.starts_us) / 1e6 - np.sort(peer)).max())
    return FilmOutcome(
        path.name,
        pictures,
        length_s,
        steps,
        tuple(messages),
        _hash(path) == before,
        None if peer is None else len(peer),
        apart,
    )


def _steps(path: Path, table: FrameTable, made: Path) -> dict[str, Callable[[], object]]:
    first, length = table.first_us, table.end_us - table.first_us
    return {
        "still": lambda: still(path, first + length // 2, table=table),
        "cut": lambda: encode_clip(
            path, first + length // 3, first + 2 * length // 3, made / "c.mp4", table=table
        ),
        "copy": lambda: make_proxy(path, made / "p.mp4"),
        "hear": lambda: detect_rallies(path),
    }


def peer_times(path: Path) -> np.ndarray[Any, np.dtype[np.float64]] | None:
    """Return times of the pictures as `ffprobe` decodes them, in seconds, shape (n,); None without it."""
    program = shutil.which("ffprobe")
    if program is None:
        return None
    asked = ["-v", "quiet", "-select_streams", "v:0", "-show_entries", "frame=best_effort_timestamp_time"]
    done = subprocess.run(
        [program, *asked, "-of", "json", str(path.absolute())],
        capture_output=True,
        text=True,
        check=False,
        timeout=PROBE_S,
    )
    frames = json.loads(done.stdout or "{}").get("frames", [])
    key = "best_effort_timestamp_time"
    return np.array([float(frame[key]) for frame in frames if key in frame])


def _length_s(table: FrameTable) -> float:
    return round((table.end_us - table.first_us) / 1e6, 3)


def _hash(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()
