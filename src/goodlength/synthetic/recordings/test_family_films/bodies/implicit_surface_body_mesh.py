"""A person's skin and clothes as one mesh: an implicit surface of blended muscles and cloth, made polygons.

The rest pose stands with legs a little apart and arms held out. Rounded cones and balls for muscles blend
into a skin; shirt, sleeves, shorts or skirt are wider shells with cut ends. The zero level of that field is
turned into polygons by naive surface nets, and each vertex is bound to up to three bones.

Segment lengths are shares of the stature from source: DRILLIS-CONTINI-1966; thicknesses are ASSUMED.

Body axes of the rest pose: x to the body's right, y forward, z up from the floor.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numba import njit
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int32]
FAINT = math.exp(-30.0)  # what a shape far from the nearest still adds to a blend
(
    PELVIS,
    CHEST,
    NECK,
    HEAD,
    L_SHOULDER,
    R_SHOULDER,
    L_ELBOW,
    R_ELBOW,
    L_WRIST,
    R_WRIST,
    L_HAND,
    R_HAND,
    L_HIP,
    R_HIP,
    L_KNEE,
    R_KNEE,
    L_ANKLE,
    R_ANKLE,
    L_TOE,
    R_TOE,
) = range(20)
BONES = (
    (PELVIS, CHEST),
    (CHEST, NECK),
    (NECK, HEAD),
    (L_SHOULDER, L_ELBOW),
    (R_SHOULDER, R_ELBOW),
    (L_ELBOW, L_WRIST),
    (R_ELBOW, R_WRIST),
    (L_WRIST, L_HAND),
    (R_WRIST, R_HAND),
    (L_HIP, L_KNEE),
    (R_HIP, R_KNEE),
    (L_KNEE, L_ANKLE),
    (R_KNEE, R_ANKLE),
    (L_ANKLE, L_TOE),
    (R_ANKLE, R_TOE),
)
SHIRT, LOWER, HAIR, SHOE = range(4)


@dataclass(frozen=True)
class BodyShape:
    """What makes one body: stature in metres, build 1 for the middle, hips and chest, clothes, hair."""

    stature_m: float
    build: float = 1.0
    hips: float = 1.0
    chest: float = 1.0
    belly: float = 0.0
    shirt_loose_m: float = 0.02
    sleeve: float = 0.6
    hem: float = 0.49
    shorts_loose_m: float = 0.03
    shorts_length: float = 0.6
    skirt: bool = False
    hair: str = "short"
    cap: bool = False


@dataclass(frozen=True)
class BodyMesh:
    """Vertices in the rest pose, triangles, normals, bones with weights, and what each vertex belongs to.

    `labels` has a column for shirt, shorts or skirt, hair, and shoes: above zero where the vertex is of it.
    """

    shape: BodyShape
    joints: Floats
    vertices: Floats
    normals: Floats
    triangles: Ints
    bones: Ints
    weights: Floats
    labels: Floats


def rest_joints(stature_m: float, hips: float = 1.0) -> Floats:
    """Return the rest pose's joints, shape (20, 3), in metres."""
    out = np.zeros((20, 3))
    out[PELVIS], out[CHEST], out[NECK], out[HEAD] = (
        (0, 0, 0.55),
        (0, 0, 0.69),
        (0, 0, 0.845),
        (0, 0.01, 0.935),
    )
    apart, arm = math.radians(9.0), math.radians(48.0)
    for side, sign in ((0, -1.0), (1, 1.0)):
        shoulder = np.array([sign * 0.112, 0.0, 0.812])
        along = np.array([sign * math.sin(arm), 0.0, -math.cos(arm)])
        out[L_SHOULDER + side] = shoulder
        out[L_ELBOW + side] = shoulder + 0.186 * along
        out[L_WRIST + side] = shoulder + (0.186 + 0.146) * along
        out[L_HAND + side] = shoulder + (0.186 + 0.146 + 0.055) * along
        hip = np.array([sign * 0.052 * hips, 0.0, 0.522])
        down = np.array([sign * math.sin(apart), 0.0, -math.cos(apart)])
        out[L_HIP + side] = hip
        out[L_KNEE + side] = hip + 0.242 * down
        out[L_ANKLE + side] = hip + (0.242 + 0.243) * down
        out[L_TOE + side] = (out[L_ANKLE + side][0] + sign * 0.012, 0.105, 0.018)
    return out * stature_m


