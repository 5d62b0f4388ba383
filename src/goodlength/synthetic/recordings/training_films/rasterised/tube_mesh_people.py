"""People as tapered tubes around a skeleton, with cloth, hair and racket; looks are ASSUMED."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.training_films.rasterised.court_triangle_rendering import CourtLamps

Picture = NDArray[np.float32]
Points = NDArray[np.float64]
SIDES, TEXELS = 10, 64
ALONG = np.array([0.0, 0.04, 0.3, 0.65, 0.96, 1.0])
SKIN, SHIRT, SHORTS, SHOE, SOCK, HAIR, RACKET = range(7)
# Points beyond the 20 joints: 20 head, 21 middle of shoulders, 22 of hips, 23 and 24 hands, 25 face,
# 26 and 27 neck and crown moved back, where the hair is
# From, to, begin and end along the line, radii from begin to end in m, depth beside width, material
ASSUMED_TUBES: tuple[tuple[int, int, float, float, tuple[float, ...], float, int], ...] = (
    (22, 21, -0.10, 1.14, (0.12, 0.152, 0.146, 0.174, 0.125, 0.055), 0.63, SHIRT),
    (22, 21, -0.20, 0.10, (0.11, 0.150, 0.160, 0.158, 0.152, 0.10), 0.74, SHORTS),
    (21, 2, -0.5, 2.6, (0.07, 0.066, 0.058, 0.054, 0.054, 0.04), 1.0, SKIN),
    (2, 1, 0.16, 1.0, (0.03, 0.055, 0.074, 0.082, 0.058, 0.015), 1.22, SKIN),
    (26, 27, 0.28, 1.05, (0.03, 0.060, 0.076, 0.088, 0.066, 0.015), 1.05, HAIR),
    (4, 6, -0.22, 0.58, (0.03, 0.066, 0.070, 0.068, 0.074, 0.070), 0.9, SHIRT),
    (5, 7, -0.22, 0.58, (0.03, 0.066, 0.070, 0.068, 0.074, 0.070), 0.9, SHIRT),
    (4, 6, 0.4, 1.03, (0.045, 0.048, 0.048, 0.044, 0.042, 0.03), 1.0, SKIN),
    (5, 7, 0.4, 1.03, (0.045, 0.048, 0.048, 0.044, 0.042, 0.03), 1.0, SKIN),
    (6, 8, -0.06, 1.0, (0.03, 0.042, 0.044, 0.035, 0.028, 0.025), 0.9, SKIN),
    (7, 9, -0.06, 1.0, (0.03, 0.042, 0.044, 0.035, 0.028, 0.025), 0.9, SKIN),
    (8, 23, -0.1, 1.1, (0.02, 0.030, 0.042, 0.045, 0.035, 0.015), 0.6, SKIN),
    (9, 24, -0.1, 1.1, (0.02, 0.030, 0.042, 0.045, 0.035, 0.015), 0.6, SKIN),
    (10, 12, -0.15, 0.72, (0.06, 0.098, 0.106, 0.104, 0.108, 0.095), 1.0, SHORTS),
    (11, 13, -0.15, 0.72, (0.06, 0.098, 0.106, 0.104, 0.108, 0.095), 1.0, SHORTS),
    (10, 12, 0.4, 1.03, (0.08, 0.085, 0.078, 0.066, 0.056, 0.045), 1.0, SKIN),
    (11, 13, 0.4, 1.03, (0.08, 0.085, 0.078, 0.066, 0.056, 0.045), 1.0, SKIN),
    (12, 14, -0.05, 0.8, (0.045, 0.056, 0.062, 0.052, 0.040, 0.038), 1.0, SKIN),
    (13, 15, -0.05, 0.8, (0.045, 0.056, 0.062, 0.052, 0.040, 0.038), 1.0, SKIN),
    (12, 14, 0.62, 1.05, (0.045, 0.048, 0.046, 0.042, 0.042, 0.03), 1.0, SOCK),
    (13, 15, 0.62, 1.05, (0.045, 0.048, 0.046, 0.042, 0.042, 0.03), 1.0, SOCK),
    (16, 18, -0.1, 1.12, (0.02, 0.044, 0.048, 0.050, 0.036, 0.01), 0.95, SHOE),
    (17, 19, -0.1, 1.12, (0.02, 0.044, 0.048, 0.050, 0.036, 0.01), 0.95, SHOE),
)
ASSUMED_SKINS = (
    (0.62, 0.40, 0.29),
    (0.48, 0.29, 0.19),
    (0.29, 0.16, 0.10),
    (0.12, 0.065, 0.045),
    (0.55, 0.38, 0.25),
)
ASSUMED_HAIR = (
    (0.02, 0.015, 0.012),
    (0.07, 0.04, 0.02),
    (0.25, 0.16, 0.07),
    (0.3, 0.3, 0.3),
    (0.16, 0.05, 0.02),
)
RING_PIECES, FRAME_M, SHAFT_M = 10, 0.011, 0.30


@dataclass(frozen=True)
class TubeLooks:
    """A person's textures by material, (7, 64, 64, 3), and girth beside the usual."""

    textures: Picture
    girth: float
    long_trousers: bool


