"""Project the whole court into the image, lens distortion included, to check the fit by eye.

The shapes are those of the unfolded court, folded up again; every side is cut into short steps, so that
straight lines bend as the lens bends them.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from goodlength.court import CourtSurface, unfolded
from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.footage.camera.camera_calibration import CameraCalibration
from goodlength.footage.camera.camera_model import CameraModel, Floats

STEP_M = 0.10
MARGIN = 0.05  # of the picture's size, drawn beyond its edge so that strokes run out of it


@dataclass(frozen=True)
class Polyline:
    """A run of picture points to draw as one line; `what` is line, tin or fold, `name` says which.

    `closed` strokes are outlines of a painted line or the tin and may be filled.
    """

    what: str
    name: str
    surface: CourtSurface
    uv: tuple[tuple[float, float], ...]
    closed: bool


def court_over(camera: CameraCalibration, step_m: float = STEP_M) -> tuple[Polyline, ...]:
    """Return every line of the court, the tin and the folds of floor and walls, as they lie in the picture.

    Parameters
    ----------
    camera : Camera
        A camera that knows only the floor, or only the front wall, gets only that.
    step_m : float
        Longest step along a line, m.

    Returns
    -------
    tuple of Stroke
        Picture points in px. A stroke that leaves the view is cut there; one never seen is left out.
    """
    strokes: list[Polyline] = []
    for shape in unfolded(camera.tin).shapes:
        if shape.what not in ("line", "tin") or camera.why_not(shape.surface):
            continue
        corners = np.array([folded_up(shape.surface, u, v) for u, v in shape.points])
        strokes += _strokes(camera.lens, shape.what, shape.name, shape.surface, corners, step_m, closed=True)
    for name, surface, ends in _folds(camera):
        strokes += _strokes(camera.lens, "fold", name, surface, np.array(ends), step_m, closed=False)
    return tuple(strokes)


def folded_up(surface: CourtSurface, u_m: float, v_m: float) -> tuple[float, float, float]:
    """Return the point of the court that the unfolded sheet shows at (u, v); the other way of
    `court.to_sheet`.

    Examples
    --------
    >>> folded_up(CourtSurface.LEFT, -2.25, 7.2), folded_up(CourtSurface.BACK, 0.8, 11.75)
    ((0.0, 7.2, 2.25), (0.8, 9.75, 2.0))
    """
    if surface in (CourtSurface.FRONT, CourtSurface.TIN):
        return u_m, 0.0, -v_m
    if surface is CourtSurface.LEFT:
        return 0.0, v_m, -u_m
    if surface is CourtSurface.RIGHT:
        return WIDTH_M, v_m, u_m - WIDTH_M
    if surface is CourtSurface.BACK:
        return u_m, LENGTH_M, v_m - LENGTH_M
    return u_m, v_m, 0.0


def _folds(camera: CameraCalibration) -> list[tuple[str, CourtSurface, list[tuple[float, float, float]]]]:
    """Return where floor and walls meet."""
    w, long = WIDTH_M, LENGTH_M
    around = [(0.0, 0.0, 0.0), (w, 0.0, 0.0), (w, long, 0.0), (0.0, long, 0.0), (0.0, 0.0, 0.0)]
    folds = [("floor", CourtSurface.FLOOR, around[:2] if camera.front_only else around)]
    if not camera.floor_only:
        for name, x in (("front left corner", 0.0), ("front right corner", w)):
            folds.append((name, CourtSurface.FRONT, [(x, 0.0, 0.0), (x, 0.0, 5.0)]))
    if not (camera.floor_only or camera.front_only):
        for name, x in (("back left corner", 0.0), ("back right corner", w)):
            folds.append((name, CourtSurface.BACK, [(x, long, 0.0), (x, long, 2.56)]))
    return folds


def _strokes(
    lens: CameraModel,
    what: str,
    name: str,
    surface: CourtSurface,
    corners: Floats,
    step_m: float,
    *,
    closed: bool,
) -> list[Polyline]:
    """Return one outline in short steps, cut where it leaves the view."""
    points = subdivided(np.vstack([corners, corners[:1]]) if closed else corners, step_m)
    uv, seen = lens.project(points)
    size = np.array([lens.width, lens.height], dtype=float)
    edge = MARGIN * size
    with np.errstate(invalid="ignore"):
        near = (uv >= -edge).all(axis=1) & (uv <= size + edge).all(axis=1)
    shown = seen & near
    if shown.all():
        return [Polyline(what, name, surface, _pairs(uv), closed)]
    runs = np.split(np.arange(len(shown)), np.flatnonzero(np.diff(shown.astype(int))) + 1)
    return [
        Polyline(what, name, surface, _pairs(uv[run]), False)
        for run in runs
        if shown[run[0]] and len(run) > 1
    ]


def subdivided(corners: Floats, step_m: float) -> Floats:
    """Return points along a broken line, at most `step_m` apart."""
    pieces = [corners[:1]]
    for item, two in pairwise(corners):
        count = max(1, int(np.ceil(float(np.linalg.norm(two - item)) / step_m)))
        share = np.arange(1, count + 1)[:, None] / count
        pieces.append(item + share * (two - item))
    return np.vstack(pieces)


def _pairs(uv: Floats) -> tuple[tuple[float, float], ...]:
    """Return picture points to a tenth of a pixel."""
    return tuple((round(float(u), 1), round(float(v), 1)) for u, v in uv)
