"""Where the ball was found in the picture, frame by frame, for drawing over a playing video."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from goodlength.errors import NotFound
from goodlength.media_time import MediaPosition
from goodlength.tasks.ball.ball_detection import detected_balls
from goodlength.tasks.footage.stored_video_probe import probe_of

if TYPE_CHECKING:
    from goodlength.footage.ball_detection.ball_candidate_selection import BallCandidates
    from goodlength.tasks.ball.ball_detection import BallRally
    from goodlength.tasks.match.lazy_match import OpenMatch

Place = tuple[float, float, float]  # shares of the picture's width and height, and the score
MOST_PLACES = 3
LEAST_SCORE = 0.1  # of a place that is drawn


@dataclass(frozen=True)
class BallFrame:
    """The places of one frame, the best first; `sure`: the best one counts as the ball.

    `joined`: it may be joined by a line to the frame before, in which the ball is sure, too.
    """

    us: int
    places: tuple[Place, ...]
    sure: bool
    joined: bool


@dataclass(frozen=True)
class BallInPicture:
    """The ball in the rally at a moment, match time; words say how much of it is lost, or what is missing."""

    from_us: int = 0
    to_us: int = -1
    frames: tuple[BallFrame, ...] = ()
    words: str = ""


def ball_in_picture(opened: OpenMatch, at_us: int) -> BallInPicture:
    """Return where the ball was found in the rally played at a match time."""
    timeline = opened.timeline
    place = None if timeline is None else timeline.locate(at_us)
    if timeline is None or not isinstance(place, MediaPosition):
        return BallInPicture(words="There is no video at that time.")
    found = detected_balls(opened)
    if not found.rallies:
        return BallInPicture(words="The ball was not searched yet. Start the search on the Footage page.")
    for rally in found.rallies:
        times = rally.found.times_us
        here = rally.footage_id == place.footage_id and len(times)
        if not here or not times[0] <= place.media_us <= times[-1]:
            continue
        try:
            shift = timeline.match_time(rally.footage_id, int(times[0])) - int(times[0])
        except NotFound:
            continue
        size = _size(opened, rally.footage_id)
        if size is None:
            return BallInPicture(words="The size of this video is not known. Add it again on Footage.")
        return _in_rally(rally, shift, size)
    if found.missing:
        return BallInPicture(
            words="The ball was not searched in this part of the video. Search the rest on the Footage page."
        )
    return BallInPicture(words="The ball is searched in rallies only; here is none.")


def _size(opened: OpenMatch, footage_id: str) -> tuple[int, int] | None:
    probe = probe_of(opened.library.footage_file(footage_id))
    return None if probe is None or probe.width <= 0 or probe.height <= 0 else (probe.width, probe.height)


def _in_rally(rally: BallRally, shift_us: int, size: tuple[int, int]) -> BallInPicture:
    found = rally.found
    sure = _sure(found)
    joined = _joined(found, sure)
    frames = tuple(
        BallFrame(
            us + shift_us,
            tuple(
                (round(u / size[0], 4), round(v / size[1], 4), round(score, 3))
                for (u, v), score in zip(uv[:MOST_PLACES], scores[:MOST_PLACES], strict=True)
                if np.isfinite(score) and score >= LEAST_SCORE
            ),
            bool(ball),
            bool(on),
        )
        for us, uv, scores, ball, on in zip(
            found.times_us.tolist(), found.uv.tolist(), found.score.tolist(), sure, joined, strict=True
        )
    )
    return BallInPicture(frames[0].us, frames[-1].us, frames, _words(found, sure))


def _sure(found: BallCandidates) -> np.ndarray:
    from goodlength.footage.ball_detection.ball_candidate_selection import SURE_SCORE

    if found.method != "network":  # its scores tell the ball from nothing
        return np.zeros(len(found), bool)
    return np.asarray(np.nan_to_num(found.score[:, 0]) >= SURE_SCORE)


def _joined(found: BallCandidates, sure: np.ndarray) -> np.ndarray:
    """Return which frames go on from the frame right before: both sure, and a step that a ball can take."""
    from goodlength.footage.ball_detection.candidate_temporal_support import LONGEST_GAP_US, LONGEST_STEP_PX

    joined = np.zeros(len(found), bool)
    step = np.hypot(*np.diff(found.uv[:, 0], axis=0).T)
    near = (np.diff(found.times_us) <= LONGEST_GAP_US) & (np.nan_to_num(step, nan=np.inf) <= LONGEST_STEP_PX)
    joined[1:] = sure[1:] & sure[:-1] & near
    return joined


def _words(found: BallCandidates, sure: np.ndarray) -> str:
    searched = int(found.searched.sum())
    if not searched:
        return "The frames of this rally come at uneven times, so the ball could not be searched in them."
    if found.method != "network":
        return "Searched without the model: every place drawn is in doubt."
    lost = searched - int((sure & found.searched).sum())
    return f"The ball is lost in {lost} of {searched} frames of this rally. Dashed: in doubt."
