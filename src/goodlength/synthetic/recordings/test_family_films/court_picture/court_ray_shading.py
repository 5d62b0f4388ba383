"""Compiled: which surface of the court a ray meets, and the light that leaves that place.

The court is a box of six planes; its back wall, and in a court of glass its other walls, let the ray through
into the hall. Lamps light each place by distance and angle; what bounces between walls is one constant.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from goodlength.court.dimensions import BACK_OUT_M, FRONT_OUT_M, LENGTH_M, SIDE_LINE_TALL_M, WIDTH_M
from goodlength.synthetic.recordings.test_family_films.court_picture.court_materials_and_lamps import (
    ADVERT,
    BACK,
    CEILING,
    DIRT,
    FLOOR,
    FRAME,
    FRONT,
    HALL,
    HALL_FLOOR,
    LEFT,
    RIGHT,
    SURROUND,
)

Floats = NDArray[np.float64]
Triple = tuple[float, float, float]
(GLASS_WALLS, BACK_GLASS, BACK_HIGH, COURT_HIGH, GLASS_TOP) = range(5)
FLOOR_RGB, WALL_RGB, CEILING_RGB, HALL_RGB, TINT = 5, 8, 11, 14, 17
(MIRROR, ROUGH, GLASS_MIRROR, PLANK, PLANK_DEEP, MARKS, PANEL, PANEL_DEEP, SEED, HALL_Z, AMBIENT) = range(
    20, 31
)
LINE_RGB, SIDE_LINES, VEIL, OTHER_COURTS, NO_COURT = 31, 34, 36, 37, 38
HALL_SIDE_M, HALL_FRONT_M, HALL_BACK_M, HALL_HIGH_M = 7.0, 6.0, 14.0, 9.5
SLOPE = (FRONT_OUT_M - BACK_OUT_M) / LENGTH_M


@njit(cache=True, error_model="numpy")
def hash01(a: int, b: int, c: int) -> float:  # pragma: no cover - compiled
    """Return a number from 0 to 1 that looks drawn at random, the same for the same integers."""
    h = (a * 374761393 + b * 668265263 + c * 2147483647 + 1013904223) & 0xFFFFFFFF
    h = ((h ^ (h >> 13)) * 1274126177) & 0xFFFFFFFF
    h = ((h ^ (h >> 15)) * 2246822519) & 0xFFFFFFFF
    return ((h ^ (h >> 16)) & 0xFFFFFF) / 16777216.0


@njit(cache=True, error_model="numpy")
def smooth_noise(s: float, t: float, seed: int) -> float:  # pragma: no cover - compiled
    """Return smooth noise from 0 to 1 with a cell of one unit."""
    i, j = math.floor(s), math.floor(t)
    f, g = s - i, t - j
    f, g = f * f * (3.0 - 2.0 * f), g * g * (3.0 - 2.0 * g)
    low = hash01(i, j, seed) * (1.0 - f) + hash01(i + 1, j, seed) * f
    high = hash01(i, j + 1, seed) * (1.0 - f) + hash01(i + 1, j + 1, seed) * f
    return low * (1.0 - g) + high * g


@njit(cache=True, error_model="numpy")
def plane_coordinates(surface: int, x: float, y: float, z: float) -> tuple[float, float]:  # pragma: no cover
    """Return a place in a surface's own two axes."""
    if surface in {FLOOR, CEILING, HALL_FLOOR}:
        return x, y
    if surface in {LEFT, RIGHT}:
        return y, z
    return x, z


@njit(cache=True, error_model="numpy")
def leave_box(
    ox: float, oy: float, oz: float, dx: float, dy: float, dz: float, low: Triple, high: Triple
) -> tuple[float, int]:  # pragma: no cover - compiled
    """Return how far a ray from inside a box goes and the face it meets: 0, 1 x; 2, 3 y; 4, 5 z."""
    best, face = 1e9, 4
    if dx < 0.0 and (low[0] - ox) / dx < best:
        best, face = (low[0] - ox) / dx, 0
    if dx > 0.0 and (high[0] - ox) / dx < best:
        best, face = (high[0] - ox) / dx, 1
    if dy < 0.0 and (low[1] - oy) / dy < best:
        best, face = (low[1] - oy) / dy, 2
    if dy > 0.0 and (high[1] - oy) / dy < best:
        best, face = (high[1] - oy) / dy, 3
    if dz < 0.0 and (low[2] - oz) / dz < best:
        best, face = (low[2] - oz) / dz, 4
    if dz > 0.0 and (high[2] - oz) / dz < best:
        best, face = (high[2] - oz) / dz, 5
    return best, face


