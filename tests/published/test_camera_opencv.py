"""OpenCV's own projection and its own camera calibration as references.

OPENCV-CALIB: the camera model of OpenCV 5.0 (`projectPoints`, `calibrateCamera`). Its frame is right-handed:
the court's y is turned round before it is asked. The solver starts from OpenCV's SQPnP but ends with its
own least squares, so `calibrateCamera`, a bundle adjustment of its own, is another way to the same answer.
"""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from goodlength.court import CourtSurface
from goodlength.footage.camera import calibrate_camera, camera_fitting, court_marks
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.camera.court_mark_click_validation import points_and_clicks
from goodlength.footage.camera.projection_uncertainty import backproject_all
from goodlength.synthetic.simulated_camera_clicks import (
    SETTINGS,
    RealCamera,
    real_camera,
    real_clicks,
)

TURN = np.diag([1.0, -1.0, 1.0])
FIXED = (
    cv2.CALIB_USE_INTRINSIC_GUESS
    | cv2.CALIB_FIX_PRINCIPAL_POINT
    | cv2.CALIB_FIX_ASPECT_RATIO
    | cv2.CALIB_ZERO_TANGENT_DIST
    | cv2.CALIB_FIX_K2
    | cv2.CALIB_FIX_K3
)


def opencv_camera(real: RealCamera, clicks: list) -> CameraModel:  # type: ignore[type-arg]
    """The camera by `calibrateCamera`, begun from a poor focal length and the pose that goes with it."""
    points, picture = points_and_clicks(clicks)
    begin = np.array([[1300.0, 0.0, 960.0], [0.0, 1300.0, 540.0], [0.0, 0.0, 1.0]])
    _, matrix, bend, turns, shifts = cv2.calibrateCamera(
        [(points @ TURN).astype(np.float32)],
        [picture.astype(np.float32)],
        (1920, 1080),
        begin,
        np.zeros(5),
        flags=FIXED,
        criteria=(cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_COUNT, 500, 1e-12),
    )
    rotation = cv2.Rodrigues(turns[0])[0]
    place = TURN @ (-rotation.T @ shifts[0].ravel())
    return CameraModel(1920, 1080, rotation @ TURN, place, float(matrix[0, 0]), float(np.ravel(bend)[0]))


@pytest.mark.parametrize("at", [0, 1, -1])
def test_points_project_as_opencv_projects_them(at: int) -> None:
    """Tolerance: a millionth of a pixel, the arithmetic of doubles."""
    real = real_camera(np.random.default_rng(11), SETTINGS[at])
    off = (real.middle - [960.0, 540.0]) / 1920.0
    lens = CameraModel(
        1920, 1080, real.axes, real.place_m, real.focal_px, real.k1, (off[0], off[1]), real.askew
    )
    points = np.array([mark.at for mark in court_marks().values()])
    uv, seen = lens.project(points)
    rotation = real.axes @ TURN
    shift = -rotation @ (TURN @ real.place_m)
    u, v = real.middle
    matrix = np.array([[real.focal_px, 0, u], [0, real.focal_px, v], [0, 0, 1.0]])
    theirs, _ = cv2.projectPoints(
        points @ TURN, cv2.Rodrigues(rotation)[0], shift, matrix, np.array([real.k1, 0, *real.askew])
    )
    assert np.allclose(uv[seen], theirs.reshape(-1, 2)[seen], atol=1e-6)


@pytest.mark.parametrize("seed", range(6))
def test_the_camera_solved_is_the_one_opencv_solves(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Both minimise the same squares; ours adds two weak expectations.

    OpenCV is told to hold the middle and the tangential terms (it knows no ranges for them), so ours is too.

    Tolerance: the floor of the two cameras may differ by 5 mm in the median, a third of what 2 px clicks
    leave open, and the focal length by half a percent.
    """
    monkeypatch.setattr(camera_fitting, "ASSUMED_OFF_MIDDLE", 1e-9)
    monkeypatch.setattr(camera_fitting, "ASSUMED_TANGENTIAL", 1e-9)
    setting = SETTINGS[seed % 2]
    rng = np.random.default_rng(40 + seed)
    real = real_camera(rng, setting)
    clicks = real_clicks(rng, real, setting)
    ours, theirs = calibrate_camera(clicks, 1920, 1080), opencv_camera(real, clicks)
    assert ours.lens.focal_px == pytest.approx(theirs.focal_px, rel=5e-3)
    assert ours.lens.place_m == pytest.approx(theirs.place_m, abs=0.06)
    points, picture = points_and_clicks(clicks)
    rms = [
        float(np.sqrt(((lens.project(points)[0] - picture) ** 2).sum(1).mean()))
        for lens in (ours.lens, theirs)
    ]
    assert rms[0] == pytest.approx(rms[1], abs=0.05)
    grid = np.array([(x, y, 0.0) for x in (0.5, 3.2, 5.9) for y in (1.0, 4.0, 7.0)])
    uv, seen = theirs.project(grid)
    here = seen & theirs.inside(uv)
    xyz, _, _ = backproject_all(ours.lens, ours.covariance, CourtSurface.FLOOR, uv[here])
    assert float(np.median(np.linalg.norm(xyz - grid[here], axis=1))) < 0.005


def test_over_forty_cameras_ours_is_at_least_as_near_the_truth_as_opencvs() -> None:
    """Median floor error against the truth, phone lens, 2 px clicks; one part in ten is luck."""
    rng = np.random.default_rng(99)
    grid = np.array([(x, y, 0.0) for x in (0.5, 3.2, 5.9) for y in (0.5, 2.5, 4.5, 6.5)])
    errors: dict[str, list[float]] = {"ours": [], "theirs": []}
    for _ in range(40):
        real = real_camera(rng, SETTINGS[0])
        clicks = real_clicks(rng, real, SETTINGS[0])
        uv = real.see(grid)
        here = np.isfinite(uv).all(axis=1)
        ours = calibrate_camera(clicks, 1920, 1080)
        for name, lens in (("ours", ours.lens), ("theirs", opencv_camera(real, clicks))):
            xyz, _, _ = backproject_all(lens, ours.covariance, CourtSurface.FLOOR, uv[here])
            errors[name] += np.linalg.norm(xyz - grid[here], axis=1).tolist()
    assert np.median(errors["ours"]) <= 1.1 * np.median(errors["theirs"])
