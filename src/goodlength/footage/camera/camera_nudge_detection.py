"""Detect camera movement: marks clicked again, or small image patches matched again.

A nudged camera turns far more than it shifts, so the moved marks are explained by a small turn of the
camera. What counts for the coach is how far a place on the floor would be off if nothing were done.
"""

from __future__ import annotations

import math
from base64 import b64decode, b64encode
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from pydantic import BaseModel
from scipy.special import fdtrc

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.errors import InputError
from goodlength.files.json_types import Json, JsonObject
from goodlength.footage.camera.camera_calibration import CameraCalibration
from goodlength.footage.camera.camera_fitting import click_error_px
from goodlength.footage.camera.camera_model import CameraModel, Floats, rotated
from goodlength.footage.camera.court_mark_click_validation import Click, points_and_clicks

Picture = NDArray[np.uint8]
PATCH = 0.018  # half a patch's side, share of the picture's short side
SEARCH = 0.05  # how far a patch is looked for, likewise: a turn of two degrees at a usual lens
LIKE = 0.70  # least likeness (normalised correlation) of a patch found again
CLEAR = 0.08  # a second place as like as this, elsewhere, makes a patch ambiguous
FEWEST = 3  # marks needed to tell
CHANCE = 0.001
PATCH_ERROR_PX = 0.7
FINE_PX = (
    0.25  # error of a patch found again in a picture that did not change; ASSUMED, more where they disagree
)
MOST_FLOOR_M = 0.05  # a turn that puts places on the floor off by more counts, however few pixels it is


class Drift(StrEnum):
    """What a look at the marks says."""

    STILL = "still"
    MOVED = "moved"
    CANNOT_TELL = "cannot-tell"


@dataclass(frozen=True)
class DriftCheck:
    """What was found: median shift of the marks, the turn that explains it, and what it does to places.

    `floor_m` is the median error that places on the floor would get; `marks` were found again, `lost`
    were not (hidden by a player, or changed).
    """

    state: Drift
    shift_px: float
    turn_rad: float
    floor_m: float
    marks: tuple[str, ...]
    lost: tuple[str, ...]

    @property
    def words(self) -> str:
        """What to tell the coach."""
        if self.state is Drift.CANNOT_TELL:
            return (
                f"goodlength cannot tell whether the camera moved: only {len(self.marks)} marks were "
                "found again. "
                "Check the court drawn over the frame, or click four marks again."
            )
        if self.state is Drift.STILL:
            return f"The camera did not move: {len(self.marks)} marks are where they were."
        return (
            f"The camera moved (it turned by {math.degrees(self.turn_rad):.1f}°): positions on the "
            "floor would be "
            f"{100 * self.floor_m:.0f} cm off. "
            "Set the marks again from this frame on; the earlier part keeps its calibration."
        )


@dataclass(frozen=True, eq=False)
class ImagePatch:
    """A small grey piece of the picture round a mark, with the mark's place in the picture."""

    mark: str
    u: float
    v: float
    grey: Picture


def image_patches_of(camera: CameraCalibration, picture: Picture) -> tuple[ImagePatch, ...]:
    """Return patches round the clicked marks of the picture the camera was solved on, to look for later."""
    grey = _grey(picture, camera.lens)
    half = _half(camera.lens)
    patches = []
    for click in camera.clicks:
        left, top = int(click.u) - half, int(click.v) - half
        right, bottom = int(click.u) + half + 1, int(click.v) + half + 1
        if left < 0 or top < 0 or right > camera.lens.width or bottom > camera.lens.height:
            continue
        piece = grey[top:bottom, left:right].copy()
        if float(piece.std()) >= 3.0:
            patches.append(ImagePatch(click.mark, click.u, click.v, piece))
    return tuple(patches)


def drift_by_patches(
    camera: CameraCalibration, patches: Sequence[ImagePatch], picture: Picture
) -> DriftCheck:
    """Return whether the camera moved, from patches looked for in a later picture of the same size.

    Hidden and changed patches drop out; a few of them that were found in a wrong place are outvoted.
    """
    grey = _grey(picture, camera.lens)
    found = {patch.mark: _found(patch, grey, _half(camera.lens), _reach(camera.lens)) for patch in patches}
    moves = {mark: move for mark, move in found.items() if move is not None}
    lost = tuple(mark for mark, move in found.items() if move is None)
    if len(moves) < FEWEST:
        return _cannot([Click(mark, 0.0, 0.0) for mark in moves], lost)
    names = list(moves)
    points, _ = points_and_clicks([Click(name, 0.0, 0.0) for name in names], camera.tin)
    shifts = np.array([moves[name] for name in names])
    keep = _agreeing(camera.lens, points, shifts)
    lost = (*lost, *(name for name, ok in zip(names, keep, strict=True) if not ok))
    used_marks = [name for name, ok in zip(names, keep, strict=True) if ok]
    if len(used_marks) < FEWEST:
        return _cannot([Click(name, 0.0, 0.0) for name in used_marks], lost)
    error = PATCH_ERROR_PX * max(1.0, min(camera.lens.width, camera.lens.height) / 1080.0)
    return _judged(camera, points[keep], shifts[keep], used_marks, lost, error)


