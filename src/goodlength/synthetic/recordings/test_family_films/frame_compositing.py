"""Compiled: shadows on the floor, the ball, and a frame's layers brought together into what a sensor gets."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.test_family_films.court_picture.camera_pose_and_lens_projection import (
    project_point,
)
from goodlength.synthetic.recordings.test_family_films.court_picture.court_materials_and_lamps import FLOOR
from goodlength.synthetic.recordings.test_family_films.court_picture.court_ray_shading import lamp_light

Floats = NDArray[np.float64]
Picture = NDArray[np.float32]
SHADOW_CELL_M = 0.05
SHADOW_SHAPE = (int(LENGTH_M / SHADOW_CELL_M) + 2, int(WIDTH_M / SHADOW_CELL_M) + 2)
BALL_RADIUS_M = 0.02


@njit(cache=True, error_model="numpy")
def floor_shadows(
    lamps: Floats, ambient: float, balls: Floats, out: Picture
) -> None:  # pragma: no cover - compiled
    """Fill the share of light left on the floor's cells, from balls (x, y, z, radius) that stand for bodies.

    A lamp of some width throws a soft shadow: its blur grows with the height of what throws it.
    """
    out[:] = 1.0
    hidden = np.zeros(out.shape, np.float32)
    for i in range(lamps.shape[0]):
        hidden[:] = 0.0
        lx, ly, lz = lamps[i, 0], lamps[i, 1], lamps[i, 2]
        half = 0.5 * (lamps[i, 3] + lamps[i, 4])
        low_r, high_r, low_c, high_c = out.shape[0], -1, out.shape[1], -1
        for k in range(balls.shape[0]):
            x, y, z, radius = balls[k]
            if z > lz - 0.5:
                continue
            stretch = lz / (lz - z)
            cx, cy = lx + (x - lx) * stretch, ly + (y - ly) * stretch
            umbra, blur = radius * stretch, half * z / (lz - z)
            sigma = math.sqrt(0.5 * umbra * umbra + 0.3 * blur * blur) + 0.02
            peak = min(1.0, 1.3 * umbra * umbra / (2.0 * sigma * sigma))
            c0, c1 = int((cx - 2.5 * sigma) / SHADOW_CELL_M), int((cx + 2.5 * sigma) / SHADOW_CELL_M) + 1
            r0, r1 = int((cy - 2.5 * sigma) / SHADOW_CELL_M), int((cy + 2.5 * sigma) / SHADOW_CELL_M) + 1
            for r in range(max(0, r0), min(out.shape[0], r1 + 1)):
                for c in range(max(0, c0), min(out.shape[1], c1 + 1)):
                    dx, dy = c * SHADOW_CELL_M - cx, r * SHADOW_CELL_M - cy
                    hidden[r, c] += peak * math.exp(-0.5 * (dx * dx + dy * dy) / (sigma * sigma))
            low_r, high_r = min(low_r, max(0, r0)), max(high_r, min(out.shape[0] - 1, r1))
            low_c, high_c = min(low_c, max(0, c0)), max(high_c, min(out.shape[1] - 1, c1))
        for r in range(low_r, high_r + 1):
            for c in range(low_c, high_c + 1):
                if hidden[r, c] > 1e-3:
                    px, py = c * SHADOW_CELL_M, r * SHADOW_CELL_M
                    own, _, _ = lamp_light(lamps[i : i + 1], px, py, 0.0, 0.0, 0.0, 1.0)
                    every, _, _ = lamp_light(lamps, px, py, 0.0, 0.0, 0.0, 1.0)
                    out[r, c] -= own / (every + ambient + 1e-9) * (1.0 - math.exp(-hidden[r, c]))
    contact_shade(balls, out)


@njit(cache=True, error_model="numpy")
def contact_shade(balls: Floats, out: Picture) -> None:  # pragma: no cover - compiled
    """Darken the floor close under things: they hide much of the light that bounces."""
    for k in range(balls.shape[0]):
        x, y, z, radius = balls[k]
        deep = 0.5 * math.exp(-z / 0.22) * min(1.0, radius / 0.05)
        if deep < 0.01:
            continue
        sigma = radius + 0.5 * z
        c0, c1 = int((x - 2.5 * sigma) / SHADOW_CELL_M), int((x + 2.5 * sigma) / SHADOW_CELL_M) + 1
        r0, r1 = int((y - 2.5 * sigma) / SHADOW_CELL_M), int((y + 2.5 * sigma) / SHADOW_CELL_M) + 1
        for r in range(max(0, r0), min(out.shape[0], r1 + 1)):
            for c in range(max(0, c0), min(out.shape[1], c1 + 1)):
                dx, dy = c * SHADOW_CELL_M - x, r * SHADOW_CELL_M - y
                out[r, c] *= 1.0 - deep * math.exp(-0.5 * (dx * dx + dy * dy) / (sigma * sigma))


@njit(cache=True, error_model="numpy")
def draw_ball(
    c: Floats,
    places: Floats,
    albedo: Floats,
    lamps: Floats,
    ambient: float,
    mirror: bool,
    before: Picture,
    depth: Picture,
    colour: Picture,
    share: float,
    total: Picture,
    box: NDArray[np.int64],
) -> tuple[float, float, float, float]:  # pragma: no cover - compiled
    """Blend the ball's places in one moment into a layer; return light seen, all light, sums of u and v.

    `places` (n, 3) share the moment's weight. Where a body is nearer the ball is hidden; elsewhere it
    replaces what the layer has of this moment.
    """
    high, wide = depth.shape
    seen = whole = sum_u = sum_v = 0.0
    weight = share / places.shape[0]
    for n in range(places.shape[0]):
        x, y, z = places[n]
        r, g, b = lamp_light(lamps, x, y, z, 0.0, 0.0, 1.0)
        u, v, far = project_point(c, x, y, -z if mirror else z)
        if not far > 0.1:
            continue
        edge_u, _, _ = project_point(
            c,
            x + c[3] * BALL_RADIUS_M,
            y + c[4] * BALL_RADIUS_M,
            (-z if mirror else z) + c[5] * BALL_RADIUS_M,
        )
        radius = max(abs(edge_u - u), 0.35)
        whole += weight * math.pi * radius * radius
        for pv in range(math.floor(v - radius - 1), math.ceil(v + radius + 1) + 1):
            for pu in range(math.floor(u - radius - 1), math.ceil(u + radius + 1) + 1):
                if pu < 0 or pv < 0 or pu >= wide or pv >= high:
                    continue
                off = math.sqrt((pu - u) ** 2 + (pv - v) ** 2)
                cover = min(1.0, max(0.0, radius + 0.5 - off))
                if radius < 0.5:
                    cover *= min(1.0, 4.0 * radius * radius)
                if cover <= 0.0 or far > before[pv, pu] or far > depth[pv, pu]:
                    continue
                up = (v - pv) / radius * (-1.0 if mirror else 1.0)
                lit = 0.45 + 0.5 * max(-1.0, min(1.0, up))
                w = weight * cover
                body = 1.0 if depth[pv, pu] < 1e6 else 0.0
                total[pv, pu, 0] += w * (albedo[0] * (ambient + lit * r) - body * colour[pv, pu, 0])
                total[pv, pu, 1] += w * (albedo[1] * (ambient + lit * g) - body * colour[pv, pu, 1])
                total[pv, pu, 2] += w * (albedo[2] * (ambient + lit * b) - body * colour[pv, pu, 2])
                total[pv, pu, 3] += w * (1.0 - body)
                seen += w
                sum_u, sum_v = sum_u + w * pu, sum_v + w * pv
                box[0], box[1] = min(box[0], pu), min(box[1], pv)
                box[2], box[3] = max(box[2], pu), max(box[3], pv)
    return seen, whole, sum_u, sum_v


@njit(cache=True, error_model="numpy", fastmath={"contract", "arcp"})
def compose(
    direct: Picture,
    mirrored: Picture,
    weight: Picture,
    veil: Picture,
    passing: Picture,
    surface: NDArray[np.int8],
    place: Picture,
    shadow: Picture,
    beyond: Picture,
    mirror: Picture,
    inside: Picture,
    front: Picture,
    row_gain: Picture,
    out: Picture,
) -> None:  # pragma: no cover - compiled
    """Fill the light on the sensor: the plate with everything that moves set into it.

    `beyond` is seen through a glass wall, `inside` in the court, `mirror` in floor or glass, `front` stands
    before everything. `row_gain` is the lamps' flicker of each row.
    """
    high, wide = surface.shape
    for v in range(high):
        for u in range(wide):
            left = np.float32(1.0)
            if surface[v, u] == FLOOR:
                s, t = place[v, u, 0] / SHADOW_CELL_M, place[v, u, 1] / SHADOW_CELL_M
                i, j = int(t), int(s)
                f, g = t - i, s - j
                left = (shadow[i, j] * (1 - f) + shadow[i + 1, j] * f) * (1 - g) + (
                    shadow[i, j + 1] * (1 - f) + shadow[i + 1, j + 1] * f
                ) * g
            behind, own = beyond[v, u, 3], inside[v, u, 3]
            shown, before = mirror[v, u, 3], front[v, u, 3]
            for k in range(3):
                light = direct[v, u, k] * left
                if behind > 0.0:
                    light = light * (1.0 - behind) + beyond[v, u, k] * 0.8 * passing[v, u]
                light += mirrored[v, u, k] * (1.0 - shown) + mirror[v, u, k] * weight[v, u]
                if own > 0.0:
                    light = light * (1.0 - own) + inside[v, u, k] * passing[v, u]
                light += veil[v, u]
                if before > 0.0:
                    light = light * (1.0 - before) + front[v, u, k]
                out[v, u, k] = light * row_gain[v]


@njit(cache=True, error_model="numpy", fastmath={"contract", "arcp"})
def expose(
    light: Picture,
    gain: float,
    noise: Picture,
    shot: float,
    read: float,
    corner: float,
    curve: NDArray[np.uint8],
    row0: int,
    column0: int,
    out: NDArray[np.uint8],
) -> None:  # pragma: no cover - compiled
    """Fill the eight-bit picture: darker corners, noise of photons and of reading, tone curve.

    `noise` is a square of standard normal numbers whose side is a power of two, taken from an offset.
    """
    high, wide = light.shape[0], light.shape[1]
    side = noise.shape[0] - 1
    top = curve.shape[0] - 1
    inverse = 4.0 / (wide * wide + high * high)
    for v in range(high):
        for u in range(wide):
            du, dv = u - 0.5 * wide, v - 0.5 * high
            fall = gain * (1.0 - corner * (du * du + dv * dv) * inverse)
            for k in range(3):
                x = light[v, u, k] * fall
                n = noise[(v + row0 + 37 * k) & side, (u + column0 + 91 * k) & side]
                x += n * math.sqrt(shot * shot * max(x, 0.0) + read * read)
                i = int(x * 0.5 * top)
                out[v, u, k] = curve[0 if i < 0 else (top if i > top else i)]
