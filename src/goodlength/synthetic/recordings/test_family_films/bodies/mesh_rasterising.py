"""Compiled: triangles of moving meshes drawn into a picture by depth, moment by moment of the exposure.

Every moment has its own depth picture; the moments' colours are averaged, which gives moving things their
blur and all things smooth edges. A vertex's moment follows from its row: rows are read one after another.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from goodlength.synthetic.recordings.test_family_films.bodies.implicit_surface_body_mesh import (
    HAIR,
    LOWER,
    SHIRT,
    SHOE,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.court_ray_shading import (
    hash01,
    smooth_noise,
)

Floats = NDArray[np.float64]
Picture = NDArray[np.float32]
Ints = NDArray[np.int32]
Triple = tuple[float, float, float]
(SKIN_RGB, SHIRT_RGB, SECOND_RGB, LOWER_RGB, HAIR_RGB, SHOE_RGB, SOCK_RGB, BAND_RGB) = range(0, 24, 3)
PATTERN, STATURE, BAND, CREASE_SEED, KIND, SOCK_TOP, CREASES = range(24, 31)
APPEARANCE_SIZE = 31
PERSON, RACKET = 0.0, 1.0
PLAIN, HOOPS, PANELS, SIDES, CHEST_BAND, SPECKS = range(6)


@njit(cache=True, error_model="numpy")
def pattern_second(appearance: Floats, x: float, y: float, z: float) -> bool:  # pragma: no cover - compiled
    """Return whether a place of the shirt (rest pose, shares of the stature) has its second colour."""
    kind = int(appearance[PATTERN])
    if kind == HOOPS:
        return math.floor(z * 26.0) % 2 == 0
    if kind == PANELS:
        return abs(x) > 0.085
    if kind == SIDES:
        return abs(abs(x) - 0.075) < 0.012
    if kind == CHEST_BAND:
        return 0.7 < z < 0.74 or (0.02 < x < 0.06 and 0.755 < z < 0.785 and y > 0.0)
    if kind == SPECKS:
        return hash01(math.floor(x * 40.0), math.floor(z * 40.0), int(appearance[CREASE_SEED])) > 0.72
    return y > 0.0 and 0.025 < x < 0.055 and 0.745 < z < 0.77


@njit(cache=True, error_model="numpy")
def face_albedo(appearance: Floats, x: float, y: float, z: float) -> Triple:  # pragma: no cover - compiled
    """Return the skin's colour, with eyes, brows, mouth and flushed cheeks on the face."""
    r, g, b = appearance[SKIN_RGB], appearance[SKIN_RGB + 1], appearance[SKIN_RGB + 2]
    if z > 0.87 and y > 0.02:
        eye = ((abs(x) - 0.017) / 0.007) ** 2 + ((z - 0.941) / 0.0033) ** 2
        brow = ((abs(x) - 0.018) / 0.012) ** 2 + ((z - 0.953) / 0.003) ** 2
        mouth = (x / 0.015) ** 2 + ((z - 0.904) / 0.004) ** 2
        if eye < 1.0:
            return (0.6, 0.58, 0.55) if eye > 0.35 else (0.03, 0.02, 0.02)
        if brow < 1.0:
            return (
                0.6 * appearance[HAIR_RGB] + 0.1 * r,
                0.6 * appearance[HAIR_RGB + 1] + 0.1 * g,
                0.6 * appearance[HAIR_RGB + 2],
            )
        if mouth < 1.0:
            return 0.75 * r, 0.42 * g, 0.42 * b
        cheek = math.exp(-(((abs(x) - 0.025) / 0.012) ** 2) - ((z - 0.92) / 0.012) ** 2)
        return r * (1.0 + 0.1 * cheek), g * (1.0 - 0.12 * cheek), b * (1.0 - 0.12 * cheek)
    return r, g, b


@njit(cache=True, error_model="numpy")
def person_albedo(
    appearance: Floats, x: float, y: float, z: float, a: float, b: float, c: float, d: float
) -> Triple:  # pragma: no cover - compiled
    """Return the colour at a place of a person, by what it belongs to (label values above zero)."""
    scale = 1.0 / appearance[STATURE]
    x, y, z = x * scale, y * scale, z * scale
    crease = 1.0
    if a > 0.0 or b > 0.0:
        seed = int(appearance[CREASE_SEED])
        fold = smooth_noise(x * 22.0 + 6.0 * z, z * 14.0 + 3.0 * y, seed) - 0.5
        crease = 1.0 + appearance[CREASES] * fold
    if c > 0.0 and c >= a:
        if appearance[BAND] == 1.0 and 0.955 < z < 0.975:
            return appearance[BAND_RGB], appearance[BAND_RGB + 1], appearance[BAND_RGB + 2]
        strand = 1.0 + 0.5 * (smooth_noise(x * 160.0, y * 60.0 + z * 40.0, 5) - 0.5)
        return (
            appearance[HAIR_RGB] * strand,
            appearance[HAIR_RGB + 1] * strand,
            appearance[HAIR_RGB + 2] * strand,
        )
    if a > 0.0 and a >= b:
        base = SECOND_RGB if pattern_second(appearance, x, y, z) else SHIRT_RGB
        return appearance[base] * crease, appearance[base + 1] * crease, appearance[base + 2] * crease
    if b > 0.0:
        return (
            appearance[LOWER_RGB] * crease,
            appearance[LOWER_RGB + 1] * crease,
            appearance[LOWER_RGB + 2] * crease,
        )
    if d > 0.0:
        sole = 0.55 if z < 0.012 else 1.0
        return appearance[SHOE_RGB] * sole, appearance[SHOE_RGB + 1] * sole, appearance[SHOE_RGB + 2] * sole
    if z < appearance[SOCK_TOP]:
        return appearance[SOCK_RGB], appearance[SOCK_RGB + 1], appearance[SOCK_RGB + 2]
    if appearance[BAND] == 1.0 and z > 0.9 and 0.955 < z < 0.975:
        return appearance[BAND_RGB], appearance[BAND_RGB + 1], appearance[BAND_RGB + 2]
    return face_albedo(appearance, x, y, z)