class _StoredPatch(BaseModel):
    mark: str
    u: float
    v: float
    side: int
    grey: str


def patches_to_json(patches: Sequence[ImagePatch]) -> list[dict[str, Json]]:
    """Return patches as plain data."""
    return [
        {
            "mark": patch.mark,
            "u": patch.u,
            "v": patch.v,
            "side": int(patch.grey.shape[0]),
            "grey": b64encode(patch.grey.tobytes()).decode("ascii"),
        }
        for patch in patches
    ]


def patches_from_json(data: Sequence[JsonObject]) -> tuple[ImagePatch, ...]:
    """Read patches.

    Raises
    ------
    InputError
        If a patch is not whole.
    """
    patches = []
    for fields in data:
        try:
            stored = _StoredPatch.model_validate(fields)
            grey = np.frombuffer(b64decode(stored.grey), dtype=np.uint8).reshape(stored.side, stored.side)
            patches.append(ImagePatch(stored.mark, stored.u, stored.v, grey))
        except ValueError as error:
            raise InputError(
                "A saved part of the frame is damaged. Save the camera calibration again, or click the marks."
            ) from error
    return tuple(patches)


def _grey(picture: Picture, lens: CameraModel) -> Picture:
    """Return the picture in grey, checked for its size."""
    if picture.shape[:2] != (lens.height, lens.width):
        raise InputError(
            f"The frame is {picture.shape[1]} by {picture.shape[0]}, the camera was solved on one of "
            f"{lens.width} by {lens.height}. Use the same recording, upright and at its full size."
        )
    if picture.ndim == 2:
        return picture
    return np.asarray(cv2.cvtColor(picture, cv2.COLOR_BGR2GRAY), dtype=np.uint8)


def _half(lens: CameraModel) -> int:
    """Half the side of a patch, px."""
    return max(6, round(PATCH * min(lens.width, lens.height)))


def _reach(lens: CameraModel) -> int:
    """Return how far to look for a patch, px."""
    return max(12, round(SEARCH * min(lens.width, lens.height)))


def _found(patch: ImagePatch, grey: Picture, half: int, reach: int) -> tuple[float, float] | None:
    """Return how far a patch moved, to a part of a pixel; None if it is not found for sure."""
    height, width = grey.shape
    side = patch.grey.shape[0]
    left, top = int(patch.u) - side // 2, int(patch.v) - side // 2
    x0, y0 = max(0, left - reach), max(0, top - reach)
    x1, y1 = min(width, left + side + reach), min(height, top + side + reach)
    if x1 - x0 < side or y1 - y0 < side:
        return None
    likeness = cv2.matchTemplate(grey[y0:y1, x0:x1], patch.grey, cv2.TM_CCOEFF_NORMED)
    _, best, _, (x, y) = cv2.minMaxLoc(likeness)
    if best < LIKE:
        return None
    others = likeness.copy()
    others[max(0, y - half) : y + half + 1, max(0, x - half) : x + half + 1] = -1.0
    if float(others.max()) > best - CLEAR:
        return None
    du, dv = _part(likeness[y, :], x), _part(likeness[:, x], y)
    return float(x0 + x - left) + du, float(y0 + y - top) + dv


def _part(row: NDArray[Any], at: int) -> float:
    """Return the top of a parabola through a peak and its neighbours, from the peak."""
    if not 0 < at < len(row) - 1:
        return 0.0
    low, mid, high = (float(row[at + k]) for k in (-1, 0, 1))
    bend = low - 2.0 * mid + high
    return 0.0 if bend >= 0.0 else max(-0.5, min(0.5, 0.5 * (low - high) / bend))


def _turn_slopes(lens: CameraModel, points: Floats) -> Floats:
    """Pixels per radian of a turn of the camera, for each point (n, 2, 3)."""
    return lens.slopes(points)[1][:, :, :3]


