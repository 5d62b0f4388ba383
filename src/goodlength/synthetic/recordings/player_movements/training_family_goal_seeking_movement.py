"""Second way of moving for learning: two bodies that accelerate towards goals which change as the ball does.

Nothing is placed in advance: twenty times a second each player has a goal (from what goes on, and what the
other does) and speeds up or brakes towards it within what legs allow, after a time to react. Where a strike
falls is where the body has come to. Numbers are ASSUMED, of common practice.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field

import numpy as np

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.player_movements.strikes_and_spans_from_recording_truth import (
    OFF_COURT_M,
    STEP_S,
    T_M,
    Numbers,
    SpanCue,
    on_court,
    path_times,
    span_cues,
)
from goodlength.synthetic.recordings.recording_types import Activity, WorldRecording

Spot = tuple[float, float]
OUT_M = LENGTH_M - 0.2


@dataclass
class _Body:
    """A player: place, speed, what he can do, and his goals by time: (from when, where, how fast)."""

    place: Numbers
    quick_m_s2: float
    fast_m_s: float
    reacts_s: float
    goals: list[tuple[float, Spot, float]] = field(default_factory=list)

    def aim(self, from_s: float, spot: Spot, fast_m_s: float) -> None:
        """From a moment on, go there."""
        self.goals.append((from_s, spot, fast_m_s))

    def forget(self, from_s: float) -> None:
        """Drop all goals from a moment on."""
        self.goals = [goal for goal in self.goals if goal[0] < from_s]


def _draw_body(rng: np.random.Generator) -> _Body:
    return _Body(
        np.array([float(rng.uniform(1, 5.4)), 7.5]),
        quick_m_s2=float(rng.uniform(5.0, 11.0)),
        fast_m_s=float(rng.uniform(3.0, 5.2)),
        reacts_s=float(rng.uniform(0.15, 0.4)),
    )


class _Session:
    """What goes on, as goals for both."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.bodies = (_draw_body(rng), _draw_body(rng))
        self.line = float(rng.uniform(0.4, 0.85))  # how often the ball comes back along the same wall
        self.short = float(rng.uniform(0.08, 0.35))
        self.lazy = float(rng.uniform(0.0, 0.5))  # of going back to the middle
        self.soon_s = float(rng.uniform(1.0, 6.0))  # before a serve both stand
        self.walks_m_s = float(rng.uniform(0.9, 1.7))
        self.knock_up = int(rng.integers(4))
        self.side = 1

    def ball(self) -> Spot:
        """Return where the next shot comes down: along a wall, short or deep."""
        rng = self.rng
        if rng.random() > self.line:
            self.side = -self.side
        wide = float(rng.gamma(4.0, 0.28))
        short = rng.random() < self.short
        y = float(rng.uniform(1.4, 3.6)) if short else float(rng.normal(7.6, 1.1))
        return on_court(T_M[0] + self.side * (T_M[0] - wide), y)

    def rally(self, cue: SpanCue) -> None:
        """The striker to be goes where the ball comes; the other makes for the middle and watches."""
        rng = self.rng
        for k, strike in enumerate(cue.strikes):
            mine, other = self.bodies[strike.who], self.bodies[1 - strike.who]
            goes_on = k + 1 < len(cue.strikes) or rng.random() < 0.8
            middle = (T_M[0] + float(rng.normal(0, 0.35)), T_M[1] + 0.5 + float(rng.normal(0, 0.4)))
            mine.aim(strike.time_s + 0.15, middle, mine.fast_m_s * (1 - self.lazy * float(rng.random())))
            if goes_on:
                spot = self.ball()
                if strike.who == (cue.strikes[k + 1].who if k + 1 < len(cue.strikes) else 1 - strike.who):
                    mine.aim(strike.time_s + 0.2, spot, mine.fast_m_s)
                else:
                    see = strike.time_s + other.reacts_s + float(rng.uniform(0, 0.15))
                    other.aim(see, spot, other.fast_m_s)
        for body in self.bodies:
            end = cue.last_s + float(rng.uniform(0.6, 1.6))
            body.aim(end, self.anywhere(), self.walks_m_s)

    def anywhere(self) -> Spot:
        """Return a place on court."""
        return float(self.rng.uniform(0.5, WIDTH_M - 0.5)), float(self.rng.uniform(1.0, OUT_M))

    def ready(self, cue: SpanCue, begin_s: float) -> None:
        """Both at their places for the serve; the receiver often turns up late and stirs."""
        rng = self.rng
        length = cue.start_s - begin_s
        server = cue.strikes[0].who if cue.strikes else 0
        left = bool(rng.random() < 0.5)
        box = (float(rng.uniform(0.5, 1.9)), float(rng.uniform(5.7, 6.9)))
        back = (float(rng.uniform(1.0, 2.3)), float(rng.uniform(6.3, 8.3)))
        for who, spot, side in ((server, box, left), (1 - server, back, not left)):
            early = min(0.8 * length, 0.8 + float(rng.exponential(self.soon_s)))
            walk = min(4.0, length - early)
            x = spot[0] if side else WIDTH_M - spot[0]
            self.bodies[who].forget(cue.start_s - early - walk)
            self.bodies[who].aim(cue.start_s - early - walk, (x, spot[1]), 2.6)
            if who != server and rng.random() < 0.4:  # a shuffle on the toes
                at = cue.start_s - float(rng.uniform(0.3, 2.0))
                if at > cue.start_s - early:
                    self.bodies[who].aim(at, (x + float(rng.normal(0, 0.2)), spot[1]), 1.0)

    def between(self, begin_s: float, end_s: float) -> None:
        """Fetch, stroll, talk, leave; one of them the ball's way."""
        rng = self.rng
        fetcher = int(rng.integers(2))
        for who, body in enumerate(self.bodies):
            at = begin_s + float(rng.uniform(0.3, 2.0))
            if end_s - at > 35 and rng.random() < 0.7:
                body.aim(at + float(rng.uniform(0, 6)), OFF_COURT_M, self.walks_m_s)
                body.aim(end_s - float(rng.uniform(5, 12)), (T_M[0], 8.0), self.walks_m_s)
                continue
            if who == fetcher:
                body.aim(
                    at, (float(rng.choice([0.4, 6.0])), float(rng.uniform(0.8, 9.3))), self.walks_m_s * 1.2
                )
                at += float(rng.uniform(3.0, 5.0))
            while at < end_s - 5.0:
                if rng.random() < 0.55:
                    body.aim(at, self.anywhere(), self.walks_m_s * float(rng.uniform(0.6, 1.1)))
                at += float(rng.gamma(2.0, 2.0))

    def hitting(self, cue: SpanCue) -> None:
        """A warm-up or knocking: everyone who hits has a beat of his own, smaller or larger."""
        rng = self.rng
        hitters = {strike.who for strike in cue.strikes}
        warm = cue.activity is Activity.WARM_UP
        side = bool(rng.random() < 0.5)
        wide, stray = float(rng.uniform(1.0, 2.2)), float(rng.choice([0.15, 0.4, 0.8]))
        deep = (float(rng.uniform(4.0, 8.2)), float(rng.uniform(5.5, 8.2)))
        if warm and self.knock_up == 3 and rng.random() < 0.5:
            self.rally(cue)
            return
        changes = cue.start_s + 0.5 * (cue.end_s - cue.start_s) if self.knock_up == 1 else np.inf
        for strike in cue.strikes:
            body = self.bodies[strike.who]
            left = (strike.who == 0) == side
            left = left != (strike.time_s > changes)
            x = wide if left else WIDTH_M - wide
            if not warm and len(hitters) == 1:
                x = wide if side else WIDTH_M - wide
            spot = on_court(x + float(rng.normal(0, stray)), deep[strike.who] + float(rng.normal(0, stray)))
            body.aim(strike.time_s - float(rng.uniform(0.5, 0.9)), spot, 2.4)
        for who in {0, 1} - hitters:
            body, at = self.bodies[who], cue.start_s
            while at < cue.end_s:
                if rng.random() < 0.5:
                    body.aim(at, OFF_COURT_M if rng.random() < 0.2 else self.anywhere(), self.walks_m_s)
                at += float(rng.gamma(2.0, 2.5))


