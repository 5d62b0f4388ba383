"""What a film's frames truly show: people with feet, joints and heads, ball, court marks, camera."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from goodlength.court import dimensions as dim
from goodlength.synthetic.recordings.recording_types import WorldContact, WorldSpan
from goodlength.synthetic.recordings.test_family_films.court_picture.camera_pose_and_lens_projection import (
    FilmCamera,
)

Floats = NDArray[np.float64]
Box = tuple[float, float, float, float]


def court_marks() -> dict[str, tuple[float, float, float]]:
    """Return crossings and ends of the painted lines by name: middles of the lines, in metres."""
    half = 0.5 * dim.LINE_M
    short, box_y = dim.SHORT_LINE_FRONT_M + half, dim.BOX_REAR_M + half
    out_z, service_z = dim.FRONT_OUT_M + half, dim.SERVICE_LINE_M + half
    marks = {
        "T": (dim.MIDDLE_M, short, 0.0),
        "half-court line at the back wall": (dim.MIDDLE_M, dim.LENGTH_M, 0.0),
    }
    for side, x, box in (
        ("left", 0.0, dim.BOX_M + half),
        ("right", dim.WIDTH_M, dim.WIDTH_M - dim.BOX_M - half),
    ):
        marks |= {
            f"{side} short line at the wall": (x, short, 0.0),
            f"{side} box at the short line": (box, short, 0.0),
            f"{side} box, inner rear corner": (box, box_y, 0.0),
            f"{side} box at the wall": (x, box_y, 0.0),
            f"{side} front corner on the floor": (x, 0.0, 0.0),
            f"{side} back corner on the floor": (x, dim.LENGTH_M, 0.0),
            f"{side} tin's top": (x, 0.0, dim.TIN_M["standard"]),
            f"{side} service line": (x, 0.0, service_z),
            f"{side} front out line": (x, 0.0, out_z),
            f"{side} back out line": (x, dim.LENGTH_M, dim.BACK_OUT_M + 0.5 * dim.SIDE_LINE_TALL_M),
        }
    return marks


@dataclass(frozen=True)
class PersonTruth:
    """One person in one frame; pixels are at the middle of each row's own exposure.

    `place_m` is the middle between the two feet on the floor; `feet_m` (2, 3) and `feet_px` (2, 2) the
    middles of the soles, left first. `joints_m` (20, 3), `joints_px` (20, 2), `joints_visible` (20,): not
    hidden by something else nor outside the picture. `head_box` and `box` are u, v low and high of all of it,
    hidden or not, cut to no picture; `head_share` and `body_share` the share of what faces the camera
    that is seen.
    """

    name: str
    role: str
    place_m: tuple[float, float]
    feet_m: Floats
    feet_px: Floats
    feet_visible: NDArray[np.bool_]
    joints_m: Floats
    joints_px: Floats
    joints_visible: NDArray[np.bool_]
    box: Box
    head_box: Box
    head_share: float
    body_share: float
    facing_camera: float


@dataclass(frozen=True)
class BallTruth:
    """The ball in one frame: place at the middle of its row's exposure, pixel, streak's ends, share seen.

    `seen_px` is the middle of what is seen of its streak, None where nothing is.
    """

    place_m: tuple[float, float, float]
    centre_px: tuple[float, float]
    streak_px: tuple[float, float, float, float]
    radius_px: float
    share_seen: float
    seen_px: tuple[float, float] | None
    in_play: bool


@dataclass(frozen=True)
class FrameTruth:
    """One frame: time in the film, camera, people, ball, and `marks_px` by name (NaN: behind the camera)."""

    index: int
    time_s: float
    camera: FilmCamera
    people: tuple[PersonTruth, ...]
    ball: BallTruth | None
    marks_px: dict[str, tuple[float, float]]


@dataclass(frozen=True)
class FilmTruth:
    """A film's truth: how it was drawn, and every frame.

    `conditions` names every condition and its drawn value, for tables. `contacts` and `spans` are the
    match's, at the court, in film time.
    """

    family: str
    kind: str
    seed: int
    seconds: float
    frames_per_s: float
    exposure_s: float
    readout_s: float
    conditions: dict[str, str]
    frames: tuple[FrameTruth, ...]
    contacts: tuple[WorldContact, ...] = ()
    spans: tuple[WorldSpan, ...] = ()
    nudges_s: tuple[tuple[float, float], ...] = ()
    details: dict[str, float] = field(default_factory=dict)


def marks_in(camera: FilmCamera) -> dict[str, tuple[float, float]]:
    """Return the marks' pixels in a camera's picture, NaN where behind it."""
    marks = court_marks()
    pixels = camera.project(np.array(list(marks.values())))
    return {name: (float(p[0]), float(p[1])) for name, p in zip(marks, pixels, strict=True)}


def scaled_truth(truth: FrameTruth, scale: float) -> FrameTruth:
    """Return the truth in the pixels of a copy `scale` times the size (middles of corner pixels move)."""
    camera = truth.camera
    small = replace(
        camera,
        width=2 * round(0.5 * camera.width * scale),
        height=2 * round(0.5 * camera.height * scale),
        focal_px=camera.focal_px * scale,
    )
    return replace(_mapped(truth, lambda a: (a + 0.5) * scale - 0.5, scale), camera=small)


def mirrored_truth(truth: FrameTruth) -> FrameTruth:
    """Return the truth in the pixels of a film mirrored left to right; its camera stays as it was."""
    last = truth.camera.width - 1.0

    def flip(a: Floats) -> Floats:
        out = np.array(a, dtype=np.float64)
        out[..., 0] = last - out[..., 0]
        return out

    return _mapped(truth, flip, 1.0)


def _mapped(truth: FrameTruth, change: Callable[[Floats], Floats], scale: float) -> FrameTruth:
    def pair(p: tuple[float, float]) -> tuple[float, float]:
        u, v = change(np.array(p, dtype=np.float64))
        return float(u), float(v)

    def box(b: Box) -> Box:
        (u0, v0), (u1, v1) = pair(b[:2]), pair(b[2:])
        return min(u0, u1), v0, max(u0, u1), v1

    people = tuple(
        replace(
            p,
            feet_px=change(p.feet_px),
            joints_px=change(p.joints_px),
            box=box(p.box),
            head_box=box(p.head_box),
        )
        for p in truth.people
    )
    ball = truth.ball
    if ball is not None:
        ball = replace(
            ball,
            centre_px=pair(ball.centre_px),
            streak_px=(*pair(ball.streak_px[:2]), *pair(ball.streak_px[2:])),
            radius_px=ball.radius_px * scale,
            seen_px=None if ball.seen_px is None else pair(ball.seen_px),
        )
    marks = {name: pair(p) for name, p in truth.marks_px.items()}
    return replace(truth, people=people, ball=ball, marks_px=marks)
