"""Simulate one rally: who strikes where and when, and the ball's path between strikes."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from goodlength.court.dimensions import LENGTH_M, SHORT_LINE_FRONT_M, WIDTH_M
from goodlength.demo.match.scripted_rally_table_reader import RallyPlan
from goodlength.demo.play import launch_guess_and_target_miss
from goodlength.demo.play.ball_flight import DemoContact, DemoFlight, DemoSurface
from goodlength.demo.play.court_camera import HALF_M, Point
from goodlength.errors import GoodlengthError
from goodlength.record.model import Ending, Left, ReturnKind, ShotType
from goodlength.scoring.scoring_types import Box, Side

Spot = tuple[float, float]
ASSUMED_FASTEST_M_S = 4.4  # mean speed of a run to the ball
ASSUMED_REACTS_S = 0.14
REACH_M = 0.80  # from the body's middle to the ball, sideways
TRIES = 60
REST: tuple[tuple[ShotType, float], ...] = (
    (ShotType.DRIVE, 0.56),
    (ShotType.CROSS_COURT, 0.22),
    (ShotType.DROP, 0.08),
    (ShotType.BOAST, 0.07),
    (ShotType.LOB, 0.07),
)


@dataclass(frozen=True)
class PlayedShot:
    """One shot as it was struck; `path` runs from the strike, its times begin at zero."""

    n: int
    by: Side
    time_s: float
    stroke: str
    volley: bool
    ball: Point
    body: Spot
    path: DemoFlight


@dataclass(frozen=True)
class PlayedRally:
    """A rally played out; `end_s` is the second bounce, the tin, or the wall over the line."""

    plan: RallyPlan
    strikes: tuple[PlayedShot, ...]
    end_s: float
    end_how: str
    dead: DemoFlight  # from the last strike until the ball lies still

    @property
    def start_s(self) -> float:
        """The serve's strike."""
        return self.strikes[0].time_s

    @property
    def flights(self) -> tuple[tuple[float, DemoFlight], ...]:
        """Start and path of every flight, each cut where the next strike takes it."""
        pairs = zip(self.strikes, self.strikes[1:], strict=False)
        flown = [(a.time_s, a.path.until(b.time_s - a.time_s)) for a, b in pairs]
        return (*flown, (self.strikes[-1].time_s, self.dead))


def serving_spot(box: Box) -> Spot:
    """Return where the server stands, both feet inside the box."""
    return (5.25, 6.25) if box is Box.RIGHT else (1.15, 6.25)


def receiving_spot(box: Box) -> Spot:
    """Return where the receiver waits."""
    return (1.75, 7.75) if box is Box.RIGHT else (4.65, 7.75)


def serve_contact(box: Box, kind: str) -> Point:
    """Return where a right-hander meets the ball when serving."""
    x, y = serving_spot(box)
    return (x + 0.55, y - 0.40, 1.05 if kind == "lob" else 1.55)


def body_for(ball: Point, came_from: Spot) -> Spot:
    """Return where a player stands to strike a ball: beside it, towards the middle of the court."""
    x, y, z = ball
    aside = REACH_M * (0.75 if z > 1.7 else 1.0)
    if abs(x - HALF_M) < 0.8:
        side = 1.0 if came_from[0] >= x else -1.0
    else:
        side = 1.0 if x < HALF_M else -1.0
    return (min(max(x + side * aside, 0.45), WIDTH_M - 0.45), min(max(y + 0.25, 0.8), LENGTH_M - 0.35))


def towards(a: Spot, b: Spot, most_m: float) -> Spot:
    """From a towards b, at most so far."""
    d = math.dist(a, b)
    s = 1.0 if d <= most_m else most_m / d
    return (a[0] + s * (b[0] - a[0]), a[1] + s * (b[1] - a[1]))


@dataclass(frozen=True)
class Chance:
    """A place and time at which a player could take the ball; `cost` is what speaks against it."""

    after_s: float
    ball: Point
    body: Spot
    volley: bool
    cost: float


