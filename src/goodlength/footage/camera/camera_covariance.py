"""Uncertainty of a calibrated camera: estimated click error, and covariance of its parameters."""

from __future__ import annotations

import numpy as np

from goodlength.footage.camera.camera_fitting import (
    ASSUMED_CLICKS_SEEN,
    CameraFit,
    click_error_px,
    expectations,
)
from goodlength.footage.camera.camera_model import UNKNOWNS, Floats
from goodlength.footage.camera.projection import ParameterCovariance


def parameter_covariance(fit: CameraFit, points: Floats) -> ParameterCovariance:
    """Estimate the click error and the covariance of a fit.

    The click error is the residuals' own, drawn in towards the assumed one where clicks are few: with
    four marks nothing is left over to judge it by. What is left over is counted as the coordinates less
    what the unknowns take up, which an unknown held by its expectation hardly does.
    """
    assumed = click_error_px(fit.lens.width, fit.lens.height)
    _, slopes, _ = fit.lens.slopes(points)
    flat = slopes.reshape(-1, UNKNOWNS)
    _, expected = expectations(fit.lens)
    prior_precision = expected.T @ expected
    taken = np.trace(
        np.linalg.solve(flat.T @ flat / assumed**2 + prior_precision, flat.T @ flat / assumed**2)
    )
    spare = max(0.0, fit.residuals.size - float(taken))
    squares = float((fit.residuals**2).sum())
    freedom = ASSUMED_CLICKS_SEEN + spare
    click_px = float(np.sqrt((ASSUMED_CLICKS_SEEN * assumed**2 + squares) / freedom))
    normal = flat.T @ flat / click_px**2 + prior_precision
    return ParameterCovariance(np.asarray(np.linalg.inv(normal), dtype=float), click_px, freedom)