@njit(cache=True, error_model="numpy")
def frame_at(rows: Floats, surface: int, s: float, t: float) -> int:  # pragma: no cover - compiled
    """Return the index of an opaque fitting (frame, handle, sticker) on glass at a place, or -1."""
    for i in range(rows.shape[0] - 1, -1, -1):
        if int(rows[i, 0]) == surface and rows[i, 1] <= s <= rows[i, 2] and rows[i, 3] <= t <= rows[i, 4]:
            if rows[i, 8] == FRAME:
                return i
            if rows[i, 8] == ADVERT and surface != FLOOR:
                return i
    return -1


@njit(cache=True, error_model="numpy")
def hall_hit(
    p: Floats, ox: float, oy: float, oz: float, dx: float, dy: float, dz: float
) -> tuple[int, float]:  # pragma: no cover - compiled
    """Return the hall's surface and the distance to it."""
    low = (-HALL_SIDE_M, -HALL_FRONT_M, p[HALL_Z])
    high = (WIDTH_M + HALL_SIDE_M, LENGTH_M + HALL_BACK_M, HALL_HIGH_M)
    far, face = leave_box(ox, oy, oz, dx, dy, dz, low, high)
    return HALL_FLOOR if face == 4 else HALL, far


@njit(cache=True, error_model="numpy")
def through_back(
    p: Floats, rows: Floats, x: float, z: float
) -> tuple[int, float]:  # pragma: no cover - compiled
    """Return what a ray meets in the back wall's plane, -1 where it goes on, and the light let by."""
    if p[NO_COURT] > 0.0:
        return HALL, 1.0
    beyond = x < 0.0 or x > WIDTH_M
    if beyond and p[OTHER_COURTS] > 0.0:
        wide = WIDTH_M + 0.3
        x = x - wide * math.floor(x / wide)
        beyond = x > WIDTH_M
    if beyond:
        return (-1 if p[GLASS_WALLS] > 0.0 else SURROUND), 1.0
    if z > p[COURT_HIGH] and p[GLASS_WALLS] == 0.0:
        return SURROUND, 1.0
    if z < 0.0:
        return SURROUND, 1.0
    if z < p[BACK_HIGH]:
        if p[BACK_GLASS] == 0.0 or frame_at(rows, BACK, x, z) >= 0:
            return BACK, 1.0
        return -1, 0.92
    return -1, 1.0


@njit(cache=True, error_model="numpy")
def inside_hit(
    p: Floats, ox: float, oy: float, oz: float, dx: float, dy: float, dz: float
) -> tuple[int, float]:  # pragma: no cover - compiled
    """Return the court's surface met from inside, and the distance."""
    top = HALL_HIGH_M if p[GLASS_WALLS] > 0.0 else p[COURT_HIGH]
    far, face = leave_box(ox, oy, oz, dx, dy, dz, (0.0, 0.0, 0.0), (WIDTH_M, LENGTH_M, top))
    if face == 0:
        return LEFT, far
    if face == 1:
        return RIGHT, far
    if face == 2:
        return FRONT, far
    if face == 3:
        return BACK, far
    return (FLOOR if face == 4 else CEILING), far


@njit(cache=True, error_model="numpy")
def lamp_light(
    lamps: Floats, x: float, y: float, z: float, nx: float, ny: float, nz: float
) -> Triple:  # pragma: no cover - compiled
    """Return the light of all lamps on a place with a normal; lamps face down."""
    r = g = b = 0.0
    for i in range(lamps.shape[0]):
        lx, ly, lz = lamps[i, 0] - x, lamps[i, 1] - y, lamps[i, 2] - z
        d2 = lx * lx + ly * ly + lz * lz + 0.05
        d = math.sqrt(d2)
        facing = (nx * lx + ny * ly + nz * lz) / d
        if facing > 0.0 and lz > 0.0:
            e = facing * (0.15 + 0.85 * lz / d) / d2
            r, g, b = r + e * lamps[i, 5], g + e * lamps[i, 6], b + e * lamps[i, 7]
    return r, g, b


@njit(cache=True, error_model="numpy")
def corner_shade(surface: int, x: float, y: float, z: float) -> float:  # pragma: no cover
    """Return the share of bounced light left near edges between surfaces."""
    shade = 1.0
    if surface not in {LEFT, RIGHT}:
        shade *= 1.0 - 0.22 * math.exp(-min(x, WIDTH_M - x) / 0.35)
    if surface not in {FRONT, BACK}:
        shade *= 1.0 - 0.22 * math.exp(-min(y, LENGTH_M - y) / 0.35)
    if surface != FLOOR:
        shade *= 1.0 - 0.25 * math.exp(-z / 0.35)
    return shade


