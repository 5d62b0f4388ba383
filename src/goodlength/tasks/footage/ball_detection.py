"""Detect the ball in the rallies of a match in a job: candidates in every frame, and how well it can be seen.

What was found lies in the library folder (`balls/MATCH.npz`). It is no part of the record: places in the
picture from which paths can be fitted later.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from goodlength.errors import InputError
from goodlength.files.library_layout import ball_file
from goodlength.jobs.progress_callback import Progress
from goodlength.tasks.footage import camera_calibration
from goodlength.tasks.footage.player_tracking import rally_spans

if TYPE_CHECKING:
    from goodlength.footage.ball_detection.ball_candidates import BallCandidates
    from goodlength.jobs.job_queue import Jobs
    from goodlength.tasks.match.lazy_match import OpenMatch

KIND = "ball"
BEFORE_US, AFTER_US = 500_000, 1_000_000  # searched before the first strike and after the last
QUICK_US = 20_000_000  # of play in each video, for a first look
BALL_WIDTH_M = 0.04  # source: SPEC-2018, diameter
MIDDLE_M = (3.2, 4.875, 1.0)


@dataclass(frozen=True, eq=False)
class BallRally:
    """One rally searched: its key, number in the match where it is recorded, file and candidates."""

    key: str
    rally: int | None
    footage_id: str
    found: BallCandidates


@dataclass(frozen=True, eq=False)
class MatchBalls:
    """Everything found in a match.

    `words` by file say how well the ball can be seen, `lost` in what share of frames it is lost. `missing`
    counts rallies not searched yet.
    """

    rallies: tuple[BallRally, ...] = ()
    words: tuple[tuple[str, tuple[str, ...]], ...] = ()
    lost: tuple[tuple[str, float | None], ...] = ()
    method: str = ""
    missing: int = 0


def start_ball_detection(opened: OpenMatch, jobs: Jobs, method: str = "network") -> str:
    """Begin searching the ball in every rally with a time; returns the job's id.

    Raises
    ------
    InputError
        No video, or no rally with a time: each with the next step.
    """
    from goodlength.footage.ball_detection.ball_job import ball_job

    for job in jobs.states():
        mine = job.kind == KIND and (job.args or {}).get("match") == opened.id
        if mine and job.state in ("queued", "running"):
            return job.id
    return jobs.start(KIND, ball_job, _arguments(opened, method, quick=False))


def detect_ball(
    opened: OpenMatch,
    progress: Progress | None = None,
    *,
    method: str = "network",
    quick: bool = False,
    again: bool = False,
) -> MatchBalls:
    """Search the ball here and now; rallies stored already are not searched again.

    Parameters
    ----------
    quick : bool
        Search only the first rallies of each video, to see how well the ball can be seen.
    again : bool
        Search all rallies again.

    Raises
    ------
    InputError
        As `start_ball_detection`.
    FootageError
        As reading a video.
    """
    from goodlength.footage.ball_detection.ball_job import ball_job

    def unheard(_share: float, _words: str) -> None:
        return

    arguments = _arguments(opened, method, quick=quick)
    if again:
        Path(arguments["to"]).unlink(missing_ok=True)
    ball_job(**arguments, progress=progress or unheard, cancel=lambda: False)
    return detected_balls(opened)


def _arguments(opened: OpenMatch, method: str, *, quick: bool) -> dict[str, Any]:
    timeline = opened.timeline
    if timeline is None:
        raise InputError("This match has no video. Add one on the match's Footage page first.")
    spans: list[dict[str, Any]] = []
    looked: dict[str, int] = {}
    for key, start_us, end_us in _rallies(opened):
        pieces = timeline.pieces(max(0, start_us - BEFORE_US), end_us + AFTER_US)
        longest = max(pieces, key=lambda piece: piece.to_us - piece.from_us, default=None)
        if longest is None or (quick and looked.get(longest.footage_id, 0) >= QUICK_US):
            continue
        looked[longest.footage_id] = looked.get(longest.footage_id, 0) + longest.to_us - longest.from_us
        spans.append(
            {
                "key": key,
                "footage": longest.footage_id,
                "from_us": longest.from_us,
                "until_us": longest.to_us,
            }
        )
    if not spans:
        raise InputError(
            "No rally has a time yet. Detect the rallies on the Footage page, or log the match, first."
        )
    films = [
        {
            "id": part.footage_id,
            "path": str(opened.file(part.footage_id).where),
            "ball_px": _ball_px(opened, part.footage_id),
        }
        for part in timeline.parts
    ]
    to = str(ball_file(opened.library.folder, opened.id))
    return {"match": opened.id, "films": films, "spans": spans, "to": to, "method": method}


def _rallies(opened: OpenMatch) -> list[tuple[str, int, int]]:
    """Return key, start and end in match time of every rally with a time."""
    out = []
    for key, rally, found in rally_spans(opened):
        if rally is not None and rally.start_us is not None and rally.end_us is not None:
            out.append((key, rally.start_us, rally.end_us))
        elif found is not None:
            out.append((key, found.start_us, found.end_us))
    return out


def _ball_px(opened: OpenMatch, footage_id: str) -> float | None:
    """Return the ball's width at the middle of the court, px; None where the camera is not calibrated."""
    first = opened.library.footage_file(footage_id).first_us or 0
    saved = camera_calibration.camera_at(opened.library, footage_id, first)
    if saved is None:
        return None
    lens = saved.camera.lens
    away = float(np.linalg.norm(np.array(MIDDLE_M) - lens.place_m))
    return lens.focal_px * BALL_WIDTH_M / max(away, 0.5)


def detected_balls(opened: OpenMatch) -> MatchBalls:
    """Return what is stored for a match; empty where nothing is."""
    from goodlength.footage.ball_detection.ball_storage import read_balls

    stored = read_balls(ball_file(opened.library.folder, opened.id))
    rallies = _rallies(opened) if opened.timeline is not None else []
    if stored is None:
        return MatchBalls(missing=len(rallies))
    numbers = {f"r:{rally.key}": n for n, rally in enumerate(opened.match.rallies, 1)}
    searched = tuple(
        BallRally(span.key, numbers.get(span.key), span.footage, found)
        for span, found in stored.spans.items()
    )
    keys = {each.key for each in searched}
    return MatchBalls(
        searched,
        tuple((key, tuple(lines)) for key, lines in stored.words.items()),
        tuple(stored.lost.items()),
        stored.model.split("-", maxsplit=1)[0],
        sum(key not in keys for key, _, _ in rallies),
    )
