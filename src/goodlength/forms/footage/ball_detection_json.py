"""JSON form and terminal lines of the ball detected in a match."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypedDict

import numpy as np

from goodlength.footage.ball_detection.ball_candidate_selection import SURE_SCORE
from goodlength.media_time import MICROSECONDS
from goodlength.tasks.ball.ball_detection import BallRally, MatchBalls

if TYPE_CHECKING:
    from goodlength.tasks.match.lazy_match import OpenMatch


class BallFrameJson(TypedDict):
    """Candidates of one frame, the best first: pixels of the upright frame and score."""

    t_s: float
    candidates: list[list[float]]


class BallRallyJson(TypedDict):
    """One rally: `rally` is its number in the match, null where it is not recorded.

    `found` counts frames with a candidate that counts as the ball; null for a search without the model.
    """

    key: str
    rally: int | None
    video: str
    frames: int
    searched: int
    found: int | None
    candidates: list[BallFrameJson]


class BallVideoJson(TypedDict):
    """How well the ball can be seen in one video; `lost` is a share of its frames."""

    video: str
    lost: float | None
    words: list[str]


class BallsJson(TypedDict):
    """Everything detected of the ball in a match; times are media time of the videos."""

    match: str
    method: str
    missing: int
    videos: list[BallVideoJson]
    rallies: list[BallRallyJson]


def balls_form(opened: OpenMatch, found: MatchBalls) -> BallsJson:
    """Return what was detected as plain values."""
    lost = dict(found.lost)
    return {
        "match": opened.id,
        "method": found.method,
        "missing": found.missing,
        "videos": [
            {"video": video, "lost": lost.get(video), "words": list(words)} for video, words in found.words
        ],
        "rallies": [_rally_form(rally) for rally in found.rallies],
    }


def _rally_form(rally: BallRally) -> BallRallyJson:
    found = rally.found
    return {
        "key": rally.key,
        "rally": rally.rally,
        "video": rally.footage_id,
        "frames": len(found),
        "searched": int(found.searched.sum()),
        "found": _sure(rally),
        "candidates": [
            {
                "t_s": round(us / MICROSECONDS, 4),
                "candidates": [
                    [round(u, 1), round(v, 1), round(score, 3)]
                    for (u, v), score in zip(uv, scores, strict=True)
                    if np.isfinite(score)
                ],
            }
            for us, uv, scores in zip(
                found.times_us.tolist(), found.uv.tolist(), found.score.tolist(), strict=True
            )
        ],
    }


def _sure(rally: BallRally) -> int | None:
    if rally.found.method != "network":
        return None
    return int((np.nan_to_num(rally.found.score[:, 0]) >= SURE_SCORE).sum()) if len(rally.found) else 0


def balls_lines(form: BallsJson) -> list[str]:
    """Return the same as lines for a terminal."""
    lines = []
    for video in form["videos"]:
        lines += [f"{video['video']}: {line}" for line in video["words"]]
    for rally in form["rallies"]:
        name = f"rally {rally['rally']}" if rally["rally"] else "rally not logged"
        share = f"{rally['searched']} frames searched"
        if rally["found"] is not None:
            share = f"ball found in {rally['found']} of {rally['searched']} frames"
        lines.append(f"{name:<18} {share}")
    if form["missing"]:
        count = form["missing"]
        lines.append(f"{count} {'rally is' if count == 1 else 'rallies are'} not searched yet.")
    return lines
