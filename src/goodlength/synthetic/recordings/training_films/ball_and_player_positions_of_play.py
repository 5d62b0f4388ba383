"""What is seen of a played session: where the ball and both players are at any time.

The contacts come from a session of a family's sound (or of a recording with sound), so that the picture
shows what is heard; places, which the sound does not fix, are drawn here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator
from scipy.ndimage import gaussian_filter1d

from goodlength.court import dimensions as court
from goodlength.synthetic.recordings.recording_types import Activity, Surface, WorldContact, WorldSpan

Points = NDArray[np.float64]
GRID_HZ = 100
BALL_RADIUS_M = 0.02
LONGEST_FLIGHT_S = 1.9
ASSUMED_RUN_M_S, ASSUMED_BALL_M_S = 3.4, 42.0  # most, from strike to strike and from racket to wall
ASSUMED_AIR_LOSS_M = 0.016  # speed lost to the air for each metre
GRAVITY_M_S2 = 9.81
BALL_SURFACES = (Surface.RACKET, Surface.FRONT_WALL, Surface.OTHER_WALL, Surface.FLOOR, Surface.TIN)


@dataclass(frozen=True)
class SeenStrike:
    """A strike: when, by whom, where the ball is met, and where the striker stands."""

    time_s: float
    striker: int
    ball_m: Points
    body_m: Points


@dataclass(frozen=True)
class SeenPlay:
    """Places over a film: both players' on a grid of `GRID_HZ`, and the ball's impacts.

    `paths_m` has shape (2, n, 2) and starts at time 0. `impacts_m` of shape (m, 4) holds time and place.
    """

    paths_m: Points
    strikes: tuple[SeenStrike, ...]
    impacts_m: Points
    contacts: tuple[WorldContact, ...]
    spans: tuple[WorldSpan, ...]

    def ball_at(self, times_s: Points) -> Points:
        """Return the ball's place at times, shape (n, 3); NaN while it is in a hand or a pocket."""
        out = np.full((len(times_s), 3), np.nan)
        impacts = self.impacts_m
        if len(impacts) < 2:
            return out
        at = np.searchsorted(impacts[:, 0], times_s, "right") - 1
        known = (at >= 0) & (at < len(impacts) - 1)
        begin, end = impacts[at.clip(0, len(impacts) - 2)], impacts[at.clip(0, len(impacts) - 2) + 1]
        lasts, since = end[:, 0] - begin[:, 0], times_s - begin[:, 0]
        known &= lasts < LONGEST_FLIGHT_S
        share = since / np.maximum(lasts, 1e-6)
        loss = np.maximum(ASSUMED_AIR_LOSS_M * np.linalg.norm(end[:, 1:3] - begin[:, 1:3], axis=1), 1e-6)
        share_slowed = (1 - np.exp(-loss * share)) / (1 - np.exp(-loss))
        flat = begin[:, 1:3] + share_slowed[:, None] * (end[:, 1:3] - begin[:, 1:3])
        height = begin[:, 3] + share * (end[:, 3] - begin[:, 3])
        height = height + 0.5 * GRAVITY_M_S2 * since * (lasts - since)
        out[known] = np.column_stack([flat, height])[known]
        return out


def seen_play(
    rng: np.random.Generator,
    contacts: Sequence[WorldContact],
    spans: Sequence[WorldSpan],
    seconds: float,
) -> SeenPlay:
    """Return places for the contacts of a session.

    Parameters
    ----------
    rng : numpy Generator
    contacts : sequence of WorldContact
        Contacts of any court; the neighbours' are left out.
    spans : sequence of WorldSpan
    seconds : float
        How much is shown, from time 0.
    """
    shown = sorted(
        (c for c in contacts if c.own_court and c.surface in BALL_SURFACES and 0 <= c.time_s < seconds + 3),
        key=lambda c: c.time_s,
    )
    strikes = _strikes(rng, shown, spans)
    impacts = _impacts(rng, shown, strikes)
    return SeenPlay(_paths(rng, strikes, seconds), tuple(strikes), impacts, tuple(shown), tuple(spans))


def _is_warm_up(spans: Sequence[WorldSpan], time_s: float) -> bool:
    return any(s.activity is not Activity.RALLY and s.start_s <= time_s <= s.end_s for s in spans)


def _strikes(
    rng: np.random.Generator, shown: list[WorldContact], spans: Sequence[WorldSpan]
) -> list[SeenStrike]:
    """Return strikes with places that can be run to and from which the ball can reach the wall in time."""
    out: list[SeenStrike] = []
    last = {0: (-5.0, np.array([1.7, 6.5])), 1: (-5.0, np.array([4.7, 6.5]))}
    for i, contact in enumerate(shown):
        if contact.surface is not Surface.RACKET:
            continue
        who = contact.striker or 0
        before_s, before = last[who]
        wall = next((c.time_s for c in shown[i + 1 :] if c.surface in (Surface.FRONT_WALL, Surface.TIN)), 1e9)
        wanted = np.array([rng.uniform(0.9, 5.5), np.clip(rng.normal(6.2, 2.0), 1.2, 9.0)])
        if _is_warm_up(spans, contact.time_s):
            wanted[0] = rng.uniform(0.9, 2.4) if who == 0 else rng.uniform(4.0, 5.5)
        wanted[1] = min(wanted[1], max(0.8, ASSUMED_BALL_M_S * (wall - contact.time_s)))
        step = wanted - before
        reach = ASSUMED_RUN_M_S * (contact.time_s - before_s)
        body = before + step * min(1.0, reach / max(float(np.linalg.norm(step)), 1e-6))
        aside = 1 if body[0] < 3.2 else -1
        aside = -aside if rng.random() < 0.75 else aside  # mostly struck on the side of the nearer wall
        ball = body + np.array([aside * rng.uniform(0.45, 0.95), -rng.uniform(0.15, 0.6)])
        ball = np.clip(ball, [0.12, 0.2], [court.WIDTH_M - 0.12, court.LENGTH_M - 0.15])
        place = np.array([*ball, np.clip(rng.gamma(6, 0.16), 0.25, 2.2)])
        out.append(SeenStrike(contact.time_s, who, place, body))
        last[who] = (contact.time_s, body)
    return out


