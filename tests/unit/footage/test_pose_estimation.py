"""Joints of a drawn figure beside where it was drawn; corrections by hand stand over the model's."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.demo.film.court_background import empty_court
from goodlength.demo.film.frame_compositing import NAVY, Brush
from goodlength.demo.film.player_skeleton import FigureJoints, FigureMoment, pose
from goodlength.demo.play.court_camera import CAMERA
from goodlength.errors import OutOfRange
from goodlength.footage.vision.person_detection import PersonDetection
from goodlength.footage.vision.pose_estimation import (
    NAMES,
    SWAPPED,
    Pose,
    estimate_pose,
    with_corrections,
)

POSE = pose(FigureMoment(4.2, 6.6, 0.0, 0.0, 0.0, None, None))
BOX = PersonDetection(340.0, 130.0, 400.0, 300.0, 0.9)
LEFT_KNEE, LEFT_HIP = 13, 11


def picture() -> np.ndarray:
    made = empty_court(CAMERA).copy()
    Brush(made, CAMERA).figure(POSE, NAVY)
    return made


def truth(at: FigureJoints) -> np.ndarray:
    """Shoulders, hips, knees and ankles where they were drawn, (8, 2)."""
    points = [*at.shoulders, *at.hips, *at.knees, *at.feet]
    return np.array([CAMERA.see(*point)[:2] for point in points])


@pytest.fixture(scope="module")
def box() -> PersonDetection:
    low = np.array([CAMERA.see(*p)[:2] for p in (*POSE.feet, POSE.head, *POSE.hands)])
    (u0, v0), (u1, v1) = low.min(axis=0), low.max(axis=0)
    return PersonDetection(u0 - 8, v0 - 12, u1 + 8, v1 + 6, 0.9)


@pytest.mark.parametrize("how", ["careful", "quick"])
def test_joints_are_where_the_figure_was_drawn(how: str, box: PersonDetection) -> None:
    found = estimate_pose(picture(), box, how)
    assert found is not None
    trunk = found.trunk_px
    off = np.linalg.norm(found.uv[[5, 6, 11, 12, 13, 14, 15, 16]] - truth(POSE), axis=1) / trunk
    # Where a joint of a drawing lies is a matter of a tenth of a trunk; a swap of sides is three times that.
    assert np.median(off) < 0.2
    assert found.seen[[5, 6, 11, 12]].all()
    assert (found.error_px > 0).all()


def test_a_person_too_small_is_not_asked_for_joints() -> None:
    assert estimate_pose(picture(), PersonDetection(300.0, 100.0, 320.0, 150.0, 0.9)) is None


def test_a_person_at_the_edge_of_the_picture_is_looked_at_all_the_same() -> None:
    found = estimate_pose(picture(), PersonDetection(-30.0, 200.0, 60.0, 380.0, 0.9), "quick")
    assert found is not None
    assert found.uv.shape == (17, 2)


def test_an_unknown_way_is_refused() -> None:
    with pytest.raises(OutOfRange, match="'careful' or 'quick'; got 'best'"):
        estimate_pose(picture(), BOX, "best")


def test_pairs_are_swapped_when_mirrored() -> None:
    assert [NAMES[k].replace("left", "right") for k in SWAPPED[5::2]] == [
        name.replace("left", "right") for name in NAMES[5::2]
    ]
    assert sorted(SWAPPED) == list(range(17))


def test_a_joint_put_in_place_by_hand_stands_and_the_others_stay() -> None:
    found = Pose(np.full((17, 2), 5.0), np.full(17, 0.1), np.full(17, 9.0), np.zeros(17, dtype=bool))
    better = with_corrections(found, {LEFT_KNEE: (40.0, 50.0)})
    assert better.uv[LEFT_KNEE].tolist() == [40.0, 50.0]
    assert better.seen[LEFT_KNEE]
    assert not better.seen[LEFT_HIP]
    assert better.error_px[LEFT_KNEE] < found.error_px[LEFT_KNEE]
    assert not found.by_hand.any()


def test_clicks_alone_make_joints_where_the_model_found_nobody() -> None:
    clicked = with_corrections(None, {LEFT_KNEE: (1.0, 2.0), LEFT_HIP: (3.0, 4.0)})
    assert np.flatnonzero(clicked.seen).tolist() == [LEFT_HIP, LEFT_KNEE]
    assert np.isnan(clicked.trunk_px)


def test_a_joint_that_is_none_is_refused() -> None:
    with pytest.raises(OutOfRange, match="0 to 16"):
        with_corrections(None, {17: (1.0, 2.0)})
    with pytest.raises(OutOfRange, match="0 to 16"):
        with_corrections(None, {3: (float("nan"), 2.0)})
