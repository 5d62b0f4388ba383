"""A camera that was knocked, found again from how the empty court shifted in the picture.

```
 empty court before ─ fixed points ─┐                         ┌─> court lines there? ─> camera
 empty court after  ────────────────┴─ where they lie now ─> turn and shift
```
The lens stays what it was; only where the camera stands and looks is solved anew.
"""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.footage.camera.camera_calibration import CameraCalibration, with_camera
from goodlength.footage.camera.camera_covariance import detected_mark_px
from goodlength.footage.camera.camera_model import UNKNOWNS, CameraModel, Floats
from goodlength.footage.camera.camera_nudge_detection import floor_shift_m
from goodlength.footage.camera.projection_uncertainty import ParameterCovariance
from goodlength.footage.court_detection.camera_refinement_on_lines import scaled_camera
from goodlength.footage.court_detection.court_detection_in_image import marks_in_view
from goodlength.footage.court_detection.court_wireframe import wireframe
from goodlength.footage.court_detection.subpixel_line_measurement import measure_lines

Picture = NDArray[np.uint8]
Bools = NDArray[np.bool_]
Singles = NDArray[np.float32]
MATCHED_PX, LINES_PX = 960, 1280  # longer side of the pictures compared, and searched for lines
POINTS, QUALITY, APART_PX = 400, 0.002, 8.0
NEAR_PX = 3.0  # points so far from where the others say they are have moved by themselves
POINT_PX = 0.5  # error of a point found again
FEWEST = 24  # points
LEAST_AGREEING = 0.4  # share of the points found again that one camera must explain
ASSUMED_KNOCK_M = 0.05  # sd of how far a knock shifts a phone; turning it is free
WALL_HIGH_M = 5.6
LEAST_LINES = 0.75  # share of what was found of the lines before that must be found again


def follow_camera(
    rng: np.random.Generator, camera: CameraCalibration, before: Picture, after: Picture
) -> CameraCalibration | None:
    """Return the camera after a knock; None where it cannot be told, or the court lines are not there.

    Parameters
    ----------
    rng : numpy Generator
    camera : CameraCalibration
        Holds for the picture before.
    before, after : ndarray of uint8, shape (h, w, 3)
        The empty court, red, green, blue, both of one size: the camera's, or made smaller.

    Limits
    ------
    The zoom must not have changed. Points on people who stood still, or behind glass, must be fewer than
    those of the court.
    """
    followed = _pose_between(camera.lens, before, after)
    if followed is None or not _lines_there(rng, camera, before, followed[0], after):
        return None
    moved, points = followed
    spread = _with_pose_error(camera, moved, points)
    marks = tuple(replace(mark, detected=True) for mark in marks_in_view(moved, camera.tin))
    return with_camera(camera, moved, spread, marks)


def floor_drift_m(lens: CameraModel, before: Picture, after: Picture) -> float | None:
    """Return by how much places on the floor are off after the view changed; None where it cannot be told.

    Parameters
    ----------
    lens : CameraModel
        Holds for the picture before.
    before, after : ndarray of uint8, shape (h, w, 3)
        Red, green, blue, both of one size, people in them or not.
    """
    followed = _pose_between(lens, before, after)
    return None if followed is None else floor_shift_m(lens, followed[0])


def _pose_between(lens: CameraModel, before: Picture, after: Picture) -> tuple[CameraModel, Floats] | None:
    """Return the camera of the picture after, and the places of the court that agree; None with too few."""
    scale = lens.long_px / max(before.shape[:2])
    if before.shape != after.shape or abs(min(before.shape[:2]) * scale - min(lens.width, lens.height)) > 2:
        return None
    old, new = matched_points(before, after)
    points, on_court = court_points(lens, old * scale)
    points, new = points[on_court], new[on_court] * scale
    if len(points) < FEWEST:
        return None
    moved, agreeing = _pose(lens, points, new)
    if agreeing.sum() < max(FEWEST, LEAST_AGREEING * len(points)):
        return None
    return moved, points[agreeing]


def matched_points(before: Picture, after: Picture) -> tuple[Floats, Floats]:
    """Return fixed points of a picture, px, shape (n, 2), and where they lie in another of the same view."""
    scale = min(1.0, MATCHED_PX / max(before.shape[:2]))
    small = [
        _smaller(np.asarray(cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY), np.uint8), scale)
        for picture in (before, after)
    ]
    corners = cv2.goodFeaturesToTrack(small[0], POINTS, QUALITY, APART_PX)
    old = np.empty((0, 1, 2), np.float32) if corners is None else np.asarray(corners, np.float32)
    if not len(old):
        return np.zeros((0, 2)), np.zeros((0, 2))
    window = cv2.createHanningWindow(small[0].shape[::-1], cv2.CV_32F)
    shift, _ = cv2.phaseCorrelate(small[0].astype(np.float32), small[1].astype(np.float32), window)
    begin = np.asarray(old + np.array(shift, np.float32), np.float32)
    new, found, _ = _flow(small[0], small[1], old, begin)
    back, found_back, _ = _flow(small[1], small[0], new, old.copy())
    good = found.ravel() & found_back.ravel() & (np.linalg.norm(back - old, axis=2).ravel() < 0.7)
    good &= ((new >= 0) & (new < np.array(small[0].shape[::-1]))).all(axis=2).ravel()
    return np.asarray(old[good, 0] / scale, float), np.asarray(new[good, 0] / scale, float)