@njit(cache=True, error_model="numpy")
def moment_vertices(
    at_0: Picture,
    at_1: Picture,
    at_2: Picture,
    span_s: float,
    row_s: float,
    moment_s: float,
    height: int,
    out: Picture,
) -> None:  # pragma: no cover - compiled
    """Fill u, v, depth at one moment of the exposure of each vertex's own row.

    The three pictures are the pose at 0, half of and the whole `span_s`; between them it is a parabola.
    """
    for i in range(at_0.shape[0]):
        v = min(max(at_1[i, 1], 0.0), height - 1.0)  # rows outside the picture are never read
        t = (row_s * v + moment_s) / span_s
        a, b, c = 2.0 * (t - 0.5) * (t - 1.0), 4.0 * t * (1.0 - t), 2.0 * t * (t - 0.5)
        for k in range(3):
            out[i, k] = a * at_0[i, k] + b * at_1[i, k] + c * at_2[i, k]


@njit(cache=True, error_model="numpy", fastmath={"contract", "arcp"})
def draw_triangles(
    uvz: Picture,
    triangles: Ints,
    light: Floats,
    rest: Floats,
    labels: Floats,
    appearance: Floats,
    turned: float,
    du: float,
    dv: float,
    moment: int,
    depth: Picture,
    colour: Picture,
    before: Picture,
    box: NDArray[np.int64],
) -> None:  # pragma: no cover - compiled
    """Draw one mesh at one moment; `before` is the depth of what stands before the court.

    `turned` is the sign of a front triangle's area in the picture. `box` (low u, v, high u, v) grows to what
    was drawn.
    """
    high, wide = depth.shape
    for n in range(triangles.shape[0]):
        i, j, k = triangles[n, 0], triangles[n, 1], triangles[n, 2]
        u0, v0 = uvz[i, 0] + du, uvz[i, 1] + dv
        u1, v1 = uvz[j, 0] + du, uvz[j, 1] + dv
        u2, v2 = uvz[k, 0] + du, uvz[k, 1] + dv
        area = (u1 - u0) * (v2 - v0) - (u2 - u0) * (v1 - v0)
        if not area * turned > 1e-9 or abs(area) > 1e7:
            continue
        lu, hu = max(0, math.ceil(min(u0, u1, u2))), min(wide - 1, math.floor(max(u0, u1, u2)))
        lv, hv = max(0, math.ceil(min(v0, v1, v2))), min(high - 1, math.floor(max(v0, v1, v2)))
        if lu > hu or lv > hv:
            continue
        box[0], box[1] = min(box[0], lu), min(box[1], lv)
        box[2], box[3] = max(box[2], hu), max(box[3], hv)
        inverse = 1.0 / area
        for v in range(lv, hv + 1):
            for u in range(lu, hu + 1):
                b = ((u - u0) * (v2 - v0) - (u2 - u0) * (v - v0)) * inverse
                c = ((u1 - u0) * (v - v0) - (u - u0) * (v1 - v0)) * inverse
                a = 1.0 - b - c
                if a < 0.0 or b < 0.0 or c < 0.0:
                    continue
                z = a * uvz[i, 2] + b * uvz[j, 2] + c * uvz[k, 2]
                if z >= depth[v, u] or z > before[v, u] or z < 0.05:
                    continue
                if appearance[KIND] == RACKET and labels[i, 0] > 0.0 and hash01(u, v, moment) > 0.22:
                    continue
                depth[v, u] = z
                if appearance[KIND] == RACKET:
                    base = SECOND_RGB if labels[i, 1] > 0.0 else SHIRT_RGB
                    r, g, s = appearance[base], appearance[base + 1], appearance[base + 2]
                else:
                    r, g, s = person_albedo(
                        appearance,
                        a * rest[i, 0] + b * rest[j, 0] + c * rest[k, 0],
                        a * rest[i, 1] + b * rest[j, 1] + c * rest[k, 1],
                        a * rest[i, 2] + b * rest[j, 2] + c * rest[k, 2],
                        a * labels[i, SHIRT] + b * labels[j, SHIRT] + c * labels[k, SHIRT],
                        a * labels[i, LOWER] + b * labels[j, LOWER] + c * labels[k, LOWER],
                        a * labels[i, HAIR] + b * labels[j, HAIR] + c * labels[k, HAIR],
                        a * labels[i, SHOE] + b * labels[j, SHOE] + c * labels[k, SHOE],
                    )
                colour[v, u, 0] = r * (a * light[i, 0] + b * light[j, 0] + c * light[k, 0])
                colour[v, u, 1] = g * (a * light[i, 1] + b * light[j, 1] + c * light[k, 1])
                colour[v, u, 2] = s * (a * light[i, 2] + b * light[j, 2] + c * light[k, 2])


@njit(cache=True, error_model="numpy")
def gather_moment(
    depth: Picture, colour: Picture, share: float, box: NDArray[np.int64], total: Picture
) -> None:  # pragma: no cover - compiled
    """Add one moment's colours to the layer (premultiplied, alpha last)."""
    for v in range(box[1], box[3] + 1):
        for u in range(box[0], box[2] + 1):
            if depth[v, u] < 1e6:
                total[v, u, 0] += share * colour[v, u, 0]
                total[v, u, 1] += share * colour[v, u, 1]
                total[v, u, 2] += share * colour[v, u, 2]
                total[v, u, 3] += share
