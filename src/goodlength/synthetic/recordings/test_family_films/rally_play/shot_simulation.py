"""Simulate shots: kind, place and speed, and when the next player can reach the ball.

Speeds, heights and shares are ASSUMED from watching club and good play; no table of them was found.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.recording_types import Surface
from goodlength.synthetic.recordings.test_family_films.rally_play.ball_flight import (
    GRAVITY_M_S2,
    Arc,
    BallInFlight,
    Point,
    first_fault,
    fly,
)

if TYPE_CHECKING:
    import numpy as np


class ShotKind(StrEnum):
    """Kinds of shot; a volley is any of them hit before the bounce."""

    SERVE = "serve"
    SOFT_SERVE = "soft serve"
    DRIVE = "drive"
    CROSS = "cross court"
    LOB = "lob"
    DROP = "drop"
    BOAST = "boast"
    KILL = "kill"
    FEED = "feed"


# ASSUMED speed in m/s (low, high) and height on the front wall in m (low, high), before the player's pace.
_SPEED = {
    ShotKind.SERVE: (20.0, 34.0),
    ShotKind.SOFT_SERVE: (12.0, 17.0),
    ShotKind.DRIVE: (22.0, 42.0),
    ShotKind.CROSS: (22.0, 42.0),
    ShotKind.LOB: (13.0, 18.5),
    ShotKind.DROP: (7.5, 13.0),
    ShotKind.BOAST: (19.0, 32.0),
    ShotKind.KILL: (28.0, 50.0),
    ShotKind.FEED: (14.0, 27.0),
}
_HEIGHT = {
    ShotKind.SERVE: (2.1, 3.2),
    ShotKind.SOFT_SERVE: (3.2, 4.35),
    ShotKind.DRIVE: (0.9, 2.5),
    ShotKind.CROSS: (1.1, 2.8),
    ShotKind.LOB: (3.1, 4.3),
    ShotKind.DROP: (0.56, 0.85),
    ShotKind.BOAST: (0.7, 1.6),
    ShotKind.KILL: (0.52, 0.72),
    ShotKind.FEED: (1.3, 3.2),
}
_IN_PLAY = (ShotKind.DRIVE, ShotKind.CROSS, ShotKind.LOB, ShotKind.DROP, ShotKind.BOAST, ShotKind.KILL)


@dataclass(frozen=True)
class ShotMaker:
    """One player's habits: pace, tempo, taste in shots, feet, all drawn anew for a recording."""

    pace: float
    early: float
    volleys: float
    soft_serves: float
    run_m_s: float
    step_hz: float
    weight: float
    bounces: float
    taste: tuple[float, ...] = field(default=(0.42, 0.2, 0.1, 0.13, 0.08, 0.07))


def draw_player(rng: np.random.Generator, pace: tuple[float, float], soft: float = 1.0) -> ShotMaker:
    """Return a player; `soft` above 1 gives more drops, lobs and soft serves."""
    taste = rng.dirichlet([8.0, 4.0, 2.0 * soft, 2.4 * soft, 1.6, 1.2 / soft])
    return ShotMaker(
        pace=float(rng.uniform(*pace)),
        early=float(rng.uniform(1.4, 3.6)),
        volleys=float(rng.uniform(0.05, 0.4)),
        soft_serves=float(min(0.95, rng.beta(1.2, 1.6) * soft)),
        run_m_s=float(rng.uniform(3.4, 5.4)),
        step_hz=float(rng.uniform(1.9, 3.2)),
        weight=float(rng.uniform(0.4, 1.6)),
        bounces=float(rng.uniform(0.2, 5.0)),
        taste=tuple(float(t) for t in taste),
    )


def choose_kind(rng: np.random.Generator, player: ShotMaker, place: Point) -> ShotKind:
    """Return the kind of the next shot in play, by taste and by how deep the ball is."""
    deep = place[1] / LENGTH_M
    bend = (1.0, 1.0, 1.2, 1.6 - deep, 0.4 + 1.2 * deep, 1.6 - deep)
    weights = [t * b for t, b in zip(player.taste, bend, strict=True)]
    total = sum(weights)
    return _IN_PLAY[int(rng.choice(len(_IN_PLAY), p=[w / total for w in weights]))]


