"""Contours of a map on the front wall: where at least a given fraction of the maximum is reached."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import FRONT_OUT_M

FINER = 8
LEVELS = (0.5, 0.75, 0.92)  # shares of the highest place
LEAST_POINTS = 6


def rings_of(
    across_m: Sequence[float] | NDArray[np.float64],
    up_m: Sequence[float] | NDArray[np.float64],
    share: NDArray[np.float64],
    levels: Sequence[float] = LEVELS,
) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Return closed lines around the highest place of a map, the widest first.

    Parameters
    ----------
    across_m, up_m : sequence, shapes (n,) and (m,)
        Evenly spaced places.
    share : ndarray, shape (n, m)
        What is mapped; nothing is drawn where it is nowhere above zero.
    levels : sequence of float
        Shares of the highest value, growing.

    Returns
    -------
    tuple of rings of (x_m, z_m)
        Rings too small to see are left out.
    """
    import cv2

    x, z = np.asarray(across_m), np.asarray(up_m)
    if share.size == 0 or share.max() <= 0 or min(share.shape) < 2:
        return ()
    size = (len(z) * FINER, len(x) * FINER)
    # Beyond the edge of the map nothing is known: the frame of zeros closes every line there
    fine = np.pad(cv2.resize(share.astype(np.float32), size, interpolation=cv2.INTER_LINEAR), 1)
    step_x, step_z = (x[1] - x[0]) / FINER, (z[1] - z[0]) / FINER
    top = np.unravel_index(int(np.argmax(fine)), fine.shape)
    found = []
    for level in levels:
        mask = (fine >= level * fine.max()).astype(np.uint8)
        lines, _ = cv2.findContours(mask, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        around = [
            line for line in lines if cv2.pointPolygonTest(line, (int(top[1]), int(top[0])), False) >= 0
        ]
        if not around or len(around[0]) < LEAST_POINTS:
            continue
        places = around[0][:, 0, :].astype(float)
        smooth = _rounded(places)
        found.append(
            tuple(
                (
                    float(x[0] + (row - FINER / 2 - 0.5) * step_x),
                    float(min(z[0] + (column - FINER / 2 - 0.5) * step_z, FRONT_OUT_M)),
                )
                for column, row in smooth
            )
        )
    return tuple(found)


def _rounded(places: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a closed line without the stairs of its cells: a running mean over one cell of the map,
    thinned.
    """
    half = FINER // 2
    ringed = np.vstack([places[-half:], places, places[:half]])
    kernel = np.ones(2 * half + 1) / (2 * half + 1)
    mean = np.column_stack([np.convolve(ringed[:, k], kernel, mode="valid") for k in (0, 1)])
    return np.asarray(mean[:: max(1, len(mean) // 60)])


def contours_of(
    across_m: NDArray[np.float64], up_m: NDArray[np.float64], values: NDArray[np.float64], level: float
) -> tuple[tuple[tuple[float, float], ...], ...]:
    """Closed lines round every part of a map in which a level is reached, as (x_m, z_m), the longest first.

    Parameters
    ----------
    across_m, up_m : ndarray, shapes (n,) and (m,)
        Middles of evenly spaced cells.
    values : ndarray, shape (n, m)
    level : float
        In the unit of the values.
    """
    import cv2

    if values.size == 0 or values.max() < level or min(values.shape) < 2:
        return ()
    size = (len(up_m) * FINER, len(across_m) * FINER)
    fine = np.pad(cv2.resize(values.astype(np.float32), size, interpolation=cv2.INTER_LINEAR), 1)
    step_x, step_z = (across_m[1] - across_m[0]) / FINER, (up_m[1] - up_m[0]) / FINER
    lines, _ = cv2.findContours((fine >= level).astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    found = [
        tuple(
            (
                float(across_m[0] + (row - FINER / 2 - 0.5) * step_x),
                float(min(up_m[0] + (column - FINER / 2 - 0.5) * step_z, FRONT_OUT_M)),
            )
            for column, row in _rounded(line[:, 0, :].astype(float))
        )
        for line in lines
        if len(line) >= FINER * LEAST_POINTS
    ]
    return tuple(sorted(found, key=len, reverse=True))
