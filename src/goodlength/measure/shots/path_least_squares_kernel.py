"""Compiled damped least squares of one path, and the list of the best paths."""
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math

import numpy as np

from goodlength.ball.flight.free_flight_kernel import F, compiled_apart
from goodlength.ball.model import flight_array_indices as col
from goodlength.measure.shots.shot_flight_scoring_kernel import (
    NONE,
    STEPS,
    UNKNOWNS,
    VX,
    VY,
    VZ,
    Scene,
    Work,
    X,
    Y,
    Z,
    fly_to_frames,
    score_frames,
    seen_at,
)

FAR = 9.0  # squared spreads from which on a candidate counts less (Cauchy)
JUMP_PX = 60.0  # a place that moves further by one small step lies across a contact: no slope
FASTEST_M_S = 90.0
TRIES = 4


@compiled_apart
def solve(a: F, b: F, n: int) -> bool:
    """Solve a positive system in place by Cholesky; False where it is not positive."""
    for i in range(n):
        for j in range(i + 1):
            value = a[i, j]
            for k in range(j):
                value -= a[i, k] * a[j, k]
            if i == j:
                if value <= 0.0:
                    return False
                a[i, i] = math.sqrt(value)
            else:
                a[i, j] = value / a[j, j]
    for i in range(n):
        value = b[i]
        for k in range(i):
            value -= a[i, k] * b[k]
        b[i] = value / a[i, i]
    for i in range(n - 1, -1, -1):
        value = b[i]
        for k in range(i + 1, n):
            value -= a[k, i] * b[k]
        b[i] = value / a[i, i]
    return True


@compiled_apart
def keep_in_court(th: F, c: F) -> None:
    """Move a strike into the court, and its speed below the fastest."""
    th[X] = min(max(th[X], 0.03), c[col.WIDTH] - 0.03)
    th[Y] = min(max(th[Y], 0.05), c[col.LENGTH] - 0.03)
    th[Z] = min(max(th[Z], 0.025), 4.0)
    speed = math.sqrt(th[VX] ** 2 + th[VY] ** 2 + th[VZ] ** 2)
    if speed > FASTEST_M_S:
        for k in range(VX, VZ + 1):
            th[k] *= FASTEST_M_S / speed


@compiled_apart
def prior_cost(th: F, prior: F) -> float:
    """Return the squared distance of unknowns from what is known beforehand."""
    total = 0.0
    for a in range(UNKNOWNS):
        total += ((th[a] - prior[0, a]) / prior[1, a]) ** 2
    return total


@compiled_apart
def path_cost(
    th: F, begin: int, end: int, spread: float, prior: F, goal: F, scene: Scene, work: Work, places: F
) -> float:
    """Return the cost of a path, given its places and the candidates taken."""
    spots, camera, taken = scene[1], scene[3], work[6]
    total = prior_cost(th, prior)
    for k in range(end - begin):
        j = taken[k]
        if j >= 0:
            u, v = seen_at(camera, places[k, 0], places[k, 1], places[k, 2])
            du, dv = u - spots[begin + k, j, 0], v - spots[begin + k, j, 1]
            total += FAR * math.log(1.0 + (du * du + dv * dv) / (FAR * spread * spread))
    if goal[1, 0] > 0.0:
        for i in range(3):
            total += ((places[end - begin, i] - goal[0, i]) / goal[1, i]) ** 2
    return total


@compiled_apart
def add_frames(
    begin: int, end: int, spread: float, scene: Scene, work: Work, moved: F, normal: F, gradient: F
) -> None:
    """Add what the candidates say to normal matrix and gradient."""
    spots, camera, places, taken = scene[1], scene[3], work[3], work[6]
    ju, jv = np.empty(UNKNOWNS), np.empty(UNKNOWNS)
    for k in range(end - begin):
        j = taken[k]
        if j < 0:
            continue
        u, v = seen_at(camera, places[k, 0], places[k, 1], places[k, 2])
        du, dv = u - spots[begin + k, j, 0], v - spots[begin + k, j, 1]
        weight = 1.0 / (1.0 + (du * du + dv * dv) / (FAR * spread * spread)) / (spread * spread)
        smooth = True
        for a in range(UNKNOWNS):
            ua, va = seen_at(camera, moved[a, k, 0], moved[a, k, 1], moved[a, k, 2])
            ju[a], jv[a] = (ua - u) / STEPS[a], (va - v) / STEPS[a]
            smooth &= (abs(ua - u) < JUMP_PX) & (abs(va - v) < JUMP_PX)
        if not smooth:
            continue
        for a in range(UNKNOWNS):
            gradient[a] += weight * (ju[a] * du + jv[a] * dv)
            for b in range(a + 1):
                normal[a, b] += weight * (ju[a] * ju[b] + jv[a] * jv[b])


