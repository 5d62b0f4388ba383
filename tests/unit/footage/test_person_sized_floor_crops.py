"""Crops around places of the floor: where a place lies in them, at any distance and lean."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from goodlength.footage.camera.camera_model import CameraModel, rotated
from goodlength.footage.vision.person_sized_floor_crops import (
    CROP_HIGH,
    CROP_WIDE,
    DOWN_M,
    PX_PER_M,
    UP_M,
    crop_frames,
    crops,
    pyramid,
)

AXES = rotated(np.array([0.35, 0.0, 0.05])) @ np.array([[1.0, 0, 0], [0, 0, -1.0], [0, -1.0, 0]])
LENS = CameraModel(960, 540, AXES, np.array([2.6, 11.5, 2.6]), 520.0, -0.08)
PLACES = np.array([[1.0, 2.0], [5.5, 4.0], [3.2, 8.5]])


@pytest.mark.parametrize("height_m", [0.0, 1.0, 1.7])
def test_a_point_over_a_place_stands_in_the_middle_of_its_crop(height_m: float) -> None:
    frames, good = crop_frames(LENS, np.ones(2), PLACES)
    assert good.all()
    picture = np.zeros((540, 960, 3), np.uint8)
    uv, _ = LENS.project(np.column_stack([PLACES, np.full(3, height_m)]))
    for u, v in uv:
        cv2.circle(picture, (round(u - 0.5), round(v - 0.5)), 3, (255, 255, 255), -1)
    looks = crops(pyramid(picture), frames)
    assert looks.shape == (3, CROP_HIGH, CROP_WIDE, 3)
    for look in looks:
        rows, columns = np.nonzero(look[..., 0] > 100)
        near = np.abs(columns - CROP_WIDE / 2) < 8
        assert columns[near].mean() + 0.5 == pytest.approx(CROP_WIDE / 2, abs=1.5)
        row = (UP_M - height_m) * PX_PER_M
        assert rows[near].mean() + 0.5 == pytest.approx(
            row, abs=4.0
        )  # the scale at the feet holds for all of a body


def test_a_crop_goes_from_over_the_head_to_below_the_feet() -> None:
    assert pytest.approx(CROP_HIGH) == (UP_M + DOWN_M) * PX_PER_M


def test_metres_in_a_crop_and_points_of_the_picture_are_each_other_s_inverse() -> None:
    frames, _ = crop_frames(LENS, np.array([0.5, 0.5]), PLACES)
    metres = np.array([[0.2, -0.1], [-0.3, 0.4], [0.0, 1.0]])
    assert frames.to_crop_m(frames.to_picture(metres)) == pytest.approx(metres)
    assert frames.to_crop_m(frames.foot) == pytest.approx(0.0, abs=1e-9)


def test_what_lies_outside_of_the_picture_is_grey() -> None:
    frames, _ = crop_frames(LENS, np.ones(2), np.array([[0.2, 9.6]]))
    look = crops(pyramid(np.zeros((540, 960, 3), np.uint8)), frames)[0]
    assert (look == 114).any()


def test_a_place_behind_the_camera_has_no_crop() -> None:
    _, good = crop_frames(LENS, np.ones(2), np.array([[3.0, 5.0], [3.0, 14.0]]))
    assert good.tolist() == [True, False]
