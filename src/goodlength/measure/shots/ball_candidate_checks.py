"""Checks of a rally's candidates before shots are joined: never visible, two balls, one left lying."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from goodlength.footage.ball_detection.ball_candidate_selection import BallCandidates
from goodlength.footage.camera.camera_model import CameraModel

FOUND_SCORE = 0.6
LEAST_FOUND = 0.08  # of the frames: with fewer the ball counts as never visible
STILL_PX, STILL_SHARE = 4.0, 0.4  # at 1080 lines; a candidate there in so many frames lies still
TWO_SHARE, TWO_APART_PX = 0.3, 40.0
UNEVEN_SHARE = 0.1
SEEN_COURT = 0.75
COURT_M = np.array(
    [
        [x, y, z]
        for x in (0.4, 3.2, 6.0)
        for y, z in ((0.1, 0.6), (0.1, 2.5), (0.1, 4.2), (3.0, 0.1), (6.0, 0.1), (8.5, 0.1))
    ]
)


@dataclass(frozen=True, eq=False)
class CheckedCandidates:
    """Candidates without what lies still; why nothing can be followed, and what makes it unsure."""

    found: BallCandidates
    reason: str = ""
    unsure: tuple[str, ...] = ()


def checked_candidates(found: BallCandidates, lens: CameraModel) -> CheckedCandidates:
    """Return the candidates that may be the ball in play, with what the coach should know."""
    if not found.searched.any():
        return CheckedCandidates(found, "No frame of this rally could be searched for the ball.")
    moving, still = _without_still(_sorted(found), STILL_PX * min(lens.width, lens.height) / 1080.0)
    best = np.nan_to_num(moving.score[:, 0])
    share = float((best[moving.searched] >= FOUND_SCORE).mean())
    if share < LEAST_FOUND:
        return CheckedCandidates(
            moving,
            f"The ball was found in only {round(100 * share)} of 100 frames: too few to follow it. "
            "Use the original video from the phone, with more light or a shorter shutter.",
        )
    unsure = []
    if still:
        unsure.append("Something like a ball lies still in view and was left out.")
    if (twice := _two_share(moving)) >= TWO_SHARE:
        unsure.append(
            f"Two places look like a ball in {round(100 * twice)} of 100 frames: there may be two balls."
        )
    if (lost := 1.0 - float(moving.searched.mean())) >= UNEVEN_SHARE:
        unsure.append(
            f"{round(100 * lost)} of 100 frames were not searched: some are missing or come at uneven times."
        )
    uv, seen = lens.project(COURT_M)
    inside = float((seen & lens.inside(uv)).mean())
    if inside < SEEN_COURT:
        unsure.append("A part of the court is outside the frame: what happens there is not followed.")
    return CheckedCandidates(moving, "", tuple(unsure))


def _without_still(found: BallCandidates, apart_px: float) -> tuple[BallCandidates, bool]:
    """Return the candidates without those that stay in one place, and whether there were any."""
    flat = found.uv.reshape(-1, 2)
    known = np.isfinite(flat).all(axis=1)
    cells, counts = np.unique(np.round(flat[known] / apart_px), axis=0, return_counts=True)
    often = cells[counts > STILL_SHARE * max(10, len(found))] * apart_px
    if not len(often):
        return found, False
    off = np.full(found.score.shape, np.inf)
    for place in often:
        off = np.minimum(off, np.nan_to_num(np.hypot(*np.moveaxis(found.uv - place, -1, 0)), nan=np.inf))
    lies = off < 1.5 * apart_px
    score = np.where(lies, np.nan, found.score)
    return _sorted(replace(found, uv=np.where(lies[:, :, None], np.nan, found.uv), score=score)), True


def _sorted(found: BallCandidates) -> BallCandidates:
    """Return the candidates of each frame, the best first."""
    order = np.argsort(np.where(np.isfinite(found.score), -found.score, np.inf), axis=1, kind="stable")
    uv = np.take_along_axis(found.uv, order[:, :, None], axis=1)
    return replace(found, uv=uv, score=np.take_along_axis(found.score, order, axis=1))


def _two_share(found: BallCandidates) -> float:
    """Return in what share of frames two places far from each other look like the ball."""
    apart = np.hypot(*(found.uv[:, 0] - found.uv[:, 1]).T)
    both = (np.nan_to_num(found.score[:, 1]) >= 0.8) & (np.nan_to_num(apart) > TWO_APART_PX)
    return float(both[found.searched].mean())
