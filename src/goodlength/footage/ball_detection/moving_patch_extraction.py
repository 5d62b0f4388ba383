"""The patches of a frame in which something small moves.

What is the ball's is darker, or lighter, than the frames before and those after at the same place. How much
counts beside how restless the surroundings are: a codec that wipes the court smooth leaves little of a ball,
and there it is still what stands out most. How many patches hold the ball was measured for several rules on
the choosing family: docs/sources/ball-network.md.
"""

from __future__ import annotations

import cv2
import numpy as np
from numba import njit
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float32]
Indices = NDArray[np.int64]

WINDOW = 5  # frames looked at together, the middle one is searched
TARGETS_US = (-67_000, -33_000, 0, 33_000, 67_000)  # how far from the middle one they are wanted
MOST_OFF_US = 30_000  # a neighbour further than this from where it is wanted is no neighbour
BLOCK_PX, PATCH_PX = 16, 64
LEAST_MOTION = 2  # levels of 255 by which a spot stands out of its surroundings
HALF = 2  # patches are chosen on frames of half the size, in which noise has half the spread
RESTLESS_PX, CALM_LEVELS = 31, 4.0  # of half the size; changes of a still place that count for nothing
STRENGTH_STEPS = 14.0  # of a unit of strength
MOST_PATCHES = 48
SMOOTH_PX, SURROUND_PX = 3, 41
LEVEL_MIDDLE, LEVEL_SPREAD, CHANGE_SPREAD = 110.0, 60.0, 25.0  # scales of the network's input


def window_indices(times_us: Indices) -> Indices:
    """Return for each frame the five frames it is looked at with.

    Neighbours are chosen by time, not by number, so that films of 25 and of 60 frames a second and films of
    variable rate are looked at alike.

    Parameters
    ----------
    times_us : ndarray, shape (n,)
        Media time of the frames, increasing.

    Returns
    -------
    ndarray, shape (n, 5)
        Numbers of frames; a row of -1 where a neighbour is missing.

    Examples
    --------
    >>> window_indices(np.arange(6) * 40_000)[2].tolist()
    [0, 1, 2, 3, 4]
    >>> window_indices(np.arange(12) * 16_667)[5].tolist()
    [1, 3, 5, 7, 9]
    """
    times_us = np.asarray(times_us, np.int64)
    n = len(times_us)
    out = np.full((n, WINDOW), -1, np.int64)
    if n < WINDOW:
        return out
    wanted = times_us[:, None] + np.array(TARGETS_US)
    after = np.searchsorted(times_us, wanted).clip(1, n - 1)
    nearer = wanted - times_us[after - 1] <= times_us[after] - wanted
    chosen = after - nearer
    chosen[:, 2] = np.arange(n)
    chosen[:, 1] = np.minimum(chosen[:, 1], chosen[:, 2] - 1)
    chosen[:, 0] = np.minimum(chosen[:, 0], chosen[:, 1] - 1)
    chosen[:, 3] = np.maximum(chosen[:, 3], chosen[:, 2] + 1)
    chosen[:, 4] = np.maximum(chosen[:, 4], chosen[:, 3] + 1)
    inside = ((chosen >= 0) & (chosen < n)).all(axis=1)
    near = np.abs(times_us[chosen.clip(0, n - 1)] - wanted).max(axis=1) <= MOST_OFF_US
    out[inside & near] = chosen[inside & near]
    return out


def standing_out(frames: tuple[Bytes, Bytes, Bytes, Bytes, Bytes]) -> Bytes:
    """Return by how many levels each place of the middle frame stands out; shape (h, w).

    It must be darker than all its neighbours in time, or lighter than all: the edge of a body that passes
    lies between what was there before and after. From that the mean of the surroundings is taken.
    """
    far_before, before, middle, after, far_after = frames
    lowest = cv2.min(cv2.min(before, after), cv2.min(far_before, far_after))
    highest = cv2.max(cv2.max(before, after), cv2.max(far_before, far_after))
    change = cv2.max(cv2.subtract(lowest, middle), cv2.subtract(middle, highest))
    smooth = cv2.blur(change, (SMOOTH_PX, SMOOTH_PX))
    return np.asarray(cv2.subtract(smooth, cv2.blur(smooth, (SURROUND_PX, SURROUND_PX))), np.uint8)


