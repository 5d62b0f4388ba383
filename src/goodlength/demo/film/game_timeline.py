"""Timeline of the filmed game: rallies in order, the dead time between them, and the cause of every sound."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass

from goodlength.demo.match.scripted_rally_table_reader import RallyPlan
from goodlength.demo.play.ball_flight import GRAVITY_M_S2, DemoFlight, DemoSurface, fly
from goodlength.demo.play.court_camera import HALF_M, Point
from goodlength.demo.play.player_walking import Steps, Walk, during
from goodlength.demo.play.rally_simulation import (
    PlayedRally,
    Spot,
    play,
    receiving_spot,
    serve_contact,
    serving_spot,
)
from goodlength.scoring.scoring_types import Side

LEAD_S = 4.0
TAIL_S = 6.0
DEAD_S = (5.0, 8.0)  # time between two rallies, cut short for the demo
SEED = 6
WALK_M_S = 2.3
SETTLE_S = 2.5  # from standing in the box to the strike
HAND_M = 0.62
KINDS = {
    DemoSurface.FRONT: "front-wall",
    DemoSurface.TIN: "tin",
    DemoSurface.LEFT: "side-wall",
    DemoSurface.RIGHT: "side-wall",
    DemoSurface.BACK: "back-wall",
    DemoSurface.FLOOR: "floor",
}


@dataclass(frozen=True)
class FilmedContact:
    """The ball touching something. `rally` is None outside rallies; `by` is the striker of a racket hit.

    `speed_m_s` is the ball's speed into a surface, or off the racket.
    """

    time_s: float
    kind: str
    at: Point
    by: Side | None
    rally: int | None
    shot: int | None
    speed_m_s: float


@dataclass(frozen=True)
class BallLeg:
    """The ball free from `start_s` to `end_s` along a path; between legs it is in a hand."""

    start_s: float
    end_s: float
    path: DemoFlight


@dataclass(frozen=True)
class Filmed:
    """Everything a film of a game needs, and everything the truth beside it says."""

    rallies: tuple[PlayedRally, ...]
    length_s: float
    walks: dict[Side, Walk]
    legs: tuple[BallLeg, ...]
    hits: tuple[FilmedContact, ...]
    voices: tuple[tuple[float, float], ...]
    squeaks: tuple[tuple[float, Point], ...]
    picked_up: tuple[tuple[float, Side, Point], ...]

    def playing(self, time_s: float) -> bool:
        """Return whether a rally is on, from the server's settling to its end."""
        return any(r.start_s - 2.0 <= time_s <= r.end_s + 0.3 for r in self.rallies)

    def ball(self, time_s: float) -> Point | None:
        """Return the centre of the ball, or None while it is in a hand."""
        low, high = 0, len(self.legs)
        while low < high:
            mid = (low + high) // 2
            low, high = (mid + 1, high) if self.legs[mid].end_s <= time_s else (low, mid)
        if low == len(self.legs) or self.legs[low].start_s > time_s:
            return None
        return self.legs[low].path.at(time_s - self.legs[low].start_s)


def hop(a: Point, b: Point, duration_s: float) -> DemoFlight:
    """Return a ball tossed from a to b in a given time, air left out."""
    v = [(b[k] - a[k]) / duration_s for k in range(3)]
    v[2] += GRAVITY_M_S2 * duration_s / 2
    knots = []
    for i in range(11):
        t = duration_s * i / 10
        knots.append(
            (
                t,
                a[0] + v[0] * t,
                a[1] + v[1] * t,
                a[2] + v[2] * t - GRAVITY_M_S2 * t * t / 2,
                v[0],
                v[1],
                v[2] - GRAVITY_M_S2 * t,
            )
        )
    return DemoFlight(tuple(knots), tuple(k[0] for k in knots), ())


