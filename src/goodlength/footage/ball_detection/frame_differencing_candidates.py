"""Candidates without a model: spots that move alone, by their contrast and size."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.footage.ball_detection.ball_candidate_selection import best_candidates
from goodlength.footage.ball_detection.moving_patch_extraction import (
    BLOCK_PX,
    LEAST_MOTION,
    chosen_blocks,
    standing_out,
    strongest_of_blocks,
)

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Window = tuple[Bytes, Bytes, Bytes, Bytes, Bytes]

HALF_CONTRAST = 25.0  # levels at which a spot scores a half
HALF_PEAK = 0.5  # a spot reaches to where it is half as strong as its middle
REACH_PX = 24
MOST_SPOTS = 40
WANTED_PX = (3.0, 14.0)  # breadth of a spot, beyond which it scores less


def differencing_candidates(frames: Window) -> tuple[Floats, Floats]:
    """Return the candidates in the middle one of five frames, as `network_candidates` does.

    For where the model is not to be used; it mistakes hands, shoes and racket heads for the ball.
    """
    spots = standing_out(frames)
    places, scores = [], []
    for row, column in chosen_blocks(strongest_of_blocks(spots), MOST_SPOTS, LEAST_MOTION).tolist():
        part = spots[row * BLOCK_PX : (row + 1) * BLOCK_PX, column * BLOCK_PX : (column + 1) * BLOCK_PX]
        at = int(part.argmax())
        v, u = row * BLOCK_PX + at // part.shape[1], column * BLOCK_PX + at % part.shape[1]
        place, score = _spot(spots, u, v)
        places.append(place)
        scores.append(score)
    return best_candidates(np.array(places, float).reshape(-1, 2), np.array(scores, float))


def _spot(spots: Bytes, u: int, v: int) -> tuple[tuple[float, float], float]:
    """Return the middle of the spot round a peak, and its score."""
    top, left = max(0, v - REACH_PX), max(0, u - REACH_PX)
    part = spots[top : v + REACH_PX + 1, left : u + REACH_PX + 1]
    peak = int(spots[v, u])
    mask = (part >= HALF_PEAK * peak).astype(np.uint8)
    count, labels = cv2.connectedComponents(mask, connectivity=8)
    own = labels == labels[v - top, u - left]
    area = int(own.sum())
    rows, columns = np.nonzero(own)
    weight = part[own].astype(float)
    middle = (
        left + 0.5 + float(columns @ weight) / weight.sum(),
        top + 0.5 + float(rows @ weight) / weight.sum(),
    )
    long = max(int(np.ptp(rows)), int(np.ptp(columns))) + 1
    broad = area / long
    fits = min(1.0, broad / WANTED_PX[0]) * min(1.0, WANTED_PX[1] / broad)
    alone = 1.0 / count
    return middle, peak / (peak + HALF_CONTRAST) * fits * alone**0.5
