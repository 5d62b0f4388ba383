"""Detect the ball in the rallies of a match: candidates in every frame, and how well it can be seen.

What was found lies in the library folder (`balls/MATCH.npz`). It is no part of the record: places in the
picture from which paths can be fitted later.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from goodlength.ball.model.constants_with_sources import BALL_RADIUS_M
from goodlength.errors import InputError
from goodlength.files.library_layout import ball_file
from goodlength.jobs.progress_callback import Progress
from goodlength.media_time import Timeline
from goodlength.tasks.footage import camera_calibration
from goodlength.tasks.footage.player_tracking import rally_spans

if TYPE_CHECKING:
    from goodlength.footage.ball_detection.ball_candidates import BallCandidates
    from goodlength.footage.ball_detection.ball_storage import BallSpan
    from goodlength.tasks.match.lazy_match import OpenMatch

BEFORE_US, AFTER_US = 500_000, 1_000_000  # searched before the first strike and after the last
QUICK_US = 20_000_000  # of play in each video, for a first look
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
        No video, or no rally with a time: each with the next step.
    FootageError
        As reading a video.
    """
    from goodlength.footage.ball_detection.match_search import FilmToSearch, search_match

    if opened.timeline is None:
        raise InputError("This match has no video. Add one on the match's Footage page first.")
    spans = _spans(opened, opened.timeline, quick)
    if not spans:
        raise InputError(
            "No rally has a time yet. Detect the rallies on the Footage page, or log the match, first."
        )
    films = [
        FilmToSearch(
            part.footage_id, str(opened.file(part.footage_id).where), _ball_px(opened, part.footage_id)
        )
        for part in opened.timeline.parts
    ]
    to = ball_file(opened.library.folder, opened.id)
    if again:
        to.unlink(missing_ok=True)
    search_match(opened.id, films, spans, to, method=method, progress=progress)
    return detected_balls(opened)


def _spans(opened: OpenMatch, timeline: Timeline, quick: bool) -> list[BallSpan]:
    """Return what to search of each rally, in media time of the file that holds most of it."""
    from goodlength.footage.ball_detection.ball_storage import BallSpan

    spans: list[BallSpan] = []
    play_us: dict[str, int] = {}
    for key, start_us, end_us in _rallies(opened):
        pieces = timeline.pieces(max(0, start_us - BEFORE_US), end_us + AFTER_US)
        longest = max(pieces, key=lambda piece: piece.to_us - piece.from_us, default=None)
        if longest is None or (quick and play_us.get(longest.footage_id, 0) >= QUICK_US):
            continue
        play_us[longest.footage_id] = play_us.get(longest.footage_id, 0) + longest.to_us - longest.from_us
        spans.append(BallSpan(key, longest.footage_id, longest.from_us, longest.to_us))
    return spans


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
    return lens.focal_px * 2 * BALL_RADIUS_M.value / max(away, 0.5)


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