def _flow(first: Picture, second: Picture, old: Singles, begin: Singles) -> tuple[Singles, Bools, Singles]:
    """Return where points of the first picture lie in the second, and which were found."""
    new, found, error = cv2.calcOpticalFlowPyrLK(
        first, second, old, begin, winSize=(21, 21), maxLevel=4, flags=cv2.OPTFLOW_USE_INITIAL_FLOW
    )
    return np.asarray(new, np.float32), np.asarray(found) > 0, np.asarray(error, np.float32)


def court_points(lens: CameraModel, uv: Floats) -> tuple[Floats, Bools]:
    """Return the places of the court that picture points show, shape (n, 3), and which show one.

    A ray ends at the floor, the front wall or a side wall, whichever it meets first inside the court.
    """
    rays = lens.rays(uv)
    best = np.full(len(uv), np.inf)
    for axis, at in ((2, 0.0), (1, 0.0), (0, 0.0), (0, WIDTH_M)):
        with np.errstate(divide="ignore", invalid="ignore"):
            steps = (at - lens.place_m[axis]) / rays[:, axis]
            places = lens.place_m + steps[:, None] * rays
        low, high = np.array([-0.01] * 3), np.array([WIDTH_M, LENGTH_M, WALL_HIGH_M]) + 0.01
        with np.errstate(invalid="ignore"):
            inside = (steps > 0) & (places >= low).all(axis=1) & (places <= high).all(axis=1)
        best = np.where(inside & (steps < best), steps, best)
    on_court = np.isfinite(best)
    return lens.place_m + np.where(on_court, best, 0.0)[:, None] * np.nan_to_num(rays), on_court


def _pose(lens: CameraModel, points: Floats, uv: Floats) -> tuple[CameraModel, Bools]:
    """Return the camera turned and shifted to see points where they lie, and which points agree with it."""
    near = NEAR_PX * max(1.0, lens.long_px / MATCHED_PX)
    weight = _agreeing_turn(lens, points, uv, near)
    camera = lens
    for turn in range(20):
        system = _pose_system(lens, camera, points, uv, weight)
        step = np.zeros(UNKNOWNS)
        step[:6] = np.linalg.solve(*system)
        camera = camera.moved(step)
        off = _distances(camera, points, uv)
        if turn >= 3:
            weight = 1.0 / (1.0 + (off / near) ** 2)
    return camera, off < near


def _agreeing_turn(lens: CameraModel, points: Floats, uv: Floats, near: float) -> Floats:
    """Return 1 for points whose shift is like the shift of most, 0 for others."""
    shift = uv - lens.project(points)[0]
    usual = np.median(shift, axis=0)
    most = max(4 * near, 0.35 * float(np.linalg.norm(usual)))
    return np.asarray(np.linalg.norm(shift - usual, axis=1) < most, float)


def _pose_system(
    lens: CameraModel, camera: CameraModel, points: Floats, uv: Floats, weight: Floats
) -> tuple[Floats, Floats]:
    """Return normal matrix and right side of a step of turn and place, that stays near the place before."""
    seen, slopes, _ = camera.slopes(points)
    slopes = slopes[:, :, :6] / POINT_PX
    off = (uv - seen) / POINT_PX
    normal = np.einsum("nki,n,nkj->ij", slopes, weight, slopes)
    right = np.einsum("nki,n,nk->i", slopes, weight, off)
    normal[:3, :3] += 1e-6 * np.eye(3)
    normal[3:, 3:] += np.eye(3) / ASSUMED_KNOCK_M**2
    right[3:] += (lens.place_m - camera.place_m) / ASSUMED_KNOCK_M**2
    return normal, right


def _distances(camera: CameraModel, points: Floats, uv: Floats) -> Floats:
    seen, shown = camera.project(points)
    return np.asarray(np.where(shown, np.linalg.norm(np.nan_to_num(seen) - uv, axis=1), np.inf))


def _with_pose_error(camera: CameraCalibration, moved: CameraModel, points: Floats) -> ParameterCovariance:
    """Return the covariance of the camera before, with the error of turn and place added.

    Points of one corner of the picture go wrong together, so that they count as a few dozen only.
    """
    few = np.full(len(points), min(1.0, FEWEST / len(points)))
    normal, _ = _pose_system(camera.lens, moved, points, moved.project(points)[0], few)
    added = np.zeros((UNKNOWNS, UNKNOWNS))
    added[:6, :6] = np.linalg.inv(normal)
    before = camera.covariance
    return replace(before, covariance=before.covariance + added)


def _lines_there(
    rng: np.random.Generator,
    camera: CameraCalibration,
    before: Picture,
    moved: CameraModel,
    after: Picture,
) -> bool:
    """Return whether the court's lines are found where the moved camera expects them, nearly as before."""
    then = found_of_lines(rng, camera.lens, before, camera.tin)
    return found_of_lines(rng, moved, after, camera.tin) >= LEAST_LINES * then


def found_of_lines(rng: np.random.Generator, lens: CameraModel, picture: Picture, tin: str) -> float:
    """Return which share of the court's lines in view is found at its place, by length."""
    scale = min(1.0, LINES_PX / max(picture.shape[:2]))
    small = _smaller(picture, scale)
    here = scaled_camera(lens, small.shape[1], small.shape[0])
    reach = 2 * detected_mark_px(small.shape[1], small.shape[0]) + 1.5
    lines = measure_lines(rng, small.astype(np.float32), wireframe(tin), here, reach)
    total = sum(line.length_px for line in lines)
    return sum(line.share * line.length_px for line in lines) / total if total else 0.0


def _smaller(picture: Picture, scale: float) -> Picture:
    return np.asarray(cv2.resize(picture, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA), np.uint8)
