"""One player's joints through drawn pictures: the right one of two, found again, put right by hand."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from goodlength.demo.film.court_background import empty_court
from goodlength.demo.film.frame_compositing import NAVY, OCHRE, Brush
from goodlength.demo.film.player_skeleton import FigureMoment, pose
from goodlength.demo.play.court_camera import CAMERA
from goodlength.errors import OutOfRange
from goodlength.footage.vision import pose_sequence_estimation
from goodlength.footage.vision.pose_sequence_estimation import (
    pose_sequence,
    pose_sequence_form,
    pose_sequence_from,
    with_hands,
)

LEFT_KNEE = 13


def drawn(x: float) -> np.ndarray:
    picture = empty_court(CAMERA).copy()
    brush = Brush(picture, CAMERA)
    for spot, clothes in (((x, 6.0), NAVY), ((5.4, 6.4), OCHRE)):
        brush.figure(pose(FigureMoment(*spot, 0.0, 0.0, 0.0, None, None)), clothes)
    return picture


@pytest.fixture(autouse=True)
def film(monkeypatch: pytest.MonkeyPatch) -> None:
    """Three pictures in which one player goes to the right; red, green, blue as from a file."""

    def shown(*_: Any, **__: Any) -> Iterator[tuple[int, np.ndarray]]:
        for n in range(3):
            yield 40_000 * n, np.ascontiguousarray(drawn(1.2 + 0.1 * n)[:, :, ::-1])

    monkeypatch.setattr(pose_sequence_estimation, "frames_in", shown)


def feet_at(x: float, y: float) -> tuple[float, float]:
    u, v, _ = CAMERA.see(x, y, 0.0)
    return u, v


def test_the_player_at_the_place_is_followed_both_ways() -> None:
    found = pose_sequence("film.mp4", 40_000, feet_at(1.3, 6.0), how="quick")
    assert found.times_us == (0, 40_000, 80_000)
    assert found.found == 1.0
    middles = [(item.left + item.right) / 2 for item in found.people if item is not None]
    assert middles[0] < middles[1] < middles[2] < feet_at(3.0, 6.0)[0]


def test_nobody_near_the_place_is_nobody() -> None:
    found = pose_sequence("film.mp4", 40_000, feet_at(3.2, 1.0), how="quick")
    assert (found.found, found.at(0)) == (0.0, None)


def test_a_joint_put_in_place_stands_in_its_picture_alone() -> None:
    found = pose_sequence("film.mp4", 40_000, feet_at(1.3, 6.0), how="quick")
    better = with_hands(found, {40_100: {LEFT_KNEE: (111.0, 222.0)}, 9_000_000: {LEFT_KNEE: (1.0, 1.0)}})
    middle, first = better.at(40_000), better.at(0)
    assert middle is not None and first is not None
    assert middle.uv[LEFT_KNEE].tolist() == [111.0, 222.0] and middle.by_hand[LEFT_KNEE]
    assert not first.by_hand.any()


def test_a_movement_is_read_as_it_was_written() -> None:
    found = pose_sequence("film.mp4", 40_000, feet_at(1.3, 6.0), how="quick")
    again = pose_sequence_from(json.loads(json.dumps(pose_sequence_form(found))))
    item, two = found.at(0), again.at(0)
    assert item is not None and two is not None
    assert two.uv == pytest.approx(item.uv, abs=0.01)
    assert again.times_us == found.times_us
    lost = pose_sequence_from(
        json.loads(json.dumps(pose_sequence_form(pose_sequence("f.mp4", 0, feet_at(3.2, 1.0)))))
    )
    assert lost.joints == (None, None, None)


def test_too_long_a_span_is_refused() -> None:
    with pytest.raises(OutOfRange, match="up to 3 s"):
        pose_sequence("film.mp4", 0, (1.0, 1.0), before_us=2_000_000, after_us=2_000_000)