def player_places(rng: np.random.Generator, world: WorldRecording, seconds: float) -> Numbers:
    """Return where both players are, (2, n, 2) in metres from the left and the front wall, each 50 ms."""
    session, before = _Session(rng), 0.0
    for cue in span_cues(world):
        session.between(before, cue.start_s - 1.5)
        if cue.activity is Activity.RALLY:
            session.ready(cue, before)
            session.rally(cue)
        else:
            session.hitting(cue)
        before = cue.last_s + 1.2
    session.between(before, seconds)
    times = path_times(seconds)
    return np.stack([_walked(rng, body, times) for body in session.bodies])


def _walked(rng: np.random.Generator, body: _Body, times: Numbers) -> Numbers:
    """Return the path of a body that follows its goals."""
    goals = sorted(body.goals)
    starts = [goal[0] for goal in goals]
    place, speed = body.place.tolist(), [0.0, 0.0]
    path = np.zeros((len(times), 2))
    for k, now in enumerate(times.tolist()):
        i = bisect_right(starts, now) - 1
        _, spot, fast = goals[i] if i >= 0 else (0.0, (place[0], place[1]), 1.0)
        dx, dy = spot[0] - place[0], spot[1] - place[1]
        away = (dx * dx + dy * dy) ** 0.5
        wanted = min(fast, (1.4 * body.quick_m_s2 * away) ** 0.5, away / STEP_S)
        for axis, d in enumerate((dx, dy)):
            more = (wanted * d / away if away > 1e-6 else 0.0) - speed[axis]
            speed[axis] += (
                max(-1.0, min(1.0, more / (body.quick_m_s2 * STEP_S + 1e-9))) * body.quick_m_s2 * STEP_S
            )
            place[axis] += STEP_S * speed[axis]
        path[k] = place
    sway = rng.uniform(0.01, 0.05) * np.sin(times[:, None] * rng.uniform(1.5, 5.0, 2) + rng.uniform(0, 6, 2))
    noise = np.cumsum(rng.normal(0, 0.012, path.shape), axis=0)
    drift = noise - np.stack([np.convolve(noise[:, i], np.ones(41) / 41, "same") for i in (0, 1)], axis=1)
    return np.asarray(path + sway + drift, np.float64)