@njit(cache=True, error_model="numpy")
def _cone(
    points: Floats, a: Floats, b: Floats, ra: float, rb: float
) -> Floats:  # pragma: no cover - compiled
    """Return the distance to a rounded cone from a (radius ra) to b (radius rb)."""
    out = np.empty(points.shape[0])
    x, y, z = b[0] - a[0], b[1] - a[1], b[2] - a[2]
    length2 = x * x + y * y + z * z
    for i in range(out.size):
        px, py, pz = points[i, 0] - a[0], points[i, 1] - a[1], points[i, 2] - a[2]
        share = min(max((px * x + py * y + pz * z) / length2, 0.0), 1.0)
        wx, wy, wz = px - share * x, py - share * y, pz - share * z
        out[i] = math.sqrt(wx * wx + wy * wy + wz * wz) - (ra + share * (rb - ra))
    return out


def _blend(distances: list[Floats], width: float) -> Floats:
    """Return the union of shapes, their creases filled over about `width`."""
    return np.asarray(_blended(np.stack(distances), width))


@njit(cache=True, error_model="numpy")
def _blended(stacked: Floats, width: float) -> Floats:  # pragma: no cover - compiled
    out = np.empty(stacked.shape[1])
    for i in range(out.size):
        least = stacked[0, i]
        for k in range(1, stacked.shape[0]):
            least = min(least, stacked[k, i])
        near = 0.0
        for k in range(stacked.shape[0]):
            beyond = (stacked[k, i] - least) / width
            near += math.exp(-beyond) if beyond < 30.0 else FAINT
        out[i] = least - width * math.log(near)
    return out


def _torso(q: Floats, s: BodyShape, thick: float) -> list[Floats]:
    b, parts = s.build * thick, []
    for x in (-1.0, 1.0):
        hip, waist = np.array([x * 0.05 * s.hips, 0, 0.53]), np.array([x * 0.042, 0.005, 0.62])
        ribs, top = np.array([x * 0.052 * s.chest, 0.0, 0.72]), np.array([x * 0.06 * s.chest, -0.005, 0.79])
        parts += [
            _cone(q, hip, waist, 0.056 * b * s.hips, 0.05 * b),
            _cone(q, waist, ribs, 0.05 * b, 0.058 * b),
            _cone(q, ribs, top, 0.058 * b, 0.045 * b),
            _cone(
                q, np.array([x * 0.02, -0.01, 0.835]), np.array([x * 0.108, 0, 0.812]), 0.028 * b, 0.038 * b
            ),
            _cone(
                q,
                np.array([x * 0.045, 0.04, 0.752]),
                np.array([x * 0.05, 0.038, 0.745]),
                0.037 * b,
                0.037 * b,
            ),
            _cone(
                q, np.array([x * 0.045, -0.036, 0.51]), np.array([x * 0.05, -0.03, 0.53]), 0.05 * b, 0.045 * b
            ),
        ]
    if s.belly > 0.0:
        middle = np.array([0.0, 0.03 + 0.02 * s.belly, 0.6])
        parts.append(_cone(q, middle, middle + np.array([0.0, 0.0, 0.05]), 0.05 + 0.025 * s.belly, 0.045))
    return parts


