"""First way of moving for learning: places to be at fixed moments, joined by curves that rest in each.

Habits of a recording are drawn once: how deep the play is, how far players recover, how they fetch the ball,
which warm-up they know, how long the server stands. Numbers are ASSUMED, of common practice.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.synthetic.recordings.player_movements.strikes_and_spans_from_recording_truth import (
    BOX_M,
    OFF_COURT_M,
    T_M,
    Numbers,
    SpanCue,
    mirrored,
    on_court,
    path_times,
    span_cues,
)
from goodlength.synthetic.recordings.recording_types import Activity, WorldRecording

RUN_M_S, WALK_M_S = 4.2, 1.4
# Where shots are taken: distance from a side wall, from the front wall, how often
SHOT_PLACES = (
    (1.0, 8.3, 0.34),
    (1.1, 6.6, 0.24),
    (1.2, 4.6, 0.14),
    (1.0, 2.4, 0.16),
    (2.6, 7.2, 0.08),
    (2.4, 4.4, 0.04),
)
Spot = tuple[float, float]


@dataclass(frozen=True)
class _Habits:
    recovery: float
    spread: float
    off_t: float
    server_stands_s: float
    receiver_stands_s: float
    strolls: float
    warm_up: str
    fetcher: float
    tired: float
    fidget_m: float


def _draw_habits(rng: np.random.Generator) -> _Habits:
    return _Habits(
        recovery=float(rng.uniform(0.55, 1.0)),
        spread=float(rng.uniform(0.7, 1.05)),
        off_t=float(rng.uniform(0.2, 0.6)),
        server_stands_s=float(rng.uniform(0.8, 5.0)),
        receiver_stands_s=float(rng.uniform(0.3, 4.0)),
        strolls=float(rng.uniform(0.2, 0.9)),
        warm_up=str(rng.choice(["halves", "swap", "front and back", "loose", "like a rally"])),
        fetcher=float(rng.uniform(0.3, 0.9)),
        tired=float(rng.uniform(0.0, 0.35)),
        fidget_m=float(rng.uniform(0.02, 0.09)),
    )


class _Waypoints:
    """The places of both players, gathered span by span."""

    def __init__(self, rng: np.random.Generator, seconds: float) -> None:
        self.rng, self.habits, self.seconds = rng, _draw_habits(rng), seconds
        self.at: list[list[tuple[float, float, float]]] = [[(0.0, 2.0, 7.0)], [(0.0, 4.4, 7.0)]]
        self.left, self.server = bool(rng.random() < 0.5), 0

    def go(self, who: int, time_s: float, spot: Spot, fastest: float = RUN_M_S) -> None:
        """Be at a spot by a moment, or as far on the way there as running goes."""
        last_s, x, y = self.at[who][-1]
        if time_s <= last_s + 0.05:
            return
        away = float(np.hypot(spot[0] - x, spot[1] - y))
        share = min(1.0, fastest * (time_s - last_s) / max(away, 1e-6))
        self.at[who].append((time_s, x + share * (spot[0] - x), y + share * (spot[1] - y)))

    def stay(self, who: int, until_s: float) -> None:
        """Stand until a moment."""
        last_s, x, y = self.at[who][-1]
        if until_s > last_s + 0.05:
            self.at[who].append((until_s, x, y))

    def serve_spots(self) -> tuple[Spot, Spot]:
        """Return where server and receiver stand: in a box, and in the opposite back quarter."""
        rng = self.rng
        server = (BOX_M[0] + float(rng.normal(0.3, 0.25)), BOX_M[1] + float(rng.normal(0, 0.3)))
        receiver = (1.6 + float(rng.normal(0, 0.35)), 7.3 + float(rng.normal(0, 0.45)))
        return (mirrored(server[0], self.left), server[1]), (
            mirrored(receiver[0], not self.left),
            receiver[1],
        )

    def before_serve(self, begin_s: float, cue: SpanCue) -> None:
        """Fetch the ball, stroll, and stand ready for a serve."""
        rng, habits = self.rng, self.habits
        server = cue.strikes[0].who if cue.strikes else 0
        self.left = not self.left if server == self.server else bool(rng.random() < 0.5)
        self.server = server
        length = cue.start_s - begin_s
        fetcher = server if rng.random() < habits.fetcher else 1 - server
        stands = (habits.server_stands_s, habits.receiver_stands_s)
        spots = self.serve_spots()
        for who in (0, 1):
            role = 0 if who == server else 1
            ready = cue.start_s - min(stands[role] * float(rng.lognormal(0, 0.4)), 0.4 * length)
            self.idle(who, begin_s, max(begin_s, ready - 4.0), fetches=who == fetcher)
            last_s, x, y = self.at[who][-1]
            walk = float(np.hypot(spots[role][0] - x, spots[role][1] - y)) / WALK_M_S
            self.stay(who, ready - walk * float(rng.uniform(0.8, 1.3)))
            self.go(who, max(ready, last_s + 0.3), spots[role])
            self.stay(who, cue.start_s)

    def idle(self, who: int, begin_s: float, end_s: float, fetches: bool) -> None:
        """Walk to the ball, about the court, off it in a long pause."""
        rng = self.rng
        now = begin_s + float(rng.uniform(0.4, 1.4))
        self.stay(who, now)
        if end_s - now > 40 and rng.random() < 0.75:
            self.go(who, now + 7.0, OFF_COURT_M, WALK_M_S)
            self.stay(who, end_s - 7.0)
            return
        if fetches and end_s - now > 3.0:
            corner = (float(rng.choice([0.5, WIDTH_M - 0.5])), float(rng.choice([0.8, 9.2, 9.2, 6.0])))
            now += self._walk(who, now, corner, end_s)
            now = min(end_s, now + float(rng.uniform(0.5, 1.5)))
            self.stay(who, now)
        while end_s - now > 2.5 and rng.random() < self.habits.strolls:
            spot = (float(rng.uniform(0.6, WIDTH_M - 0.6)), float(rng.uniform(2.5, LENGTH_M - 0.5)))
            now += self._walk(who, now, spot, end_s)
            now = min(end_s, now + float(rng.exponential(2.0)))
            self.stay(who, now)

    def _walk(self, who: int, now_s: float, spot: Spot, end_s: float) -> float:
        _, x, y = self.at[who][-1]
        took = float(np.hypot(spot[0] - x, spot[1] - y)) / (WALK_M_S * float(self.rng.uniform(0.7, 1.2)))
        took = min(took, max(0.1, end_s - now_s))
        self.go(who, now_s + took, spot, WALK_M_S * 1.3)
        return took

    def rally(self, cue: SpanCue, pace: float = 1.0) -> None:
        """Strike in turns, each from his shot's place, and recover towards the T."""
        rng = self.rng
        for k, strike in enumerate(cue.strikes):
            who, at = strike.who, strike.time_s
            if k:
                self.go(who, at, self.shot_place(k), RUN_M_S * pace)
            self.stay(who, at + float(rng.uniform(0.1, 0.25)))
            after = cue.strikes[k + 1].time_s if k + 1 < len(cue.strikes) else cue.end_s
            back = at + float(rng.uniform(0.6, 0.95)) * max(0.4, after - at)
            self.go(who, back, self._base(who), RUN_M_S * pace)
            self.stay(who, after + float(rng.uniform(0.05, 0.25)))
        if cue.strikes:
            loser = 1 - cue.strikes[-1].who
            if rng.random() < 0.7:
                self.go(loser, cue.last_s + float(rng.uniform(0.7, 1.3)), self.shot_place(3), RUN_M_S)

    def shot_place(self, k: int) -> Spot:
        """Return where the k-th shot of a rally is taken."""
        rng = self.rng
        weights = np.array([place[2] for place in SHOT_PLACES])
        if k == 1:
            weights = weights * np.array([1.0, 1.0, 0.2, 0.0, 0.5, 0.0])
        x, y, _ = SHOT_PLACES[int(rng.choice(len(SHOT_PLACES), p=weights / weights.sum()))]
        x, y = x + float(rng.normal(0, 0.3)), y + float(rng.normal(0, 0.4))
        wide = mirrored(x, bool(rng.random() < 0.55))
        spread = self.habits.spread * (1 - self.habits.tired * float(rng.random()))
        return on_court(T_M[0] + spread * (wide - T_M[0]), T_M[1] + spread * (y - T_M[1]))

    def _base(self, who: int) -> Spot:
        _, x, y = self.at[who][-1]
        share = self.habits.recovery * float(self.rng.uniform(0.75, 1.0))
        off = self.rng.normal(0, self.habits.off_t, 2)
        return on_court(
            x + share * (T_M[0] - x) + float(off[0]), y + share * (T_M[1] + 0.6 - y) + float(off[1])
        )

    def warm_up(self, cue: SpanCue) -> None:
        """Hit from one's own half, in a style of the recording's."""
        rng, style = self.rng, self.habits.warm_up
        if style == "like a rally":
            self.rally(cue, 0.8)
            return
        deep = [float(rng.uniform(5.5, 7.8)) for _ in range(2)]
        if style == "front and back":
            deep[int(rng.integers(2))] = float(rng.uniform(3.0, 4.2))
        stir = float(rng.uniform(0.6, 1.1)) if style == "loose" else float(rng.uniform(0.1, 0.5))
        swap = cue.start_s + float(rng.uniform(0.35, 0.65)) * (cue.end_s - cue.start_s)
        for strike in cue.strikes:
            left = (strike.who == 0) != (style == "swap" and strike.time_s > swap)
            home = (
                mirrored(1.5, left) + float(rng.normal(0, stir)),
                deep[strike.who] + float(rng.normal(0, stir)),
            )
            self.go(strike.who, strike.time_s, on_court(*home), 2.5)
            self.stay(strike.who, strike.time_s + 0.2)

    def warming_ball(self, cue: SpanCue) -> None:
        """One hits near a wall with small steps; the other walks, stands or leaves."""
        rng = self.rng
        if not cue.strikes:
            return
        hitters = {strike.who for strike in cue.strikes}
        left = bool(rng.random() < 0.5)
        home = (mirrored(float(rng.uniform(0.9, 2.2)), left), float(rng.uniform(3.2, 7.5)))
        stir = float(rng.uniform(0.05, 0.35))
        for strike in cue.strikes:
            x = WIDTH_M - home[0] if len(hitters) == 2 and strike.who else home[0]
            spot = on_court(x + float(rng.normal(0, stir)), home[1] + float(rng.normal(0, stir)))
            self.go(strike.who, strike.time_s, spot, 2.5)
        for who in {0, 1} - hitters:
            self.idle(who, cue.start_s, cue.end_s, fetches=False)


