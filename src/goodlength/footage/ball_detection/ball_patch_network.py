"""The network that scores the patches in which something moves, and what its answer says.

It has 30,295 weights, reads the level of one frame and its differences from four neighbours in 64 by 64 px,
and answers with heat and the offset of the ball's middle on a grid of 4 px. How it was trained, and on what:
docs/sources/ball-network.md. It has never seen a real video.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from goodlength.footage.ball_detection.ball_candidate_selection import best_candidates
from goodlength.footage.ball_detection.moving_patch_extraction import (
    PATCH_PX,
    cut_patches,
    moving_patches,
)
from goodlength.footage.models import network

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Indices = NDArray[np.int64]
Window = tuple[Bytes, Bytes, Bytes, Bytes, Bytes]

MODEL = "ball-patches.onnx"
BATCH = 16  # patches at once: the module is slow where the number changes
STRIDE_PX = 4
LEAST_SCORE = 0.02
EDGE_CELLS = 1  # of the answer's grid, at the patch's border: not trained


def network_candidates(frames: Window) -> tuple[Floats, Floats]:
    """Return the candidates in the middle one of five frames.

    Parameters
    ----------
    frames : five ndarrays of uint8, shape (h, w)
        Luma; far before, before, the frame searched, after, far after. At least 64 px on each side.

    Returns
    -------
    uv : ndarray, shape (8, 2)
    score : ndarray, shape (8,)
        NaN where there are fewer.

    Raises
    ------
    FootageError
        The model's file is missing or damaged.
    """
    corners = moving_patches(frames)
    if not len(corners):
        return best_candidates(np.empty((0, 2)), np.empty(0))
    return best_candidates(*_decoded(patch_answers(frames, corners), corners))


def patch_answers(frames: Window, corners: Indices) -> NDArray[np.float32]:
    """Return the network's answer for each patch, shape (n, 3, 16, 16): log-odds, offsets in strides."""
    net = network(MODEL)
    padded = np.concatenate([corners, np.repeat(corners[-1:], -len(corners) % BATCH, axis=0)])
    answers = []
    for begin in range(0, len(padded), BATCH):
        net.setInput(cut_patches(*frames, padded[begin : begin + BATCH]))
        answers.append(np.array(net.forward(), np.float32))
    return np.concatenate(answers)[: len(corners)]


def _decoded(answers: NDArray[np.float32], corners: Indices) -> tuple[Floats, Floats]:
    """Return places and scores of the peaks in all patches."""
    side = PATCH_PX // STRIDE_PX
    heat = answers[:, 0].copy()
    least = np.float32(np.log(LEAST_SCORE / (1 - LEAST_SCORE)))
    for edge in (
        heat[:, :EDGE_CELLS],
        heat[:, -EDGE_CELLS:],
        heat[:, :, :EDGE_CELLS],
        heat[:, :, -EDGE_CELLS:],
    ):
        edge[:] = -np.inf
    padded = np.pad(heat, ((0, 0), (1, 1), (1, 1)), constant_values=-np.inf)
    around = [padded[:, i : i + side, j : j + side] for i in range(3) for j in range(3)]
    peak = (heat >= np.maximum.reduce(around)) & (heat > least)
    n, row, column = np.nonzero(peak)
    u = corners[n, 1] + STRIDE_PX * (column + 0.5 + answers[n, 1, row, column].clip(-1, 1))
    v = corners[n, 0] + STRIDE_PX * (row + 0.5 + answers[n, 2, row, column].clip(-1, 1))
    return np.column_stack([u, v]).astype(float), 1 / (1 + np.exp(-heat[n, row, column].astype(float)))
