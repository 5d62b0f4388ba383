"""How much of the court a camera cannot show, in words: the ball cannot be seen there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from goodlength.court.dimensions import FRONT_OUT_M, LENGTH_M, WIDTH_M

if TYPE_CHECKING:
    from goodlength.footage.camera.camera_model import CameraModel

STEPS = 24
LEAST_SHARE = 0.1  # of the floor or the front wall; less is not worth a sentence


def outside_shares(lens: CameraModel) -> tuple[float, float]:
    """Return what share of the floor, and of the front wall up to its out line, lies outside the picture."""
    across, along = np.linspace(0.0, 1.0, STEPS), np.linspace(0.0, 1.0, STEPS)
    s, t = (each.ravel() for each in np.meshgrid(across, along))
    floor = np.column_stack([s * WIDTH_M, t * LENGTH_M, np.zeros(len(s))])
    front = np.column_stack([s * WIDTH_M, np.zeros(len(s)), t * FRONT_OUT_M])
    shares = []
    for points in (floor, front):
        uv, seen = lens.project(points)
        shares.append(float(1 - (seen & lens.inside(uv)).mean()))
    return shares[0], shares[1]


def outside_words(lens: CameraModel) -> str:
    """Return what lies outside the picture, in a sentence; empty where next to nothing does."""
    shares = zip(outside_shares(lens), ("the floor", "the front wall"), strict=True)
    parts = [f"{round(100 * share)}% of {name}" for share, name in shares if share >= LEAST_SHARE]
    if not parts:
        return ""
    return f"About {' and '.join(parts)} is outside the picture: the ball cannot be found there."