def draw_looks(seed: int, clothes: str, played: bool) -> TubeLooks:
    """Return looks from a seed; with clothes "both white" shirt and shorts are white."""
    rng = np.random.default_rng(seed)
    textures = np.ones((7, TEXELS, TEXELS, 3), np.float32)
    textures[SKIN] *= np.array(ASSUMED_SKINS[rng.integers(len(ASSUMED_SKINS))], np.float32)
    textures[HAIR] *= np.array(ASSUMED_HAIR[rng.integers(len(ASSUMED_HAIR))], np.float32)
    for material in (SHIRT, SHORTS):
        white = clothes == "both white" and played
        textures[material] = cloth(
            rng, np.array([0.78, 0.78, 0.80]) * rng.uniform(0.9, 1.1) if white else None
        )
    textures[SHOE] *= rng.choice([0.06, 0.4, 0.75]) * rng.uniform(0.8, 1.2, 3)
    textures[SOCK] *= rng.choice([0.04, 0.7, 0.75])
    textures[RACKET] *= rng.uniform(0.02, 0.7, 3)
    grain = 1 + 0.05 * rng.standard_normal((1, TEXELS, TEXELS, 1)).astype(np.float32)
    return TubeLooks(textures * grain, float(rng.uniform(0.9, 1.14)), not played and bool(rng.random() < 0.8))


def cloth(rng: np.random.Generator, white: Points | None) -> Picture:
    """Return cloth of one colour, striped, banded or blotched, with folds."""
    ground = rng.uniform(0.02, 0.75) * rng.dirichlet([2, 2, 2]) * 3 if white is None else white
    out = np.ones((TEXELS, TEXELS, 3), np.float32) * ground.clip(0.01, 0.85).astype(np.float32)
    pattern = int(rng.integers(5)) if white is None else 0
    other = rng.uniform(0.02, 0.8, 3).astype(np.float32)
    if pattern == 1:
        out[:, :: int(rng.integers(4, 16))] = other
    elif pattern == 2:
        begin = int(rng.integers(8, 48))
        out[begin : begin + int(rng.integers(4, 16))] = other
    elif pattern == 3:
        spots = cv2.resize((rng.random((9, 9)) < 0.25).astype(np.float32), (TEXELS, TEXELS))
        out[spots > 0.5] = other
    folds = cv2.resize(
        rng.uniform(-1, 1, (6, 14)).astype(np.float32), (TEXELS, TEXELS), interpolation=cv2.INTER_CUBIC
    )
    return np.asarray(out * (1 + 0.13 * folds[..., None]), np.float32)


def _skeleton(joints: Points) -> Points:
    """Return the joints with points that the tubes need besides."""
    shoulders, hips = 0.5 * (joints[4] + joints[5]), 0.5 * (joints[10] + joints[11])
    hands = joints[8:10] + 0.45 * (joints[8:10] - joints[6:8])
    lifted = joints.copy()
    lifted[16:20, 2] += 0.045 * np.sign(joints[2, 2])
    head = 0.5 * (joints[0] + joints[1])
    upright = joints[1] - joints[2]
    to_face = joints[0] - joints[2] - 0.55 * upright
    behind = (
        np.array([joints[2], joints[1]]) - 0.2 * to_face + 0.012 * np.sign(joints[2, 2]) * np.array([0, 0, 1])
    )
    return np.concatenate([lifted, [head, shoulders, hips], hands, joints[:1], behind])


FROM, TO = np.array([t[0] for t in ASSUMED_TUBES]), np.array([t[1] for t in ASSUMED_TUBES])
BEGIN, END = np.array([t[2] for t in ASSUMED_TUBES]), np.array([t[3] for t in ASSUMED_TUBES])
RADII, FLATNESS = np.array([t[4] for t in ASSUMED_TUBES]), np.array([t[5] for t in ASSUMED_TUBES])
MATERIALS = np.array([t[6] for t in ASSUMED_TUBES])
LEGS = np.isin(FROM, (10, 11, 12, 13)) & np.isin(MATERIALS, (SKIN, SOCK))