@njit(cache=True, error_model="numpy")
def floor_albedo(p: Floats, s: float, t: float) -> Triple:  # pragma: no cover - compiled
    """Return the floor's colour: planks along the court with joints, or one coat of paint, and wear."""
    seed = int(p[SEED])
    gain = 1.0 + 0.12 * (smooth_noise(s * 0.7, t * 0.7, seed + 3) - 0.5)
    if p[PLANK] > 0.0:
        i = math.floor(s / p[PLANK])
        length = 1.1 + 1.4 * hash01(i, 7, seed)
        j = math.floor(t / length + hash01(i, 8, seed))
        gain *= 1.0 + p[PLANK_DEEP] * (hash01(i, j, seed) - 0.5)
        gain *= 1.0 + 0.25 * p[PLANK_DEEP] * (smooth_noise(s * 60.0, t * 2.5, seed + 9) - 0.5)
        if s - i * p[PLANK] < 0.003:
            gain *= 0.75
    scuff = smooth_noise(s * 9.0, t * 14.0, seed + 21) * smooth_noise(s * 2.0, t * 2.0, seed + 22)
    if scuff > 0.62:
        gain *= 1.0 - 0.4 * p[MARKS] * (scuff - 0.62) / 0.38
    return p[FLOOR_RGB] * gain, p[FLOOR_RGB + 1] * gain, p[FLOOR_RGB + 2] * gain


@njit(cache=True, error_model="numpy")
def ball_marks(p: Floats, surface: int, s: float, t: float) -> float:  # pragma: no cover - compiled
    """Return the share of light left by the dark marks that balls leave on walls."""
    cell, left = 0.22, 1.0
    seed = int(p[SEED]) + 101 * surface
    often = p[MARKS] * math.exp(-0.5 * ((t - 1.6) / 1.1) ** 2)
    i0, j0 = math.floor(s / cell), math.floor(t / cell)
    for i in range(i0 - 1, i0 + 2):
        for j in range(j0 - 1, j0 + 2):
            if hash01(i, j, seed) < often:
                ds = s - cell * (i + hash01(i, j, seed + 1))
                dt = t - cell * (j + hash01(i, j, seed + 2))
                size = 0.012 + 0.02 * hash01(i, j, seed + 3)
                near = (ds * ds + dt * dt) / (size * size)
                if near < 4.0:
                    left *= 1.0 - 0.45 * hash01(i, j, seed + 4) * math.exp(-near)
    return left


@njit(cache=True, error_model="numpy")
def wall_albedo(p: Floats, surface: int, s: float, t: float) -> Triple:  # pragma: no cover - compiled
    """Return a wall's colour: plaster with stains, or panels with joints; marks of balls."""
    seed = int(p[SEED]) + 31 * surface
    gain = 1.0 + 0.07 * (smooth_noise(s * 0.5, t * 0.5, seed) - 0.5)
    gain *= 1.0 + 0.03 * (smooth_noise(s * 5.0, t * 5.0, seed + 1) - 0.5)
    if p[PANEL] > 0.0:
        i = math.floor(s / p[PANEL])
        gain *= 1.0 + 0.03 * (hash01(i, math.floor(t / 2.4), seed) - 0.5)
        if s - i * p[PANEL] < 0.008 or t - 2.4 * math.floor(t / 2.4) < 0.008:
            gain *= 1.0 - p[PANEL_DEEP]
    gain *= ball_marks(p, surface, s, t)
    return p[WALL_RGB] * gain, p[WALL_RGB + 1] * gain, p[WALL_RGB + 2] * gain


@njit(cache=True, error_model="numpy")
def painted_albedo(
    p: Floats, rows: Floats, surface: int, s: float, t: float, base: Triple
) -> tuple[Triple, bool]:  # pragma: no cover - compiled
    """Return the colour after everything painted there, and whether something was."""
    colour, found = base, False
    if surface in {LEFT, RIGHT} and p[SIDE_LINES] > 0.0:
        line = FRONT_OUT_M - SLOPE * s
        if line <= t <= line + SIDE_LINE_TALL_M:
            colour, found = (p[LINE_RGB], p[LINE_RGB + 1], p[LINE_RGB + 2]), True
    for i in range(rows.shape[0]):
        row = rows[i]
        if int(row[0]) != surface or not (row[1] <= s <= row[2] and row[3] <= t <= row[4]):
            continue
        if row[8] == DIRT:
            continue
        colour, found = (row[5], row[6], row[7]), True
        if row[8] == ADVERT:
            a, b = (s - row[1]) / (row[2] - row[1]), (t - row[3]) / (row[4] - row[3])
            across = (row[2] - row[1]) / (row[4] - row[3])
            u = math.floor(a * across * 3.2)
            inked = hash01(u, int(row[12]), 5) > 0.25 and 0.2 < b < 0.8 and 0.04 < a < 0.96
            stroke = hash01(math.floor(a * across * 13.0), math.floor(b * 6.0), int(row[12]) + u) > 0.45
            if inked and stroke:
                colour = (row[9], row[10], row[11])
    return colour, found


