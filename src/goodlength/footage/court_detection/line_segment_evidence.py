"""Evidence of lines in a picture: straight segments, and how strongly they speak for a line at a place.

For each of twelve directions a map holds the log of a ratio: how often a true line passes at this distance
from the nearest segment of that direction, against how often any pixel does. Where planks or panels fill
the picture with segments of a direction, that direction says little.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Singles = NDArray[np.float32]
DIRECTIONS = 12
WIDEST = 1.1  # a segment counts for directions within so many steps of its own
DETECT_PX = 960  # longer side at which segments are detected
COLOUR_SHARE, COLOUR_GAIN = 0.6, 3.0  # colour is coded coarser, and differs less, than light
LEAST_LENGTH = 0.02  # of the longer side
HIT_SHARE = 0.75  # share of a true line that has a segment near it; ASSUMED
_FINE = 8.0  # sub-pixel steps in drawing


@dataclass(frozen=True)
class EvidenceMap:
    """Log-likelihood ratios, shape (directions, h, w), for a picture scaled to (w, h)."""

    ratios: Singles

    @property
    def size(self) -> tuple[int, int]:
        """Width and height."""
        return int(self.ratios.shape[2]), int(self.ratios.shape[1])


def line_segments(picture: Bytes) -> Singles:
    """Return straight segments in light and in colour.

    Parameters
    ----------
    picture : ndarray of uint8, shape (h, w, 3)
        Red, green, blue.

    Returns
    -------
    ndarray, shape (n, 4)
        Ends (u, v, u, v) in shares of the picture's longer side.
    """
    scale = min(1.0, DETECT_PX / max(picture.shape[:2]))
    small = cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    long_px = max(small.shape[:2])
    lab = cv2.cvtColor(small, cv2.COLOR_RGB2LAB)
    found = [_detect(np.ascontiguousarray(lab[:, :, 0])) / long_px]
    colour = cv2.resize(lab, None, fx=COLOUR_SHARE, fy=COLOUR_SHARE, interpolation=cv2.INTER_AREA)
    colour = cv2.GaussianBlur(colour.astype(np.float32), (0, 0), 0.7)
    for channel in (1, 2):
        raised = ((colour[:, :, channel] - 128) * COLOUR_GAIN + 128).clip(0, 255).astype(np.uint8)
        found.append(_detect(raised) / COLOUR_SHARE / long_px)
    return np.vstack(found).astype(np.float32)


def _detect(grey: Bytes) -> Singles:
    """Return segments in pixels."""
    segments: object = cv2.createLineSegmentDetector(cv2.LSD_REFINE_STD).detect(grey)[0]
    # None where there is none, against the types.
    return np.asarray([] if segments is None else segments, np.float32).reshape(-1, 4)


def evidence_map(segments: Singles, shape: tuple[int, int], long_px: float, spread_px: float) -> EvidenceMap:
    """Return the map of a picture at a size.

    Parameters
    ----------
    segments : ndarray, shape (n, 4)
        As from `line_segments`.
    shape : (int, int)
        Width and height of the whole picture; only their ratio counts.
    long_px : float
        The longer side of the map.
    spread_px : float
        Standard deviation of a line's distance from its segment, pixels of the map.
    """
    width, height = (max(8, round(long_px * side / max(shape))) for side in shape)
    ends = segments * np.float32(long_px)
    along = ends[:, 2:] - ends[:, :2]
    length = np.hypot(along[:, 0], along[:, 1])
    angle = np.arctan2(along[:, 1], along[:, 0])
    step = np.pi / DIRECTIONS
    ratios = np.empty((DIRECTIONS, height, width), np.float32)
    for k in range(DIRECTIONS):
        off = np.abs(np.mod(angle - k * step + np.pi / 2, np.pi) - np.pi / 2)
        chosen = (off < WIDEST * step) & (length >= LEAST_LENGTH * long_px)
        ratios[k] = _ratios(_distances(ends[chosen], width, height), spread_px)
    return EvidenceMap(ratios)


def _distances(ends: Singles, width: int, height: int) -> Singles:
    """Return the distance of every pixel from the nearest segment."""
    if not len(ends):
        return np.full((height, width), 1e6, np.float32)
    canvas = np.full((height, width), 255, np.uint8)
    lines = [np.round(pair.reshape(2, 2) * _FINE).astype(np.int32) for pair in ends]
    cv2.polylines(canvas, lines, False, 0, 1, cv2.LINE_8, 3)
    return np.asarray(cv2.distanceTransform(canvas, cv2.DIST_L2, 3), np.float32)


def _ratios(distance: Singles, spread_px: float) -> Singles:
    """Return the log ratio of a true line's distances to those of all pixels."""
    edges = np.concatenate([np.arange(0, 8 * spread_px + 0.01, spread_px / 4), [1e9]])
    usual = np.histogram(distance, edges)[0] + 0.5
    usual = usual / usual.sum()
    middle = (edges[:-1] + np.minimum(edges[1:], 9 * spread_px)) / 2
    near = np.exp(-0.5 * (middle / spread_px) ** 2)
    ratio = np.log((HIT_SHARE * near / near.sum() + (1 - HIT_SHARE) * usual) / usual)
    return np.asarray(ratio[(np.digitize(distance, edges) - 1).clip(0, len(ratio) - 1)], np.float32)
