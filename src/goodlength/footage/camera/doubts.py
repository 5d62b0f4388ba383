"""How unsure a solved lens is: the click error found, and the covariance of its unknowns."""

from __future__ import annotations

import numpy as np

from goodlength.footage.camera.fitting import ASSUMED_CLICKS_SEEN, Fit, click_error_px, expectations
from goodlength.footage.camera.model import UNKNOWNS, Floats
from goodlength.footage.camera.places import Doubt


def doubt_of(fit: Fit, points: Floats) -> Doubt:
    """Click error and covariance of a fit.

    The click error is the residuals' own, drawn in towards the assumed one where clicks are few: with
    four marks nothing is left over to judge it by.
    """
    assumed = click_error_px(fit.lens.width, fit.lens.height)
    spare = max(0, fit.residuals.size - UNKNOWNS)
    squares = float((fit.residuals**2).sum())
    freedom = ASSUMED_CLICKS_SEEN + spare
    click_px = float(np.sqrt((ASSUMED_CLICKS_SEEN * assumed**2 + squares) / freedom))
    _, slopes, _ = fit.lens.slopes(points)
    jacobian = slopes.reshape(-1, UNKNOWNS) / click_px
    _, expected = expectations(fit.lens)
    normal = jacobian.T @ jacobian + expected.T @ expected
    return Doubt(np.asarray(np.linalg.inv(normal), dtype=float), click_px, freedom)
