"""Positions of the two players at any time: walks from place to place without collisions."""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass

import numpy as np
from scipy.ndimage import gaussian_filter1d

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.demo.play.court_camera import Floats
from goodlength.demo.play.rally_simulation import (
    ASSUMED_REACTS_S,
    PlayedRally,
    Spot,
    body_for,
    receiving_spot,
    serving_spot,
    t_spot,
    towards,
)
from goodlength.scoring.scoring_types import Side

APART_M = 0.75
SMOOTH_S = 0.12


@dataclass(frozen=True)
class Walk:
    """Places at times; between two of them a player speeds up and slows down evenly."""

    times: tuple[float, ...]
    spots: tuple[Spot, ...]

    def at(self, time_s: float) -> Spot:
        """Return where the player is."""
        i = bisect_right(self.times, time_s)
        if i == 0:
            return self.spots[0]
        if i == len(self.times):
            return self.spots[-1]
        a, b = self.times[i - 1], self.times[i]
        s = (time_s - a) / (b - a) if b > a else 1.0
        s = s * s * (3 - 2 * s)
        (x0, y0), (x1, y1) = self.spots[i - 1], self.spots[i]
        return (x0 + s * (x1 - x0), y0 + s * (y1 - y0))


class Steps:
    """A walk while it is being put together; times never go back."""

    def __init__(self, time_s: float, spot: Spot) -> None:
        self.knots: list[tuple[float, Spot]] = [(time_s, spot)]

    def stay(self, until_s: float) -> None:
        """Stand where he is."""
        if until_s > self.knots[-1][0]:
            self.knots.append((until_s, self.knots[-1][1]))

    def go(self, arrive_s: float, spot: Spot) -> None:
        """Be somewhere else at a time."""
        self.knots.append((max(arrive_s, self.knots[-1][0] + 1e-3), spot))

    @property
    def spot(self) -> Spot:
        """Where he is last."""
        return self.knots[-1][1]

    def walk(self) -> Walk:
        """Return the finished walk."""
        return Walk(tuple(t for t, _ in self.knots), tuple(s for _, s in self.knots))


def during(rally: PlayedRally, steps: dict[Side, Steps]) -> None:
    """Take both players through a rally, from its serve to its end."""
    server, receiver = rally.plan.server, rally.plan.receiver
    steps[server].go(rally.start_s - 2.3, serving_spot(rally.plan.box))
    steps[receiver].go(rally.start_s - 1.2, receiving_spot(rally.plan.box))
    steps[server].stay(rally.start_s)
    ends = [*(s.time_s for s in rally.strikes[1:]), rally.end_s]
    for strike, until in zip(rally.strikes, ends, strict=True):
        mine, his = steps[strike.by], steps[strike.by.other]
        his.stay(strike.time_s + ASSUMED_REACTS_S)
        mine.stay(strike.time_s + 0.12)
        home = towards(strike.body, t_spot(strike), 2.9 * max(0.0, until - strike.time_s - 0.15))
        pace = math.dist(strike.body, home) / 2.9
        mine.go(strike.time_s + 0.15 + pace, home)
        if until == rally.end_s:
            ball = rally.dead.at(until - strike.time_s)
            his.go(until + 0.1, towards(his.spot, body_for(ball, his.spot), 2.6 * (until - strike.time_s)))
        else:
            nxt = rally.strikes[strike.n]
            his.go(nxt.time_s - 0.03, nxt.body)
            his.stay(nxt.time_s)


def places(
    walks: dict[Side, Walk], strikes: dict[Side, tuple[float, ...]], times: Floats
) -> dict[Side, Floats]:
    """Return floor places of both players at evenly spaced times, shape (n, 2) each, kept apart.

    Where their walks come too near, both step aside on the side on which they pass; the one who is about
    to strike least.
    """
    raw = {side: np.array([walk.at(float(t)) for t in times]) for side, walk in walks.items()}
    a, b = raw[Side.A], raw[Side.B]
    aside = gaussian_filter1d(_aside(b - a), SMOOTH_S / float(times[1] - times[0]), axis=0)
    busy_a, busy_b = (_busy(strikes[side], times) for side in (Side.A, Side.B))
    share_b = np.clip(0.5 + 0.5 * (busy_a - busy_b), 0.0, 1.0)[:, None]
    out = {Side.A: a - aside * (1 - share_b), Side.B: b + aside * share_b}
    for spots in out.values():
        spots[:, 0] = np.clip(spots[:, 0], 0.3, WIDTH_M - 0.3)
        spots[:, 1] = np.clip(spots[:, 1], 0.5, LENGTH_M - 0.25)
    return out


def _aside(gap: Floats) -> Floats:
    """Return what must be added to the gap between two players, shape (n, 2), so that it is wide enough.

    In each meeting they pass on one side, the one on which they are when nearest: a side that changed
    from frame to frame would make them jump.
    """
    far = np.hypot(gap[:, 0], gap[:, 1])
    out = np.zeros_like(gap)
    near = np.flatnonzero(far < APART_M)
    for meeting in np.split(near, np.flatnonzero(np.diff(near) > 1) + 1):
        if meeting.size == 0:
            continue
        k = meeting[int(np.argmin(far[meeting]))]
        side = gap[k] / far[k] if far[k] > 1e-6 else np.array([1.0, 0.0])
        along = gap[meeting] @ side
        across = far[meeting] ** 2 - along**2
        wanted = np.sqrt(np.clip(APART_M**2 - across, 0.0, None))
        out[meeting] = np.clip(wanted - along, 0.0, 2 * APART_M)[:, None] * side
    return out


def _busy(strikes: tuple[float, ...], times: Floats) -> Floats:
    """1 near an own strike, falling to 0 half a second away."""
    if not strikes:
        return np.zeros(len(times))
    near = np.min(np.abs(times[:, None] - np.array(strikes)[None, :]), axis=1)
    return np.asarray(np.clip(1.0 - near / 0.5, 0.0, 1.0))
