"""Compiled: a mesh bent into a pose, its light from the lamps, and its pixels."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from goodlength.synthetic.recordings.test_family_films.bodies.implicit_surface_body_mesh import BONES
from goodlength.synthetic.recordings.test_family_films.court_picture.camera_pose_and_lens_projection import (
    project_point,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.court_ray_shading import lamp_light

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
BONE_ENDS = np.array(BONES, dtype=np.int32)


@njit(cache=True, error_model="numpy")
def bone_frames(joints: Floats, ends: Ints, poles: Floats) -> Floats:  # pragma: no cover - compiled
    """Return each bone's three axes as rows, shape (n, 3, 3): along, towards its pole, and the third."""
    out = np.empty((ends.shape[0], 3, 3))
    for i in range(ends.shape[0]):
        a, p = joints[ends[i, 1]] - joints[ends[i, 0]], poles[i]
        a = a / math.sqrt(a[0] ** 2 + a[1] ** 2 + a[2] ** 2 + 1e-18)
        along = a[0] * p[0] + a[1] * p[1] + a[2] * p[2]
        q = p - along * a
        length = math.sqrt(q[0] ** 2 + q[1] ** 2 + q[2] ** 2)
        if length < 1e-6:
            q = np.array([a[2], a[0], a[1]])
            q = q - (q[0] * a[0] + q[1] * a[1] + q[2] * a[2]) * a
            length = math.sqrt(q[0] ** 2 + q[1] ** 2 + q[2] ** 2)
        q = q / length
        out[i, 0], out[i, 1] = a, q
        out[i, 2, 0] = a[1] * q[2] - a[2] * q[1]
        out[i, 2, 1] = a[2] * q[0] - a[0] * q[2]
        out[i, 2, 2] = a[0] * q[1] - a[1] * q[0]
    return out


@njit(cache=True, error_model="numpy")
def skin(
    vertices: Floats,
    normals: Floats,
    bones: Ints,
    weights: Floats,
    ends: Ints,
    rest_joints: Floats,
    rest_frames: Floats,
    joints: Floats,
    frames: Floats,
    hand: float,
) -> tuple[Floats, Floats]:  # pragma: no cover - compiled
    """Return the posed vertices and normals (linear blend of the bones' motions).

    `hand` is -1 where the rest pose and the world turn opposite ways: the third axes then differ in sign.
    """
    n, count = vertices.shape[0], ends.shape[0]
    turn = np.zeros((count, 3, 3))
    for b in range(count):
        for r in range(3):
            for c in range(3):
                turn[b, r, c] = (
                    frames[b, 0, r] * rest_frames[b, 0, c]
                    + frames[b, 1, r] * rest_frames[b, 1, c]
                    + hand * frames[b, 2, r] * rest_frames[b, 2, c]
                )
    out, out_n = np.zeros((n, 3)), np.zeros((n, 3))
    for i in range(n):
        for k in range(bones.shape[1]):
            w, b = weights[i, k], bones[i, k]
            if w < 1e-3:
                continue
            base = ends[b, 0]
            for r in range(3):
                moved, turned = joints[base, r], 0.0
                for c in range(3):
                    moved += turn[b, r, c] * (vertices[i, c] - rest_joints[base, c])
                    turned += turn[b, r, c] * normals[i, c]
                out[i, r] += w * moved
                out_n[i, r] += w * turned
    return out, out_n


@njit(cache=True, error_model="numpy")
def light_vertices(
    lamps: Floats, ambient: float, floor: Floats, points: Floats, normals: Floats
) -> Floats:  # pragma: no cover - compiled
    """Return the light on each vertex: lamps, what bounces, and the floor's colour from below."""
    out = np.empty((points.shape[0], 3))
    for i in range(points.shape[0]):
        nx, ny, nz = normals[i]
        n = 1.0 / math.sqrt(nx * nx + ny * ny + nz * nz + 1e-12)
        nx, ny, nz = nx * n, ny * n, nz * n
        # light wraps round a little: lamps are wide
        r, g, b = lamp_light(lamps, points[i, 0], points[i, 1], points[i, 2], nx, ny, nz)
        low = max(0.0, -nz) * math.exp(-max(points[i, 2], 0.0) / 1.5) * 0.8 + 0.15
        up = ambient * (0.62 + 0.3 * nz) * (1.0 - 0.25 * math.exp(-max(points[i, 2], 0.0) / 0.25))
        out[i, 0] = r + up + low * ambient * floor[0]
        out[i, 1] = g + up + low * ambient * floor[1]
        out[i, 2] = b + up + low * ambient * floor[2]
    return out


@njit(cache=True, error_model="numpy")
def project_mirrored(
    c: Floats, points: Floats, axis: int, at_m: float
) -> NDArray[np.float32]:  # pragma: no cover - compiled
    """Return u, v, depth of points, or of their images in the plane `axis` = `at_m` (axis -1: no mirror)."""
    out = np.empty((points.shape[0], 3), np.float32)
    q = np.empty(3)
    for i in range(points.shape[0]):
        q[0], q[1], q[2] = points[i, 0], points[i, 1], points[i, 2]
        if axis >= 0:
            q[axis] = 2.0 * at_m - q[axis]
        out[i, 0], out[i, 1], out[i, 2] = project_point(c, q[0], q[1], q[2])
    return out
