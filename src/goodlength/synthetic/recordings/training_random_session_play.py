"""Random play for the broad training families: whole sessions from random processes.

A recording has kinds of stroke of its own, each with a loudness, a tempo and a way of the ball; a chain
says which follows which. Tempo wanders. Warm-ups have many styles, some of which look much like rallies;
now and then nobody plays a match at all.

```
 warm-up │ bounces, serve, strokes ..., ball runs dead │ pause, ball sent back │ ... │ break │ ...
```
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from goodlength.synthetic.recordings.recording_types import Activity, Surface, WorldSpan

WALL, FLOOR = Surface.OTHER_WALL, Surface.FLOOR
# What the ball may touch between the front wall and the next strike
WAYS = ((FLOOR,), (), (WALL, FLOOR), (FLOOR, WALL), (WALL,), (WALL, WALL, FLOOR), (WALL, FLOOR, WALL))
LEAST_GAP_S, MOST_GAP_S = 0.33, 3.6
# Of the time from strike to strike, that to the front wall: a ball flies out faster than it comes back from
# the wall, bounces and is met; ASSUMED
LEAST_OUT, MOST_OUT = 0.08, 0.52
PROGRAMMES = ("match", "match with a warm-up", "practice", "nobody plays")
PROGRAMME_SHARES = (0.50, 0.40, 0.03, 0.07)


@dataclass(frozen=True)
class Knock:
    """An impact: its moment, what was struck, its level in dB beside a usual one, and by whom."""

    time_s: float
    surface: Surface
    level_db: float
    striker: int | None = None


@dataclass
class PlayedSession:
    """What happens in a recording."""

    knocks: list[Knock] = field(default_factory=list)
    spans: list[WorldSpan] = field(default_factory=list)
    pauses: list[tuple[float, float]] = field(default_factory=list)
    ends: list[float] = field(default_factory=list)


@dataclass(frozen=True)
class Strokes:
    """The kinds of stroke of a recording, one entry each; `follows` are chances of the next kind."""

    level_db: NDArray[np.float64]
    tempo: NDArray[np.float64]
    out_share: NDArray[np.float64]
    ways: NDArray[np.float64]
    boast: NDArray[np.float64]
    follows: NDArray[np.float64]


def draw_strokes(rng: np.random.Generator) -> Strokes:
    """Return kinds of stroke, one to six."""
    count = int(rng.integers(1, 7))
    soft = rng.random(count) < rng.uniform(0, 0.6)
    common = rng.dirichlet(np.array([5, 2, 2, 1.0, 0.7, 0.3, 0.2]))
    own = rng.dirichlet(np.array([4, 2, 2, 1.5, 1, 0.5, 0.3]), count)
    share = float(rng.random())
    return Strokes(
        level_db=np.where(soft, rng.uniform(-20, -5, count), rng.uniform(-5, 2, count)),
        tempo=np.exp(rng.normal(0, rng.uniform(0, 0.35), count)),
        out_share=np.clip(rng.uniform(0.18, 0.42) + rng.normal(0, 0.06, count), LEAST_OUT, MOST_OUT),
        ways=share * common + (1 - share) * own,
        boast=rng.uniform(0, 1, count) ** 3,
        follows=rng.dirichlet(np.full(count, float(rng.uniform(0.4, 3))), count),
    )


class RandomSession:
    """Plays a recording of `seconds`.

    Parameters
    ----------
    rng : numpy Generator
    seconds : float
    programme : str, optional
        One of `PROGRAMMES`; drawn when None.
    """

    def __init__(self, rng: np.random.Generator, seconds: float, programme: str | None = None) -> None:
        self.rng, self.seconds = rng, seconds
        self.programme = str(rng.choice(PROGRAMMES, p=PROGRAMME_SHARES)) if programme is None else programme
        self.strokes = draw_strokes(rng)
        self.gap_s = float(np.exp(rng.uniform(np.log(0.6), np.log(2.2))))
        self.memory, self.spread = float(rng.uniform(0, 0.9)), float(rng.uniform(0.03, 0.35))
        self.jitter_db, self.wall_follows = float(rng.uniform(0.2, 3.5)), float(rng.uniform(0.3, 1.2))
        self.serve_db, self.serve_tempo = float(rng.uniform(-16, 2)), float(rng.uniform(0.8, 1.7))
        self.mean = float(np.exp(rng.uniform(np.log(1.3), np.log(16))))
        self.even = float(rng.uniform(0.5, 6))  # how alike rallies are in length
        self.ends = rng.dirichlet([3, 3, 1.5, 1, 1])
        self.wait_s, self.wait_even = float(rng.uniform(4, 22)), float(rng.uniform(1.5, 8))
        self.bounced, self.bounced_with_racket = float(rng.uniform(0, 6)), float(rng.random() ** 3)
        self.sent_back, self.keep_warm_chance = float(rng.uniform(0, 0.9)), float(rng.uniform(0, 0.25))
        self.dead_bounces = float(rng.uniform(0, 6))
        self.at = float(rng.uniform(0, 12))
        self.out = PlayedSession()

    # ---- single impacts ------------------------------------------------------------------------------

    def knock(self, surface: Surface, at: float, level: float, striker: int | None = None) -> None:
        """Add an impact."""
        level += float(self.rng.normal(0, self.jitter_db))
        self.out.knocks.append(Knock(at, surface, level, striker))

    def gap(self, kind: int, mood: float) -> float:
        """Return seconds to the next strike."""
        usual = self.gap_s * float(self.strokes.tempo[kind]) * float(np.exp(mood))
        return float(np.clip(usual, LEAST_GAP_S, MOST_GAP_S))

    def stroke(self, kind: int, player: int, level: float, gap: float) -> None:
        """Add a strike, the front wall, and what the ball touches until the next strike."""
        rng, strokes = self.rng, self.strokes
        self.knock(Surface.RACKET, self.at, level, player)
        out = gap * float(np.clip(strokes.out_share[kind] + rng.normal(0, 0.04), LEAST_OUT, MOST_OUT))
        if rng.random() < strokes.boast[kind]:
            self.knock(WALL, self.at + out * float(rng.uniform(0.15, 0.8)), self.wall_follows * level)
        self.knock(Surface.FRONT_WALL, self.at + out, self.wall_follows * level)
        way = WAYS[int(rng.choice(len(WAYS), p=strokes.ways[kind]))]
        places = np.sort(rng.uniform(0.08, 0.96, len(way)))
        for surface, place in zip(way, places.tolist(), strict=True):
            self.knock(surface, self.at + out + place * (gap - out), 0.7 * self.wall_follows * level)

    def next_kind(self, kind: int) -> int:
        """Return the kind of the next stroke."""
        return int(self.rng.choice(len(self.strokes.level_db), p=self.strokes.follows[kind]))

    # ---- rallies -------------------------------------------------------------------------------------

    def rally(self) -> None:
        """Play a rally: the serve, the strokes, the end, the ball running dead."""
        rng = self.rng
        self._before_serve()
        start, player = self.at, int(rng.integers(2))
        kind, mood, last = int(rng.integers(len(self.strokes.level_db))), 0.0, start
        count = 1 + int(rng.negative_binomial(self.even, self.even / (self.even + self.mean)))
        count = 1 if rng.random() < 0.05 else min(count, 70)
        for k in range(count):
            last = self.at
            level = self.serve_db if k == 0 else float(self.strokes.level_db[kind])
            gap = self.gap(kind, mood) * (self.serve_tempo if k == 0 else 1.0)
            gap = min(gap, MOST_GAP_S)
            if k == count - 1:
                self._end(player, level, gap)
                break
            self.stroke(kind, player, level, gap)
            self.at += gap
            player, kind = 1 - player, self.next_kind(kind)
            mood = self.memory * mood + self.spread * float(rng.normal())
        let = bool(rng.random() < 0.06)
        self.out.spans.append(WorldSpan(start, max(self.at, last + 0.05), Activity.RALLY, last, let))
        self.out.ends.append(self.at)

    def _before_serve(self) -> None:
        rng = self.rng
        period, level = float(rng.uniform(0.2, 0.9)), float(rng.uniform(-20, -3))
        kind = Surface.RACKET if rng.random() < self.bounced_with_racket else FLOOR
        for _ in range(int(rng.poisson(self.bounced))):
            self.knock(kind, self.at, level, 0 if kind is Surface.RACKET else None)
            if kind is Surface.RACKET and rng.random() < 0.7:
                self.knock(FLOOR, self.at + period * float(rng.uniform(0.3, 0.6)), level)
            self.at += period * float(rng.uniform(0.9, 1.1))
        self.at += float(rng.uniform(0.3, 3.0))

    def _end(self, player: int, level: float, gap: float) -> None:
        """Add the last strike and how the rally ends: tin, dead ball, out, stopped, not reaching the wall."""
        rng = self.rng
        self.knock(Surface.RACKET, self.at, level, player)
        how = int(rng.choice(5, p=self.ends))
        wall = self.at + gap * float(rng.uniform(0.15, 0.5))
        if how == 0:
            self.knock(Surface.TIN, wall, level + float(rng.uniform(-3, 5)))
        elif how in (1, 3):
            self.knock(Surface.FRONT_WALL, wall, self.wall_follows * level)
        elif how == 2:
            self.knock(Surface.OTHER, wall, float(rng.uniform(-10, 0)))
        self.at = wall + float(rng.uniform(0.1, 0.9))
        if how != 3:
            self._dead(level)

    def _dead(self, level: float) -> None:
        rng = self.rng
        gap = float(rng.uniform(0.2, 1.0))
        for _ in range(int(rng.poisson(self.dead_bounces))):
            self.knock(FLOOR if rng.random() < 0.75 else WALL, self.at, level)
            self.at += gap
            gap *= float(rng.uniform(0.55, 0.97))
            level -= float(rng.uniform(0, 4))
            if gap < 0.05:
                break

    # ---- between rallies -----------------------------------------------------------------------------

    def pause(self) -> None:
        """Add what happens between rallies."""
        rng = self.rng
        begin = self.at
        length = 2.6 + float(rng.gamma(self.wait_even, self.wait_s / self.wait_even))
        choice = float(rng.random())
        if length > 8 and choice < self.keep_warm_chance:
            self.at += float(rng.uniform(1, 4))
            self.hit_about(float(rng.uniform(2, 9)), Activity.KNOCKING, "alone")
        elif length > 4 and choice < self.keep_warm_chance + self.sent_back:
            self.at += float(rng.uniform(0.8, 0.5 * length))
            self._send_back()
        if rng.random() < 0.25:
            at = begin + length * float(rng.random())
            self.knock(Surface.OTHER, at, float(rng.uniform(-14, 4)))
        self.at = max(begin + length, self.at + 1.5)
        self.out.pauses.append((begin, self.at))

    def _send_back(self) -> None:
        """Somebody hits the ball to the server: one or two strikes, a wall perhaps, bounces."""
        rng = self.rng
        level = float(rng.uniform(-18, 0))
        for _ in range(int(rng.integers(1, 3))):
            self.knock(Surface.RACKET, self.at, level, int(rng.integers(2)))
            self.at += float(rng.uniform(0.25, 0.9))
            for _ in range(int(rng.integers(0, 4))):
                kind = (FLOOR, FLOOR, WALL, Surface.FRONT_WALL)[int(rng.integers(4))]
                self.knock(kind, self.at, level - 3)
                self.at += float(rng.uniform(0.2, 0.8))

    def hit_about(self, seconds: float, activity: Activity, style: str | None = None) -> None:
        """Add hitting that is no match, in one of many styles.

        alone: one keeps hitting to himself; turns: some to himself, then across; across: every shot to the
        other, as in a rally; feeding: feed and shot; two balls: two at once.
        """
        rng = self.rng
        styles = ("alone", "turns", "turns", "turns", "across", "feeding", "two balls")
        style = str(rng.choice(styles)) if style is None else style
        begin, level = self.at, float(rng.uniform(-14, 1))
        if style == "two balls":
            self._stretch(begin + seconds, "turns", level)
            self.at = begin + float(rng.uniform(0, 1.5))
            style = "turns"
        self._stretch(begin + seconds, style, level)
        last = max((k.time_s for k in self.out.knocks if k.surface is Surface.RACKET), default=begin)
        self.out.spans.append(WorldSpan(begin, max(self.at, begin + 0.1), activity, max(begin, last)))

    def _stretch(self, until: float, style: str, level: float) -> None:
        rng = self.rng
        period, steady = float(np.exp(rng.uniform(np.log(0.55), np.log(2.3)))), float(rng.uniform(0.02, 0.25))
        run = {"alone": 40, "across": 1, "feeding": 1}.get(style, int(rng.integers(2, 10)))
        fetched, kind, player = float(rng.uniform(0, 0.1)), 0, int(rng.integers(2))
        while self.at < until:
            for _ in range(int(rng.integers(max(1, run // 2), run + 1))):
                gap = float(np.clip(period * np.exp(rng.normal(0, steady)), LEAST_GAP_S, MOST_GAP_S))
                soft = level - (float(rng.uniform(0, 8)) if style == "feeding" and rng.random() < 0.5 else 0)
                self.stroke(kind, player, soft, gap)
                self.at += gap
                kind = self.next_kind(kind) if rng.random() < 0.5 else kind
                if self.at >= until:
                    break
            player = player if style == "alone" else 1 - player
            if rng.random() < fetched:
                self._dead(level - 4)
                self.at += float(rng.uniform(1, 5))

    # ---- the whole -----------------------------------------------------------------------------------

    def play(self) -> PlayedSession:
        """Return the whole recording; a rally under way at its end is played to its end."""
        rng = self.rng
        if self.programme == "nobody plays":
            self._no_play()
            self.out.pauses = [(a, a + 8.0) for a in np.arange(0, self.seconds, 8.0).tolist()]
            return self.out
        if self.programme == "practice":
            while self.at < self.seconds - 5:
                self.hit_about(float(rng.uniform(15, 90)), Activity.WARM_UP)
                self.pause()
            return self.out
        if self.programme == "match with a warm-up":
            self.hit_about(self.seconds * float(rng.uniform(0.1, 0.7)), Activity.WARM_UP)
            self.out.pauses.append((self.at, self.at + 8))
            self.at += float(rng.uniform(3, 40))
        self._match()
        return self.out

    def _no_play(self) -> None:
        """Add single knocks, and trains of knocks at a rhythm of their own: walking, hammering."""
        rng = self.rng
        for at in rng.uniform(0, self.seconds, int(rng.poisson(self.seconds / 20))).tolist():
            self.knock(Surface.OTHER, at, float(rng.uniform(-20, 4)))
        for begin in rng.uniform(0, self.seconds, int(rng.poisson(self.seconds * rng.uniform(0, 0.08)))):
            at, level, jitter = float(begin), float(rng.uniform(-16, 2)), float(rng.uniform(0.02, 0.4))
            period = float(np.exp(rng.uniform(np.log(0.3), np.log(1.6))))
            kind = Surface.OTHER if rng.random() < 0.6 else FLOOR
            for _ in range(int(rng.integers(2, 30))):
                self.knock(kind, at, level)
                at += period * float(np.exp(rng.normal(0, jitter)))

    def _match(self) -> None:
        rng = self.rng
        points, count = int(rng.integers(4, 25)), int(rng.integers(10))
        while self.at < self.seconds - 4:
            self.rally()
            self.pause()
            count += 1
            if count >= points:
                count = 0
                self.at += float(rng.uniform(5, 60))
                if rng.random() < 0.6 and self.at < self.seconds - 12:
                    self.hit_about(float(rng.uniform(5, 60)), Activity.BETWEEN_GAMES)
                    self.at += float(rng.uniform(3, 30))
