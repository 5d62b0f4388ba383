"""What a stroke makes the ball do, and when: straight ways slowed by drag, hang times from bounces.

No flight is integrated. A way of length d at a speed v takes (exp(k d) - 1) / (k v) with drag k a metre,
exact for drag as speed squared on a straight way. The fall gives the speed of the bounce, that and the ball's
restitution the hang time. Speeds, lengths and restitutions by kind of stroke are ASSUMED.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from goodlength.court.dimensions import BACK_OUT_M, FRONT_OUT_M, LENGTH_M, TIN_M, WIDTH_M
from goodlength.synthetic.recordings.recording_types import Surface

if TYPE_CHECKING:
    import numpy as np

GRAVITY_M_S2 = 9.81
DRAG_PER_M = 0.0157  # half of density, area and drag over mass for a ball of 40 mm and 24 g: a sphere's 0.5
Spot = tuple[float, float, float]


@dataclass(frozen=True)
class CourtMoment:
    """One impact on a court: time in s, what, where in m, the speed in m/s, who struck, which body sounds."""

    time_s: float
    surface: Surface
    place: Spot
    speed_m_s: float
    body: str
    striker: int | None = None


@dataclass(frozen=True)
class StrokeKind:
    """A stroke: speed in m/s, height on the front wall, depth of the landing, chance to touch a side wall."""

    name: str
    speed: tuple[float, float]
    wall_m: tuple[float, float]
    lands_m: tuple[float, float]
    across: float
    side: float
    arc: float = 1.0


KINDS = {
    kind.name: kind
    for kind in (
        StrokeKind("serve", (12.0, 30.0), (2.0, 4.2), (6.6, 9.0), 1.0, 0.55, 1.06),
        StrokeKind("drive", (19.0, 34.0), (1.1, 2.7), (6.0, 9.2), 0.04, 0.3),
        StrokeKind("cross", (19.0, 34.0), (1.2, 3.0), (5.8, 9.0), 1.0, 0.5),
        StrokeKind("volley", (16.0, 34.0), (0.8, 2.3), (5.0, 8.8), 0.2, 0.25),
        StrokeKind("boast", (16.0, 26.0), (0.6, 1.4), (0.9, 2.6), 1.0, 1.0, 1.25),
        StrokeKind("drop", (4.5, 12.0), (0.52, 0.9), (0.7, 2.4), 0.1, 0.3),
        StrokeKind("lob", (8.0, 14.0), (3.0, 4.4), (7.2, 9.2), 0.7, 0.35, 1.3),
        StrokeKind("kill", (24.0, 40.0), (0.52, 0.85), (1.8, 4.5), 0.25, 0.3),
        StrokeKind("feed", (12.0, 24.0), (1.6, 3.6), (5.2, 8.6), 0.0, 0.1, 1.05),
    )
}


@dataclass(frozen=True)
class StruckBall:
    """A ball as it plays: restitution off walls and off the floor."""

    off_wall: float
    off_floor: float


@dataclass(frozen=True)
class BallWay:
    """What follows a stroke: impacts until the third bounce, number of them before the first bounce, the
    landing, the bounce's time and its hang time, and the speed and direction along the court after it.
    """

    moments: tuple[CourtMoment, ...]
    before_bounce: int
    wall_time_s: float
    wall_place: Spot
    bounce_s: float
    lands: Spot
    hang_s: float
    away_m_s: float


def way_time_s(length_m: float, speed_m_s: float) -> float:
    """Return the time of a straight way under drag.

    Examples
    --------
    >>> round(way_time_s(9.0, 30.0), 3)
    0.322
    """
    return math.expm1(DRAG_PER_M * length_m) / (DRAG_PER_M * max(speed_m_s, 0.5))


def _slowed(speed_m_s: float, length_m: float) -> float:
    return speed_m_s * math.exp(-DRAG_PER_M * length_m)


def side_of(x: float) -> tuple[float, str]:
    """Return the coordinate and the body of the nearer side wall."""
    return (0.02, "left") if x < WIDTH_M / 2 else (WIDTH_M - 0.02, "right")


def ball_way(
    rng: np.random.Generator, ball: StruckBall, kind: StrokeKind, time_s: float, place: Spot, speed: float
) -> BallWay:
    """Return what a good stroke from a place makes the ball do, on average speeds of its ways."""
    u = rng.uniform
    across = rng.random() < kind.across
    lands_x = WIDTH_M - place[0] if across else place[0]
    lands_x = float(min(max(rng.normal(lands_x, 0.35), 0.15), WIDTH_M - 0.15))
    wall = (0.5 * (place[0] + lands_x), 0.0, float(u(*kind.wall_m)))
    lands = (lands_x, float(u(*kind.lands_m)), 0.02)
    moments: list[CourtMoment] = []
    length = math.dist(place, wall) * kind.arc
    reaches = time_s + way_time_s(length, speed)
    now = _slowed(speed, length)
    if kind.name == "boast":
        x, name = side_of(place[0])
        share = float(u(0.08, 0.3))
        met = (x, place[1] * (1.0 - share), max(place[2], 0.5))
        moments.append(
            CourtMoment(time_s + share * (reaches - time_s), Surface.OTHER_WALL, met, 0.6 * speed, name)
        )
        now *= 0.7
    moments.append(CourtMoment(reaches, Surface.FRONT_WALL, wall, now, "front"))
    now *= max(ball.off_wall - 0.004 * now, 0.3)
    length = math.dist(wall[:2], lands[:2]) * kind.arc
    falls = max(way_time_s(length, now), 0.75 * math.sqrt(2.0 * wall[2] / GRAVITY_M_S2))
    falls = min(falls, 1.9)
    now = _slowed(now, length)
    touched = rng.random() < kind.side
    if touched and rng.random() < 0.5 and kind.name != "boast":
        x, name = side_of(lands_x)
        share = float(u(0.55, 0.97))
        met = (x, share * lands[1], float(u(0.3, 2.0)))
        moments.append(
            CourtMoment(
                reaches + share * falls, Surface.OTHER_WALL, met, float(u(2.0, 6.0)) + 0.2 * now, name
            )
        )
        touched = False
    before = len(moments)
    down = min(wall[2] / falls + 0.5 * GRAVITY_M_S2 * falls, 14.0)
    bounce = reaches + falls
    moments.append(CourtMoment(bounce, Surface.FLOOR, lands, down, "floor"))
    hang = 2.0 * ball.off_floor * down / GRAVITY_M_S2
    now *= 0.62
    moments += _after_bounce(rng, ball, bounce, lands, hang, now, touched)
    return BallWay(tuple(moments), before, reaches, wall, bounce, lands, hang, now)


def _after_bounce(
    rng: np.random.Generator,
    ball: StruckBall,
    bounce_s: float,
    lands: Spot,
    hang: float,
    away: float,
    touched: bool,
) -> list[CourtMoment]:
    """Return the impacts from the first bounce to the third: side wall, back wall, floor."""
    out: list[CourtMoment] = []
    y = lands[1]
    if touched:
        x, name = side_of(lands[0])
        share = float(rng.uniform(0.1, 0.8))
        out.append(
            CourtMoment(
                bounce_s + share * hang,
                Surface.OTHER_WALL,
                (x, min(y + share * hang * away, 9.5), 0.5),
                2.0 + 0.3 * away,
                name,
            )
        )
    reach_s = (LENGTH_M - y) / max(away, 0.1)
    if reach_s < hang:
        met = (lands[0], LENGTH_M - 0.02, max(0.1, 4.9 * reach_s * (hang - reach_s)))
        out.append(CourtMoment(bounce_s + reach_s, Surface.OTHER_WALL, met, away, "back"))
        y = LENGTH_M - 0.5 * away * (hang - reach_s)
    else:
        y += away * hang
    time, rest, drop = bounce_s + hang, hang, ball.off_floor
    for _ in range(2):
        speed = 0.5 * GRAVITY_M_S2 * rest
        out.append(CourtMoment(time, Surface.FLOOR, (lands[0], min(y, 9.6), 0.02), speed, "floor"))
        rest *= drop
        time += rest
    return sorted(out, key=lambda m: m.time_s)


def dead_ball(rng: np.random.Generator, ball: StruckBall, moment: CourtMoment) -> list[CourtMoment]:
    """Return the bounces, after one on the floor, of a ball that nobody plays any more."""
    out: list[CourtMoment] = []
    time, speed = moment.time_s, ball.off_floor * min(moment.speed_m_s, 7.0)
    x, y = moment.place[0], moment.place[1]
    for _ in range(int(rng.integers(1, 6))):
        time += 2.0 * speed / GRAVITY_M_S2
        y = min(max(y + float(rng.normal(0.0, 0.3)), 0.2), 9.6)
        if speed < 0.7:
            break
        out.append(CourtMoment(time, Surface.FLOOR, (x, y, 0.02), speed, "floor"))
        speed *= ball.off_floor
    return out


def missed_way(
    rng: np.random.Generator, how: str, time_s: float, place: Spot, speed: float
) -> list[CourtMoment]:
    """Return what follows a stroke that ends the rally at once: "tin", "down" or "out"."""
    u = rng.uniform
    if how == "down":
        y = place[1] * float(u(0.2, 0.8))
        away = math.dist(place, (place[0], y, 0.0))
        first = CourtMoment(
            time_s + way_time_s(away, speed), Surface.FLOOR, (place[0], y, 0.02), float(u(3.0, 9.0)), "floor"
        )
        front = first.time_s + way_time_s(y, 0.7 * speed)
        hit = (place[0], 0.0, float(u(0.1, 0.6)))
        surface, body = (Surface.TIN, "tin") if hit[2] < TIN_M["standard"] else (Surface.FRONT_WALL, "front")
        return [first, CourtMoment(front, surface, hit, 0.5 * speed, body)]
    if how == "tin":
        hit = (float(min(max(rng.normal(place[0], 0.8), 0.2), 6.2)), 0.0, float(u(0.08, 0.46)))
        length = math.dist(place, hit)
        meets = time_s + way_time_s(length, speed)
        falls = math.sqrt(2.0 * hit[2] / GRAVITY_M_S2)
        floor = CourtMoment(
            meets + falls,
            Surface.FLOOR,
            (hit[0], float(u(0.3, 2.5)), 0.02),
            GRAVITY_M_S2 * falls + 0.5,
            "floor",
        )
        return [CourtMoment(meets, Surface.TIN, hit, _slowed(speed, length), "tin"), floor]
    return _out_of_court(rng, time_s, place, speed)


def _out_of_court(rng: np.random.Generator, time_s: float, place: Spot, speed: float) -> list[CourtMoment]:
    """Return what follows a stroke that goes out: on the front wall, a side wall or the back wall."""
    u = rng.uniform
    if rng.random() < 0.4:
        high: Spot = (place[0], 0.0, float(u(FRONT_OUT_M + 0.05, 5.5)))
        meets = time_s + way_time_s(math.dist(place, high), speed)
        floor = CourtMoment(
            meets + float(u(0.9, 1.5)), Surface.FLOOR, (high[0], float(u(3.0, 8.0)), 0.02), 8.0, "floor"
        )
        return [CourtMoment(meets, Surface.FRONT_WALL, high, 0.8 * speed, "front"), floor]
    front = (place[0], 0.0, float(u(2.5, 4.4)))
    meets = time_s + way_time_s(math.dist(place, front), speed)
    first = CourtMoment(meets, Surface.FRONT_WALL, front, 0.8 * speed, "front")
    x, body = side_of(float(u(0.0, WIDTH_M)))
    hit: Spot = (x, float(u(3.0, 8.0)), float(u(3.2, 4.5)))
    if rng.random() < 0.5:
        hit, body = (float(u(0.5, 5.9)), LENGTH_M - 0.02, float(u(BACK_OUT_M + 0.05, 3.5))), "back"
    later = meets + way_time_s(math.dist(front, hit), 0.5 * speed)
    second = CourtMoment(later, Surface.OTHER_WALL, hit, 0.35 * speed, body)
    floor_s = later + math.sqrt(2.0 * hit[2] / GRAVITY_M_S2)
    return [first, second, CourtMoment(floor_s, Surface.FLOOR, (hit[0], hit[1] - 0.3, 0.02), 6.5, "floor")]