def chances(path: DemoFlight, stands: Spot, how: ReturnKind | None, rng: random.Random) -> list[Chance]:
    """Return every moment at which the ball can be struck, in steps of 20 ms; empty when it cannot be
    reached.
    """
    seen = [c for c in path.contacts if c.surface is not DemoSurface.TIN]
    front = next((c.time_s for c in seen if c.surface is DemoSurface.FRONT), None)
    if front is None:
        return []
    floors = [c.time_s for c in seen if c.surface is DemoSurface.FLOOR]
    first, second = floors[0], (floors[1] if len(floors) > 1 else path.end_s)
    likes_volley = rng.random() < 0.28
    found = []
    t = front + 0.2
    while t < second - 0.04:
        t += 0.02
        ball = path.at(t)
        volley = t < first
        near = 0.12 <= ball[2] <= 2.4 and ball[1] <= LENGTH_M - 0.4
        if abs(t - first) < 0.05 or not near or not _returned_as_planned(seen, t, how):
            continue
        body = body_for(ball, stands)
        speed = math.dist(stands, body) / max(0.05, t - ASSUMED_REACTS_S)
        if speed > ASSUMED_FASTEST_M_S:
            continue
        likes = 1.35 if volley else 0.75
        cost = (speed / 3.0) ** 2 + ((ball[2] - likes) / 0.5) ** 2 + 0.7 * abs(t - 1.55)
        cost += 0.0 if volley == likes_volley else 1.6
        found.append(Chance(t, ball, body, volley, cost))
    return found


def _returned_as_planned(seen: list[DemoContact], t: float, how: ReturnKind | None) -> bool:
    """Return whether taking the ball at t is what the plan says of the return."""
    before = {c.surface for c in seen if c.time_s < t}
    floor, wall = DemoSurface.FLOOR in before, bool(before & {*launch_guess_and_target_miss.SIDES})
    back = DemoSurface.BACK in before
    match how:
        case ReturnKind.VOLLEYED:
            return not floor and not wall
        case ReturnKind.AFTER_SIDE_WALL:
            return not floor and wall
        case ReturnKind.AFTER_BOUNCE:
            return floor and not back
        case ReturnKind.OFF_BACK_WALL:
            return floor and back
        case ReturnKind.NOT_MADE:
            return not back
    return True


class _Court:
    """The two players' places while a rally is being played out."""

    def __init__(self, plan: RallyPlan, start_s: float, rng: random.Random) -> None:
        self.plan = plan
        self.rng = rng
        self.strikes: list[PlayedShot] = []
        self.spots = {plan.server: serving_spot(plan.box), plan.receiver: receiving_spot(plan.box)}
        self.start_s = start_s

    def stroke_of(self, n: int, ball: Point) -> ShotType:
        """Return what the n-th shot is: the last as the plan says, the others drawn."""
        plan = self.plan
        if n == plan.shots and plan.stroke is not None:
            return plan.stroke
        if n == 2 and plan.left is Left.ATTACKED:
            return ShotType.DROP
        if n == 2 or ball[1] > 8.6:
            return ShotType.BOAST if ball[1] > 8.9 and self.rng.random() < 0.5 else ShotType.DRIVE
        draw, total = self.rng.random(), 0.0
        for stroke, share in REST:
            total += share
            if draw < total and not (stroke is ShotType.BOAST and ball[1] < SHORT_LINE_FRONT_M):
                return stroke
        return ShotType.DRIVE

    def paths(self, n: int, stroke: ShotType | None, ball: Point) -> Iterator[DemoFlight]:
        """Draws of the n-th shot that do what was meant."""
        plan, rng = self.plan, self.rng
        fails = n == plan.shots and plan.last_striker is not plan.winner and plan.ending not in PLAYED_AGAIN
        for _ in range(TRIES):
            if n == 1:
                aim = launch_guess_and_target_miss.serve(
                    plan.kind, ball, rng, out=plan.ending is Ending.SERVICE_FAULT
                )
            elif fails:
                aim = launch_guess_and_target_miss.error(ball, rng)
            else:
                aim = launch_guess_and_target_miss.shot(
                    stroke or ShotType.DRIVE, ball, rng, plan.left if n == 2 else None
                )
            path = aim.path()
            if path is not None:
                yield launch_guess_and_target_miss.fly_again(path, 2)

    def strike(self, n: int, by: Side, time_s: float, ball: Point, body: Spot, volley: bool) -> Chance | None:
        """Play the n-th shot and choose how the other takes it; None where the rally ends with it."""
        stroke = None if n == 1 else self.stroke_of(n, ball)
        other = by.other
        last = n == self.plan.shots
        stands = self.recovers(other, time_s)
        how = self.plan.how if n == 1 else None
        choice: tuple[float, DemoFlight, Chance | None] | None = None
        for path in self.paths(n, stroke, ball):
            found = chances(path, stands, how, self.rng)
            if last:
                choice = min((choice or (9e9, path, None)), (len(found), path, None), key=lambda k: k[0])
                if not found:
                    break
            elif found:
                best = min(found, key=lambda c: c.cost)
                choice = min((choice or (9e9, path, None)), (best.cost, path, best), key=lambda k: k[0])
                if best.cost < 2.5:
                    break
        if choice is None:
            return None
        words = "serve" if stroke is None else stroke.value
        self.strikes.append(PlayedShot(n, by, time_s, words, volley, ball, body, choice[1]))
        self.spots[by] = body
        self.spots[other] = stands
        return choice[2]

    def recovers(self, player: Side, until_s: float) -> Spot:
        """Return where a player has come to, towards the T, when the other strikes."""
        own = [s for s in self.strikes if s.by is player]
        if not own:
            return self.spots[player]
        free = max(0.0, until_s - own[-1].time_s - 0.15)
        return towards(self.spots[player], t_spot(own[-1]), 2.9 * free)


