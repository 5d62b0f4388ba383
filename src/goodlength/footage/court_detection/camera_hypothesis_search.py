"""Search for cameras whose view of the court's lines fits the segments of a picture.

```
 many lawful cameras ─ score ─> best few hundred ─ small random steps, finer maps ─> a dozen unlike cameras
```
A camera is a row of eight numbers: yaw, pitch and roll (rad), place (m), log of the focal length per longer
side, and by how much the lens shrinks the longer side's ends.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, MIDDLE_M, SHORT_LINE_FRONT_M, WIDTH_M
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.footage.court_detection.court_wireframe import WireframeNodes
from goodlength.footage.court_detection.line_segment_evidence import (
    DIRECTIONS,
    EvidenceMap,
    Singles,
    evidence_map,
)

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
COLUMNS = 8
CAMERAS = 60_000
CHUNK = 500  # what fits into the processor's cache
NEAREST_M = 0.1
MOST_WEIGHT = 0.1  # a piece of line weighs its length in shares of the longer side, up to this
# Spread of the first random steps, one for each of the eight numbers.
STEPS = np.array([0.06, 0.06, 0.012, 0.35, 0.5, 0.3, 0.08, 0.02])
# Map size, spread of lines in its pixels, size of steps, cameras selected, children of each.
ROUNDS = (
    (240, 4.0, 0.70, 200, 40),
    (240, 3.0, 0.45, 100, 40),
    (240, 2.5, 0.30, 60, 40),
    (480, 4.0, 0.25, 40, 50),
    (480, 3.0, 0.15, 30, 50),
    (480, 2.0, 0.10, 24, 60),
    (480, 2.0, 0.06, 20, 60),
    (960, 2.5, 0.04, 16, 60),
)
PORTRAIT_ZOOM = 1.35  # an upright picture shows the court smaller
FIRST_SELECTED = 300
_ANCHORS_M = np.array(
    [(0, 0, 0), (WIDTH_M, 0, 0), (WIDTH_M, 0, 1.8), (0, 0, 1.8)]
    + [(x, SHORT_LINE_FRONT_M, 0) for x in (0, WIDTH_M, MIDDLE_M)],
    np.float32,
)


def draw_cameras(rng: np.random.Generator, count: int) -> Floats:
    """Return random cameras behind the court that look at its front half, shape (count, 8).

    Places, heights and lenses are ASSUMED from how phones are put up: behind the glass, on a balcony or on
    the back wall, 56 to 114 degrees over the longer side, nearly level.
    """
    field = np.radians(rng.uniform(56, 114, count))
    loss = np.abs(rng.uniform(-0.02, 0.16, count))
    focal = np.log(0.5 / (np.tan(field / 2) * (1 - loss)))
    x = rng.normal(MIDDLE_M, 1.1, count).clip(0.25, 6.15)
    on_wall = rng.random(count) < 0.25
    y = LENGTH_M + np.where(on_wall, rng.uniform(-0.6, 0.4, count), rng.uniform(0.2, 5.5, count))
    z = rng.uniform(0.9, 5.2, count)
    ahead = np.stack(
        [
            MIDDLE_M + rng.normal(0, 0.8, count) - x,
            rng.uniform(-0.5, 6, count) - y,
            rng.uniform(0.2, 2.2, count) - z,
        ]
    )
    yaw = np.arctan2(ahead[0], -ahead[1])
    pitch = np.arctan2(-ahead[2], np.hypot(ahead[0], ahead[1]))
    return np.stack([yaw, pitch, rng.normal(0, 0.02, count), x, y, z, focal, loss], axis=1)


def lawful(cameras: Floats) -> Bools:
    """Return which cameras could be a phone that films a court."""
    yaw, pitch, roll, x, y, z, focal, loss = cameras.T
    field = 2 * np.arctan(0.5 / (np.exp(focal) * (1 - loss)))
    return np.asarray(
        (x > -0.2) & (x < 6.6) & (y > 8.8) & (y < 18) & (z > 0.5) & (z < 6)
        & (np.abs(yaw) < 0.75) & (pitch > -0.4) & (pitch < 0.95) & (np.abs(roll) < 0.09)
        & (loss > -0.05) & (loss < 0.19) & (field > 0.9) & (field < 2.15)
    )  # fmt: skip


def axes_of(cameras: Floats) -> Floats:
    """Return right, down and forward of each camera in the court frame, shape (n, 3, 3)."""
    sin, cos = np.sin(cameras[:, :3]).T, np.cos(cameras[:, :3]).T
    nought = np.zeros(len(cameras))
    forward = np.stack([sin[0] * cos[1], -cos[0] * cos[1], -sin[1]], axis=1)
    level = np.stack([cos[0], sin[0], nought], axis=1)
    down = np.stack([-sin[0] * sin[1], cos[0] * sin[1], -cos[1]], axis=1)
    turn, lean = cos[2][:, None], sin[2][:, None]
    return np.stack([turn * level + lean * down, turn * down - lean * level, forward], axis=1)


def k1_of(cameras: Floats) -> Floats:
    """Return the radial term of each camera's lens."""
    edge = 0.5 / np.exp(cameras[:, 6]) / (1 - cameras[:, 7])
    return np.asarray(-cameras[:, 7] / edge**2)