def _agreeing(lens: CameraModel, points: Floats, shifts: Floats) -> NDArray[np.bool_]:
    """Shifts that one turn explains: the turn most of them agree on, found from every pair of marks."""
    slopes = _turn_slopes(lens, points)
    limit = 3.0 * PATCH_ERROR_PX + 0.05 * float(np.median(np.hypot(*shifts.T)))
    best = np.zeros(len(points), dtype=bool)
    for number in range(len(points)):
        for two in range(number + 1, len(points)):
            pair = [number, two]
            turn = np.linalg.lstsq(slopes[pair].reshape(-1, 3), shifts[pair].ravel(), rcond=1e-3)[0]
            near = np.hypot(*(shifts - slopes @ turn).T) < limit
            if near.sum() > best.sum():
                best = near
    return best


def _judged(
    camera: CameraCalibration,
    points: Floats,
    shifts: Floats,
    marks: Sequence[str],
    lost: Sequence[str],
    error_px: float,
    covariance: Floats | None = None,
) -> DriftCheck:
    """Return whether a turn of the camera explains the shifts better than chance, and what it does to
    places.
    """
    lens = camera.lens
    slopes = lens.slopes(points)[1]
    fitted = np.linalg.lstsq(slopes[:, :, :3].reshape(-1, 3), shifts.ravel(), rcond=1e-6)[0]
    turn = np.asarray(fitted, dtype=float)
    spread = np.broadcast_to(error_px**2 * np.eye(2), (len(points), 2, 2))
    if covariance is not None:
        spread = spread + slopes @ covariance @ slopes.transpose(0, 2, 1)
    size = float(np.einsum("ni,nij,nj->", shifts, np.linalg.inv(spread), shifts))
    chance = float(fdtrc(shifts.size, 200.0, size / shifts.size))
    shift_px = float(np.median(np.hypot(*shifts.T)))
    floor_m = floor_shift_m(lens, replace(lens, axes=rotated(turn) @ lens.axes))
    least = 0.75 * click_error_px(lens.width, lens.height)
    fine_px = FINE_PX * error_px / PATCH_ERROR_PX
    moved = (chance < CHANCE and shift_px > least) or (
        floor_m > MOST_FLOOR_M and _chance_of_turn(shifts, slopes[:, :, :3] @ turn, fine_px) < CHANCE
    )
    return DriftCheck(
        Drift.MOVED if moved else Drift.STILL,
        shift_px,
        float(np.linalg.norm(turn)),
        floor_m,
        tuple(marks),
        tuple(lost),
    )


def _chance_of_turn(shifts: Floats, turned: Floats, fine_px: float) -> float:
    """Return the chance that a still camera gives shifts that a turn explains as well as this one does.

    `turned` are the shifts of that turn; what it leaves over says how well patches are found.
    """
    freedom = shifts.size - 3
    if freedom < 1:
        return 1.0
    left = float(((shifts - turned) ** 2).sum())
    variance = max(fine_px**2, left / freedom)
    explained = float((shifts**2).sum()) - left
    return float(fdtrc(3, freedom, max(explained, 0.0) / 3 / variance))


def floor_shift_m(lens: CameraModel, moved: CameraModel) -> float:
    """Return the median distance by which places on the floor would be off after a move nobody noticed."""
    grid = np.array(
        [(x, y, 0.0) for x in np.linspace(0.3, WIDTH_M - 0.3, 7) for y in np.linspace(0.5, LENGTH_M, 9)]
    )
    uv, seen = moved.project(grid)
    here = seen & moved.inside(uv)
    if not here.any():
        return math.inf
    rays = lens.rays(uv[here])
    with np.errstate(divide="ignore", invalid="ignore"):
        steps = -lens.place_m[2] / rays[:, 2]
        places = lens.place_m + steps[:, None] * rays
    off = np.hypot(*(places - grid[here])[:, :2].T)
    off = np.where(np.isfinite(off) & (steps > 0.0), off, np.inf)
    return float(np.median(off))


def floor_shift_a_px(lens: CameraModel) -> float:
    """Return by how much places on the floor are off, m, when the camera turns by a pixel up or aside."""
    turns = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]) / lens.focal_px
    return max(floor_shift_m(lens, replace(lens, axes=rotated(turn) @ lens.axes)) for turn in turns)


def _cannot(marks: Sequence[Click], lost: Sequence[str]) -> DriftCheck:
    """Too few marks to tell."""
    return DriftCheck(
        Drift.CANNOT_TELL, math.nan, math.nan, math.nan, tuple(mark.mark for mark in marks), tuple(lost)
    )