class _Roll:
    """The film while it is being put together."""

    def __init__(self, first: RallyPlan, rng: random.Random) -> None:
        self.rng = rng
        self.rallies: list[PlayedRally] = []
        self.legs: list[BallLeg] = []
        self.voices: list[tuple[float, float]] = []
        self.picked_up: list[tuple[float, Side, Point]] = []
        self.steps = {
            first.server: Steps(0.0, serving_spot(first.box)),
            first.receiver: Steps(0.0, receiving_spot(first.box)),
        }

    def rally(self, plan: RallyPlan, start_s: float) -> PlayedRally:
        """Bounce the ball, serve, play."""
        rally = play(plan, start_s, self.rng)
        self.before_serve(rally)
        for begin, path in rally.flights[:-1]:
            self.legs.append(BallLeg(begin, begin + path.end_s, path))
        during(rally, self.steps)
        self.rallies.append(rally)
        return rally

    def before_serve(self, rally: PlayedRally) -> None:
        """Two bounces from the hand, then the toss that meets the racket."""
        x, y = serving_spot(rally.plan.box)
        hand = (x + 0.15, y - 0.45, HAND_M)
        for begin in (rally.start_s - 2.05, rally.start_s - 1.25):
            down = fly(hand, (0.0, 0.0, -5.0 - self.rng.uniform(0.0, 0.6)), floor_bounces=2)
            caught = next(
                t for t in _steps(down.contacts[0].time_s, 1.0) if down.at(t + 0.02)[2] < down.at(t)[2]
            )
            self.legs.append(BallLeg(begin, begin + caught, down.until(caught)))
        contact = serve_contact(rally.plan.box, rally.plan.kind)
        self.legs.append(BallLeg(rally.start_s - 0.45, rally.start_s, hop((*hand[:2], 0.95), contact, 0.45)))

    def dead_time(self, rally: PlayedRally, following: RallyPlan) -> float:
        """Simulate the next server fetching the ball and walking to the box; return the time of the next
        serve.
        """
        fetcher = self.steps[following.server]
        end = rally.end_s
        last = rally.strikes[-1].time_s
        pick = end + 1.0
        for _ in range(6):
            pick = max(end + 1.0, end + 0.4 + math.dist(fetcher.spot, self.lies(rally, pick)) / WALK_M_S)
        home = serving_spot(following.box)
        back = math.dist(self.lies(rally, pick), home) / WALK_M_S
        wanted = pick + 0.3 + back + SETTLE_S - end
        dead = min(max(wanted, DEAD_S[0] + self.rng.uniform(0.0, 1.0)), DEAD_S[1])
        if wanted > dead:
            pick = end + 0.4 + (pick - end - 0.4) * (dead - SETTLE_S - 0.7) / (wanted - SETTLE_S - 0.7)
        start = end + dead
        fetcher.stay(end + 0.4)
        fetcher.go(pick - 0.1, _pickup_spot(self.lies(rally, pick)))
        fetcher.stay(pick + 0.2)
        self.legs.append(BallLeg(last, pick, rally.dead))
        self.picked_up.append((pick, following.server, rally.dead.at(pick - last)))
        other = self.steps[following.server.other]
        other.stay(end + 0.9)
        self.voices.append((end + 0.7, end + 0.7 + self.rng.uniform(1.2, 2.2)))
        if self.rng.random() < 0.5:
            self.voices.append((end + 3.2, end + 3.2 + self.rng.uniform(0.5, 1.0)))
        return start

    def lies(self, rally: PlayedRally, time_s: float) -> Spot:
        """Return where on the floor the dead ball is."""
        return rally.dead.at(time_s - rally.strikes[-1].time_s)[:2]

    def close(self, rally: PlayedRally) -> float:
        """After the last rally both go to the middle and shake hands; gives the length of the film."""
        end = rally.end_s + TAIL_S
        self.legs.append(BallLeg(rally.strikes[-1].time_s, end, rally.dead))
        self.voices.append((rally.end_s + 0.8, rally.end_s + 3.4))
        for side, x in ((Side.A, HALF_M - 0.5), (Side.B, HALF_M + 0.5)):
            self.steps[side].stay(rally.end_s + 0.8)
            self.steps[side].go(rally.end_s + 4.0, (x, 6.2))
        return end


def _pickup_spot(ball: Spot) -> Spot:
    """Return where a player stands to pick the ball up."""
    return (ball[0] + (0.35 if ball[0] < HALF_M else -0.35), ball[1] + 0.2)


def _steps(start: float, end: float) -> list[float]:
    """Return times 10 ms apart."""
    return [start + 0.01 * i for i in range(1, int((end - start) / 0.01))]


def _hits(rallies: list[PlayedRally], legs: list[BallLeg]) -> list[FilmedContact]:
    """Return every racket hit and every contact, in the order of time."""
    hits = []
    spans = [(r.start_s, r.end_s + 1e-6, i + 1) for i, r in enumerate(rallies)]
    for rally, (_, _, n) in zip(rallies, spans, strict=True):
        hits += [
            FilmedContact(
                s.time_s, "racket", s.ball, s.by, n, s.n, math.dist(s.path.knots[0][4:7], (0, 0, 0))
            )
            for s in rally.strikes
        ]
    for leg in legs:
        for contact in leg.path.contacts:
            t = leg.start_s + contact.time_s
            if t < leg.end_s:
                inside = next((n for a, b, n in spans if a <= t <= b), None)
                hits.append(
                    FilmedContact(
                        t, KINDS[contact.surface], contact.at, None, inside, None, contact.speed_m_s
                    )
                )
    return sorted(hits, key=lambda h: h.time_s)


def film_game(plans: tuple[RallyPlan, ...], seed: int = SEED, lead_s: float = LEAD_S) -> Filmed:
    """Return a game put together from its plans; the same seed gives the same game.

    Parameters
    ----------
    plans : tuple of RallyPlan
        The rallies in the order played.
    seed : int
        Where every draw begins.
    lead_s : float
        Time before the first serve.

    Returns
    -------
    Filmed
    """
    rng = random.Random(seed)
    roll = _Roll(plans[0], rng)
    start = lead_s
    for plan, following in zip(plans, (*plans[1:], None), strict=True):
        rally = roll.rally(plan, start)
        length = roll.close(rally) if following is None else 0.0
        start = 0.0 if following is None else roll.dead_time(rally, following)
    squeaks = [
        (strike.time_s - rng.uniform(0.05, 0.25), (strike.body[0], strike.body[1], 0.0))
        for rally in roll.rallies
        for strike in rally.strikes[1:]
        if rng.random() < 0.35
    ]
    legs = sorted(roll.legs, key=lambda leg: leg.start_s)
    return Filmed(
        tuple(roll.rallies),
        length,
        {side: steps.walk() for side, steps in roll.steps.items()},
        tuple(legs),
        tuple(_hits(roll.rallies, legs)),
        tuple(roll.voices),
        tuple(squeaks),
        tuple(roll.picked_up),
    )