def camera_model(camera: Floats, width: int, height: int) -> CameraModel:
    """Return a row as the camera model of a picture's size."""
    row = camera[None]
    focal_px = float(np.exp(camera[6]) * max(width, height))
    return CameraModel(width, height, axes_of(row)[0], camera[3:6].copy(), focal_px, float(k1_of(row)[0]))


def project_all(cameras: Floats, points_m: Singles, size: tuple[int, int]) -> tuple[Singles, Bools]:
    """Return pixels (n, m, 2) of points in the view of many cameras, and which can be seen (n, m)."""
    axes = axes_of(cameras)
    moved = np.einsum("nij,nj->ni", axes, cameras[:, 3:6]).astype(np.float32)
    eye = np.matmul(points_m[None], axes.transpose(0, 2, 1).astype(np.float32)) - moved[:, None, :]
    depth = eye[..., 2]
    flat = eye[..., :2] / np.maximum(depth, np.float32(NEAREST_M))[..., None]
    square = np.einsum("nmi,nmi->nm", flat, flat)
    k1 = k1_of(cameras).astype(np.float32)[:, None]
    seen = (depth > NEAREST_M) & (1 + 3 * k1 * square > 0.05)
    focal = (np.exp(cameras[:, 6]) * max(size)).astype(np.float32)[:, None]
    flat *= (focal * (1 + k1 * square))[..., None]
    flat += np.array(size, np.float32) / 2
    return flat, seen