def _target_x(rng: np.random.Generator, kind: ShotKind, x: float) -> float:
    """Return where on the front wall it is aimed: straight stays on its side, cross goes past the middle."""
    left = x < WIDTH_M / 2
    if kind in {ShotKind.CROSS, ShotKind.SERVE, ShotKind.SOFT_SERVE}:
        across = float(rng.uniform(0.9, 2.6))
        return WIDTH_M / 2 + (across * 0.55 if left else -across * 0.55)
    if kind is ShotKind.LOB and rng.random() < 0.6:
        return WIDTH_M / 2 + (1.0 if left else -1.0) * float(rng.uniform(0.2, 1.3))
    near = (
        0.25 + x * float(rng.uniform(0.35, 0.95))
        if left
        else 0.25 + (WIDTH_M - x) * float(rng.uniform(0.35, 0.95))
    )
    return near if left else WIDTH_M - near


def _towards(place: Point, aim: Point, speed: float, drag: float) -> Point:
    """Return the velocity that meets `aim` under gravity at about this speed."""
    way = math.dist(place, aim)
    time = way / speed
    climb = (aim[2] - place[2] + 0.5 * GRAVITY_M_S2 * (time * (1 + 0.5 * drag * way)) ** 2) / time
    return (aim[0] - place[0]) / time, (aim[1] - place[1]) / time, climb


def launch(
    rng: np.random.Generator,
    ball: BallInFlight,
    kind: ShotKind,
    place: Point,
    pace: float,
    height_m: float | None = None,
) -> Point:
    """Return the velocity with which a shot of this kind leaves the racket."""
    low, high = _SPEED[kind]
    speed = float(rng.uniform(low, high)) * (
        pace if kind not in {ShotKind.LOB, ShotKind.DROP, ShotKind.SOFT_SERVE} else pace**0.3
    )
    z = float(rng.uniform(*_HEIGHT[kind])) if height_m is None else height_m
    if kind is ShotKind.BOAST:
        left = place[0] < WIDTH_M / 2 if rng.random() < 0.9 else place[0] >= WIDTH_M / 2
        y = place[1] * float(rng.uniform(0.5, 0.8))
        return _towards(
            place, (0.0 if left else WIDTH_M, y, z + float(rng.uniform(0.1, 0.7))), speed, ball.drag_per_m
        )
    return _towards(place, (_target_x(rng, kind, place[0]), 0.0, z), speed, ball.drag_per_m)


@dataclass(frozen=True)
class Reply:
    """Where and when the next player meets the ball, and how many contacts come before."""

    time_s: float
    place: Point
    contacts: int
    incoming_m_s: float


def _between(arcs: list[Arc], after_s: float, before_s: float, time_s: float) -> Reply | None:
    for i, arc in enumerate(arcs):
        if arc.start_s <= time_s < arc.end_s and after_s < time_s < before_s:
            return Reply(time_s, arc.at(time_s), i, math.hypot(*arc.velocity))
    return None


def reply_to(
    rng: np.random.Generator, arcs: list[Arc], player: ShotMaker, volley: float | None = None
) -> Reply | None:
    """Return the next player's strike on a good flight, or None where no place can be reached with a racket.

    A ball at the front wall or less than 35 ms from a contact is not hit: a racket needs room.
    """
    floors = [arc.end_s for arc in arcs if arc.surface is Surface.FLOOR]
    fronts = [arc.end_s for arc in arcs if arc.surface is Surface.FRONT_WALL]
    if not fronts or not floors or fronts[0] > floors[0]:
        return None
    if rng.random() < (player.volleys if volley is None else volley) and floors[0] - fronts[0] > 0.3:
        when = fronts[0] + (floors[0] - fronts[0]) * float(rng.uniform(0.35, 0.88))
        return _playable(_between(arcs, fronts[0], floors[0], when), arcs, 2.7)
    second = floors[1] if len(floors) > 1 else floors[0] + 0.5
    when = floors[0] + (second - floors[0]) * float(rng.beta(player.early, 2.4))
    return _playable(_between(arcs, floors[0], second, when), arcs, 2.3)


def _playable(reply: Reply | None, arcs: list[Arc], highest_m: float) -> Reply | None:
    if reply is None or not 0.08 < reply.place[2] < highest_m or reply.place[1] < 0.5:
        return None
    near = min(abs(reply.time_s - arc.end_s) for arc in arcs)
    return None if near < 0.035 else reply


def good_flight(ball: BallInFlight, time_s: float, place: Point, velocity: Point) -> list[Arc] | None:
    """Return the flight if the shot is a good return, else None."""
    arcs = fly(ball, time_s, place, velocity)
    return None if first_fault(arcs) is not None else arcs