def _limbs(q: Floats, s: BodyShape, j: Floats) -> list[Floats]:
    b, parts = s.build, []
    for side in (0, 1):
        shoulder, elbow, wrist, hand = (j[k + side] for k in (L_SHOULDER, L_ELBOW, L_WRIST, L_HAND))
        hip, knee, ankle, toe = (j[k + side] for k in (L_HIP, L_KNEE, L_ANKLE, L_TOE))
        ahead = np.array([0.0, 0.008, 0.0])
        parts += [
            _cone(q, shoulder, elbow, 0.033 * b, 0.024 * b),
            _cone(
                q,
                0.6 * shoulder + 0.4 * elbow + ahead,
                0.4 * shoulder + 0.6 * elbow + ahead,
                0.026 * b,
                0.025 * b,
            ),
            _cone(q, elbow, wrist, 0.024 * b, 0.016),
            _cone(q, 0.8 * elbow + 0.2 * wrist, 0.6 * elbow + 0.4 * wrist, 0.026 * b, 0.022 * b),
            _cone(q, wrist, hand, 0.017, 0.022),
            _cone(q, hand, hand + 0.4 * (hand - wrist), 0.022, 0.014),
            _cone(q, hip, knee, 0.052 * b, 0.033 * b),
            _cone(
                q, 0.65 * hip + 0.35 * knee + ahead, 0.35 * hip + 0.65 * knee + ahead, 0.046 * b, 0.036 * b
            ),
            _cone(q, knee, ankle, 0.031 * b, 0.021),
            _cone(
                q,
                0.8 * knee + 0.2 * ankle - 1.6 * ahead,
                0.55 * knee + 0.45 * ankle - ahead,
                0.03 * b,
                0.024 * b,
            ),
        ]
        heel = np.array([ankle[0], -0.028, 0.022])
        parts += [_cone(q, heel, toe, 0.025, 0.02), _cone(q, ankle, heel, 0.023, 0.025)]
    return parts


def _head(q: Floats) -> list[Floats]:
    skull = (q - [0.0, 0.012, 0.94]) / [0.042, 0.054, 0.058]
    ball = (np.sqrt(np.einsum("ij,ij->i", skull, skull)) - 1.0) * 0.045
    return [
        _cone(q, np.array([0, -0.005, 0.82]), np.array([0, 0.004, 0.9]), 0.034, 0.031),
        ball,
        _cone(q, np.array([0, 0.03, 0.897]), np.array([0, 0.045, 0.893]), 0.03, 0.022),
        _cone(q, np.array([0, 0.06, 0.94]), np.array([0, 0.071, 0.922]), 0.006, 0.009),
        _cone(q, np.array([-0.042, 0.0, 0.94]), np.array([-0.043, -0.004, 0.925]), 0.009, 0.007),
        _cone(q, np.array([0.042, 0.0, 0.94]), np.array([0.043, -0.004, 0.925]), 0.009, 0.007),
    ]


def _hair(q: Floats, s: BodyShape) -> Floats:
    """Return the distance to the hair (or cap); far away for the bald."""
    if s.hair == "bald" and not s.cap:
        return np.full(len(q), 1.0)
    skull = (q - [0.0, 0.006, 0.945]) / [0.047, 0.059, 0.062]
    shell = (np.sqrt(np.einsum("ij,ij->i", skull, skull)) - 1.0) * 0.05
    face = q[:, 2] - (0.925 + 0.55 * np.maximum(q[:, 1] - 0.012, -0.05))
    parts = [np.maximum(shell, -face * 0.8)]
    if s.hair == "long":
        parts.append(_cone(q, np.array([0, -0.035, 0.93]), np.array([0, -0.06, 0.83]), 0.045, 0.03))
    if s.hair == "tail":
        parts.append(_cone(q, np.array([0, -0.06, 0.955]), np.array([0, -0.1, 0.86]), 0.014, 0.012))
    if s.cap:
        parts.append(_cone(q, np.array([0, 0.05, 0.968]), np.array([0, 0.1, 0.96]), 0.012, 0.008))
    return np.asarray(np.min(parts, axis=0))


