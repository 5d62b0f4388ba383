"""Path and contacts of a measured serve, on court and projected into the image."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from goodlength.ball import fly_contacts, free_path
from goodlength.ball.model import flight_array_indices as at
from goodlength.court import CourtSurface
from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.footage.camera import CameraCalibration
from goodlength.measure.serves.serve_forward_model import Floats

SURFACES = (
    CourtSurface.FLOOR,
    CourtSurface.FRONT,
    CourtSurface.LEFT,
    CourtSurface.RIGHT,
    CourtSurface.BACK,
    CourtSurface.TIN,
)
SPACING_S = 0.02


@dataclass(frozen=True)
class PathTouch:
    """A touch of the path: surface, time after the strike, the ball's middle, and where that is seen."""

    surface: CourtSurface
    t_s: float
    at_m: tuple[float, float, float]
    uv: tuple[float, float] | None


@dataclass(frozen=True, eq=False)
class ServePath:
    """A path to the second bounce: time and place (n, 4), picture points (n, 2; NaN unseen), touches."""

    points: Floats
    uv: Floats
    touches: tuple[PathTouch, ...]


def serve_path(camera: CameraCalibration, launch: Floats, row: Floats) -> ServePath:
    """Fly a launch with a set of coefficients and see it with a camera.

    Parameters
    ----------
    launch : ndarray, shape (9,)
    row : ndarray
        As `Coefficients.row` gives it.
    """
    found = fly_contacts(launch[None], row[None], threads=1)
    rows = found.rows[0, : found.counts[0]]
    parts, start, t = [], np.array(launch), 0.0
    for contact in rows:
        due = float(contact[at.TIME]) - t
        count = max(1, math.ceil(due / SPACING_S))
        free = free_path(_inside(start), row, due / count, count)
        parts.append(np.column_stack([t + due / count * np.arange(count), free[:, :3]]))
        t = float(contact[at.TIME])
        start = np.array([*contact[at.X : at.Z + 1], *contact[at.VX : at.WZ + 1]])
    parts.append(np.array([[t, *start[:3]]]))
    points = np.vstack(parts)
    places = rows[:, at.X : at.Z + 1]
    seen = _seen(camera, places)
    touches = tuple(
        PathTouch(
            SURFACES[int(item[at.SURFACE])],
            float(item[at.TIME]),
            (float(item[at.X]), float(item[at.Y]), float(item[at.Z])),
            None if np.isnan(uv).any() else (float(uv[0]), float(uv[1])),
        )
        for item, uv in zip(rows, seen, strict=True)
    )
    return ServePath(points, _seen(camera, points[:, 1:]), touches)


def _inside(start: Floats) -> Floats:
    """Rounding must not put a ball that touches a wall outside the court."""
    clamped = start.copy()
    clamped[:3] = np.clip(start[:3], 0.02, [WIDTH_M - 0.02, LENGTH_M - 0.02, 20.0])
    return clamped


def _seen(camera: CameraCalibration, places: Floats) -> Floats:
    uv, seen = camera.lens.project(places)
    far = ~seen | (np.abs(uv) > 20_000).any(axis=1)
    uv[far] = np.nan
    return uv
