"""The way of moving of the choosing family: bodies that go by single steps, weight from foot to foot.

A player plans where to be when, measured from where he stands and in numbers of steps; a step is long or
short, quick or slow, and a body leans into it. What is played is a chain of patterns (a rally up and down one
wall, a change, a boast and drive), not shot by shot. Numbers are ASSUMED, of common practice.
"""

from __future__ import annotations

import numpy as np

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.player_movements.strikes_and_spans_from_recording_truth import (
    OFF_COURT_M,
    T_M,
    Numbers,
    SpanCue,
    on_court,
    path_times,
    span_cues,
)
from goodlength.synthetic.recordings.recording_types import Activity, WorldRecording

Spot = tuple[float, float]
LONGEST_STEP_M, QUICK_STEP_S, WALK_STEP_S = 1.15, 0.26, 0.55
# Patterns of play: the side of each shot in turn (0 left, 1 right) and how deep (0 front, 1 back)
PATTERNS = (
    ((0, 1), (0, 1), (0, 1), (0, 0.8)),
    ((1, 1), (1, 0.9), (1, 1), (1, 0.7)),
    ((0, 1), (1, 0), (1, 1), (0, 0)),
    ((1, 0.1), (1, 0.2), (0, 1)),
    ((0, 0.6), (1, 0.6), (0, 0.5)),
)


class _Walker:
    """One player's steps: when each foot lands and where the body then is."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng = rng
        self.lands_s = [0.0]
        self.where: list[Spot] = [(float(rng.uniform(1.5, 5)), 7.8)]
        self.pace = float(rng.uniform(0.9, 1.15))
        self.bounce_m = float(rng.uniform(0.0, 0.06))
        self.restless = float(rng.uniform(0.05, 0.4))

    @property
    def now_s(self) -> float:
        """When the last step ended."""
        return self.lands_s[-1]

    def step_to(self, spot: Spot, from_s: float, by_s: float, quick: bool) -> None:
        """Step towards a spot between two moments, as far as steps of this kind go."""
        rng = self.rng
        start = max(from_s, self.now_s)
        if by_s - start < 0.15:
            return
        self._land(start, self.where[-1])
        x, y = self.where[-1]
        dx, dy = spot[0] - x, spot[1] - y
        away = float(np.hypot(dx, dy))
        each_s = (QUICK_STEP_S if quick else WALK_STEP_S) / self.pace
        longest = LONGEST_STEP_M if quick else 0.75
        count = max(1, min(int((by_s - start) / each_s), int(np.ceil(away / (0.75 * longest)))))
        reach = min(1.0, count * longest / max(away, 1e-6))
        step_s = min((by_s - start) / count, 1.5 * each_s)
        for i in range(1, count + 1):
            share = reach * i / count
            off = rng.normal(0, 0.05, 2)
            self._land(start + i * step_s, (x + share * dx + float(off[0]), y + share * dy + float(off[1])))

    def _land(self, at_s: float, spot: Spot) -> None:
        if at_s > self.lands_s[-1] + 1e-3:
            self.lands_s.append(at_s)
            self.where.append(spot)

    def linger(self, until_s: float) -> None:
        """Stand, shifting weight now and then."""
        rng, (x, y) = self.rng, self.where[-1]
        while self.now_s < until_s - 0.9:
            pause = float(rng.uniform(0.7, 2.5))
            at = min(until_s, self.now_s + pause)
            self._land(at - 0.35, (x, y))
            if rng.random() < self.restless:
                x, y = on_court(x + float(rng.normal(0, 0.18)), y + float(rng.normal(0, 0.18)))
            self._land(at, (x, y))

    def path(self, times: Numbers) -> Numbers:
        """Return the body's path: straight from landing to landing, softened, with the bounce of waiting."""
        at, where = np.array(self.lands_s), np.array(self.where)
        raw = np.stack([np.interp(times, at, where[:, i]) for i in (0, 1)], axis=1)
        weights = np.hanning(9)[1:-1]
        soft = np.pad(raw, ((3, 3), (0, 0)), mode="edge")
        weights = weights / weights.sum()
        path = np.stack([np.convolve(soft[:, i], weights, "valid") for i in (0, 1)], axis=1)
        beat = self.bounce_m * np.sin(2 * np.pi * 1.4 * times + float(self.rng.uniform(0, 6)))
        return np.asarray(path + np.stack([beat, 0.3 * beat], axis=1), np.float64)


