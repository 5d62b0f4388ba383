"""Detect unclicked court marks along the red lines of the image, as suggestions only.

A first camera says about where a mark is. From there the edges of the painted lines that meet in the mark
are looked for in the redness of the picture, a straight edge is laid through what was found, and the two
edges are crossed. Where only one edge is painted, only the step across it is found.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import BACK_OUT_M, FRONT_OUT_M, LENGTH_M
from goodlength.errors import InputError
from goodlength.footage.camera.camera_calibration import CameraCalibration
from goodlength.footage.camera.camera_model import CameraModel, Floats
from goodlength.footage.camera.court_mark_click_validation import Click
from goodlength.footage.camera.court_mark_definitions import court_marks

FROM_M, TO_M, STEPS = 0.04, 0.45, 24  # where along a line its edge is looked for, from the mark
EDGE_SEARCH_PX = 9.0  # how far across the edge, at 1080 lines
LEAST_RED = 4.0  # least step of redness across an edge (in units of CIE a*)
FEWEST = 8  # edge points that must agree
AGREE_PX = 1.2
MOST_OFF_PX = 8.0

Picture = NDArray[np.uint8]
XYZ = tuple[float, float, float]
_SLOPE = (FRONT_OUT_M - BACK_OUT_M) / LENGTH_M

# For the left-hand mark: directions along painted edges that leave it, each with the side the paint is on.
_EDGES: dict[str, tuple[tuple[XYZ, XYZ], ...]] = {
    "short-left": (((1, 0, 0), (0, -1, 0)),),
    "left-box-front": (((-1, 0, 0), (0, -1, 0)), ((0, 1, 0), (1, 0, 0))),
    "left-box-corner": (((0, -1, 0), (1, 0, 0)), ((-1, 0, 0), (0, 1, 0))),
    "left-box-wall": (((1, 0, 0), (0, 1, 0)),),
    "t-left": (((-1, 0, 0), (0, -1, 0)), ((0, 1, 0), (1, 0, 0))),
    "half-back-left": (((0, -1, 0), (1, 0, 0)),),
    "tin-left": (((1, 0, 0), (0, 0, -1)),),
    "service-left": (((1, 0, 0), (0, 0, 1)),),
    "out-left": (((1, 0, 0), (0, 0, 1)), ((0, 1, -_SLOPE), (0, 0, 1))),
    "back-out-left": (((1, 0, 0), (0, 0, 1)), ((0, -1, _SLOPE), (0, 0, 1))),
}


@dataclass(frozen=True)
class Suggestion:
    """Where a mark seems to be: the place found, the place expected, and how many edges were found.

    With one edge (`edges` 1) only the step across it comes from the picture; along it the place is the
    expected one. `agree` is the share of looked-at points that lie on the edges laid through them.
    """

    mark: str
    u: float
    v: float
    expected_u: float
    expected_v: float
    edges: int
    agree: float

    @property
    def click(self) -> Click:
        """As a click, for the coach to accept."""
        return Click(self.mark, self.u, self.v)


def suggest_marks(camera: CameraCalibration, picture: Picture) -> tuple[Suggestion, ...]:
    """Return marks in the picture that are not clicked yet, where the painted lines say they are.

    Parameters
    ----------
    camera : Camera
        Solved from the first clicks; floor marks only if it knows only the floor.
    picture : ndarray of uint8, shape (h, w, 3)
        Blue, green, red; the upright picture the marks were clicked in.

    Returns
    -------
    tuple of Suggestion
        Only marks of which at least one edge was found; the rest is left to the coach.

    Limits
    ------
    Lines of another colour than red are not found. Tried on drawn courts only.
    """
    lens = camera.lens
    if picture.ndim != 3 or picture.shape[:2] != (lens.height, lens.width):
        raise InputError(
            f"Suggestions need the colour frame of {lens.width} by {lens.height} that the marks were "
            f"clicked in; got one of shape {picture.shape}."
        )
    redness = _redness(picture)
    clicked = {click.mark for click in (*camera.clicks, *camera.left_out)}
    found = []
    for mark in court_marks(camera.tin).values():
        edges = edges_at(mark.name)
        if mark.name in clicked or not edges or all(map(camera.why_not, mark.surfaces)):
            continue
        suggestion = _find_mark(lens, redness, mark.name, np.array(mark.at), edges)
        if suggestion is not None:
            found.append(suggestion)
    return tuple(found)


def edges_at(mark: str) -> tuple[tuple[XYZ, XYZ], ...]:
    """Return painted edges leaving a mark, each with the side its paint is on; mirrored for marks on the
    right.
    """
    if mark in _EDGES:
        return _EDGES[mark]
    mirrored = _EDGES.get(court_marks()[mark].mirror, ())
    return tuple(((-a[0], a[1], a[2]), (-b[0], b[1], b[2])) for a, b in mirrored)


def _redness(picture: Picture) -> Floats:
    """Return the a* of CIE L*a*b*, a little smoothed: high on red paint."""
    lab = cv2.cvtColor(picture.astype(np.float32) / 255.0, cv2.COLOR_BGR2LAB)
    return np.asarray(cv2.GaussianBlur(lab[:, :, 1], (0, 0), 0.7), dtype=float)


def _find_mark(
    lens: CameraModel, redness: Floats, mark: str, at: Floats, edges: tuple[tuple[XYZ, XYZ], ...]
) -> Suggestion | None:
    """Look for the edges of one mark; None if the mark is out of view or no edge is found."""
    uv, seen = lens.project(at[None, :])
    if not (seen[0] and lens.inside(uv)[0]):
        return None
    expected = uv[0]
    lines, agreed, sampled = [], 0, 0
    for along, paint in edges:
        line, agree, samples = _edge(lens, redness, at, np.array(along, float), np.array(paint, float))
        agreed, sampled = agreed + agree, sampled + samples
        if line is not None:
            lines.append(line)
    if not lines:
        return None
    point = _crossing(lines, expected)
    scale = min(lens.width, lens.height) / 1080.0
    if point is None or math.hypot(*(point - expected)) > MOST_OFF_PX * max(1.0, scale):
        return None
    return Suggestion(
        mark,
        float(point[0]),
        float(point[1]),
        float(expected[0]),
        float(expected[1]),
        len(lines),
        agreed / max(1, sampled),
    )


def _edge(
    lens: CameraModel, redness: Floats, at: Floats, along: Floats, paint: Floats
) -> tuple[tuple[Floats, Floats] | None, int, int]:
    """Return a straight edge (a point and a unit normal in the picture) near where one is expected."""
    share = np.linspace(FROM_M, TO_M, STEPS)[:, None]
    uv, seen = lens.project(at + share * along)
    other, other_seen = lens.project(at + share * along + 0.05 * paint)
    here = seen & other_seen & lens.inside(uv)
    if here.sum() < FEWEST:
        return None, 0, int(here.sum())
    uv, other = uv[here], other[here]
    run = uv[-1] - uv[0]
    normal = np.array([-run[1], run[0]]) / max(1e-9, float(np.hypot(*run)))
    if float(((other - uv) @ normal).mean()) < 0.0:
        normal = -normal  # towards the paint
    across = float(np.median((other - uv) @ normal))
    if across < 1.5:
        return None, 0, len(uv)  # the line is too thin here to have two edges
    reach = min(EDGE_SEARCH_PX * max(1.0, min(lens.width, lens.height) / 1080.0), 0.8 * across + 3.0)
    steps = np.array([_step(redness, item, normal, reach) for item in uv])
    good = np.isfinite(steps)
    if good.sum() < FEWEST:
        return None, int(good.sum()), len(uv)
    middle = float(np.median(steps[good]))
    near = good & (np.abs(steps - middle) < AGREE_PX * 2.0)
    if near.sum() < FEWEST:
        return None, int(near.sum()), len(uv)
    moved = uv[near] + steps[near, None] * normal
    return _fit_line(moved), int(near.sum()), len(uv)


def _fit_line(points: Floats) -> tuple[Floats, Floats]:
    """Return a straight line through points: a point of it and its unit normal; far ones dropped once."""
    for _ in range(2):
        centre = points.mean(axis=0)
        normal = np.linalg.svd(points - centre)[2][1]
        off = np.abs((points - centre) @ normal)
        inliers = points[off < AGREE_PX]
        if len(inliers) < FEWEST:
            break
        points = inliers
    return centre, normal


def _step(redness: Floats, at: Floats, normal: Floats, reach: float) -> float:
    """Return how far across an edge the redness rises most, px; NaN where it does not rise enough."""
    places = np.arange(-reach - 1.0, reach + 1.001, 0.5)
    values = _sampled(redness, at + places[:, None] * normal)
    rise = values[2:] - values[:-2]  # over one pixel
    if not np.isfinite(rise).all():
        return math.nan
    best = int(rise.argmax())
    total = float(values[min(best + 4, len(values) - 1)] - values[max(0, best - 2)])
    if total < LEAST_RED or not 0 < best < len(rise) - 1:
        return math.nan
    low, mid, high = rise[best - 1], rise[best], rise[best + 1]
    bend = low - 2.0 * mid + high
    part = 0.0 if bend >= 0.0 else 0.5 * float(low - high) / float(bend)
    return float(places[best + 1]) + 0.5 * part


def _sampled(grey: Floats, uv: Floats) -> Floats:
    """Values between pixels (bilinear); pixel (i, j) has its middle at (j + 0.5, i + 0.5)."""
    u, v = uv[:, 0] - 0.5, uv[:, 1] - 0.5
    height, width = grey.shape
    inside = (u >= 0) & (v >= 0) & (u < width - 1) & (v < height - 1)
    x, y = np.clip(u, 0, width - 1.001), np.clip(v, 0, height - 1.001)
    i, j = y.astype(int), x.astype(int)
    a, b = y - i, x - j
    value = (1 - a) * ((1 - b) * grey[i, j] + b * grey[i, j + 1]) + a * (
        (1 - b) * grey[i + 1, j] + b * grey[i + 1, j + 1]
    )
    return np.asarray(np.where(inside, value, np.nan))


def _crossing(lines: list[tuple[Floats, Floats]], expected: Floats) -> Floats | None:
    """Return where two edges cross, or the point of one edge nearest to what was expected."""
    if len(lines) == 1:
        point, normal = lines[0]
        return np.asarray(expected + float((point - expected) @ normal) * normal)
    normals = np.array([normal for _, normal in lines])
    if abs(float(np.linalg.det(normals))) < 0.1:
        return None
    return np.asarray(np.linalg.solve(normals, [float(point @ normal) for point, normal in lines]))
