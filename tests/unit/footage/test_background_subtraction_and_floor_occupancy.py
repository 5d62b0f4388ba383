"""What moves before the empty court, and where on the floor it stands: drawn figures at known places."""

from __future__ import annotations

from pathlib import Path

import av
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
    estimate_backgrounds,
    foreground_mask,
    nearest_background,
)
from goodlength.footage.vision.person_log_odds_on_floor_grid import PLACES
from goodlength.footage.vision.player_detection_network import PlayerCandidates, PlayerDetector

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


def found(court: Background, *spots: tuple[float, float], mirrored: float = 0.0) -> PlayerCandidates:
    picture = drawn(*spots)
    if mirrored:
        picture = with_mirror_images(picture, spots, mirrored)
    detector = PlayerDetector(LENS, CAMERA.width, CAMERA.height)
    return detector.detect(foreground_mask(picture, court), picture, court)


def with_mirror_images(
    picture: np.ndarray, spots: tuple[tuple[float, float], ...], share: float
) -> np.ndarray:
    """The floor mirrors so much of what stands on it: each figure upside down under its feet."""
    out = picture.copy()
    for x, y in spots:
        u, v, depth = CAMERA.see(x, y, 0.0)
        metre = CAMERA.focal_px / depth
        wide, tall = round(0.45 * metre), round(1.75 * metre)
        x0, x1, y0 = round(u) - wide, round(u) + wide, round(v)
        below = out[y0 : y0 + tall, x0:x1]
        above = picture[y0 - len(below) : y0, x0:x1][::-1]
        below[:] = ((1 - share) * below + share * above).astype(np.uint8)
    return out


def on_floor(uv: np.ndarray) -> np.ndarray:
    rays = LENS.rays(uv)
    return (LENS.place_m - (LENS.place_m[2] / rays[:, 2])[:, None] * rays)[:, :2]


def test_the_empty_court_is_what_most_pictures_show() -> None:
    samples = [(n * 1_000_000, drawn((0.8 + 0.5 * n, 5.0))) for n in range(9)]
    made = estimate_background(samples)
    assert np.abs(made.picture.astype(int) - empty_court(CAMERA)).max() <= 1
    assert made.least.min() >= 16


@pytest.mark.parametrize("key_frames_s", [0.2, 60.0])
def test_a_short_video_shows_its_empty_court_though_hardly_a_frame_stands_alone(
    tmp_path: Path, key_frames_s: float
) -> None:
    path = tmp_path / "short.mp4"
    with av.open(str(path), "w") as file:
        stream = file.add_stream("libx264", rate=10)
        stream.width, stream.height, stream.pix_fmt = CAMERA.width, CAMERA.height, "yuv420p"
        stream.gop_size = max(1, round(10 * key_frames_s))
        for n in range(60):
            picture = drawn((0.8 + 0.08 * n, 5.0))
            file.mux(stream.encode(av.VideoFrame.from_ndarray(picture, "bgr24")))
        file.mux(stream.encode())
    (court,) = estimate_backgrounds(path)
    assert np.abs(court.picture.astype(int) - empty_court(CAMERA)).mean() < 2.5


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
    court: Background, spots: tuple[tuple[float, float], ...]
) -> None:
    seen = found(court, *spots)
    places = on_floor(seen.uv[:2])
    for spot in spots:
        assert np.linalg.norm(places - spot, axis=1).min() < 0.25
    assert (seen.log_odds[:2] > 0).all()


@pytest.mark.parametrize("share", [0.12, 0.3])
def test_feet_are_not_put_on_their_mirror_image(court: Background, share: float) -> None:
    spots = ((1.6, 5.0), (4.8, 7.0))
    places = on_floor(found(court, *spots, mirrored=share).uv[:2])
    for spot in spots:
        assert np.linalg.norm(places - spot, axis=1).min() < 0.25


def test_clothes_are_told(court: Background) -> None:
    seen = found(court, (1.2, 3.0), (5.0, 7.5))
    places = on_floor(seen.uv[np.isfinite(seen.uv[:, 0])])
    item, two = (int(np.argmin(np.linalg.norm(places - spot, axis=1))) for spot in ((1.2, 3.0), (5.0, 7.5)))
    assert np.abs(seen.colours[item, 3:6] - seen.colours[two, 3:6]).max() > 30


def test_feet_behind_the_other_player_are_said_to_be_less_sure(court: Background) -> None:
    behind, alone = found(court, (3.2, 6.2), (3.25, 7.6)), found(court, (3.2, 6.2), (5.6, 7.6))

    def stated_px(seen: PlayerCandidates) -> float:
        places = on_floor(seen.uv[np.isfinite(seen.uv[:, 0])])
        return float(np.linalg.norm(seen.spread[int(np.argmin(np.abs(places[:, 1] - 6.2)))]))

    assert stated_px(behind) > 1.2 * stated_px(alone)


def test_an_empty_court_offers_no_place(court: Background) -> None:
    seen = found(court)
    assert np.isnan(seen.uv).all()
    assert seen.uv.shape == (PLACES, 2)
