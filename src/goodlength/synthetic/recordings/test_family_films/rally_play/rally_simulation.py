"""Simulate rallies shot by shot: serve, replies in turn, and the impact that ends it.

Where a rally ends (`WorldSpan.end_s`): the tin, the impact that is out (on or above an out line), the floor
before the front wall, or else the second bounce on the floor. Where the ball is caught after a let or stroke
it is the last contact before the hand. The ball goes on bouncing after that: those contacts are listed, and
lie beyond the span.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from goodlength.court.dimensions import T_M, WIDTH_M
from goodlength.synthetic.recordings.recording_types import Surface
from goodlength.synthetic.recordings.test_family_films.rally_play.ball_flight import (
    Arc,
    BallInFlight,
    Point,
    contact_index,
    first_fault,
    fly,
)
from goodlength.synthetic.recordings.test_family_films.rally_play.shot_simulation import (
    Reply,
    ShotKind,
    ShotMaker,
    choose_kind,
    good_flight,
    launch,
    reply_to,
)

if TYPE_CHECKING:
    import numpy as np


@dataclass(frozen=True)
class Hit:
    """One impact on a court before it is sound: time at its place, surface, place, how fast it meets."""

    time_s: float
    surface: Surface
    place: Point
    speed_m_s: float
    striker: int | None = None
    sound: str = ""


@dataclass(frozen=True)
class SimulatedRally:
    """One rally with every contact, stray bounces after its end included."""

    hits: tuple[Hit, ...]
    start_s: float
    last_strike_s: float
    end_s: float
    ending: str
    resting: Point

    @property
    def let(self) -> bool:
        """Whether it was played again."""
        return self.ending == "let"

    @property
    def shots(self) -> int:
        """Number of strikes."""
        return sum(h.striker is not None for h in self.hits)


ENDINGS = ("bounce", "tin", "out", "down", "let", "stroke")


def hits_of(arcs: list[Arc]) -> list[Hit]:
    """Return the contacts that end these arcs."""
    return [Hit(a.end_s, a.surface, a.end, a.normal_m_s) for a in arcs]


def strike_hit(time_s: float, place: Point, velocity: Point, incoming_m_s: float, striker: int) -> Hit:
    """Return a strike; its force goes with the change of speed (ASSUMED: half of what came)."""
    return Hit(time_s, Surface.RACKET, place, math.hypot(*velocity) + 0.5 * incoming_m_s, striker)


def _within_reach(reply: Reply, player: ShotMaker, since_s: float, tolerance: float) -> bool:
    way = math.hypot(reply.place[0] - T_M[0], reply.place[1] - T_M[1]) - 1.1
    return way <= tolerance * player.run_m_s * max(reply.time_s - since_s - 0.2, 0.0)


def _going_on(
    rng: np.random.Generator,
    ball: BallInFlight,
    hitter: ShotMaker,
    other: ShotMaker,
    reply: Reply,
    kind: ShotKind | None,
) -> tuple[Point, list[Arc], Reply] | None:
    """Return a shot that the other player can reach: velocity, flight, reply; None if none of 60 tries is."""
    for attempt in range(60):
        chosen = kind or choose_kind(rng, hitter, reply.place)
        velocity = launch(rng, ball, chosen, reply.place, hitter.pace)
        arcs = good_flight(ball, reply.time_s, reply.place, velocity)
        if arcs is None:
            continue
        answer = reply_to(rng, arcs, other)
        if answer is not None and _within_reach(answer, other, reply.time_s, 1.0 + attempt / 20.0):
            return velocity, arcs, answer
    return None


_LAST_HEIGHT = {"tin": (0.08, 0.44), "out": (4.62, 5.3), "down": (-3.0, -0.3)}


def _last_flight(
    rng: np.random.Generator,
    ball: BallInFlight,
    hitter: ShotMaker,
    reply: Reply,
    serve: ShotKind | None,
    ending: str,
) -> tuple[Point, list[Arc], int, str]:
    """Return the last shot: velocity, flight, index of the contact that ends the rally, how it ended."""
    for _ in range(80):
        kind = serve or choose_kind(rng, hitter, reply.place)
        height = float(rng.uniform(*_LAST_HEIGHT[ending])) if ending in _LAST_HEIGHT else None
        if ending == "down" and kind is not ShotKind.BOAST:
            kind = ShotKind.DROP
        velocity = launch(rng, ball, kind, reply.place, hitter.pace, height)
        arcs = fly(ball, reply.time_s, reply.place, velocity)
        fault = first_fault(arcs)
        end = contact_index(arcs, Surface.FLOOR, 2) if fault is None else fault
        if end is not None and _ends_as(arcs, fault, ending):
            return velocity, arcs, end, ending
    arcs = fly(ball, reply.time_s, reply.place, velocity)
    fault = first_fault(arcs)
    end = fault if fault is not None else contact_index(arcs, Surface.FLOOR, 2)
    return velocity, arcs, len(arcs) - 1 if end is None else end, "bounce" if fault is None else "out"


def _ends_as(arcs: list[Arc], fault: int | None, ending: str) -> bool:
    if fault is None:
        return ending in {"bounce", "let", "stroke"}
    wanted = {"tin": Surface.TIN, "down": Surface.FLOOR}.get(ending)
    if ending == "out":
        return arcs[fault].surface in {Surface.FRONT_WALL, Surface.OTHER_WALL}
    return wanted is not None and arcs[fault].surface is wanted


def _serving_place(rng: np.random.Generator, box_left: bool) -> Point:
    x = float(rng.uniform(0.7, 1.9))
    return (x if box_left else WIDTH_M - x, float(rng.uniform(5.5, 7.0)), float(rng.uniform(0.9, 2.2)))


def _stray(rng: np.random.Generator, arcs: list[Arc], end: int, ending: str) -> tuple[list[Hit], int]:
    """Return the contacts after the rally's end and the index at which it ends where the ball is caught."""
    if ending in {"let", "stroke"} and rng.random() < 0.5:
        caught = contact_index(arcs, Surface.FLOOR, 1)
        return [], end if caught is None else caught
    left = arcs[end + 1 :]
    return hits_of(left[: int(rng.integers(0, len(left) + 1))]), end


