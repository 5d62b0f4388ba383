"""The court of a video file: frames chosen, and the search as a job whose result stands as a proposal."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from goodlength.errors import Cancelled, OutOfRange
from goodlength.files.atomic_write import atomic_write
from goodlength.files.json_types import Json
from goodlength.footage.court_detection.court_detection_in_image import FRAMES, DetectedCourt, detect_court
from goodlength.footage.media.frame_grab import frames_in
from goodlength.footage.media.frame_presentation_time_table import FrameTable
from goodlength.footage.media.video_probe import probe_with_frames
from goodlength.jobs.progress_callback import Cancel, Progress

Picture = NDArray[np.uint8]
SPAN_US, ONE_GO_US = 30_000_000, 4_000_000
BEGIN_US = 2_000_000  # the first frame looked at: after the phone was let go
STATE = 20261129  # random state of the search: the same video gives the same court
FORMAT = 1


def detect_court_in(
    path: str | Path, at_us: int | None = None, tin: str = "standard", *, table: FrameTable | None = None
) -> DetectedCourt:
    """Return the court found by itself in a video, for the view at a moment; nothing is saved.

    A dozen frames of half a minute around the moment are read, so that players vanish; those in which the
    camera or the lights differ are left out.

    Parameters
    ----------
    path : str or Path
    at_us : int, optional
        Media time; the middle of the video when None.
    tin : str
        "standard" or "tour".
    table : FrameTable, optional
        Saves reading the video once more.

    Raises
    ------
    OutOfRange
        The video shows nothing then.
    FootageError
        As `probe_file`.
    """
    frames = table or probe_with_frames(path)[1]
    moment = (frames.first_us + frames.end_us) // 2 if at_us is None else at_us
    if not frames.first_us <= moment < frames.end_us:
        raise OutOfRange(
            f"The video shows nothing at {moment / 1e6:g} s: it runs from {frames.first_us / 1e6:g} to "
            f"{frames.end_us / 1e6:g} s. Choose a moment in between."
        )
    begin = max(frames.first_us, min(moment - SPAN_US // 2, frames.end_us - SPAN_US))
    end = min(frames.end_us, begin + SPAN_US)
    moments = np.linspace(begin, end - 1, FRAMES).astype(int)
    reference = int(np.argmin(np.abs(moments - moment)))
    moments[reference] = moment
    pictures = frames_at(Path(path), [int(us) for us in moments], table)
    return detect_court(np.random.default_rng(STATE), pictures, tin, reference=reference)


def frames_at(path: Path, moments: Sequence[int], table: FrameTable | None = None) -> list[Picture]:
    """Return the frame shown at each moment, red, green, blue; a short span is read in one go."""
    if moments[-1] - moments[0] > ONE_GO_US:
        return [next(iter(frames_in(path, us, table=table)))[1] for us in moments]
    found: list[Picture] = []
    last: Picture | None = None
    for us, frame in frames_in(path, moments[0], moments[-1] + 1, table=table):
        while last is not None and len(found) < len(moments) and us > moments[len(found)]:
            found.append(last)
        last = frame
    return found + [last] * (len(moments) - len(found)) if last is not None else found


def first_view_us(first_us: int, end_us: int) -> int:
    """Return the moment at which a video is looked at first."""
    return min(first_us + BEGIN_US, (first_us + end_us) // 2)


def court_detection_job(
    path: str, frames: str, tin: str, sha256: str, to: str, *, progress: Progress, cancel: Cancel
) -> dict[str, Json]:
    """Look for the court at up to three moments of a video, and write what was found to the file `to`.

    Parameters
    ----------
    path, frames : str
        The video and the table of its frames.
    tin : str
        "standard" or "tour".
    sha256 : str
        Fingerprint of the video, noted with the result.

    Raises
    ------
    Cancelled
        When asked to stop; nothing is written.
    """
    table = FrameTable.load(Path(frames))
    first, end = table.first_us, table.end_us
    moments = dict.fromkeys((first_view_us(first, end), first + (end - first) // 3, (first + 2 * end) // 3))
    best: tuple[int, DetectedCourt] | None = None
    for n, at_us in enumerate(moments):
        if cancel():
            raise Cancelled("Detecting the court was stopped; nothing was saved.")
        progress(n / len(moments), "looking for the court lines")
        found = detect_court_in(path, at_us, tin, table=table)
        if best is None or found.chance > best[1].chance:
            best = at_us, found
        if found.offered:
            break
    assert best is not None
    form = proposal_form(*best, sha256)
    with atomic_write(Path(to)) as part:
        part.write_text(json.dumps(form), encoding="utf-8")
    words = "court detected" if best[1].offered else "court not detected"
    progress(1.0, words)
    return {"offered": best[1].offered, "words": words}


def proposal_form(at_us: int, found: DetectedCourt, sha256: str) -> dict[str, Json]:
    """Return a found court as kept until the coach approves it; marks only where it is offered."""
    error_m = found.error_m if found.offered else None
    return {
        "format": FORMAT,
        "sha256": sha256,
        "at_us": at_us,
        "offered": found.offered,
        "why": found.why,
        "note": found.note,
        "chance": round(found.chance, 4),
        "error_m": None if error_m is None else round(error_m, 5),
        "marks": [
            {"mark": mark.mark, "u": round(mark.u, 2), "v": round(mark.v, 2)}
            for mark in (found.marks if found.offered else ())
        ],
    }