def _shirt(q: Floats, s: BodyShape, j: Floats) -> Floats:
    loose = s.shirt_loose_m / s.stature_m
    body = [*_torso(q, s, 1.0)]
    for x in (-1.0, 1.0):
        side = np.array([x * 0.052 * s.hips, 0.0, s.hem - 0.03])
        body.append(_cone(q, np.array([x * 0.05, 0.0, 0.7]), side, 0.058 * s.build, 0.062 * s.build * s.hips))
    hull = np.maximum(_blend(body, 0.012) - loose, np.maximum(s.hem - q[:, 2], q[:, 2] - 0.852))
    parts = [hull]
    for side_index in (0, 1):
        shoulder, elbow = j[L_SHOULDER + side_index], j[L_ELBOW + side_index]
        along = elbow - shoulder
        cut = (q - shoulder) @ along / (along @ along) - s.sleeve
        cone = _cone(q, shoulder, elbow, 0.034 * s.build + loose, 0.034 * s.build + 1.3 * loose)
        parts.append(np.maximum(cone, cut * 0.186))
    return _blend(parts, 0.006)


def _shorts(q: Floats, s: BodyShape, j: Floats) -> Floats:
    loose = s.shorts_loose_m / s.stature_m
    low = 0.53 - 0.245 * s.shorts_length
    if s.skirt:
        top, hem = np.array([0.0, 0.0, 0.56]), np.array([0.0, 0.0, low])
        cone = _cone(q * [0.82, 1.0, 1.0], top, hem, 0.085 * s.build, 0.105 * s.build + loose)
        return np.maximum(cone, np.maximum(low - q[:, 2], q[:, 2] - 0.575))
    parts = [np.maximum(_blend(_torso(q, s, 1.0), 0.012) - 0.011, np.maximum(0.46 - q[:, 2], q[:, 2] - 0.58))]
    for side in (0, 1):
        hip, knee = j[L_HIP + side], j[L_KNEE + side]
        along = knee - hip
        cut = ((q - hip) @ along / (along @ along) - s.shorts_length) * 0.24
        cone = _cone(q, hip, knee, 0.055 * s.build + 0.5 * loose, 0.047 * s.build + 1.2 * loose)
        parts.append(np.maximum(cone, cut))
    return _blend(parts, 0.008)


def _fields(q: Floats, s: BodyShape, j: Floats) -> tuple[Floats, Floats]:
    """Return the distance to the whole surface, and to skin, shirt, shorts, hair apart, shape (n, 4)."""
    skin = _blend([*_torso(q, s, 0.97), *_limbs(q, s, j)], 0.007)
    skin = np.minimum(skin, _blend(_head(q), 0.006))
    apart = np.stack([skin, _shirt(q, s, j), _shorts(q, s, j), _hair(q, s)], axis=1)
    return apart.min(axis=1), apart


def _surface_nets(field: Floats, low: Floats, cell: float) -> tuple[Floats, Ints]:
    """Return vertices and triangles of the zero level; one vertex in each cell that it crosses."""
    corners = [(i, j, k) for i in (0, 1) for j in (0, 1) for k in (0, 1)]
    n = np.array(field.shape) - 1

    def shifted(a: Floats, c: tuple[int, int, int]) -> Floats:
        return a[c[0] : c[0] + n[0], c[1] : c[1] + n[1], c[2] : c[2] + n[2]]

    count = np.sum([shifted(field, c) < 0.0 for c in corners], axis=0)
    mixed = (count > 0) & (count < 8)
    total, hits = np.zeros((*n, 3)), np.zeros(tuple(n))
    for c in corners:
        for axis in range(3):
            if c[axis] == 0:
                other = (c[0] + (axis == 0), c[1] + (axis == 1), c[2] + (axis == 2))
                f, g = shifted(field, c), shifted(field, other)
                crossed = (f < 0.0) != (g < 0.0)
                share = np.where(crossed, f / np.where(crossed, f - g, 1.0), 0.0)
                hits += crossed
                for a in range(3):
                    total[..., a] += crossed * (c[a] + share * (a == axis))
    index = np.full(tuple(n), -1, dtype=np.int32)
    index[mixed] = np.arange(int(mixed.sum()), dtype=np.int32)
    where = np.argwhere(mixed)
    vertices = low + cell * (where + total[mixed] / hits[mixed][:, None])
    return vertices, np.concatenate([_faces(field < 0.0, index, axis) for axis in range(3)])


