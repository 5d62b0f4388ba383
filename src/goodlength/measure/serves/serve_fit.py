"""Fit a serve: starts over all that is possible, then least squares."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from goodlength.court import CourtSurface
from goodlength.footage.camera import CourtPoint
from goodlength.measure.serves.serve_forward_model import (
    CAMERA,
    PLACE,
    SPIN,
    UNKNOWNS,
    VELOCITY,
    WHEN,
    WORLD,
    Floats,
    ServeModel,
)
from goodlength.measure.serves.serve_marks_and_strike_prior import MarkKind

STARTS = 1500
REFINED_STARTS = 4
MAX_ITERATIONS = 40
STEP = 1e-3
MODE_SEPARATION = 1.0  # fits further apart than this (in spreads) are two
RIVAL = 8.0  # chi squared by which a second fit may be worse and still count
_GRAVITY = 9.81  # for starts only
_SLOWED = 0.0147  # share of speed lost a metre, for starts only


@dataclass(frozen=True, eq=False)
class PosteriorMode:
    """A place where least squares came to rest: unknowns, residuals, their slopes there, and the cost."""

    unknowns: Floats
    residuals: Floats
    slopes: Floats
    cost: float


def fit(model: ServeModel, rng: np.random.Generator) -> list[PosteriorMode]:
    """Return all fits that count, the best first; empty where nothing possible comes near the marks."""
    starts = _starts(model, rng)
    cost = (model.residuals(starts) ** 2).sum(axis=1)
    chosen: list[Floats] = []
    for k in np.argsort(cost):
        if all(np.linalg.norm((starts[k] - array)[:9]) > 0.5 for array in chosen):
            chosen.append(starts[k])
        if len(chosen) >= REFINED_STARTS:
            break
    modes: list[PosteriorMode] = []
    for start in chosen:
        mode = _descend(model, start)
        if all(
            np.linalg.norm((mode.unknowns - posterior_mode.unknowns)[:9]) > MODE_SEPARATION
            for posterior_mode in modes
        ):
            modes.append(mode)
        else:
            same = next(
                n
                for n, m in enumerate(modes)
                if np.linalg.norm((mode.unknowns - m.unknowns)[:9]) <= MODE_SEPARATION
            )
            if mode.cost < modes[same].cost:
                modes[same] = mode
    modes.sort(key=lambda mode: mode.cost)
    return [posterior_mode for posterior_mode in modes if posterior_mode.cost <= modes[0].cost + RIVAL]


def _descend(model: ServeModel, start: Floats) -> PosteriorMode:
    """Levenberg-Marquardt with slopes by differences; a step that loses a touch is not taken.

    Four dampings are tried in one batch of flights: scipy's `least_squares` takes 1.1 to 1.4 times as long to
    the same optimum (decision 0014).
    """
    here, damp = start.copy(), 1e-2
    residuals = model.residuals(here[None])[0]
    cost = float(residuals @ residuals)
    for _ in range(MAX_ITERATIONS):
        slopes = _slopes(model, here, residuals)
        normal, gradient = slopes.T @ slopes, slopes.T @ residuals
        tries = [
            here - np.linalg.solve(normal + d * np.diag(np.diag(normal)), gradient)
            for d in (damp * np.array([0.05, 1.0, 20.0, 400.0]))
        ]
        found = model.residuals(np.array(tries))
        costs = (found**2).sum(axis=1)
        best = int(np.argmin(costs))
        if costs[best] >= cost - 1e-9:
            if damp > 1e6:
                break
            damp *= 1e3
            continue
        gained = cost - float(costs[best])
        here, residuals, cost = tries[best], found[best], float(costs[best])
        damp = max(1e-7, damp * [0.05, 1.0, 20.0, 400.0][best])
        if gained < 1e-4 * (1.0 + cost) * 0.01:
            break
    return PosteriorMode(here, residuals, _slopes(model, here, residuals), cost)


def _slopes(model: ServeModel, here: Floats, residuals: Floats) -> Floats:
    """Slopes of the residuals, shape (m, 33), from both sides; from one where the other loses a touch."""
    step = STEP * np.eye(UNKNOWNS)
    around = model.residuals(np.vstack([here + step, here - step]))
    ahead, behind = around[:UNKNOWNS], around[UNKNOWNS:]
    both = (ahead - behind) / (2.0 * STEP)
    jump = 30.0
    up, down = np.abs(ahead - residuals) > jump, np.abs(behind - residuals) > jump
    both = np.where(up & ~down, (residuals - behind) / STEP, both)
    both = np.where(down & ~up, (ahead - residuals) / STEP, both)
    return np.asarray(np.where(up & down, 0.0, both).T)


def _starts(model: ServeModel, rng: np.random.Generator) -> Floats:
    """Return launches from the box toward the marked spot on the front wall in the marked time, and some
    others.
    """
    n = STARTS
    z = rng.normal(size=(n, UNKNOWNS))
    z[:, SPIN] *= 0.2
    z[:, WORLD] *= 0.5
    z[:, CAMERA] = 0.0
    z[:, WHEN] *= 0.1
    by = {mark.what: mark for mark in model.marks}
    place = model.middle[PLACE] + z[:, PLACE] * model.spread[PLACE]
    place = np.clip(place, 0.1, [6.3, 9.6, 2.8])
    if MarkKind.STRIKE in by:
        place = _on_the_ray(model, by[MarkKind.STRIKE].u, by[MarkKind.STRIKE].v, place)
    elif model.feet is not None:
        place[:, :2] = model.feet[0] + 0.4 * rng.normal(size=(n, 2))
    front = by[MarkKind.FRONT]
    spot = model.camera.place(CourtSurface.FRONT, front.u, front.v)
    x, up = (spot.x_m, spot.z_m) if isinstance(spot, CourtPoint) else (3.2, 3.0)
    due = front.at_s - (model.middle[WHEN] + z[:, WHEN] * model.spread[WHEN])
    timed = MarkKind.STRIKE in by or MarkKind.FEET in by
    unsure = front.frame_s * (0.3 if MarkKind.STRIKE in by else 0.6)
    due = np.clip(due + unsure * rng.normal(size=n), 0.08, 1.2)
    if not timed:
        due = rng.uniform(0.15, 0.75, n)
        z[:, WHEN] = (front.at_s - due - model.middle[WHEN]) / model.spread[WHEN]
    way = np.column_stack([x - place[:, 0], 0.02 - place[:, 1], up - place[:, 2]])
    slow = 1.0 + 0.5 * _SLOWED * np.linalg.norm(way, axis=1)
    velocity = way / due[:, None] * slow[:, None]
    velocity[:, 2] += 0.5 * _GRAVITY * due
    z[:, PLACE] = (place - model.middle[PLACE]) / model.spread[PLACE]
    z[:, VELOCITY] = (velocity - model.middle[VELOCITY]) / model.spread[VELOCITY]
    return np.asarray(z)


def _on_the_ray(model: ServeModel, u: float, v: float, place: Floats) -> Floats:
    """Return places at the drawn depths of the court, on the ray through a picture point."""
    lens = model.camera.lens
    ray = lens.rays(np.array([[u, v]]))[0]
    if not np.isfinite(ray).all() or abs(ray[1]) < 1e-6:
        return place
    along = (place[:, 1] - lens.place_m[1]) / ray[1]
    return np.asarray(np.clip(lens.place_m + along[:, None] * ray, 0.1, [6.3, 9.6, 3.0]))