class _Evening:
    """Both players and the habits of this pair."""

    def __init__(self, rng: np.random.Generator) -> None:
        self.rng, self.pair = rng, (_Walker(rng), _Walker(rng))
        self.middle = on_court(T_M[0] + float(rng.normal(0, 0.2)), T_M[1] + float(rng.uniform(0.1, 1.2)))
        self.recovers = float(rng.uniform(0.5, 0.95))
        self.narrow = float(rng.uniform(0.0, 0.35))
        self.stillness_s = float(rng.uniform(0.7, 3.5))
        self.style = str(rng.choice(["across", "own side", "one feeds", "busy"]))
        self.wanders = float(rng.uniform(0.25, 0.85))
        self.side = bool(rng.random() < 0.5)

    def play(self, cue: SpanCue) -> None:
        """A rally by patterns."""
        rng = self.rng
        plan: list[tuple[float, float]] = []
        while len(plan) <= len(cue.strikes) + 1:
            plan += list(PATTERNS[int(rng.integers(len(PATTERNS)))])
        for k, strike in enumerate(cue.strikes):
            me, you = self.pair[strike.who], self.pair[1 - strike.who]
            following = cue.strikes[k + 1] if k + 1 < len(cue.strikes) else None
            until = following.time_s if following else strike.time_s + float(rng.uniform(0.8, 1.6))
            side, deep = plan[k]
            wide = 0.9 + float(rng.exponential(0.5)) + self.narrow
            spot = on_court(
                wide if side == 0 else WIDTH_M - wide, 2.2 + 6.2 * deep + float(rng.normal(0, 0.5))
            )
            goes = following is not None or rng.random() < 0.6
            if goes:
                you.step_to(spot, strike.time_s + float(rng.uniform(0.15, 0.4)), until, quick=True)
            share = self.recovers * float(rng.uniform(0.7, 1.1))
            x, y = me.where[-1]
            back = (x + share * (self.middle[0] - x), y + share * (self.middle[1] - y))
            leaves = strike.time_s + float(rng.uniform(0.15, 0.35))
            me.step_to(back, leaves, max(leaves + 0.3, until - float(rng.uniform(0, 0.3))), quick=True)

    def serve(self, cue: SpanCue) -> None:
        """Walk to the box and to the back quarter across; be still, more or less."""
        rng = self.rng
        server = cue.strikes[0].who if cue.strikes else 0
        self.side = not self.side if rng.random() < 0.6 else self.side
        box = (0.55 + float(rng.beta(2, 2)) * 1.2, 5.6 + float(rng.beta(2, 2)) * 1.3)
        away = (WIDTH_M / 2 + float(rng.uniform(0.8, 2.2)), float(rng.uniform(6.2, 8.6)))
        for who, (x, y) in ((server, box), (1 - server, away)):
            still = self.stillness_s * float(rng.gamma(3.0, 0.33)) + 0.3
            walker = self.pair[who]
            place = (x if self.side else WIDTH_M - x, y)
            walker.step_to(
                place, max(walker.now_s, cue.start_s - still - 4.5), cue.start_s - still, quick=False
            )
            walker.linger(cue.start_s)

    def rest(self, begin_s: float, end_s: float) -> None:
        """Between rallies: the ball is fetched by one, the other wanders; long ones outside."""
        rng = self.rng
        gets = int(rng.integers(2))
        for who, walker in enumerate(self.pair):
            walker.linger(begin_s + float(rng.uniform(0.2, 1.8)))
            if end_s - begin_s > 45 and rng.random() < 0.8:
                walker.step_to(OFF_COURT_M, walker.now_s, walker.now_s + 8, quick=False)
                walker.linger(end_s - 9)
                continue
            if who == gets:
                spot = (float(rng.uniform(0.4, WIDTH_M - 0.4)), float(rng.choice([1.0, 5.5, 9.2])))
                walker.step_to(spot, walker.now_s, min(end_s, walker.now_s + 6), quick=False)
            while walker.now_s < end_s - 4:
                if rng.random() < self.wanders:
                    spot = (float(rng.uniform(0.5, 5.9)), float(rng.uniform(2.0, LENGTH_M - 0.4)))
                    walker.step_to(spot, walker.now_s, min(end_s, walker.now_s + 5), quick=False)
                walker.linger(min(end_s, walker.now_s + float(rng.exponential(2.5)) + 1))

    def knock(self, cue: SpanCue) -> None:
        """Hitting without a match."""
        rng, warm = self.rng, cue.activity is Activity.WARM_UP
        if warm and self.style == "busy" and rng.random() < 0.5:
            self.play(cue)
            return
        hitters = sorted({strike.who for strike in cue.strikes})
        homes = {who: on_court(float(rng.uniform(1.0, 2.4)), float(rng.uniform(4.5, 8.0))) for who in hitters}
        turned = bool(rng.random() < 0.5)
        stray = 0.7 if self.style in ("busy", "across") else 0.25
        for strike in cue.strikes:
            walker, (x, y) = self.pair[strike.who], homes[strike.who]
            left = (strike.who == 0) != turned or (len(hitters) == 1 and turned)
            if self.style == "one feeds" and strike.who == hitters[-1] and len(hitters) == 2:
                x, y = WIDTH_M / 2, 3.6
            spot = on_court(
                (x if left else WIDTH_M - x) + float(rng.normal(0, stray)), y + float(rng.normal(0, stray))
            )
            walker.step_to(spot, strike.time_s - 0.8, strike.time_s, quick=True)
        for who in (0, 1):
            if who not in hitters:
                while self.pair[who].now_s < cue.end_s - 3:
                    spot = (float(rng.uniform(0.5, 5.9)), float(rng.uniform(6.5, 11.0)))
                    self.pair[who].step_to(spot, self.pair[who].now_s, self.pair[who].now_s + 4, quick=False)
                    self.pair[who].linger(self.pair[who].now_s + float(rng.exponential(3)) + 1)


def player_places(rng: np.random.Generator, world: WorldRecording, seconds: float) -> Numbers:
    """Return where both players are, (2, n, 2) in metres from the left and the front wall, each 50 ms."""
    evening, before = _Evening(rng), 0.0
    for cue in span_cues(world):
        evening.rest(before, cue.start_s - (6.0 if cue.activity is Activity.RALLY else 2.0))
        if cue.activity is Activity.RALLY:
            evening.serve(cue)
            evening.play(cue)
        else:
            evening.knock(cue)
        before = cue.last_s + 0.8
    evening.rest(before, seconds)
    return np.stack([walker.path(path_times(seconds)) for walker in evening.pair])
