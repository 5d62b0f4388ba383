"""Places of the floor from the candidates of frames: errors by direction, feet out of the frame, pairs."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.bench.footage.tracking_pose_and_face_hiding_accuracy import CAMERA, solved_camera
from goodlength.footage.camera import CameraCalibration
from goodlength.footage.vision.person_log_odds_on_floor_grid import PLACES
from goodlength.footage.vision.player_detection_network import PlayerCandidates
from goodlength.measure.players.player_floor_detection import LEAST_M, floor_positions, placed


@pytest.fixture(scope="module")
def camera() -> CameraCalibration:
    return solved_camera(np.random.default_rng(3))


def pixels(*spots: tuple[float, float]) -> np.ndarray:
    return np.array([CAMERA.see(x, y, 0.0)[:2] for x, y in spots])


def test_a_pixel_is_worth_more_along_the_court_than_across(camera: CameraCalibration) -> None:
    uv = pixels((3.2, 1.5), (3.2, 7.0))
    xy, error = floor_positions(camera, uv, np.tile(4.0 * np.eye(2), (2, 1, 1)))
    assert np.abs(xy - [[3.2, 1.5], [3.2, 7.0]]).max() < 0.15
    assert (error >= LEAST_M).all()
    assert error[0, 1] > 2 * error[0, 0]
    assert error[0, 1] > error[1, 1]


def test_feet_below_the_frame_have_a_place_and_those_off_the_court_none(camera: CameraCalibration) -> None:
    uv = pixels((3.2, 9.4), (3.2, 5.0))
    below = np.array([[uv[0, 0], CAMERA.height + 30.0]])
    xy, _ = floor_positions(camera, below, np.tile(np.eye(2), (1, 1, 1)))
    assert np.isfinite(xy).all()
    assert xy[0, 1] > 7.0
    above = np.array([[uv[1, 0], 5.0]])
    assert np.isnan(floor_positions(camera, above, np.tile(np.eye(2), (1, 1, 1)))[0]).all()


def test_pairs_explain_what_share_of_those_found_they_are(camera: CameraCalibration) -> None:
    uv, odds = np.full((PLACES, 2), np.nan), np.full(PLACES, np.nan)
    uv[:3] = pixels((1.5, 3.0), (5.0, 6.0), (3.0, 8.0))
    odds[:3] = (6.0, 6.0, -0.9)
    spread = np.where(np.isfinite(uv)[:, :, None], np.eye(2), np.nan)
    found = placed(camera, [0.0], [PlayerCandidates(uv, spread, odds, np.full((PLACES, 12), np.nan))])
    assert found.pair[0, 0, 1] == pytest.approx(2 / 2.29, abs=0.01)
    assert found.pair[0, 0, 1] > found.pair[0, 0, 2] > found.pair[0, 2, 2]
    assert np.isnan(found.pair[0, 3]).all()
    assert found.axis_error_m is not None and found.axis_error_m.shape == (1, PLACES, 2)