@njit(cache=True, error_model="numpy")
def hall_colour(p: Floats, x: float, y: float, z: float) -> Triple:  # pragma: no cover - compiled
    """Return the hall's light: rows of dark stands, doors and notices, brighter towards its lamps."""
    seed = int(p[SEED])
    a = x if y < -HALL_FRONT_M + 0.01 or y > LENGTH_M + HALL_BACK_M - 0.01 else y
    block = hash01(math.floor(a / 2.3), math.floor(z / 1.4), seed + 77)
    gain = 0.8 + 0.9 * (smooth_noise(0.4 * a, 0.5 * z, seed + 78) - 0.5) + 0.5 * (block > 0.88)
    if z > 5.5:
        gain *= 0.5
    if z < 3.5:  # rows of a stand, empty seats
        gain *= 0.75 if z * 2.2 - math.floor(z * 2.2) < 0.35 else 1.0
    tone = 0.6 * (smooth_noise(0.3 * a, 0.6 * z, seed + 79) - 0.5)
    return (
        p[HALL_RGB] * gain * (1.0 + 0.5 * tone),
        p[HALL_RGB + 1] * gain,
        p[HALL_RGB + 2] * gain * (1.0 - 0.5 * tone),
    )


@njit(cache=True, error_model="numpy")
def lamp_glow(p: Floats, lamps: Floats, x: float, y: float) -> Triple:  # pragma: no cover - compiled
    """Return the light a ceiling sends: its own colour, or a lamp's face."""
    for i in range(lamps.shape[0]):
        if abs(x - lamps[i, 0]) < lamps[i, 3] and abs(y - lamps[i, 1]) < lamps[i, 4]:
            scale = 0.35 / (lamps[i, 3] * lamps[i, 4])
            return lamps[i, 5] * scale, lamps[i, 6] * scale, lamps[i, 7] * scale
    shade = 0.55 + 0.06 * (hash01(math.floor(x / 0.6), math.floor(y / 0.6), int(p[SEED])) - 0.5)
    return p[CEILING_RGB] * shade, p[CEILING_RGB + 1] * shade, p[CEILING_RGB + 2] * shade


@njit(cache=True, error_model="numpy")
def surface_light(
    p: Floats, rows: Floats, lamps: Floats, surface: int, x: float, y: float, z: float, outside: bool
) -> Triple:  # pragma: no cover - compiled
    """Return the light that leaves a place on a surface towards any side (all surfaces are matt)."""
    if surface == HALL:
        return hall_colour(p, x, y, z)
    if surface == HALL_FLOOR:
        gain = 0.5 + 0.2 * smooth_noise(x * 2.0, y * 2.0, int(p[SEED]) + 50)
        return p[HALL_RGB] * gain, p[HALL_RGB + 1] * gain, p[HALL_RGB + 2] * gain
    if surface == CEILING:
        return lamp_glow(p, lamps, x, y)
    if surface == SURROUND or (surface == BACK and outside):
        gain = 0.28 + 0.1 * smooth_noise(x * 3.0, z * 3.0, int(p[SEED]) + 51)
        base = (p[WALL_RGB] * gain, p[WALL_RGB + 1] * gain, p[WALL_RGB + 2] * gain)
        i = frame_at(rows, BACK, x, z) if surface == BACK else -1
        return base if i < 0 else (0.4 * rows[i, 5], 0.4 * rows[i, 6], 0.4 * rows[i, 7])
    nx = 1.0 if surface == LEFT else (-1.0 if surface == RIGHT else 0.0)
    ny = 1.0 if surface == FRONT else (-1.0 if surface == BACK else 0.0)
    nz = 1.0 if surface == FLOOR else 0.0
    s, t = plane_coordinates(surface, x, y, z)
    base = floor_albedo(p, s, t) if surface == FLOOR else wall_albedo(p, surface, s, t)
    (r, g, b), _ = painted_albedo(p, rows, surface, s, t, base)
    lr, lg, lb = lamp_light(lamps, x, y, z, nx, ny, nz)
    bounced = p[AMBIENT] * corner_shade(surface, x, y, z)
    return r * (lr + bounced), g * (lg + bounced), b * (lb + bounced)