def _impacts(rng: np.random.Generator, shown: list[WorldContact], strikes: list[SeenStrike]) -> Points:
    """Return time and place of every impact; those between strike and wall lie on the way."""
    by_time = {strike.time_s: strike for strike in strikes}
    out = np.full((len(shown), 4), np.nan)
    for i, contact in enumerate(shown):
        out[i, 0] = contact.time_s
        if contact.surface is Surface.RACKET:
            out[i, 1:] = by_time[contact.time_s].ball_m
        elif contact.surface is Surface.FRONT_WALL:
            out[i, 1:] = rng.uniform(0.3, 6.1), BALL_RADIUS_M, np.clip(rng.gamma(5, 0.35), 0.55, 4.4)
        elif contact.surface is Surface.TIN:
            out[i, 1:] = rng.uniform(0.3, 6.1), BALL_RADIUS_M, rng.uniform(0.08, 0.42)
    anchors = np.flatnonzero(~np.isnan(out[:, 1]))
    if len(anchors) == 0:
        return np.empty((0, 4))
    for i in np.flatnonzero(np.isnan(out[:, 1])).tolist():
        after = anchors[np.searchsorted(anchors, i) % len(anchors)]
        before = anchors[np.searchsorted(anchors, i) - 1]
        share = (out[i, 0] - out[before, 0]) / max(out[after, 0] - out[before, 0], 1e-3)
        share = share if 0 < share < 1 and out[after, 0] - out[before, 0] < 3 else rng.uniform(0.4, 0.9)
        place = out[before, 1:] + share * (out[after, 1:] - out[before, 1:]) + rng.normal(0, 0.15, 3)
        out[i, 1:] = _on_surface(rng, shown[i].surface, place)
    return out


def _on_surface(rng: np.random.Generator, surface: Surface, place: Points) -> Points:
    """Return the place moved onto the surface that was touched."""
    low = np.full(3, BALL_RADIUS_M)
    place = np.clip(place, low, [court.WIDTH_M - 0.02, court.LENGTH_M - 0.02, 5.0])
    if surface is Surface.FLOOR:
        place[2] = BALL_RADIUS_M
        return place
    place[2] = max(place[2], rng.uniform(0.2, 1.6))
    if place[1] > 8.3 and rng.random() < 0.7:
        place[1] = court.LENGTH_M - BALL_RADIUS_M
    else:
        place[0] = BALL_RADIUS_M if place[0] < court.MIDDLE_M else court.WIDTH_M - BALL_RADIUS_M
    return place


def _paths(rng: np.random.Generator, strikes: list[SeenStrike], seconds: float) -> Points:
    """Return both players' paths: to each strike, towards the T between, wandering when nothing happens."""
    grid = np.arange(round((seconds + 2) * GRID_HZ)) / GRID_HZ
    paths = np.empty((2, len(grid), 2))
    for who in (0, 1):
        knots = [(-1.0, np.array([1.6 if who == 0 else 4.8, 6.6]))]
        own = [s for s in strikes if s.striker == who]
        for strike in own:
            before_s, before = knots[-1]
            gap = strike.time_s - before_s
            if gap > 1.0:
                rest = np.array([3.2 + (0.5 if who else -0.5), 6.0]) + rng.normal(0, 0.35, 2)
                pull = min(1.0, 0.45 * gap / 1.3)
                knots.append((before_s + 0.5 * gap, before + pull * (rest - before)))
            if strike.time_s > knots[-1][0] + 0.05:
                knots.append((strike.time_s, strike.body_m))
        while knots[-1][0] < grid[-1] + 1:
            step = rng.normal(0, 0.9, 2)
            place = np.clip(knots[-1][1] + step, [0.8, 2.5], [5.6, 9.0])
            knots.append((knots[-1][0] + rng.uniform(1.2, 3.0), place))
        times = np.array([knot[0] for knot in knots])
        paths[who] = PchipInterpolator(times, np.array([knot[1] for knot in knots]))(grid)
    return _separate(paths)


def _separate(paths: Points) -> Points:
    """Return the paths with players at least about 0.8 m from each other, smooth, and inside the walls."""
    away = paths[1] - paths[0]
    distance = np.linalg.norm(away, axis=1, keepdims=True)
    unit = np.where(distance > 0.05, away / np.maximum(distance, 0.05), np.array([1.0, 0.0]))
    push = gaussian_filter1d(np.maximum(0.95 - distance, 0) / 2 * unit, 18, axis=0)
    paths = np.stack([paths[0] - push, paths[1] + push])
    paths = gaussian_filter1d(paths, 6, axis=1)
    clipped: Points = np.clip(paths, [0.4, 0.6], [court.WIDTH_M - 0.4, court.LENGTH_M - 0.35])
    return clipped
