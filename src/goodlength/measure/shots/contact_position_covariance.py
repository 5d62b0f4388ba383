"""How surely contacts are placed: J^T J of the path's fit, the camera left free within its covariance."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from goodlength.ball.flight.path_at_times_kernel import path_at
from goodlength.footage.camera.camera_model import UNKNOWNS as CAMERA_UNKNOWNS
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.camera.projection_uncertainty import ParameterCovariance
from goodlength.measure.shots.followed_ball_types import ContactKind
from goodlength.measure.shots.rally_input_arrays import Floats, RallyScene
from goodlength.measure.shots.shot_flight_scoring_kernel import SHIFT, STEPS, UNKNOWNS
from goodlength.measure.shots.single_shot_path_candidates import FoundPath, ball_row

LEAST_PX = 1.2  # at 1080 lines, however well a path fits
STRIKE_ERROR_M = 0.06
# What a fit does not know of, each way: spin, bend by spin, walls that are not alike. Chosen so that 90%
# ellipses hold about 90 of 100 places of simulated rallies of the choosing states, each with another ball.
MODEL_ERROR_M = {
    ContactKind.FRONT: 0.03,
    ContactKind.TIN: 0.02,
    ContactKind.BACK: 0.05,
    ContactKind.FLOOR: 0.07,
    ContactKind.SECOND_BOUNCE: 0.1,
    ContactKind.LEFT: 0.14,
    ContactKind.RIGHT: 0.14,
    ContactKind.OUT: 0.14,
}


def contact_covariances(
    scene: RallyScene,
    path: FoundPath,
    prior: Floats,
    lens: CameraModel,
    camera: ParameterCovariance,
    coefficients: Floats,
    kinds: Sequence[ContactKind],
) -> tuple[Floats, Floats]:
    """Return covariances of the place of the strike, (3, 3), and of each contact of `kinds`, (m, 3, 3), m².

    NaN where a contact comes or goes with a small change of the path.
    """
    inverse = unknowns_covariance(scene, path, prior, lens, camera, coefficients)
    strike = inverse[:3, :3] + STRIKE_ERROR_M**2 * np.eye(3)
    out = np.full((len(kinds), 3, 3), np.nan)
    slopes = _contact_slopes(path, coefficients)
    for n, (each, kind) in enumerate(zip(slopes, kinds, strict=False)):
        if np.isfinite(each).all():
            out[n] = each @ inverse @ each.T + MODEL_ERROR_M[kind] ** 2 * np.eye(3)
    return strike, out


def unknowns_covariance(
    scene: RallyScene,
    path: FoundPath,
    prior: Floats,
    lens: CameraModel,
    camera: ParameterCovariance,
    coefficients: Floats,
) -> Floats:
    """Return the covariance of the ten unknowns of a path."""
    used = np.flatnonzero(path.taken >= 0)
    normal = np.diag(np.concatenate([1.0 / prior[1] ** 2, np.ones(CAMERA_UNKNOWNS)]))
    if len(used):
        frames = path.begin + used
        after = _frame_times(scene, path, path.th)[used]
        places = path.flown(after)[0]
        uv, by_camera, by_point = lens.slopes(places)
        spread = np.linalg.cholesky(camera.covariance + 1e-16 * np.eye(CAMERA_UNKNOWNS))
        slopes = np.zeros((len(used), 2, UNKNOWNS + CAMERA_UNKNOWNS))
        slopes[:, :, UNKNOWNS:] = by_camera @ spread
        for a in range(UNKNOWNS):
            th = path.th.copy()
            th[a] += STEPS[a]
            moved = _flown(th, coefficients, _frame_times(scene, path, th)[used])
            step = (moved - places) / STEPS[a]
            slopes[:, :, a] = np.einsum("nij,nj->ni", by_point, step)
        off = uv - scene.spots[frames, path.taken[used]]
        far = np.hypot(off[:, 0], off[:, 1])
        error = max(LEAST_PX * scene.scale, float(np.median(far)) / 1.1774)
        weight = 1.0 / (1.0 + (far / error) ** 2 / 9.0) / error**2
        normal += np.einsum("n,nki,nkj->ij", weight, slopes, slopes)
    return np.asarray(np.linalg.inv(normal)[:UNKNOWNS, :UNKNOWNS])


def _frame_times(scene: RallyScene, path: FoundPath, th: Floats) -> Floats:
    """Return times after the strike at which frames show the ball, shape (n,)."""
    frames = scene.times[path.begin : path.begin + len(path.taken)]
    return np.asarray(np.maximum(0.0, frames - path.struck_s - th[SHIFT] + th[-1] * path.rows))


def _flown(th: Floats, coefficients: Floats, after_s: Floats) -> Floats:
    return path_at(np.concatenate([th[:6], np.zeros(3)]), ball_row(th, coefficients), after_s)[0]


def _contact_slopes(path: FoundPath, coefficients: Floats) -> Floats:
    """Return how places of contacts move with the unknowns, shape (m, 3, 10)."""
    count = len(path.contacts)
    out = np.zeros((count, 3, UNKNOWNS))
    if not count:
        return out
    end = np.array([path.contacts[-1, 0] + 0.05])
    for a in range(SHIFT):
        th = path.th.copy()
        th[a] += STEPS[a]
        _, moved = path_at(np.concatenate([th[:6], np.zeros(3)]), ball_row(th, coefficients), end)
        for n in range(count):
            if n < len(moved) and moved[n, 4] == path.contacts[n, 4]:
                out[n, :, a] = (moved[n, 1:4] - path.contacts[n, 1:4]) / STEPS[a]
            else:
                out[n] = np.nan
    return out