@compiled_apart
def add_goal(k: int, goal: F, places: F, moved: F, normal: F, gradient: F) -> None:
    """Add what the next strike says to normal matrix and gradient; its place is the one numbered `k`."""
    slope = np.empty(UNKNOWNS)
    for i in range(3):
        off = (places[k, i] - goal[0, i]) / goal[1, i]
        for a in range(UNKNOWNS):
            slope[a] = (moved[a, k, i] - places[k, i]) / STEPS[a] / goal[1, i]
        for a in range(UNKNOWNS):
            gradient[a] += slope[a] * off
            for b in range(a + 1):
                normal[a, b] += slope[a] * slope[b]


@compiled_apart
def fly_around(
    th: F, t0: float, begin: int, end: int, after: float, scene: Scene, work: Work, moved: F
) -> None:
    """Write the places of paths a small step of each unknown away."""
    other = np.empty(UNKNOWNS)
    own = (work[0], work[1], work[2], moved[0], work[4], work[5], work[6])
    for a in range(UNKNOWNS):
        for b in range(UNKNOWNS):
            other[b] = th[b]
        other[a] += STEPS[a]
        own = (work[0], work[1], work[2], moved[a], work[4], work[5], work[6])
        fly_to_frames(other, t0, begin, end, after, scene, own)


@compiled_apart
def step_of(normal: F, gradient: F, damp: float, step: F) -> bool:
    """Write the damped step; False where there is none."""
    left = np.empty((UNKNOWNS, UNKNOWNS))
    for a in range(UNKNOWNS):
        step[a] = -gradient[a]
        for b in range(a + 1):
            left[a, b] = normal[a, b]
        left[a, a] += damp * normal[a, a]
    return solve(left, step, UNKNOWNS)


@compiled_apart
def fit_path(
    th: F,
    t0: float,
    begin: int,
    end: int,
    spread: float,
    turns: int,
    prior: F,
    goal: F,
    scene: Scene,
    work: Work,
) -> float:
    """Move unknowns by damped least squares to the candidates of frames `begin` to `end`; return the cost.

    `prior` (2, 10) holds means and spreads; `goal` (3, 3) place, spread and (time, -, -) of where the ball is
    struck next, spread 0 where that is unknown. Candidates are taken anew each turn; far ones count less.
    """
    moved = np.empty((UNKNOWNS, end - begin + 1, 3))
    normal, gradient = np.empty((UNKNOWNS, UNKNOWNS)), np.empty(UNKNOWNS)
    step, other = np.empty(UNKNOWNS), np.empty(UNKNOWNS)
    after = goal[2, 0] - t0 if goal[1, 0] > 0.0 else 0.0
    trial = (work[0], work[1], work[2], moved[0], work[4], work[5], work[6])
    damp, cost = 1e-2, 0.0
    for _ in range(turns):
        fly_to_frames(th, t0, begin, end, after, scene, work)
        score_frames(begin, end, spread, scene, work)
        fly_around(th, t0, begin, end, after, scene, work, moved)
        for a in range(UNKNOWNS):
            gradient[a] = (th[a] - prior[0, a]) / prior[1, a] ** 2
            normal[a, :] = 0.0
            normal[a, a] = 1.0 / prior[1, a] ** 2
        add_frames(begin, end, spread, scene, work, moved, normal, gradient)
        if after > 0.0:
            add_goal(end - begin, goal, work[3], moved, normal, gradient)
        cost = path_cost(th, begin, end, spread, prior, goal, scene, work, work[3])
        next_cost = cost
        for _ in range(TRIES):
            if step_of(normal, gradient, damp, step):
                for a in range(UNKNOWNS):
                    other[a] = th[a] + step[a]
                keep_in_court(other, scene[6])
                fly_to_frames(other, t0, begin, end, after, scene, trial)
                next_cost = path_cost(other, begin, end, spread, prior, goal, scene, work, moved[0])
                if next_cost < cost:
                    break
            damp *= 10.0
        if next_cost >= cost:
            break
        for a in range(UNKNOWNS):
            th[a] = other[a]
        damp = max(1e-6, damp * 0.2)
        if cost - next_cost < 1e-3 * (1.0 + cost):
            break
    return cost


@compiled_apart
def insert(found: F, scores: F, th: F, score: float) -> None:
    """Keep a path among the best; of two that are alike the better one."""
    for k in range(found.shape[0]):
        if scores[k] <= NONE:
            continue
        off = 0.0
        for a in range(3):
            off += ((found[k, a] - th[a]) / 0.3) ** 2 + ((found[k, a + 3] - th[a + 3]) / 1.5) ** 2
        if off < 1.0:
            if score > scores[k]:
                scores[k] = score
                for a in range(UNKNOWNS):
                    found[k, a] = th[a]
            return
    worst = 0
    for k in range(found.shape[0]):
        if scores[k] < scores[worst]:
            worst = k
    if score > scores[worst]:
        scores[worst] = score
        for a in range(UNKNOWNS):
            found[worst, a] = th[a]
