"""Compiled search of one shot: starts, flights, fit to candidates, and how well a path is supported.

Unknowns of a shot (`UNKNOWNS`): place and velocity at the strike, logarithms of what walls and floor leave of
the speed, shift between sound and picture, and the time in which the picture is read row by row. Arrays of a
rally, the same for all calls:

```
 frames (f, 6)  time s, score of a miss, x and y of both players (NaN: unknown)
 spots (f, 8, 2)  candidates, px      gains (f, 8)  log likelihood ratio of each at no distance (-1e9: none)
 camera (18,)  axes 9, place 3, focal length, k1, middle 2, tangential 2      size (2,)  of the picture
```
"""
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math

import numpy as np

from goodlength.ball.flight.free_flight_kernel import F, N, compiled_apart
from goodlength.ball.flight.path_at_times_kernel import trace
from goodlength.ball.model import flight_array_indices as col

X, Y, Z, VX, VY, VZ, WALL, FLOOR, SHIFT, READOUT, UNKNOWNS = range(11)
CAMERA_UNKNOWNS = 12
NONE = -1e9
MOST = 12  # contacts of a path
HIDDEN_SCORE = -0.4  # a frame without the ball where a body stands before it
BODY_M, BODY_HIGH_M = 0.28, 1.8
BASE_PX = 3.0  # spread for which the gains hold
DRAG_PER_M = 0.0147  # for first guesses only
# Frames, candidates, gains, camera, size of the picture, how far down each frame shows the ball (-0.5 to 0.5;
# written by `score_frames`), the ball's coefficients.
Scene = tuple[F, F, F, F, F, F, F]
# Coefficients of this flight, times, launch, places, contacts, sums of scores, candidates taken.
Work = tuple[F, F, F, F, F, F, N]
STEPS = np.array([0.003, 0.003, 0.003, 0.02, 0.02, 0.02, 0.004, 0.004, 0.001, 0.001])


@compiled_apart
def seen_at(camera: F, x: float, y: float, z: float) -> tuple[float, float]:
    """Return where a place is in the picture; far outside where the lens does not show it."""
    dx, dy, dz = x - camera[9], y - camera[10], z - camera[11]
    depth = camera[6] * dx + camera[7] * dy + camera[8] * dz
    if depth < 0.05:
        return -1e4, -1e4
    a = (camera[0] * dx + camera[1] * dy + camera[2] * dz) / depth
    b = (camera[3] * dx + camera[4] * dy + camera[5] * dz) / depth
    square = a * a + b * b
    if 1.0 + 3.0 * camera[13] * square < 0.02:
        return -1e4, -1e4
    bend = 1.0 + camera[13] * square
    p, q = camera[16], camera[17]
    u = bend * a + 2.0 * p * a * b + q * (square + 2.0 * a * a)
    v = bend * b + p * (square + 2.0 * b * b) + 2.0 * q * a * b
    return camera[14] + camera[12] * u, camera[15] + camera[12] * v


@compiled_apart
def hidden_by(camera: F, frame: F, x: float, y: float, z: float) -> bool:
    """Return whether a player stands between the camera and a place."""
    wx, wy = x - camera[9], y - camera[10]
    flat = wx * wx + wy * wy
    for n in range(2):
        bx, by = frame[2 + 2 * n] - camera[9], frame[3 + 2 * n] - camera[10]
        along = (bx * wx + by * wy) / flat
        if not (0.0 < along < 1.0 - 0.2 / math.sqrt(flat)):
            continue
        off = (bx - along * wx) ** 2 + (by - along * wy) ** 2
        if off < BODY_M**2 and camera[11] + along * (z - camera[11]) < BODY_HIGH_M:
            return True
    return False


@compiled_apart
def workspace(frames: int, columns: int) -> Work:
    """Return empty arrays for flights over so many frames and a place after them."""
    return (
        np.empty(columns),
        np.empty(frames + 1),
        np.zeros(9),
        np.empty((frames + 1, 3)),
        np.empty((MOST, 5)),
        np.empty(frames + 1),
        np.empty(frames, np.int64),
    )


@compiled_apart
def fly_to_frames(th: F, t0: float, begin: int, end: int, after: float, scene: Scene, work: Work) -> int:
    """Write the places of the ball in frames from `begin` to `end`, and contacts; return how many.

    With `after` > 0 one more place is written, so long after the strike.
    """
    frames, rows, c0 = scene[0], scene[5], scene[6]
    c, times, launch, places, contacts = work[0], work[1], work[2], work[3], work[4]
    for k in range(c0.shape[0]):
        c[k] = c0[k]
    wall, floor = math.exp(th[WALL]), math.exp(th[FLOOR])
    c[col.K_FRONT] *= wall
    c[col.K_LEFT] *= wall
    c[col.K_RIGHT] *= wall
    c[col.K_BACK] *= wall
    c[col.K_FLOOR] *= floor
    for k in range(6):
        launch[k] = th[k]
    n = end - begin
    for k in range(n):
        times[k] = max(0.0, frames[begin + k, 0] - t0 - th[SHIFT] + th[READOUT] * rows[begin + k])
    if after > 0.0:
        times[n] = max(after, times[n - 1])
        n += 1
    return trace(launch, c, times[:n], 2, places, contacts)