def strength_of_spots(frames: tuple[Bytes, Bytes, Bytes, Bytes, Bytes]) -> Bytes:
    """Return how strongly each place stands out beside the unrest around it, at half the frame's size.

    As `standing_out`, divided by the fourth root of the range of levels that the surroundings pass through.
    """
    far_before, before, middle, after, far_after = (
        np.asarray(cv2.resize(frame, None, fx=1 / HALF, fy=1 / HALF, interpolation=cv2.INTER_AREA), np.uint8)
        for frame in frames
    )
    lowest = cv2.min(cv2.min(before, after), cv2.min(far_before, far_after))
    highest = cv2.max(cv2.max(before, after), cv2.max(far_before, far_after))
    change = cv2.max(cv2.subtract(lowest, middle), cv2.subtract(middle, highest))
    smooth = cv2.blur(change.astype(np.float32), (SMOOTH_PX, SMOOTH_PX))
    around = SURROUND_PX // HALF // 2 * 2 + 1
    restless = cv2.blur(cv2.subtract(highest, lowest).astype(np.float32), (RESTLESS_PX, RESTLESS_PX))
    alone = np.maximum(smooth - cv2.blur(smooth, (around, around)), 0.0)
    strength = alone * (STRENGTH_STEPS / np.sqrt(np.sqrt(restless + CALM_LEVELS)))
    return np.asarray(np.minimum(strength, 255.0), np.uint8)


def strongest_of_blocks(spots: Bytes, block_px: int = BLOCK_PX) -> Bytes:
    """Return the strongest place of each block, shape (rows, columns)."""
    high, wide = spots.shape
    rows, columns = -(-high // block_px), -(-wide // block_px)
    padded = np.zeros((rows * block_px, columns * block_px), np.uint8)
    padded[:high, :wide] = spots
    in_columns = padded.reshape(rows, block_px, -1).max(axis=1)
    return np.asarray(in_columns.reshape(rows, columns, block_px).max(axis=2), np.uint8)


@njit(cache=True)
def chosen_blocks(strength: Bytes, most: int, least: int) -> Indices:
    """Return row and column of the strongest blocks, shape (n, 2), none beside one chosen before it."""
    left = strength.astype(np.int64)
    rows, columns = left.shape
    out = np.empty((most, 2), np.int64)
    count = 0
    while count < most:
        best = least - 1
        at = (0, 0)
        for i in range(rows):
            for j in range(columns):
                if left[i, j] > best:
                    best, at = left[i, j], (i, j)
        if best < least:
            break
        out[count, 0], out[count, 1] = at
        count += 1
        for i in range(max(0, at[0] - 1), min(rows, at[0] + 2)):
            for j in range(max(0, at[1] - 1), min(columns, at[1] + 2)):
                left[i, j] = 0
    return out[:count]


def moving_patches(frames: tuple[Bytes, Bytes, Bytes, Bytes, Bytes], most: int = MOST_PATCHES) -> Indices:
    """Return row and column of the upper left pixel of the patches to look at, the strongest first.

    Parameters
    ----------
    frames : five ndarrays of uint8, shape (h, w)
        Luma; far before, before, the frame searched, after, far after. At least 64 px on each side.
    most : int

    Returns
    -------
    ndarray, shape (n, 2)
        Patches lie inside the picture; they overlap, and what lies 8 px inside one or more is covered.
    """
    blocks = chosen_blocks(strongest_of_blocks(strength_of_spots(frames), BLOCK_PX // HALF), most, 1)
    most_corner = np.array(frames[2].shape) - PATCH_PX
    return np.clip(blocks * BLOCK_PX + (BLOCK_PX - PATCH_PX) // 2, 0, most_corner)


@njit(cache=True)
def cut_patches(
    far_before: Bytes, before: Bytes, middle: Bytes, after: Bytes, far_after: Bytes, corners: Indices
) -> Floats:
    """Return the network's input: level of the middle frame and its four differences; (n, 5, 64, 64)."""
    out = np.empty((len(corners), WINDOW, PATCH_PX, PATCH_PX), np.float32)
    for k in range(len(corners)):
        top, left = corners[k, 0], corners[k, 1]
        for i in range(PATCH_PX):
            for j in range(PATCH_PX):
                v, u = top + i, left + j
                level = np.float32(middle[v, u])
                out[k, 0, i, j] = (level - np.float32(LEVEL_MIDDLE)) * np.float32(1 / LEVEL_SPREAD)
                out[k, 1, i, j] = (np.float32(far_before[v, u]) - level) * np.float32(1 / CHANGE_SPREAD)
                out[k, 2, i, j] = (np.float32(before[v, u]) - level) * np.float32(1 / CHANGE_SPREAD)
                out[k, 3, i, j] = (np.float32(after[v, u]) - level) * np.float32(1 / CHANGE_SPREAD)
                out[k, 4, i, j] = (np.float32(far_after[v, u]) - level) * np.float32(1 / CHANGE_SPREAD)
    return out
