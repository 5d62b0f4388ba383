"""What needs a picture: patches that tell a nudge, and marks looked for along the lines."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from goodlength.court import CourtSurface, unfolded
from goodlength.errors import InputError
from goodlength.footage.camera import (
    CameraCalibration,
    Click,
    Drift,
    calibrate_camera,
    court_marks,
    drift_by_patches,
    image_patches_of,
    patches_from_json,
    patches_to_json,
    suggest_marks,
)
from goodlength.footage.camera.camera_model import rotated
from goodlength.footage.camera.court_overlay import folded_up, subdivided
from goodlength.synthetic.simulated_camera_clicks import RealCamera

SIZE = (1280, 720)
FINE = 3  # sub-pixel bits of drawing
COLOURS = {"wall": (225, 228, 222), "floor": (120, 170, 205), "line": (40, 40, 200), "tin": (90, 90, 160)}


def real() -> RealCamera:
    forward = np.array([0.05, -0.96, -0.2])
    forward /= np.linalg.norm(forward)
    right = np.array([-forward[1], forward[0], 0.0]) / math.hypot(forward[0], forward[1])
    down = np.array([0.0, 0.0, -1.0]) + forward[2] * forward
    down /= np.linalg.norm(down)
    axes = np.array([right, down, forward])
    return RealCamera(np.array([2.9, 13.2, 2.9]), axes, 900.0, -0.05, np.array(SIZE) / 2.0)


def see(camera: RealCamera, points: NDArray[np.float64]) -> NDArray[np.float64]:
    eye = (points - camera.place_m) @ camera.axes.T
    flat = eye[:, :2] / eye[:, 2:]
    return camera.middle + camera.focal_px * (1.0 + camera.k1 * (flat**2).sum(1))[:, None] * flat


def drawn(camera: RealCamera, light: float = 1.0, seed: int = 0) -> NDArray[np.uint8]:
    """A picture of the court, drawn four times as fine and shrunk, with grain."""
    scale = 4
    picture = np.full((SIZE[1] * scale, SIZE[0] * scale, 3), 60, np.uint8)
    for shape in unfolded().shapes:
        if shape.surface is CourtSurface.BACK:
            continue
        corners = np.array([folded_up(shape.surface, u, v) for u, v in shape.points])
        points = subdivided(np.vstack([corners, corners[:1]]), 0.1)
        points = points[(points - camera.place_m) @ camera.axes[2] > 0.3]
        if len(points) < 3:
            continue
        uv = see(camera, points) * scale * 2**FINE - 2 ** (FINE - 1)
        cv2.fillPoly(picture, [np.round(uv).astype(np.int32)], COLOURS[shape.what], cv2.LINE_AA, FINE)
    small = cv2.resize(picture, SIZE, interpolation=cv2.INTER_AREA).astype(float) * light
    grain = np.random.default_rng(seed).normal(0.0, 3.0, small.shape)
    return np.clip(small + grain, 0, 255).astype(np.uint8)


def clicks_of(camera: RealCamera, noise: float = 0.0, seed: int = 0) -> dict[str, Click]:
    rng = np.random.default_rng(seed)
    uv = see(camera, np.array([m.at for m in court_marks().values()]))
    depth = [(np.array(m.at) - camera.place_m) @ camera.axes[2] for m in court_marks().values()]
    return {
        name: Click(name, float(u + rng.normal() * noise), float(v + rng.normal() * noise))
        for name, (u, v), d in zip(court_marks(), uv, depth, strict=True)
        if d > 0.1 and 2 <= u <= SIZE[0] - 2 and 2 <= v <= SIZE[1] - 2
    }


@pytest.fixture(scope="module")
def picture() -> NDArray[np.uint8]:
    return drawn(real())


@pytest.fixture(scope="module")
def camera() -> CameraCalibration:
    return calibrate_camera(list(clicks_of(real(), noise=1.0).values()), *SIZE)


def nudged(by_px: float) -> RealCamera:
    """The camera turned so that the middle of its picture moves by so many pixels, sideways and up."""
    angle = by_px / real().focal_px
    return replace(real(), axes=rotated(np.array([0.6 * angle, 0.8 * angle, 0.0])) @ real().axes)


# -- drift -----------------------------------------------------------------------------------------


def test_a_still_camera_is_called_still_in_other_light_and_grain(
    camera: CameraCalibration, picture: NDArray[np.uint8]
) -> None:
    look = drift_by_patches(camera, image_patches_of(camera, picture), drawn(real(), light=0.75, seed=9))
    assert look.state is Drift.STILL, look
    assert look.shift_px < 0.5 and len(look.marks) >= 8
    assert "did not move" in look.words


@pytest.mark.parametrize("by_px", [4.0, 8.0, 15.7])
def test_a_nudge_is_called_with_its_size_and_what_it_does_to_the_floor(
    camera: CameraCalibration, picture: NDArray[np.uint8], by_px: float
) -> None:
    """S1: nudged by 8 px, or by 1 degree (15.7 px here)."""
    look = drift_by_patches(camera, image_patches_of(camera, picture), drawn(nudged(by_px), seed=1))
    assert look.state is Drift.MOVED, look
    assert look.shift_px == pytest.approx(by_px, rel=0.25)
    assert math.degrees(look.turn_rad) == pytest.approx(math.degrees(by_px / 900.0), rel=0.25)
    assert look.floor_m > 0.02
    assert "Set the marks again from this frame on" in look.words


def test_a_nudge_of_a_pixel_counts_where_it_puts_the_floor_far_off() -> None:
    """A phone on a chair: a pixel is little to look at, and ten centimetres at the front wall's foot."""
    low = replace(real(), place_m=np.array([2.9, 13.2, 1.1]), focal_px=700.0)
    low = replace(low, axes=rotated(np.array([-0.16, 0.0, 0.0])) @ low.axes)
    camera = calibrate_camera(list(clicks_of(low).values()), *SIZE)
    patches = image_patches_of(camera, drawn(low))
    turned = replace(low, axes=rotated(np.array([1.2 / low.focal_px, 0.0, 0.0])) @ low.axes)
    look = drift_by_patches(camera, patches, drawn(turned, seed=1))
    assert look.floor_m > 0.05
    assert look.state is Drift.MOVED, look
    assert drift_by_patches(camera, patches, drawn(low, light=0.9, seed=2)).state is Drift.STILL


