"""Rallies in which length, tempo and ending follow from pressure: who gets to the ball, how late, who errs.

No length is drawn. Each striker picks a stroke for where he stands and how late he was, aims at a spot on the
floor by mirroring it in the front wall, and errs the more often the later he was. The other takes the ball at
the best moment that he can run to; if there is none the rally is won. All figures are ASSUMED.

A rally ends at the tin, at the impact that is out, at the floor before the front wall, or else at the second
bounce; where the ball is caught after a let or stroke, at the last contact before the hand.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from goodlength.court.dimensions import LENGTH_M, T_M, WIDTH_M
from goodlength.synthetic.recordings.recording_types import Surface
from goodlength.synthetic.recordings.retired_test_families.pressure_play.ball_flight_and_bounces import (
    CourtBall,
    FlightLeg,
    Vector,
    fault_index,
    flight,
    floor_index,
    velocity_to,
)

if TYPE_CHECKING:
    import numpy as np

MOST_SHOTS = 70
REACTION_S = 0.22
FAULTS = ("tin", "out", "down")


@dataclass(frozen=True)
class CourtImpact:
    """One impact before it is sound: time, surface, place, closing speed; `body` overrides what rings."""

    time_s: float
    surface: Surface
    place: Vector
    speed_m_s: float
    striker: int | None = None
    body: str = ""


@dataclass(frozen=True)
class StrokeStyle:
    """A kind of stroke: speed as a share of power or in m/s, front-wall height, where it lands."""

    name: str
    speed: tuple[float, float]
    by_power: bool
    height_m: tuple[float, float]
    lands_y_m: tuple[float, float]
    crosses: float


STROKES = (
    StrokeStyle("length", (0.62, 1.0), True, (0.85, 2.3), (6.4, 9.2), 0.06),
    StrokeStyle("width", (0.62, 1.0), True, (1.0, 2.6), (6.2, 9.0), 1.0),
    StrokeStyle("lift", (12.5, 17.5), False, (2.9, 4.2), (7.4, 9.4), 0.6),
    StrokeStyle("short", (6.8, 12.0), False, (0.55, 0.9), (0.5, 2.2), 0.2),
    StrokeStyle("angle", (0.5, 0.8), True, (0.62, 1.3), (1.2, 3.0), 1.0),
    StrokeStyle("low", (0.85, 1.2), True, (0.51, 0.68), (2.0, 5.0), 0.35),
)
_HARD_SERVE = StrokeStyle("hard serve", (0.55, 0.85), True, (2.0, 3.0), (7.0, 9.0), 1.0)
_HIGH_SERVE = StrokeStyle("high serve", (11.5, 15.5), False, (3.3, 4.3), (7.6, 9.4), 1.0)
FEED = StrokeStyle("feed", (12.0, 25.0), False, (1.2, 3.3), (5.6, 8.8), 0.0)
_LIKING = {  # front, middle and back of the court; the order of STROKES
    "front": (0.16, 0.2, 0.27, 0.24, 0.04, 0.09),
    "middle": (0.3, 0.21, 0.04, 0.22, 0.04, 0.19),
    "back": (0.47, 0.2, 0.12, 0.05, 0.14, 0.02),
}


@dataclass(frozen=True)
class RallyPlayer:
    """A player: power in m/s, taste for touch, share of unforced errors, legs, volleys, when he takes it."""

    power_m_s: float
    touch: float
    errs: float
    run_m_s: float
    volleys: float
    patience: float
    high_serves: float
    weight: float
    ball_bounces: float


@dataclass(frozen=True)
class Interception:
    """Where and when the ball is met: contacts before it, its speed, and how late the player is (0 to 1)."""

    time_s: float
    place: Vector
    contacts: int
    incoming_m_s: float
    lateness: float


@dataclass(frozen=True)
class PressureRally:
    """One rally: its impacts (stray bounces after the end included), when it ends and how, and who won it."""

    impacts: tuple[CourtImpact, ...]
    start_s: float
    last_strike_s: float
    end_s: float
    ending: str
    winner: int


def draw_rally_player(
    rng: np.random.Generator, power: tuple[float, float], errs: float = 1.0, touch: float = 1.0
) -> RallyPlayer:
    """Return a player; `errs` scales how often rallies end by error, `touch` his soft strokes."""
    return RallyPlayer(
        power_m_s=float(rng.uniform(*power)),
        touch=touch * float(rng.gamma(6.0, 1.0 / 6.0)),
        errs=errs * float(rng.uniform(0.035, 0.08)),
        run_m_s=float(rng.normal(4.4, 0.4)) / errs**0.12,
        volleys=float(rng.normal(0.0, 0.5)),
        patience=float(rng.uniform(0.0, 0.9)),
        high_serves=float(min(0.97, rng.beta(1.0, 1.4) * touch)),
        weight=float(rng.uniform(0.5, 1.5)),
        ball_bounces=float(rng.gamma(2.0, 1.2)),
    )


def impacts_of(legs: list[FlightLeg]) -> list[CourtImpact]:
    """Return the contacts that end these legs."""
    return [CourtImpact(leg.end_s, leg.surface, leg.end, leg.normal_m_s) for leg in legs]


def racket_impact(meeting: Interception, velocity: Vector, striker: int) -> CourtImpact:
    """Return the strike; it closes at the head's speed and part of the ball's (ASSUMED, rebound 0.35)."""
    head = max(1.2, (math.hypot(*velocity) - 0.35 * meeting.incoming_m_s) / 1.35)
    closing = head + 0.3 * meeting.incoming_m_s
    return CourtImpact(meeting.time_s, Surface.RACKET, meeting.place, closing, striker)


def _stroke_for(
    rng: np.random.Generator, player: RallyPlayer, meeting: Interception, previous: str
) -> StrokeStyle:
    depth = meeting.place[1]
    zone = "front" if depth < 3.6 else "middle" if depth < 6.3 else "back"
    late = meeting.lateness
    bend = [1.0, 1.0, 1.0 + 3.0 * late, player.touch * (1.3 - late), 0.6 + late, 1.3 - late]
    if previous == "short":
        bend[2], bend[3] = bend[2] * 1.5, bend[3] * 1.5
    weights = [a * b for a, b in zip(_LIKING[zone], bend, strict=True)]
    total = sum(weights)
    return STROKES[int(rng.choice(len(STROKES), p=[w / total for w in weights]))]


def _wall_target(rng: np.random.Generator, style: StrokeStyle, place: Vector, height: float) -> Vector:
    """Return the spot to hit: on the front wall by mirroring where it should land, or on the side wall."""
    left = place[0] < WIDTH_M / 2
    if style.name == "angle":
        run = place[1] * float(rng.uniform(0.42, 0.78))
        return (0.0 if left else WIDTH_M, run, height + float(rng.uniform(0.15, 0.8)))
    crosses = rng.random() < style.crosses
    edge = float(rng.uniform(0.25, 1.3))
    lands_x = edge if left != crosses else WIDTH_M - edge
    lands_y = float(rng.uniform(*style.lands_y_m))
    share = place[1] / (place[1] + lands_y)
    x = place[0] + (lands_x - place[0]) * share
    return (min(max(x, 0.05), WIDTH_M - 0.05), 0.0, height)


def strike_velocity(
    rng: np.random.Generator,
    player: RallyPlayer,
    style: StrokeStyle,
    place: Vector,
    height_m: float | None = None,
) -> Vector:
    """Return the velocity with which the ball leaves the racket."""
    speed = float(rng.uniform(*style.speed)) * (player.power_m_s if style.by_power else 1.0)
    height = float(rng.uniform(*style.height_m)) if height_m is None else height_m
    return velocity_to(place, _wall_target(rng, style, place, height), speed)


def _moments(legs: list[FlightLeg]) -> list[tuple[float, Vector, int, float]]:
    """Return the moments at which the ball may be met: time, place, contacts before, speed."""
    out = []
    front, floors = False, 0
    for index, leg in enumerate(legs):
        if front and floors < 2:
            for share in (0.2, 0.4, 0.6, 0.8):
                time = leg.start_s + share * (leg.end_s - leg.start_s)
                x, y, z = leg.place(time)
                clear = min(time - leg.start_s, leg.end_s - time) > 0.03
                if clear and 0.07 < z < 2.35 and 0.3 < y < LENGTH_M - 0.15 and 0.1 < x < WIDTH_M - 0.1:
                    out.append((time, (x, y, z), index, math.hypot(*leg.arriving)))
        front = front or leg.surface is Surface.FRONT_WALL
        floors += leg.surface is Surface.FLOOR
    return out


def meet_ball(
    rng: np.random.Generator,
    legs: list[FlightLeg],
    player: RallyPlayer,
    stands: tuple[float, float],
    struck_s: float,
    stretch: float = 1.0,
) -> Interception | None:
    """Return how the other player meets a good shot, None where he cannot get there.

    Parameters
    ----------
    rng : numpy.random.Generator
    legs : list of FlightLeg
        The shot's flight.
    player : RallyPlayer
    stands : tuple of float
        Where he is in the plan when it is struck, m.
    struck_s : float
    stretch : float
        Factor on his speed; over 1 in warm-ups, where nobody plays to win.
    """
    first = floor_index(legs, 1)
    bounced_s = legs[first].end_s if first is not None else math.inf
    best, found = -math.inf, None
    for time, place, contacts, speed in _moments(legs):
        way = max(0.0, math.hypot(place[0] - stands[0], place[1] - stands[1]) - 1.0)
        have = (time - struck_s - REACTION_S) * player.run_m_s * stretch
        if way > have:
            continue
        late = way / max(have, 1e-6)
        value = -0.9 * abs(place[2] - 0.8) - 1.3 * late + player.patience * (time - struck_s)
        value += (player.volleys if time < bounced_s else 0.25) + 0.3 * float(rng.gumbel())
        if value > best:
            best, found = value, Interception(time, place, contacts, speed, late)
    return found


def _good_shot(
    rng: np.random.Generator,
    ball: CourtBall,
    player: RallyPlayer,
    meeting: Interception,
    style: StrokeStyle | None,
    previous: str,
) -> tuple[str, Vector, list[FlightLeg]] | None:
    for _ in range(25):
        chosen = style or _stroke_for(rng, player, meeting, previous)
        velocity = strike_velocity(rng, player, chosen, meeting.place)
        legs = flight(ball, meeting.time_s, meeting.place, velocity)
        if fault_index(legs) is None and floor_index(legs, 2) is not None:
            return chosen.name, velocity, legs
    return None


_MISSES_M = {"tin": (0.06, 0.45), "out": (4.6, 5.6), "down": (-3.5, -0.4)}


def _bad_shot(
    rng: np.random.Generator, ball: CourtBall, player: RallyPlayer, meeting: Interception, fault: str
) -> tuple[Vector, list[FlightLeg], int] | None:
    """Return a shot that is a fault of this kind and the index of the impact that makes it so."""
    wanted = {
        "tin": {Surface.TIN},
        "down": {Surface.FLOOR},
        "out": {Surface.FRONT_WALL, Surface.OTHER_WALL},
    }[fault]
    for _ in range(40):
        style = STROKES[int(rng.choice([0, 2, 3, 5]))]
        velocity = strike_velocity(rng, player, style, meeting.place, float(rng.uniform(*_MISSES_M[fault])))
        legs = flight(ball, meeting.time_s, meeting.place, velocity)
        index = fault_index(legs)
        if index is not None and legs[index].surface in wanted:
            return velocity, legs, index
    return None


def _error_chance(player: RallyPlayer, meeting: Interception) -> float:
    return min(0.9, player.errs * (0.5 + 3.0 * meeting.lateness**2))


class _Rally:
    """A rally while it is played."""

    def __init__(
        self,
        rng: np.random.Generator,
        players: tuple[RallyPlayer, RallyPlayer],
        ball: CourtBall,
        server: int,
        start_s: float,
    ) -> None:
        self.rng, self.players, self.ball, self.start_s = rng, players, ball, start_s
        left = rng.random() < 0.5
        x = float(rng.uniform(0.6, 2.0))
        place = (x if left else WIDTH_M - x, float(rng.uniform(5.6, 6.9)), float(rng.uniform(0.9, 2.0)))
        self.meeting = Interception(start_s, place, 0, 1.5, 0.0)
        self.who, self.server = server, server
        quarter = WIDTH_M - 1.4 if left else 1.4
        self.stands = [(0.0, 0.0), (0.0, 0.0)]
        self.stands[server], self.stands[1 - server] = place[:2], (quarter, 6.6)
        self.impacts: list[CourtImpact] = []
        self.previous = ""

    def play(self) -> PressureRally:
        """Return the rally played to its end."""
        for shots in range(MOST_SHOTS):
            fault = self._error(shots)
            if fault is not None:
                return self._end(*fault)
            shot = _good_shot(
                self.rng, self.ball, self.players[self.who], self.meeting, self._serve(shots), self.previous
            )
            if shot is None:
                break
            self.previous, velocity, legs = shot
            halted = shots > 0 and self.rng.random() < 0.007
            other = 1 - self.who
            reply = meet_ball(self.rng, legs, self.players[other], self.stands[other], self.meeting.time_s)
            if reply is None or halted:
                ending = str(self.rng.choice(["let", "stroke"], p=[0.6, 0.4])) if halted else "winner"
                return self._end(velocity, legs, floor_index(legs, 2) or len(legs) - 1, ending)
            self._go_on(velocity, legs, reply)
        velocity = strike_velocity(self.rng, self.players[self.who], FEED, self.meeting.place)
        legs = flight(self.ball, self.meeting.time_s, self.meeting.place, velocity)
        index = fault_index(legs)
        if index is None:
            return self._end(velocity, legs, floor_index(legs, 2) or len(legs) - 1, "winner")
        kinds = {Surface.TIN: "tin", Surface.FLOOR: "down"}
        return self._end(velocity, legs, index, kinds.get(legs[index].surface, "out"))

    def _serve(self, shots: int) -> StrokeStyle | None:
        if shots:
            return None
        high = self.rng.random() < self.players[self.who].high_serves
        return _HIGH_SERVE if high else _HARD_SERVE

    def _error(self, shots: int) -> tuple[Vector, list[FlightLeg], int, str] | None:
        chance = 0.012 if not shots else _error_chance(self.players[self.who], self.meeting)
        if self.rng.random() >= chance:
            return None
        fault = str(self.rng.choice(FAULTS, p=[0.6, 0.24, 0.16]))
        bad = _bad_shot(self.rng, self.ball, self.players[self.who], self.meeting, fault)
        return None if bad is None else (*bad, fault)

    def _go_on(self, velocity: Vector, legs: list[FlightLeg], reply: Interception) -> None:
        self.impacts.append(racket_impact(self.meeting, velocity, self.who))
        self.impacts += impacts_of(legs[: reply.contacts])
        gone = min(1.0, (reply.time_s - self.meeting.time_s) * 2.6 / 4.0)
        x, y, _ = self.meeting.place
        self.stands[self.who] = (x + gone * (T_M[0] - x), y + gone * (T_M[1] + 0.3 - y))
        self.who = 1 - self.who
        self.stands[self.who] = reply.place[:2]
        self.meeting = reply

    def _end(self, velocity: Vector, legs: list[FlightLeg], index: int, ending: str) -> PressureRally:
        self.impacts.append(racket_impact(self.meeting, velocity, self.who))
        stray: list[CourtImpact] = []
        if ending in {"let", "stroke"} and self.rng.random() < 0.5:
            caught = floor_index(legs, 1)
            index = index if caught is None else caught
        else:
            left = legs[index + 1 :]
            stray = impacts_of(left[: int(self.rng.integers(0, len(left) + 1))])
        self.impacts += impacts_of(legs[: index + 1])
        won = self.who if ending in {"winner", "let"} else 1 - self.who
        return PressureRally(
            tuple(self.impacts + stray),
            self.start_s,
            self.meeting.time_s,
            legs[index].end_s,
            ending,
            won,
        )


def play_pressure_rally(
    rng: np.random.Generator,
    players: tuple[RallyPlayer, RallyPlayer],
    ball: CourtBall,
    server: int,
    start_s: float,
) -> PressureRally:
    """Return one rally from the serve's strike at `start_s` to its end."""
    return _Rally(rng, players, ball, server, start_s).play()