def _faces(inside: NDArray[np.bool_], index: Ints, axis: int) -> Ints:
    """Return the triangles about every crossed grid edge along an axis, all turned the same way."""
    a = np.moveaxis(inside, axis, 0)
    cells = np.moveaxis(index, axis, 0)
    before, after = a[:-1, 1:-1, 1:-1], a[1:, 1:-1, 1:-1]
    i, j, k = np.nonzero(before != after)
    outwards = before[i, j, k]
    p, q = cells[i, j, k], cells[i, j + 1, k]
    r, s = cells[i, j + 1, k + 1], cells[i, j, k + 1]
    turned = outwards if axis != 1 else ~outwards
    first = np.where(turned[:, None], np.stack([p, q, r], 1), np.stack([p, r, q], 1))
    second = np.where(turned[:, None], np.stack([p, r, s], 1), np.stack([p, s, r], 1))
    return np.asarray(np.concatenate([first, second]), dtype=np.int32)


def _bind(vertices: Floats, j: Floats) -> tuple[Ints, Floats]:
    """Return three bones a vertex and their weights."""
    reach = np.array(
        [0.06, 0.065, 0.045, 0.03, 0.03, 0.02, 0.02, 0.02, 0.02, 0.045, 0.045, 0.025, 0.025, 0.02, 0.02]
    )
    pull = np.empty((len(vertices), len(BONES)))
    for i, (a, b) in enumerate(BONES):
        far = np.maximum(_cone(vertices, j[a], j[b], 0.0, 0.0) - 0.7 * reach[i], 0.004)
        pull[:, i] = far**-4.0
    right = vertices[:, 0] > 0.0
    for i, (a, _) in enumerate(BONES):
        if a >= L_SHOULDER:
            wrong = right if (a - L_SHOULDER) % 2 == 0 else ~right
            pull[wrong, i] *= 1e-6
    order = np.argsort(-pull, axis=1)[:, :3]
    weights = np.take_along_axis(pull, order, axis=1)
    return order.astype(np.int32), weights / weights.sum(axis=1, keepdims=True)


def build_body(shape: BodyShape, cells: int = 74) -> BodyMesh:
    """Return the mesh of a body, `cells` grid cells to its stature (more is finer)."""
    j = rest_joints(1.0, shape.hips)
    cell = 1.03 / cells
    low = np.array([-0.44, -0.16, -0.02])
    counts = np.ceil((np.array([0.44, 0.16, 1.04]) - low) / cell).astype(int)
    grid = np.stack(np.meshgrid(*(np.arange(k) for k in counts), indexing="ij"), axis=-1)
    points = low + cell * grid.reshape(-1, 3)
    field, _ = _fields(points, shape, j)
    vertices, triangles = _surface_nets(field.reshape(tuple(counts)), low, cell)
    _, apart = _fields(vertices, shape, j)
    step = 1e-3
    slopes = [
        _fields(vertices + d, shape, j)[0] - _fields(vertices - d, shape, j)[0] for d in step * np.eye(3)
    ]
    normals = np.stack(slopes, axis=1)
    normals /= np.linalg.norm(normals, axis=1, keepdims=True) + 1e-12
    labels = apart[:, :1] - apart[:, 1:]
    ankle = 0.05 - vertices[:, 2]
    bones, weights = _bind(vertices, j)
    return BodyMesh(
        shape,
        j * shape.stature_m,
        vertices * shape.stature_m,
        normals,
        triangles,
        bones,
        weights,
        np.column_stack([labels, ankle]),
    )
