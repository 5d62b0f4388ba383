"""The empty court from frames of a steady camera: people move on, the median of each pixel stays."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.errors import InputError

Bytes = NDArray[np.uint8]
COMPARED_PX = 480  # longer side of the frames that are compared
STEADY_PX = 0.4  # at that size: more counts as another view
LIT_SHARE = 0.6  # a frame with less than this share of the usual light is left out
FEWEST = 3


@dataclass(frozen=True)
class BackgroundPlate:
    """Median of the frames that show the view of the reference frame; `used` says which frames those are."""

    picture: Bytes
    used: tuple[int, ...]


def background_plate(frames: Sequence[Bytes], reference: int | None = None) -> BackgroundPlate:
    """Return the median of frames, those left out in which camera or lights differ from the reference.

    Parameters
    ----------
    frames : sequence of ndarray of uint8, shape (h, w, 3)
        Spread over seconds or minutes.
    reference : int, optional
        The frame whose view counts; the middle one when None.

    Raises
    ------
    InputError
        Without a frame, or with frames of different sizes.
    """
    if not frames:
        raise InputError("The court cannot be found without a frame. Choose a moment inside the video.")
    if len({frame.shape for frame in frames}) > 1:
        raise InputError(
            "The frames have different sizes, so the court cannot be found. Choose another moment."
        )
    at = len(frames) // 2 if reference is None else reference
    small = [_small(frame) for frame in frames]
    light = np.array([picture.mean() for picture in small])
    lit = light >= LIT_SHARE * np.median(light)
    lit[at] = True
    used = [i for i in range(len(frames)) if lit[i] and (i == at or _same_view(small[at], small[i]))]
    if len(used) < FEWEST:
        used = [at]
    picture = np.median(np.stack([frames[i] for i in used]), axis=0).astype(np.uint8)
    return BackgroundPlate(picture, tuple(used))


def _small(frame: Bytes) -> NDArray[np.float32]:
    """Return a small grey copy."""
    scale = min(1.0, COMPARED_PX / max(frame.shape[:2]))
    grey = cv2.cvtColor(frame, cv2.COLOR_RGB2GRAY)
    return np.asarray(cv2.resize(grey, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), np.float32)


def _same_view(reference: NDArray[np.float32], other: NDArray[np.float32]) -> bool:
    """Return whether a frame is not shifted against the reference."""
    window = cv2.createHanningWindow((reference.shape[1], reference.shape[0]), cv2.CV_32F)
    shift, _ = cv2.phaseCorrelate(reference, other, window)
    return math.hypot(*shift) <= STEADY_PX
