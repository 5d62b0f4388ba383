"""Uncertainty of a calibrated camera: estimated error of its marks, and covariance of its parameters."""

from __future__ import annotations

import numpy as np

from goodlength.footage.camera.camera_fitting import (
    ASSUMED_CLICKS_SEEN,
    CameraFit,
    click_error_px,
    expectations,
)
from goodlength.footage.camera.camera_model import UNKNOWNS, CameraModel, Floats
from goodlength.footage.camera.projection_uncertainty import ParameterCovariance

# A detected mark, at 1080 lines. Court and lens are in it, and that all marks come from one fit. On the
# learning and choosing families 1 px holds in 95 of 100 (`scripts/fit_court_detection_error.py`); ASSUMED:
# twice that on courts unlike them.
DETECTED_MARK_PX = 2.0
DETECTED_FREEDOM = 20.0


def parameter_covariance(fit: CameraFit, points: Floats) -> ParameterCovariance:
    """Estimate the click error and the covariance of a fit.

    The click error is the residuals' own, drawn in towards the assumed one where clicks are few: with
    four marks nothing is left over to judge it by. What is left over is counted as the coordinates less
    what the unknowns take up, which an unknown held by its expectation hardly does.
    """
    assumed = click_error_px(fit.lens.width, fit.lens.height)
    flat, prior_precision = _slopes(fit.lens, points)
    taken = np.trace(
        np.linalg.solve(flat.T @ flat / assumed**2 + prior_precision, flat.T @ flat / assumed**2)
    )
    spare = max(0.0, fit.residuals.size - float(taken))
    squares = float((fit.residuals**2).sum())
    freedom = ASSUMED_CLICKS_SEEN + spare
    click_px = float(np.sqrt((ASSUMED_CLICKS_SEEN * assumed**2 + squares) / freedom))
    return covariance_of_marks(fit.lens, points, click_px, freedom)


def detected_covariance(fit: CameraFit, points: Floats) -> ParameterCovariance:
    """Return the covariance of a fit to marks that were detected, or some of them.

    Such marks agree with each other whatever the lens and the court are like, so residuals say nothing of
    their error; larger ones, of marks corrected by hand, count.
    """
    clicked = parameter_covariance(fit, points)
    mark_px = detected_mark_px(fit.lens.width, fit.lens.height)
    if clicked.click_px >= mark_px:
        return clicked
    return covariance_of_marks(fit.lens, points, mark_px)


def detected_mark_px(width: int, height: int) -> float:
    """Return the error of a detected mark in a picture of this size."""
    return DETECTED_MARK_PX * min(width, height) / 1080.0


def covariance_of_marks(
    lens: CameraModel, points: Floats, mark_px: float, freedom: float = DETECTED_FREEDOM
) -> ParameterCovariance:
    """Return the covariance of a camera solved from marks with a known error each way, px."""
    flat, prior_precision = _slopes(lens, points)
    normal = flat.T @ flat / mark_px**2 + prior_precision
    return ParameterCovariance(np.asarray(np.linalg.inv(normal), dtype=float), mark_px, freedom)


def _slopes(lens: CameraModel, points: Floats) -> tuple[Floats, Floats]:
    """Return slopes of all coordinates (2n, 12), and the precision of what lenses are expected to be."""
    _, slopes, _ = lens.slopes(points)
    _, expected = expectations(lens)
    return slopes.reshape(-1, UNKNOWNS), expected.T @ expected