def player_places(rng: np.random.Generator, world: WorldRecording, seconds: float) -> Numbers:
    """Return where both players are, (2, n, 2) in metres from the left and the front wall, each 50 ms."""
    made = _Waypoints(rng, seconds)
    before = 0.0
    for cue in span_cues(world):
        if cue.activity is Activity.RALLY:
            made.before_serve(before, cue)
            made.rally(cue)
        else:
            for who in (0, 1):
                made.idle(who, before, cue.start_s - 1.0, fetches=who == 0)
            (made.warm_up if cue.activity is Activity.WARM_UP else made.warming_ball)(cue)
        before = max(cue.last_s + 0.5, made.at[0][-1][0], made.at[1][-1][0])
    for who in (0, 1):
        made.idle(who, before, seconds, fetches=False)
    times = path_times(seconds)
    return np.stack([_curve(rng, np.array(own), times, made.habits.fidget_m) for own in made.at])


def _curve(rng: np.random.Generator, places: Numbers, times: Numbers, fidget_m: float) -> Numbers:
    """Return a path at rest in each place, with a person's stirring."""
    at = places[:, 0]
    after = np.clip(np.searchsorted(at, times, "right"), 1, len(at) - 1)
    u = np.clip((times - at[after - 1]) / np.maximum(0.05, at[after] - at[after - 1]), 0, 1)
    ease = (u * u * (3 - 2 * u))[:, None]
    path = places[after - 1, 1:] + ease * (places[after, 1:] - places[after - 1, 1:])
    knots = rng.normal(0, fidget_m, (max(4, len(times) // 14), 2))
    grid = np.linspace(0, times[-1], len(knots))
    return np.asarray(path + np.stack([np.interp(times, grid, k) for k in knots.T], axis=1), np.float64)
