"""What moves before the empty court, and where on the floor it stands: drawn figures at known places."""

from __future__ import annotations

import numpy as np
import pytest

from goodlength.demo.film.court_background import empty_court
from goodlength.demo.film.frame_compositing import NAVY, OCHRE, Brush
from goodlength.demo.film.player_skeleton import FigureMoment, pose
from goodlength.demo.play.court_camera import CAMERA
from goodlength.errors import FootageError
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.vision.background_subtraction import (
    Background,
    estimate_background,
    foreground_mask,
    nearest_background,
)
from goodlength.footage.vision.floor_occupancy_grid import PLACES, FloorCandidates, FloorGrid

LENS = CameraModel(
    CAMERA.width,
    CAMERA.height,
    CAMERA.rotation,
    np.array([CAMERA.x_m, CAMERA.y_m, CAMERA.z_m]),
    CAMERA.focal_px,
    0.0,
)


def drawn(*spots: tuple[float, float], shadow: bool = True) -> np.ndarray:
    picture = empty_court(CAMERA).copy()
    brush = Brush(picture, CAMERA)
    for x, y in spots:
        if shadow:
            brush.shadow(x, y)
    for (x, y), clothes in zip(spots, (NAVY, OCHRE), strict=False):
        brush.figure(pose(FigureMoment(x, y, 0.0, 0.0, 0.0, None, None)), clothes)
    return picture


@pytest.fixture(scope="module")
def court() -> Background:
    return Background(0, empty_court(CAMERA), np.full((CAMERA.height, CAMERA.width), 16, np.float32))


@pytest.fixture(scope="module")
def floor() -> FloorGrid:
    return FloorGrid(LENS, CAMERA.width, CAMERA.height)


def found(floor: FloorGrid, court: Background, *spots: tuple[float, float]) -> FloorCandidates:
    picture = drawn(*spots)
    return floor.candidates(foreground_mask(picture, court), picture)


def on_floor(uv: np.ndarray) -> np.ndarray:
    rays = LENS.rays(uv)
    return (LENS.place_m - (LENS.place_m[2] / rays[:, 2])[:, None] * rays)[:, :2]


def test_the_empty_court_is_what_most_pictures_show() -> None:
    samples = [(n * 1_000_000, drawn((0.8 + 0.5 * n, 5.0))) for n in range(9)]
    made = estimate_background(samples)
    assert np.abs(made.picture.astype(int) - empty_court(CAMERA)).max() <= 1
    assert made.least.min() >= 16


def test_a_player_moves_and_his_shadow_does_not(court: Background) -> None:
    mask = foreground_mask(drawn((3.2, 6.0)), court)
    u, v, depth = CAMERA.see(3.2, 6.0, 0.9)
    assert mask[round(v), round(u)] == 1
    u, v, _ = CAMERA.see(3.2, 6.0, 0.0)
    beside = round(u + 0.34 * CAMERA.focal_px / depth)
    assert mask[round(v), beside] == 0
    assert foreground_mask(empty_court(CAMERA).copy(), court).sum() == 0


def test_a_camera_that_turns_brighter_does_not_make_the_court_move(court: Background) -> None:
    brighter = np.clip(empty_court(CAMERA).astype(float) * 1.08, 0, 255).astype(np.uint8)
    assert foreground_mask(brighter, court).mean() < 0.002


def test_pictures_of_two_sizes_are_refused(court: Background) -> None:
    with pytest.raises(FootageError, match="100 by 90, the empty court 640 by 360"):
        foreground_mask(np.zeros((90, 100, 3), np.uint8), court)


def test_the_nearest_court_in_time_is_taken(court: Background) -> None:
    later = Background(9_000_000, court.picture, court.least)
    assert nearest_background((court, later), 6_000_000) is later


@pytest.mark.parametrize(
    "spots", [((1.2, 3.0), (5.0, 7.5)), ((3.0, 5.4), (4.4, 8.2)), ((0.7, 8.0), (5.7, 8.0))]
)
def test_both_players_are_placed_within_a_quarter_of_a_metre(
    floor: FloorGrid, court: Background, spots: tuple[tuple[float, float], ...]
) -> None:
    seen = found(floor, court, *spots)
    best = np.unravel_index(int(np.nanargmax(seen.pair)), seen.pair.shape)
    places = on_floor(seen.uv[list(best)])
    for spot in spots:
        assert np.linalg.norm(places - spot, axis=1).min() < 0.25
    assert seen.feet_seen[list(best)].all()


def test_clothes_are_told(floor: FloorGrid, court: Background) -> None:
    seen = found(floor, court, (1.2, 3.0), (5.0, 7.5))
    places = on_floor(seen.uv[np.isfinite(seen.uv[:, 0])])
    item, two = (int(np.argmin(np.linalg.norm(places - spot, axis=1))) for spot in ((1.2, 3.0), (5.0, 7.5)))
    assert np.abs(seen.colours[item, 3:6] - seen.colours[two, 3:6]).max() > 30


def test_feet_behind_the_other_player_are_said_to_be(floor: FloorGrid, court: Background) -> None:
    seen = found(floor, court, (3.2, 6.2), (3.25, 7.6))
    assert seen.feet_hidden.any()


def test_an_empty_court_offers_no_place(floor: FloorGrid, court: Background) -> None:
    seen = found(floor, court)
    assert np.isnan(seen.uv).all()
    assert seen.uv.shape == (PLACES, 2)
