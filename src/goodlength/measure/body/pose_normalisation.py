"""Normalise poses: centred on the hips, scaled by the trunk, turned to one hand and side.

Joints stand in the order of the 17 that common pose models give; pairs are left, right.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from goodlength.errors import OutOfRange
from goodlength.footage.vision.pose_estimation import NAMES, SWAPPED

Floats = NDArray[np.float64]

_SHOULDERS, _HIPS = (5, 6), (11, 12)


def normalise_poses(poses: ArrayLike, mirrored: ArrayLike | None = None) -> Floats:
    """Return movements in trunk lengths from the middle of the hips, mirrored where asked.

    Parameters
    ----------
    poses : array_like, shape (n, T, 17, 2)
        Places of the joints in the picture, px, or scaled to the court; NaN where a joint was not seen.
    mirrored : array_like of bool, shape (n,)
        Movements to turn left for right: a left-hander's beside a right-hander's, or one box beside the
        other. Left out, none.

    Returns
    -------
    ndarray, shape (n, T, 17, 2)
        In trunk lengths, second coordinate down the picture. A movement in which hips or shoulders were
        never seen together is NaN throughout: nothing says how large it is.

    Raises
    ------
    OutOfRange
        If the shape is another.

    Limits
    ------
    One trunk length a movement (the median over its frames), so a trunk that leans towards the camera
    looks as if the limbs grew a little.

    Examples
    --------
    >>> still = np.zeros((1, 1, 17, 2)); still[0, 0, 5:7, 1] = -40.0; still[0, 0, 9] = (20.0, -80.0)
    >>> normalise_poses(still)[0, 0, 9].tolist()
    [0.5, -2.0]
    >>> normalise_poses(still, [True])[0, 0, 10].tolist()
    [-0.5, -2.0]
    """
    values = np.asarray(poses, dtype=float)
    if values.ndim != 4 or values.shape[2:] != (len(NAMES), 2):
        raise OutOfRange(
            f"Movements must come as serves x frames x 17 joints x 2; got {values.shape}. "
            "Give one line of frames for each serve, all of the same length."
        )
    hips = values[:, :, _HIPS, :].mean(axis=2)
    trunk = np.linalg.norm(values[:, :, _SHOULDERS, :].mean(axis=2) - hips, axis=-1)
    known = np.isfinite(trunk) & (trunk > 0)
    size = np.full(len(values), np.nan)
    for row in np.flatnonzero(known.any(axis=1)):
        size[row] = np.median(trunk[row, known[row]])
    out: Floats = (values - hips[:, :, None, :]) / size[:, None, None, None]
    if mirrored is not None:
        turn = np.asarray(mirrored, dtype=bool)
        out[turn] = out[turn][:, :, list(SWAPPED), :] * (-1.0, 1.0)
    return out