PLAYED_AGAIN = (Ending.LET, Ending.STROKE)


def t_spot(after: PlayedShot) -> Spot:
    """Return where a player goes back to after a strike: behind the T, a little to the side of the ball."""
    return (HALF_M + 0.12 * (after.ball[0] - HALF_M), 5.75 + 0.06 * (after.ball[1] - 5.0))


def play(plan: RallyPlan, start_s: float, rng: random.Random) -> PlayedRally:
    """Return a rally of the plan, played out from its serve.

    Parameters
    ----------
    plan : RallyPlan
        Who served what, how it was taken, how many shots, how it ended.
    start_s : float
        Time of the serve's strike.
    rng : random.Random
        Where the draws come from.

    Returns
    -------
    Played
        Strikes with their paths; the ball reaches each striker where and when he takes it.
    """
    for _ in range(TRIES):
        strikes = _once(plan, start_s, rng)
        if strikes is not None:
            last = strikes[-1]
            after, how = _end(last.path, plan)
            return PlayedRally(
                plan, strikes, last.time_s + after, how, launch_guess_and_target_miss.fly_again(last.path, 99)
            )
    raise GoodlengthError(f"The demo's rally {plan.n_in_game} of game {plan.game} could not be played out.")


def _once(plan: RallyPlan, start_s: float, rng: random.Random) -> tuple[PlayedShot, ...] | None:
    """Return one try at a rally; None where a shot in the middle of it found no striker."""
    court = _Court(plan, start_s, rng)
    ball, body = serve_contact(plan.box, plan.kind), serving_spot(plan.box)
    time_s, by, volley = start_s, plan.server, False
    for n in range(1, plan.shots + 1):
        chance = court.strike(n, by, time_s, ball, body, volley)
        if chance is None:
            break
        time_s, ball, body, volley = time_s + chance.after_s, chance.ball, chance.body, chance.volley
        by = by.other
    return tuple(court.strikes) if len(court.strikes) == plan.shots else None


def _end(path: DemoFlight, plan: RallyPlan) -> tuple[float, str]:
    """Return when, after the last strike, the rally is over, and by what."""

    def first(wanted: Callable[[DemoSurface], bool], nth: int = 1) -> float:
        times = [c.time_s for c in path.contacts if wanted(c.surface)]
        return times[nth - 1] if len(times) >= nth else path.end_s

    if plan.ending is Ending.SERVICE_FAULT:
        return first(lambda s: s in launch_guess_and_target_miss.SIDES), "out"
    if path.contacts and path.contacts[0].surface is DemoSurface.TIN:
        return path.contacts[0].time_s, "tin"
    if plan.ending in PLAYED_AGAIN:
        return first(lambda s: s is DemoSurface.FLOOR), plan.ending.value
    return first(lambda s: s is DemoSurface.FLOOR, 2), "second-bounce"
