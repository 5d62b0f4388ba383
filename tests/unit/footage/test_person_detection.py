"""People found in a picture: in drawn figures of known place, in large pictures too, and in none."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from goodlength.demo.film.court_background import empty_court
from goodlength.demo.film.frame_compositing import NAVY, OCHRE, Brush
from goodlength.demo.film.player_skeleton import FigureMoment, pose
from goodlength.demo.play.court_camera import CAMERA, PinholeCamera
from goodlength.errors import FootageError, OutOfRange
from goodlength.footage import models
from goodlength.footage.vision.person_detection import (
    PersonDetection,
    detect_people,
    merged,
    squares,
    squares_around,
)

SPOTS = ((1.6, 4.6), (4.9, 6.9))


def drawn(camera: PinholeCamera = CAMERA) -> np.ndarray:
    picture = empty_court(camera).copy()
    brush = Brush(picture, camera)
    for (x, y), clothes in zip(SPOTS, (NAVY, OCHRE), strict=True):
        brush.figure(pose(FigureMoment(x, y, 0.0, 0.0, 0.0, None, None)), clothes)
    return picture


def test_both_players_are_found_with_their_feet_on_the_floor() -> None:
    found = sorted(detect_people(drawn()), key=lambda item: item.left)
    assert len(found) == 2
    for person, (x, y) in zip(found, SPOTS, strict=True):
        u, v, depth = CAMERA.see(x, y, 0.0)
        assert person.feet[0] == pytest.approx(u, abs=0.25 * CAMERA.focal_px / depth)
        # The box may end at the ankles: a quarter of a metre, which is why feet are taken from moving pixels.
        assert person.feet[1] == pytest.approx(v, abs=0.25 * CAMERA.focal_px / depth)


def test_nobody_is_found_on_an_empty_court() -> None:
    assert detect_people(empty_court(CAMERA)) == ()


def test_looking_at_a_part_of_the_picture_leaves_out_the_rest() -> None:
    assert len(detect_people(drawn(), within=(320, 0, 640, 360))) == 1
    assert detect_people(drawn(), within=(10, 10, 12, 12)) == ()


def test_what_two_squares_found_is_counted_once() -> None:
    boxes = np.array([[0, 0, 10, 20, 0.6], [1, 0, 11, 20, 0.8], [40, 0, 50, 20, 0.5]], dtype=float)
    assert merged(boxes)[:, 4].tolist() == [0.8, 0.5]


@pytest.mark.parametrize(
    ("wide", "high"), [(640, 360), (1080, 1920), (1920, 1080), (3840, 2160), (500, 3000)]
)
def test_squares_cover_every_pixel(wide: int, high: int) -> None:
    covered = np.zeros((high // 20, wide // 20), dtype=bool)
    for x, y, side in squares(wide, high)[-100:]:
        covered[y // 20 : (y + side) // 20 + 1, x // 20 : (x + side) // 20 + 1] = True
    assert covered.all()


def test_squares_around_people_show_all_of_them() -> None:
    people = [PersonDetection(300, 700, 420, 1060, 0.9), PersonDetection(1500, 500, 1600, 800, 0.8)]
    for left in (500, 1240):
        pair = [people[0], replace(people[1], left=left, right=left + 100)]
        parts = squares_around(pair, 1920, 1080, 0.4)
        assert len(parts) == (1 if left == 500 else 2)
        for person in pair:
            assert any(
                x <= person.left
                and person.right <= x + side
                and y <= person.top
                and person.bottom <= y + side
                for x, y, side in parts
            )
    assert squares_around([], 1920, 1080, 0.4) == squares(1920, 1080), "nobody known: everything"
    assert squares_around(people, 640, 360, 0.4) == squares(640, 360)
    huge = PersonDetection(100, 0, 1300, 1080, 0.9)
    assert squares_around([huge], 1920, 1080, 0.4) == squares(1920, 1080)


def test_an_upright_film_is_seen_as_well_as_a_wide_one() -> None:
    upright = np.zeros((640, 360, 3), np.uint8)
    upright[140:500] = drawn()[:, 60:420]
    assert detect_people(upright)


def test_a_picture_that_is_none_is_refused_with_what_it_is() -> None:
    with pytest.raises(OutOfRange, match=r"float64, \(3, 3\)"):
        detect_people(np.zeros((3, 3)))  # type: ignore[arg-type]


def test_a_damaged_model_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(models.SUMS, "nanodet-416.onnx", "0" * 64)
    models.network.cache_clear()
    with pytest.raises(FootageError, match=r"nanodet-416\.onnx .* damaged"):
        models.network("nanodet-416.onnx")
    models.network.cache_clear()


def test_a_box_knows_where_its_feet_are() -> None:
    assert PersonDetection(10.0, 20.0, 30.0, 80.0, 0.9).feet == (20.0, 80.0)