def test_players_in_front_of_marks_do_not_raise_the_alarm(
    camera: CameraCalibration, picture: NDArray[np.uint8]
) -> None:
    later = drawn(real(), seed=2)
    clicks = clicks_of(real())
    for name in ("short-left", "left-box-corner", "t-left"):
        u, v = int(clicks[name].u), int(clicks[name].v)
        cv2.rectangle(later, (u - 22, v - 60), (u + 24, v + 12), (30, 30, 35), -1)
    look = drift_by_patches(camera, image_patches_of(camera, picture), later)
    assert look.state is Drift.STILL
    assert {"short-left", "left-box-corner"} <= set(look.lost)


def test_another_picture_altogether_cannot_be_told(
    camera: CameraCalibration, picture: NDArray[np.uint8]
) -> None:
    noise = np.random.default_rng(3).integers(0, 255, picture.shape).astype(np.uint8)
    look = drift_by_patches(camera, image_patches_of(camera, picture), noise)
    assert look.state is Drift.CANNOT_TELL and "cannot tell whether" in look.words


def test_patches_survive_being_kept(camera: CameraCalibration, picture: NDArray[np.uint8]) -> None:
    patches = image_patches_of(camera, picture)
    again = patches_from_json(json.loads(json.dumps(patches_to_json(patches))))
    assert [p.mark for p in again] == [p.mark for p in patches]
    assert all(np.array_equal(a.grey, b.grey) for a, b in zip(again, patches, strict=True))
    with pytest.raises(InputError, match="damaged"):
        patches_from_json([{"mark": "t-left", "u": 1, "v": 2, "side": 9, "grey": "AAAA"}])


def test_a_picture_of_another_size_is_refused(camera: CameraCalibration, picture: NDArray[np.uint8]) -> None:
    with pytest.raises(InputError, match="640 by 360"):
        drift_by_patches(camera, (), picture[::2, ::2])


# -- suggestions -----------------------------------------------------------------------------------

FIRST = ("short-left", "short-right", "left-box-corner", "right-box-corner", "front-left-floor", "tin-left")


@pytest.fixture(scope="module")
def first_camera() -> CameraCalibration:
    clicks = clicks_of(real(), noise=1.5, seed=7)
    return calibrate_camera([clicks[name] for name in (*FIRST, "front-right-floor", "out-right")], *SIZE)


def test_marks_with_two_painted_edges_are_found_to_a_pixel(
    first_camera: CameraCalibration, picture: NDArray[np.uint8]
) -> None:
    truth = clicks_of(real())
    found = {suggest_mark.mark: suggest_mark for suggest_mark in suggest_marks(first_camera, picture)}
    both = [element for element in found.values() if element.edges == 2]
    assert {"left-box-front", "right-box-front", "t-left", "t-right"} <= {element.mark for element in both}
    for item in both:
        right = truth[item.mark]
        assert math.hypot(item.u - right.u, item.v - right.v) < 1.0, item
    assert not set(found) & {click.mark for click in first_camera.clicks}


def test_one_painted_edge_corrects_the_step_across_it_only(
    first_camera: CameraCalibration, picture: NDArray[np.uint8]
) -> None:
    truth = clicks_of(real())
    item = next(s for s in suggest_marks(first_camera, picture) if s.mark == "service-left")
    assert item.edges == 1
    assert abs(item.v - truth["service-left"].v) < 0.7
    assert item.click == Click("service-left", item.u, item.v)


def test_suggestions_taken_as_clicks_make_the_camera_surer(
    first_camera: CameraCalibration, picture: NDArray[np.uint8]
) -> None:
    more = [
        suggest_mark.click for suggest_mark in suggest_marks(first_camera, picture) if suggest_mark.edges == 2
    ]
    camera = calibrate_camera([*first_camera.clicks, *more], *SIZE)
    assert not camera.suspects
    assert camera.floor.median_m < first_camera.floor.median_m


def test_without_red_lines_nothing_is_suggested(
    first_camera: CameraCalibration, picture: NDArray[np.uint8]
) -> None:
    grey = cv2.cvtColor(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY), cv2.COLOR_GRAY2BGR)
    assert suggest_marks(first_camera, grey) == ()
    with pytest.raises(InputError, match="colour frame of 1280 by 720"):
        suggest_marks(first_camera, grey[:100])