@compiled_apart
def score_frames(begin: int, end: int, spread: float, scene: Scene, work: Work) -> None:
    """Write sums of scores up to each frame, and which candidate each frame takes (-1: none)."""
    frames, spots, gains, camera, size, rows = scene[0], scene[1], scene[2], scene[3], scene[4], scene[5]
    places, sums, taken = work[3], work[5], work[6]
    total = 0.0
    wide = 2.0 * spread * spread
    less = 2.0 * math.log(spread / BASE_PX)
    for k in range(begin, end):
        n = k - begin
        x, y, z = places[n, 0], places[n, 1], places[n, 2]
        u, v = seen_at(camera, x, y, z)
        taken[n] = -1
        rows[k] = 0.0
        if 0.0 <= u <= size[0] and 0.0 <= v <= size[1]:
            rows[k] = v / size[1] - 0.5
            best = frames[k, 1]
            for j in range(gains.shape[1]):
                if gains[k, j] <= NONE:
                    break
                du, dv = spots[k, j, 0] - u, spots[k, j, 1] - v
                value = gains[k, j] - less - (du * du + dv * dv) / wide
                if value > best:
                    best = value
                    taken[n] = j
            if taken[n] < 0 and best < HIDDEN_SCORE and hidden_by(camera, frames[k], x, y, z):
                best = HIDDEN_SCORE
            total += best
        sums[n] = total


@compiled_apart
def best_prefix(sums: F, begin: int, end: int) -> tuple[float, int]:
    """Return the highest sum from `begin` on, and where."""
    best, where = -1e18, begin
    for k in range(begin, end):
        if sums[k] > best:
            best, where = sums[k], k
    return best, where


@compiled_apart
def first_leg(start: F, spot: F, mode: int, c: F, out: F) -> None:
    """Write velocity, time to the first wall and the share of speed along_share along it.

    `spot` is x, z on the front wall and the time until then; `mode` 0 straight, 1 over the left, 2 over the
    right side wall, 3 over the back wall.
    """
    x0, y0, z0, due = start[0], start[1], start[2], spot[2]
    rise, fall = spot[1] - z0, 0.5 * c[col.GRAVITY]
    if mode == 0:
        length = math.sqrt((spot[0] - x0) ** 2 + y0 * y0 + rise * rise)
        slow = 1.0 + 0.5 * DRAG_PER_M * length
        out[0], out[1], out[2] = (spot[0] - x0) / due * slow, -y0 / due * slow, rise / due * slow + fall * due
        out[3], out[4] = due, 1.0
        return
    if mode == 3:
        near, far, along = c[col.LENGTH] - y0, c[col.LENGTH], spot[0] - x0
    else:
        near = x0 if mode == 1 else c[col.WIDTH] - x0
        far = spot[0] if mode == 1 else c[col.WIDTH] - spot[0]
        along = -y0
    near, far = max(near - c[col.RADIUS], 0.01), max(far - c[col.RADIUS], 0.01)
    keep, along_share = 0.5, 0.62
    into, flat, before, after = 0.0, 0.0, 0.0, 0.0
    for _ in range(3):
        before = due / (1.0 + far / (keep * near))
        after = due - before
        into = near / before
        flat = along / (before + along_share * after)
        keep = c[col.E7] * (max(into, 1.0) / 7.0) ** (-c[col.SPEED_POWER])
        if mode == 3:
            keep *= c[col.K_BACK]
        along_share = min(1.0, max(0.62, 1.0 - c[col.MU_LEFT] * (1.0 + keep) * into / (abs(flat) + 1e-6)))
    slow = 1.0 + 0.5 * DRAG_PER_M * (math.hypot(near, flat * before) + far)
    up = (
        rise + fall * before * before + c[col.GRAVITY] * before * along_share * after + fall * after * after
    ) / (before + along_share * after)
    if mode == 3:
        out[0], out[1] = flat * slow, into * slow
    else:
        out[0], out[1] = (-into if mode == 1 else into) * slow, flat * slow
    out[2], out[3], out[4] = up, before, along_share


@compiled_apart
def leg_score(start: F, spot: F, mode: int, leg: F, t0: float, spread: float, scene: Scene) -> float:
    """Return how well candidates support a guess until the front wall, by straight pieces with gravity."""
    frames, spots, gains, camera, size = scene[0], scene[1], scene[2], scene[3], scene[4]
    total = 0.0
    wide, less = 2.0 * spread * spread, 2.0 * math.log(spread / BASE_PX)
    due, until = spot[2], leg[3]
    turn_x = start[0] + leg[0] * until
    turn_y = start[1] + leg[1] * until
    turn_z = start[2] + leg[2] * until - 4.9 * until * until
    fall_speed = (leg[2] - 9.8 * until) * leg[4]
    for k in range(np.searchsorted(frames[:, 0], t0), frames.shape[0]):
        t = frames[k, 0] - t0
        if t > due:
            break
        if mode == 0:
            share = t / due
            share *= 1.0 + 0.06 * (1.0 - share)
            x, y = start[0] + share * (spot[0] - start[0]), start[1] * (1.0 - share)
            z = start[2] + share * (spot[1] - start[2]) + 4.9 * t * (due - t)
        elif t < until:
            x, y = start[0] + leg[0] * t, start[1] + leg[1] * t
            z = start[2] + leg[2] * t - 4.9 * t * t
        else:
            share, since = (t - until) / (due - until), t - until
            x, y = turn_x + share * (spot[0] - turn_x), turn_y * (1.0 - share)
            z = turn_z + fall_speed * since - 4.9 * since * since
        u, v = seen_at(camera, x, y, z)
        if u < 0.0 or v < 0.0 or u > size[0] or v > size[1]:
            continue
        best = frames[k, 1]
        for j in range(gains.shape[1]):
            if gains[k, j] <= NONE:
                break
            du, dv = spots[k, j, 0] - u, spots[k, j, 1] - v
            best = max(best, gains[k, j] - less - (du * du + dv * dv) / wide)
        total += best
    return total