def play_rally(
    rng: np.random.Generator,
    players: tuple[ShotMaker, ShotMaker],
    ball: BallInFlight,
    server: int,
    shots: int,
    ending: str,
    start_s: float,
) -> SimulatedRally:
    """Play one rally of about so many shots (fewer where a shot could not be reached).

    Parameters
    ----------
    rng : numpy.random.Generator
    players : tuple of Player
    ball : Ball
    server : int
        0 or 1.
    shots : int
        Strikes wanted, 1 or more.
    ending : str
        One of `ENDINGS`.
    start_s : float
        The serve's strike.
    """
    hitter = server
    now = Reply(start_s, _serving_place(rng, bool(rng.random() < 0.5)), 0, 3.0)
    soft = rng.random() < players[server].soft_serves
    kind: ShotKind | None = ShotKind.SOFT_SERVE if soft else ShotKind.SERVE
    hits: list[Hit] = []
    for _ in range(shots - 1):
        going = _going_on(rng, ball, players[hitter], players[1 - hitter], now, kind)
        if going is None:
            break
        velocity, arcs, answer = going
        hits.append(strike_hit(now.time_s, now.place, velocity, now.incoming_m_s, hitter))
        hits += hits_of(arcs[: answer.contacts])
        now, kind, hitter = answer, None, 1 - hitter
    if kind is not None and ending in {"let", "stroke"}:
        ending = "bounce"
    velocity, arcs, end, ending = _last_flight(rng, ball, players[hitter], now, kind, ending)
    hits.append(strike_hit(now.time_s, now.place, velocity, now.incoming_m_s, hitter))
    stray, end = _stray(rng, arcs, end, ending)
    hits += hits_of(arcs[: end + 1])
    return SimulatedRally(
        tuple(hits + stray), start_s, now.time_s, arcs[end].end_s, ending, (stray or hits)[-1].place
    )
