"""Play from flights of a ball in a box: when it comes to a wall, the floor or a racket follows from physics.

Straight-line speed is lost to the air, walls and floor give back a part of it, gravity bends the way. A
stroke has a speed and a target on the front wall; the next player meets the ball on the volley or after its
bounce. So loud strokes reach the wall soon, soft ones late, and what lies between two strikes fits the court.

```
 strike ─(0.15 to 0.7 s)─> front wall ─> [side wall] [floor] [back wall] ─> next strike
```
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.recording_types import Activity, Surface, WorldSpan
from goodlength.synthetic.recordings.training_random_session_play import RandomSession

Vector = NDArray[np.float64]

WIDTH_M, LENGTH_M, TIN_M, GRAVITY = 6.40, 9.75, 0.48, 9.81
AIR_A_M = 0.016  # speed lost to the air for each metre, of a ball of 24 g and 40 mm; ASSUMED drag of 0.5
MOST_EVENTS, MOST_S = 12, 4.0
REACH_M, LOWEST_M = 2.3, 0.06
# Speed in m/s, height on the front wall in m, and where across: ASSUMED
STROKES = {
    "drive": ((22, 42), (0.7, 2.8), "near"),
    "cross": ((22, 40), (0.9, 3.2), "far"),
    "kill": ((28, 46), (0.52, 0.85), "any"),
    "boast": ((17, 30), (0.55, 1.7), "boast"),
    "lob": ((10, 15), (2.8, 4.4), "any"),
    "drop": ((7, 14), (0.52, 0.95), "near"),
    "serve": ((12, 25), (2.0, 4.2), "far"),
}
USUAL_SPEED = {Surface.RACKET: 27.0, Surface.FRONT_WALL: 22.0, Surface.FLOOR: 6.0}
OTHER_SPEED = 9.0


@dataclass(frozen=True)
class Bounce:
    """A contact of a flying ball: seconds after the strike, surface, and speed against it in m/s."""

    after_s: float
    surface: Surface
    speed: float


@dataclass(frozen=True)
class Flight:
    """A stroke and what follows: contacts, and when and where the ball may be met (after s, place)."""

    speed: float
    bounces: tuple[Bounce, ...]
    chances: tuple[tuple[float, Vector], ...]


@dataclass(frozen=True)
class BallReturn:
    """How much of its speed a ball keeps at walls and on the floor, and along them."""

    wall: float
    floor: float
    along: float


def fly(ball: BallReturn, place: Vector, velocity: Vector) -> tuple[list[Bounce], list[tuple[float, Vector]]]:
    """Return the contacts of a ball struck at a place, and moments after the front wall to meet it."""
    at, bounces, chances = 0.0, [], []
    p, v, seen_wall, floors = place.copy(), velocity.copy(), False, 0
    for _ in range(MOST_EVENTS):
        t, surface, axis = _next_contact(p, v)
        slow = float(np.exp(AIR_A_M / 2 * np.linalg.norm(v) * t))
        if seen_wall and floors < 2:
            chances += _to_meet(p, v, t, slow, at)
        p = p + v * t + np.array([0, 0, -GRAVITY / 2]) * t * t
        v = (v - np.array([0, 0, GRAVITY * t])) / slow**2
        at += t * slow
        if at > MOST_S:
            break
        bounces.append(Bounce(at, surface, abs(float(v[axis]))))
        seen_wall, floors = seen_wall or surface is Surface.FRONT_WALL, floors + (surface is Surface.FLOOR)
        v = v * ball.along
        v[axis] *= -(ball.floor if surface is Surface.FLOOR else ball.wall) / ball.along
        if surface is Surface.FLOOR and abs(v[2]) < 0.5:
            break
    return bounces, chances


def _next_contact(p: Vector, v: Vector) -> tuple[float, Surface, int]:
    """Return seconds to the next wall or the floor, which, and the axis across it."""
    found = [((v[2] + np.sqrt(max(0.0, v[2] ** 2 + 2 * GRAVITY * p[2]))) / GRAVITY, Surface.FLOOR, 2)]
    for axis, high in ((0, WIDTH_M), (1, LENGTH_M)):
        if abs(v[axis]) > 1e-3:
            t = ((high if v[axis] > 0 else 0.0) - p[axis]) / v[axis]
            front = axis == 1 and v[axis] < 0
            found.append((t, Surface.FRONT_WALL if front else Surface.OTHER_WALL, axis))
    t, surface, axis = min((max(1e-4, float(t)), s, a) for t, s, a in found)
    return t, surface, axis


def _to_meet(p: Vector, v: Vector, t: float, slow: float, at: float) -> list[tuple[float, Vector]]:
    """Return moments at which the ball is within reach between two contacts."""
    out = []
    for part in np.arange(0.05, 0.98, 0.06).tolist():
        s = part * t
        q = p + v * s + np.array([0, 0, -GRAVITY / 2]) * s * s
        if LOWEST_M < q[2] < REACH_M and q[1] > 0.5:
            out.append((at + s * slow, np.clip(q, [0.1, 0.3, 0.05], [6.3, 9.6, 3.0])))
    return out


class FlightSession(RandomSession):
    """Plays a recording with flights; warm-ups, pauses and what else happens as in `RandomSession`."""

    def __init__(self, rng: np.random.Generator, seconds: float, programme: str | None = None) -> None:
        super().__init__(rng, seconds, programme)
        self.ball = BallReturn(
            float(rng.uniform(0.6, 0.85)), float(rng.uniform(0.35, 0.62)), float(rng.uniform(0.75, 0.95))
        )
        self.power = float(np.exp(rng.uniform(np.log(0.6), np.log(1.1))))
        self.mix = rng.dirichlet(np.array([6, 3, 1, 1.2, 1.2, 1.5]) * float(rng.uniform(0.6, 3)))
        self.volleys, self.early = float(rng.uniform(0.05, 0.5)), float(rng.uniform(0.6, 3.0))
        self.by_speed = float(rng.uniform(0.5, 1.3))  # of the level in dB, beside speed squared
        self.place = np.array([rng.uniform(1, 5), 6.5, 1.0])
        self.flight: Flight | None = None

    def aimed(self, kind: str) -> Flight:
        """Return the flight of a stroke from where the ball is met; a drive where none reaches the wall."""
        rng = self.rng
        for attempt in range(6):
            speeds, heights, across = STROKES[kind if attempt < 4 else "drive"]
            speed = float(rng.uniform(*speeds)) * (self.power if kind not in ("drop", "lob") else 1.0)
            target = np.array([self._across(across), 0.0, float(rng.uniform(*heights))])
            way = target - self.place
            t = float(np.hypot(way[0], way[1])) / speed
            velocity = np.array([way[0] / t, way[1] / t, way[2] / t + GRAVITY / 2 * t])
            bounces, chances = fly(self.ball, self.place, velocity)
            before = [b.surface for b in bounces]
            wall = before.index(Surface.FRONT_WALL) if Surface.FRONT_WALL in before else len(before)
            if wall < len(before) and Surface.FLOOR not in before[:wall]:
                return Flight(float(np.linalg.norm(velocity)), tuple(bounces), tuple(chances))
        return Flight(25.0, (Bounce(0.3, Surface.FRONT_WALL, 20.0),), ())

    def _across(self, across: str) -> float:
        rng, left = self.rng, self.place[0] < WIDTH_M / 2
        near = float(rng.uniform(0.15, 1.8))
        if across == "boast":
            far = float(rng.uniform(1.5, 5.5))
            return -far if left else 2 * WIDTH_M - far
        if across == "any":
            return float(rng.uniform(0.3, 6.1))
        return near if left == (across == "near") else WIDTH_M - near

    def met(self, flight: Flight) -> tuple[float, Vector] | None:
        """Return when and where the next player meets the ball; None where it cannot be met."""
        floor = next((b.after_s for b in flight.bounces if b.surface is Surface.FLOOR), 0.0)
        volleys = [c for c in flight.chances if c[0] < floor and c[0] > 0.45 and c[1][1] > 2]
        bounced = [c for c in flight.chances if c[0] > floor and c[0] > 0.45 and c[1][2] < 1.6]
        chances = volleys if volleys and self.rng.random() < self.volleys else bounced or volleys
        if not chances:
            return None
        return chances[int(len(chances) * float(self.rng.beta(self.early, 1.8)) * 0.999)]

    def struck(self, flight: Flight, player: int, until_s: float, level: float) -> None:
        """Add a strike and what the ball touches until it is met; `level` of the strike beside its speed."""
        self.knock(Surface.RACKET, self.at, level + self._loud(Surface.RACKET, flight.speed), player)
        for bounce in flight.bounces:
            if bounce.after_s < until_s - 0.04:
                loud = max(-26.0, self._loud(bounce.surface, bounce.speed))
                self.knock(bounce.surface, self.at + bounce.after_s, loud)

    def _loud(self, surface: Surface, speed: float) -> float:
        usual = USUAL_SPEED.get(surface, OTHER_SPEED)
        return self.by_speed * 20 * float(np.log10(max(0.3, speed) / usual))

    def rally(self) -> None:
        """Play a rally: the serve, the strokes, the end, the ball running dead."""
        rng = self.rng
        self._before_serve()
        start, last, player = self.at, self.at, int(rng.integers(2))
        count = 1 + int(rng.negative_binomial(self.even, self.even / (self.even + self.mean)))
        count = 1 if rng.random() < 0.05 else min(count, 70)
        side = float(rng.uniform(0.6, 2.0))
        self.place = np.array(
            [side if player else WIDTH_M - side, rng.uniform(5.5, 7.0), rng.uniform(0.6, 2.0)]
        )
        for k in range(count):
            last = self.at
            kind = "serve" if k == 0 else str(rng.choice(list(STROKES)[:-1], p=self.mix))
            flight = self.aimed(kind)
            met = self.met(flight)
            if k == count - 1 or met is None:
                self._ended(flight, player)
                break
            self.struck(flight, player, met[0], 0.3 * self.serve_db if k == 0 else 0.0)
            self.at, self.place, player = self.at + met[0], met[1], 1 - player
        let = bool(rng.random() < 0.06)
        self.out.spans.append(WorldSpan(start, max(self.at, last + 0.05), Activity.RALLY, last, let))
        self.out.ends.append(self.at)

    def _ended(self, flight: Flight, player: int) -> None:
        """Add the last strike: the ball runs dead, hits the tin, is stopped, or is struck out of court."""
        how = int(self.rng.choice(5, p=self.ends))
        walls = [b for b in flight.bounces if b.surface is Surface.FRONT_WALL]
        until = 1e3 if how in (1, 4) else walls[0].after_s + (0.05 if how == 3 else 0.0) if walls else 0.3
        self.struck(flight, player, until, 0.0)
        begin = self.at
        if how == 0 and walls:
            at = walls[0].after_s
            self.knock(Surface.TIN, begin + at, self._loud(Surface.FRONT_WALL, walls[0].speed))
            self.at = begin + at + float(self.rng.uniform(0.15, 0.6))
            self._dead(-6.0)
            return
        self.at = begin + min(until, flight.bounces[-1].after_s) + 0.1
        if how == 2:
            self.knock(Surface.OTHER, self.at, float(self.rng.uniform(-12, 0)))

    def _stretch(self, until: float, style: str, level: float) -> None:
        """Add hitting without a match: drives to oneself, turned over to the other now and then."""
        rng = self.rng
        run = {"alone": 40, "across": 1, "feeding": 2}.get(style, int(rng.integers(2, 10)))
        fetched, player, usual = float(rng.uniform(0, 0.1)), int(rng.integers(2)), self.power
        self.power = min(self.power, float(rng.uniform(0.5, 0.9)))
        self.place = np.array([rng.uniform(0.5, 2) if player else rng.uniform(4.4, 5.9), 6.5, 0.8])
        while self.at < until:
            hits = int(rng.integers(max(1, run // 2), run + 1))
            for k in range(hits):
                soft = style == "feeding" and k == 0
                over = k == hits - 1 and style != "alone"
                flight = self.aimed("lob" if soft else "cross" if over else "drive")
                met = self.met(flight)
                self.struck(flight, player, met[0] if met else 1e3, 0.5 * level)
                self.at += met[0] if met else flight.bounces[-1].after_s + float(rng.uniform(0.8, 5))
                self.place = met[1] if met else self.place
                if self.at >= until:
                    break
            player = player if style == "alone" else 1 - player
            if rng.random() < fetched:
                self.at += float(rng.uniform(1, 8))
        self.power = usual