def tube_mesh(
    joints: Points, racket: Points | None, looks: TubeLooks, lamps: CourtLamps
) -> tuple[Points, Points, NDArray[np.int32]]:
    """Return a body's mesh.

    Returns
    -------
    places : ndarray, shape (n, 3)
    surface : ndarray, shape (n, 3)
        Shade, texture column, texture row.
    triangles : ndarray, shape (m, 4)
        Three vertices and the material.
    """
    points = _skeleton(joints)
    begin = points[FROM] + BEGIN[:, None] * (points[TO] - points[FROM])
    end = points[FROM] + END[:, None] * (points[TO] - points[FROM])
    radii = RADII * looks.girth
    materials = MATERIALS.copy()
    if looks.long_trousers:
        materials[LEGS] = SHORTS
        radii[LEGS] *= 1.25
    flat = FLATNESS
    if racket is not None:
        ring_begin, ring_end, ring_radii = _racket_tubes(racket)
        begin, end = np.concatenate([begin, ring_begin]), np.concatenate([end, ring_end])
        radii = np.concatenate([radii, ring_radii])
        flat = np.concatenate([flat, np.ones(len(ring_begin))])
        materials = np.concatenate([materials, np.full(len(ring_begin), RACKET)])
    across = points[5] - points[4]
    return _tubes(begin, end, radii, flat, materials, across, lamps)


def _racket_tubes(racket: Points) -> tuple[Points, Points, Points]:
    """Return handle, shaft and a ring for the head."""
    hand, tip, across = racket
    way = tip - hand
    unit = way / max(float(np.linalg.norm(way)), 1e-6)
    throat = hand + SHAFT_M * unit
    middle, half = 0.5 * (throat + tip), 0.5 * float(np.linalg.norm(tip - throat))
    turns = np.linspace(0, 2 * np.pi, RING_PIECES + 1)
    ring = middle + half * np.cos(turns)[:, None] * unit + 0.105 * np.sin(turns)[:, None] * across
    begin = np.concatenate([[hand - 0.1 * unit, hand], ring[:-1]])
    end = np.concatenate([[hand + 0.07 * unit, throat], ring[1:]])
    thick = np.array([0.017, 0.010, *[FRAME_M] * RING_PIECES])
    return begin, end, np.repeat(thick[:, None], len(ALONG), axis=1)


def _tubes(
    begin: Points,
    end: Points,
    radii: Points,
    flat: Points,
    materials: NDArray[np.int64],
    across: Points,
    lamps: CourtLamps,
) -> tuple[Points, Points, NDArray[np.int32]]:
    line = end - begin
    length = np.linalg.norm(line, axis=1, keepdims=True)
    unit = line / np.maximum(length, 1e-6)
    side = across - (across * unit).sum(1, keepdims=True) * unit
    side = side / np.maximum(np.linalg.norm(side, axis=1, keepdims=True), 1e-6)
    front = np.cross(unit, side)
    turns = np.arange(SIDES) * 2 * np.pi / SIDES
    cos, sin = np.cos(turns)[None, None, :, None], np.sin(turns)[None, None, :, None]
    wide = radii[:, :, None, None]
    middle = begin[:, None] + ALONG[None, :, None] * line[:, None]
    ring = wide * (cos * side[:, None, None] + flat[:, None, None, None] * sin * front[:, None, None])
    places = middle[:, :, None] + ring
    normals = flat[:, None, None, None] * cos * side[:, None, None] + sin * front[:, None, None]
    normals = normals + np.array([-0.7, -0.4, 0, 0, 0.4, 0.7])[None, :, None, None] * unit[:, None, None]
    normals = normals / np.maximum(np.linalg.norm(normals, axis=3, keepdims=True), 1e-6)
    count = len(begin)
    shade = _shade(begin[0], np.broadcast_to(normals, places.shape).reshape(-1, 3), lamps)
    column = np.broadcast_to(np.arange(SIDES) * TEXELS / SIDES, (count, len(ALONG), SIDES))
    row = np.broadcast_to((ALONG * (TEXELS - 1))[None, :, None], column.shape)
    surface = np.column_stack([shade, column.ravel(), row.ravel()])
    triangles = _TRIANGLES[None] + (np.arange(count) * len(ALONG) * SIDES)[:, None, None]
    flat_triangles = triangles.reshape(-1, 3)
    which = np.repeat(materials, len(_TRIANGLES))[:, None]
    return places.reshape(-1, 3), surface, np.concatenate([flat_triangles, which], axis=1).astype(np.int32)


def _shade(middle: Points, normals: Points, lamps: CourtLamps) -> Points:
    """Return the lamps' light on normals near a place; bodies get less from beneath."""
    out = lamps.ambient * (0.8 + 0.3 * normals[:, 2])
    way = lamps.places_m - middle
    squared = (way**2).sum(1)
    strength = lamps.strengths * way[:, 2].clip(0.2) / squared**1.5
    facing = normals @ (way / np.sqrt(squared)[:, None]).T
    return np.asarray(out + (facing.clip(0) * strength).sum(1))


def _tube_triangles() -> NDArray[np.int64]:
    rings, sides = np.meshgrid(np.arange(len(ALONG) - 1), np.arange(SIDES), indexing="ij")
    first = (rings * SIDES + sides).ravel()
    adjacent = (rings * SIDES + (sides + 1) % SIDES).ravel()
    above, opposite = first + SIDES, adjacent + SIDES
    return np.concatenate(
        [np.column_stack([first, adjacent, above]), np.column_stack([adjacent, opposite, above])]
    )


_TRIANGLES = _tube_triangles()