def scores(cameras: Floats, nodes: WireframeNodes, evidence: EvidenceMap) -> Singles:
    """Return how strongly the evidence speaks for each camera: the sum over its lines in the picture."""
    pieces = np.array_split(cameras, max(1, -(-len(cameras) // CHUNK)))
    return np.concatenate([_scores(piece, nodes, evidence) for piece in pieces])


def _scores(cameras: Floats, nodes: WireframeNodes, evidence: EvidenceMap) -> Singles:
    """Return the same for some cameras; arrays are (lines, cameras): one line is added after the other."""
    width, height = evidence.size
    uv, seen = project_all(cameras, nodes.points_m, evidence.size)
    u, v = (np.ascontiguousarray(uv[..., side].T) for side in (0, 1))
    seen = np.ascontiguousarray(seen.T)
    u_start, u_end, v_start, v_end = u[nodes.first], u[nodes.first + 1], v[nodes.first], v[nodes.first + 1]
    u_middle, v_middle = (u_start + u_end) / 2, (v_start + v_end) / 2
    inside = seen[nodes.first] & seen[nodes.first + 1] & (u_middle >= 1) & (v_middle >= 1)
    inside &= (u_middle < width - 1) & (v_middle < height - 1)
    at = np.flatnonzero(inside)  # what lies outside adds nothing
    along_u, along_v = (u_end - u_start).ravel()[at], (v_end - v_start).ravel()[at]
    turn = np.arctan2(along_v, along_u) * np.float32(DIRECTIONS / np.pi)
    direction = np.mod(np.round(turn).astype(np.int32), DIRECTIONS)
    column, row = (middle.ravel()[at].astype(np.int32) for middle in (u_middle, v_middle))
    value = evidence.ratios.reshape(-1)[(direction * height + row) * width + column]
    length = np.hypot(along_u, along_v) / np.float32(max(width, height))
    spoken = np.zeros(inside.shape, np.float32)
    spoken.reshape(-1)[at] = value * np.minimum(length, MOST_WEIGHT)
    return np.asarray(spoken.sum(axis=0), np.float32)


def search_cameras(
    rng: np.random.Generator,
    segments: Singles,
    shape: tuple[int, int],
    nodes: WireframeNodes,
    cameras: int = CAMERAS,
) -> Floats:
    """Return unlike cameras that explain the segments, the best first, shape (n, 8).

    Parameters
    ----------
    rng : numpy Generator
    segments : ndarray, shape (n, 4)
        As from `line_segments`.
    shape : (int, int)
        Width and height of the picture.
    nodes : WireframeNodes
    cameras : int
        How many are drawn at first.
    """
    zoom = PORTRAIT_ZOOM if shape[1] > shape[0] else 1.0
    sampled = draw_cameras(rng, cameras)
    evidence = evidence_map(segments, shape, ROUNDS[0][0] * zoom, ROUNDS[0][1])
    best = sampled[np.argsort(-scores(sampled, nodes, evidence))[:FIRST_SELECTED]]
    sized: tuple[float, float] = ROUNDS[0][:2]
    for long_px, spread_px, size, selected, children in ROUNDS:
        if (long_px, spread_px) != sized:
            evidence, sized = evidence_map(segments, shape, long_px * zoom, spread_px), (long_px, spread_px)
        best = best[np.argsort(-scores(best, nodes, evidence))[:selected]]
        pool = np.vstack([best, _children(rng, best, size, children)])
        order = np.argsort(-scores(pool, nodes, evidence))[:1500]
        best = pool[order][_unlike(pool[order], 0.07 * size + 0.004, selected)]
    return best


def _children(rng: np.random.Generator, parents: Floats, size: float, count: int) -> Floats:
    """Return random steps from cameras, also such as change little of the picture: a step back with a longer
    lens, a step aside with a turn.
    """
    step = rng.normal(0, 1, (len(parents), count, COLUMNS)) * STEPS * size
    any_way = parents[:, None] + step * (rng.random(step.shape) < 0.6)
    back = np.repeat(parents[:, None], count // 4, axis=1)
    further = (back[..., 4] + rng.normal(0, 1.2 * size, back.shape[:2])).clip(9, 17)
    back[..., 6] += np.log(further / back[..., 4])
    back[..., 4] = further
    aside = np.repeat(parents[:, None], count // 4, axis=1)
    across, up = rng.normal(0, 1, (2, *aside.shape[:2])) * np.array([0.6, 0.5])[:, None, None] * size
    aside[..., 3] += across
    aside[..., 0] -= across / aside[..., 4]
    aside[..., 5] += up
    aside[..., 1] += up / aside[..., 4]
    children = np.concatenate([any_way, back, aside], axis=1).reshape(-1, COLUMNS)
    return children[lawful(children)]


def _unlike(cameras: Floats, apart: float, most: int) -> list[int]:
    """Return which cameras to keep, best first, so that any two see some mark that far apart."""
    uv, _ = project_all(cameras, _ANCHORS_M, (1, 1))
    places = uv.clip(-1, 2).reshape(len(cameras), -1)
    selected: list[int] = []
    for k in range(len(cameras)):
        if not selected or bool((np.abs(places[selected] - places[k]).max(axis=1) > apart).all()):
            selected.append(k)
        if len(selected) >= most:
            break
    return selected
