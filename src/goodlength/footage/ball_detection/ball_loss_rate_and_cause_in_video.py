"""How well the ball can be seen in a video: in what share of frames it is lost, and the likely reason."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.ball_detection.ball_candidate_selection import SURE_SCORE, BallCandidates

Floats = NDArray[np.float64]

WELL_SEEN, PARTLY_SEEN = 0.2, 0.5  # share of frames lost up to which a flight can be followed well, in part
LEAST_FRAMES = 50
POOR_BITS = 0.05  # bits a pixel below which the codec removes small things
SMALL_SIDE = 700
SLOW_FRAMES_PER_S = 24.5
NO_BALL = 0.9
TWO_BALLS = 0.25  # share of frames with two sure candidates from which there are probably two balls
UNEVEN = 0.02  # share of frames without neighbours at the wanted times from which it is said


@dataclass(frozen=True)
class VideoQuality:
    """What is known of the file: frame rate, frame size, and bits a pixel of a frame; 0 where unknown."""

    frames_per_s: float
    width: int
    height: int
    bits_a_pixel: float


@dataclass(frozen=True)
class BallVisibility:
    """How well the ball can be seen.

    `lost` is the share of searched frames in which no candidate counts as the ball; NaN where too few frames
    were searched. `grade` is "well", "partly", "poorly" or "unknown", `words` say it with the likely reason.
    """

    frames: int
    lost: float
    two: float
    unsearched: float
    grade: str
    words: tuple[str, ...]


def ball_visibility(found: Sequence[BallCandidates], quality: VideoQuality) -> BallVisibility:
    """Return how well the ball can be seen in spans in which it is in play.

    Only the network's scores tell the ball from other things; for candidates of another method it is unknown.

    Limits
    ------
    A ball that is hidden behind a player counts as lost, and a thing taken for the ball as found. Reasons are
    read from the file's own figures, not from the frames.
    """
    searched = sum(int(each.searched.sum()) for each in found)
    every = sum(len(each) for each in found)
    if any(each.method != "network" for each in found):
        words = "How well the ball can be seen is known only from a search with the model."
        return BallVisibility(searched, float("nan"), float("nan"), float("nan"), "unknown", (words,))
    if searched < LEAST_FRAMES:
        words = "The ball was searched in too few frames to say how well it can be seen."
        if every >= LEAST_FRAMES:
            words = "The frames of this video come at uneven times, so the ball cannot be searched in them."
        return BallVisibility(
            searched, float("nan"), float("nan"), 1 - searched / max(1, every), "unknown", (words,)
        )
    best = np.concatenate([each.score[each.searched, 0] for each in found])
    second = np.concatenate([each.score[each.searched, 1] for each in found])
    lost = float(1 - (np.nan_to_num(best) >= SURE_SCORE).mean())
    two = float((np.nan_to_num(second) >= SURE_SCORE).mean())
    unsearched = 1 - searched / every
    grade = "well" if lost <= WELL_SEEN else "partly" if lost <= PARTLY_SEEN else "poorly"
    return BallVisibility(
        searched, lost, two, unsearched, grade, _words(lost, two, unsearched, grade, quality)
    )


def _words(lost: float, two: float, unsearched: float, grade: str, quality: VideoQuality) -> tuple[str, ...]:
    share = f"{round(100 * lost)}%"
    if lost >= NO_BALL:
        first = f"The ball was not found in {share} of the frames. {_advice(quality)}"
    elif grade == "well":
        first = f"The ball can be seen well: it was lost in {share} of the frames."
    else:
        first = f"The ball was lost in {share} of the frames. {_advice(quality)}"
    words = [first]
    if two >= TWO_BALLS:
        words.append(
            f"In {round(100 * two)}% of the frames two places look like the ball. "
            "Another ball may be on the court, or something small moves."
        )
    if unsearched >= UNEVEN:
        words.append(
            f"{round(100 * unsearched)}% of the frames could not be searched: "
            "frames are missing or come at uneven times."
        )
    return tuple(words)


def _advice(quality: VideoQuality) -> str:
    """Return the likely reason and what to do."""
    small = 0 < min(quality.width, quality.height) < SMALL_SIDE
    if small:
        return (
            f"The video is only {quality.width} by {quality.height} pixels, perhaps a copy sent by a "
            "messenger. Use the original file from the phone."
        )
    if 0 < quality.bits_a_pixel < POOR_BITS:
        return (
            "The file is compressed so much that small things vanish. Use the original file from the phone."
        )
    if 0 < quality.frames_per_s < SLOW_FRAMES_PER_S:
        return "The frame rate is low. Next time, film with 30 or 60 frames a second."
    return (
        "The shutter may be too slow, or the ball has the colour of the wall. Next time, film with 60 "
        "frames a second in good light, 3 to 4 metres behind the back wall."
    )
