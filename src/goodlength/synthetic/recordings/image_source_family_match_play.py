"""Match play for the image-source training family: impacts at places, from strokes and flights.

```
 warm-up │ gap │ bounces, serve, strokes ..., last strike, ball runs dead │ pause │ ... │ between games
```
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from goodlength.synthetic.recordings.recording_types import Activity, Surface, WorldSpan
from goodlength.synthetic.recordings.training_background_levels import Setting

Place = tuple[float, float, float]
WIDTH_M, LENGTH_M = 6.40, 9.75
# Level in dB, seconds to the front wall and from there to the next strike, chance of a side wall: ASSUMED
STROKES = {
    "drive": (0.0, (0.15, 0.45), (0.75, 1.25), 0.25),
    "cross": (0.0, (0.15, 0.45), (0.75, 1.25), 0.55),
    "kill": (2.0, (0.08, 0.30), (0.45, 0.90), 0.25),
    "volley": (-1.0, (0.10, 0.35), (0.50, 1.00), 0.25),
    "boast": (-3.0, (0.35, 0.85), (0.45, 0.95), 1.0),
    "lob": (-9.0, (0.35, 0.80), (1.20, 2.00), 0.35),
    "drop": (-12.0, (0.20, 0.60), (0.45, 0.95), 0.30),
}


@dataclass(frozen=True)
class Impact:
    """An impact where and when it happens; `level_db` is beside a usual impact of its surface."""

    time_s: float
    surface: Surface
    place: Place
    level_db: float
    striker: int | None = None
    in_play: bool = True


@dataclass
class Played:
    """What happens in a recording: impacts, spans, and moments at which somebody may speak or clap."""

    impacts: list[Impact] = field(default_factory=list)
    spans: list[WorldSpan] = field(default_factory=list)
    pauses: list[tuple[float, float]] = field(default_factory=list)
    ends: list[float] = field(default_factory=list)


class StrokeMatch:
    """Plays a stretch of a match in a style drawn for it."""

    def __init__(self, rng: np.random.Generator, setting: Setting) -> None:
        self.rng = rng
        self.mean = setting.rally_mean
        self.tempo = float(np.exp(rng.normal(0, 0.14)))
        self.mix = rng.dirichlet(np.array([6, 4, 1, 2, 1.5, 1.5, 2.0]) * 1.5)
        self.spread_db = float(rng.uniform(0.5, 4.0))
        self.by_stroke = float(rng.uniform(0.3, 1.2))
        self.serve_db = float(rng.uniform(-10, 1))
        self.volleys = float(rng.uniform(0.1, 0.5))
        self.pause_s = float(rng.uniform(4, 14))
        self.dribbles = float(rng.uniform(0, 6))
        self.knocking = float(rng.uniform(0, 0.2))
        self.sent_back = float(rng.uniform(0, 0.6))
        self.ends = rng.dirichlet([4, 3, 1.2, 0.8])
        self.game_points = int(rng.integers(6, 22))
        self.at = float(rng.uniform(0.5, 8))
        self.out = Played()

    def play(self, seconds: float, warm_up_s: float) -> Played:
        """Return the stretch; a rally under way at its end is played to its end."""
        rng = self.rng
        if warm_up_s:
            self._warm_up(warm_up_s, Activity.WARM_UP)
            self._pause(float(rng.uniform(8, 60)))
        count, server = int(rng.integers(self.game_points)), int(rng.integers(2))
        while self.at < seconds - 6:
            server = self._rally(server)
            count += 1
            if count >= self.game_points:
                count = 0
                self._between_games(seconds)
            else:
                self._pause(float(self.pause_s * rng.gamma(4, 0.25)) + 2.5)
        return self.out

    def _add(
        self,
        surface: Surface,
        at: float,
        place: Place,
        db: float,
        striker: int | None = None,
        in_play: bool = True,
    ) -> None:
        db += float(self.rng.normal(0, self.spread_db))
        self.out.impacts.append(Impact(at, surface, place, db, striker, in_play))

    def _stance(self, side: int) -> Place:
        rng = self.rng
        x = float(np.clip(rng.normal(1.7 if side else 4.7, 1.1), 0.3, 6.1))
        return x, float(np.clip(rng.normal(6.6, 1.8), 1.0, 9.4)), float(rng.uniform(0.2, 2.0))

    def _rally(self, server: int) -> int:
        """Play one rally; the next server."""
        rng = self.rng
        self._dribble(server)
        start = self.at
        count = 1 + int(rng.geometric(1 / max(1.01, self.mean)))
        if rng.random() < 0.06:
            count = 1
        player, last, quiet = server, start, self.serve_db
        for k in range(count):
            kind = "serve" if k == 0 else self._kind()
            last = self.at
            end = k == count - 1
            self._stroke(kind, player, quiet if k == 0 else None, last=end)
            player = 1 - player
        let = self._end(player)
        self.out.spans.append(WorldSpan(start, self.at, Activity.RALLY, last, let))
        self.out.ends.append(self.at)
        return server if rng.random() < 0.55 else 1 - server

    def _kind(self) -> str:
        return str(self.rng.choice(list(STROKES), p=self.mix))

    def _dribble(self, server: int) -> None:
        """Bounce the ball with hand or racket before the serve."""
        rng = self.rng
        place = self._stance(server)
        period, loud = float(rng.uniform(0.3, 0.75)), float(rng.uniform(-14, -2))
        for _ in range(int(rng.poisson(self.dribbles))):
            self._add(Surface.FLOOR, self.at, (place[0], place[1], 0.02), loud, in_play=False)
            self.at += period * float(rng.uniform(0.85, 1.15))
        self.at += float(rng.uniform(0.4, 2.5))

    def _stroke(self, kind: str, player: int, db: float | None, last: bool) -> None:
        """One strike and what the ball touches until the next one."""
        rng = self.rng
        level, out_s, back_s, side = STROKES["lob" if kind == "serve" else kind]
        level = level * self.by_stroke if db is None else db
        self._add(Surface.RACKET, self.at, self._stance(player), level, player)
        flight = float(rng.uniform(*out_s)) * self.tempo
        back = float(rng.uniform(*back_s)) * self.tempo
        if kind == "boast":
            self._side(self.at + flight * float(rng.uniform(0.3, 0.6)), level)
        wall = (float(rng.uniform(0.2, 6.2)), 0.02, float(rng.uniform(0.4, 4.2)))
        self._add(Surface.FRONT_WALL, self.at + flight, wall, level)
        begin = self.at + flight
        self.at = begin + back
        if last:
            self.at = begin + back * float(rng.uniform(0.4, 0.9))
            return
        if kind != "boast" and rng.random() < side:
            self._side(begin + back * float(rng.uniform(0.3, 0.8)), level - 2)
        if rng.random() > self.volleys:
            self._floor(begin + back * float(rng.uniform(0.5, 0.93)), level)
            if rng.random() < 0.2:
                self.at += float(rng.uniform(0.05, 0.4))
                x = float(rng.uniform(0.3, 6.1))
                self._add(
                    Surface.OTHER_WALL, self.at - float(rng.uniform(0.25, 0.5)), (x, 9.73, 0.6), level - 3
                )

    def _side(self, at: float, level: float) -> None:
        x = 0.02 if self.rng.random() < 0.5 else 6.38
        place = (x, float(self.rng.uniform(1, 9)), float(self.rng.uniform(0.2, 3)))
        self._add(Surface.OTHER_WALL, at, place, level)

    def _floor(self, at: float, level: float, in_play: bool = True) -> None:
        place = (float(self.rng.uniform(0.2, 6.2)), float(self.rng.uniform(2, 9.5)), 0.02)
        self._add(Surface.FLOOR, at, place, level * 0.5, in_play=in_play)

    def _end(self, player: int) -> bool:
        """Return the ball's way after the last strike; whether the rally is to be played again."""
        rng = self.rng
        how = int(rng.choice(4, p=self.ends))
        if how == 1:  # into the tin: the front wall of the last stroke was it
            last = next(
                i
                for i in range(len(self.out.impacts) - 1, -1, -1)
                if self.out.impacts[i].surface is Surface.FRONT_WALL
            )
            hit = self.out.impacts[last]
            place = (hit.place[0], 0.02, float(rng.uniform(0.05, 0.45)))
            self.out.impacts[last] = Impact(hit.time_s, Surface.TIN, place, hit.level_db)
            self.at = hit.time_s + float(rng.uniform(0.15, 0.5))
        gap, loud = float(rng.uniform(0.3, 0.8)), float(rng.uniform(-8, 2))
        bounces = 0 if how == 2 else int(rng.integers(1, 6))
        for _ in range(bounces):
            self._floor(self.at, loud)
            if rng.random() < 0.25:
                self._side(self.at + gap * 0.5, loud - 4)
            self.at += gap
            gap *= float(rng.uniform(0.55, 0.85))
            loud -= float(rng.uniform(1, 5))
        return how == 3

    def _pause(self, length: float) -> None:
        """Somebody sends the ball back, or keeps it warm; then the next serve."""
        rng = self.rng
        begin, end = self.at, self.at + length
        self.out.pauses.append((begin, end))
        if length > 7 and rng.random() < self.knocking:
            self.at = begin + float(rng.uniform(1.5, 3))
            self._knock(
                int(rng.integers(2)), int(rng.integers(2, 8)), Activity.KNOCKING, float(rng.uniform(-8, 0))
            )
            self.at = max(end, self.at + 2)
            return
        if length > 4 and rng.random() < self.sent_back:
            at = begin + length * float(rng.uniform(0.25, 0.6))
            loud = float(rng.uniform(-16, -2))
            self._add(Surface.RACKET, at, self._stance(1), loud, int(rng.integers(2)), in_play=False)
            if rng.random() < 0.6:
                self._add(
                    Surface.FRONT_WALL,
                    at + float(rng.uniform(0.3, 0.8)),
                    (3.2, 0.02, 1.0),
                    loud,
                    in_play=False,
                )
            for k in range(int(rng.integers(1, 4))):
                self._floor(at + 0.9 + 0.5 * k, loud, in_play=False)
        if rng.random() < 0.1:
            self._add(
                Surface.OTHER,
                begin + length * float(rng.random()),
                self._stance(0),
                float(rng.uniform(-12, 3)),
                in_play=False,
            )
        self.at = end

    def _knock(self, player: int, hits: int, activity: Activity | None, loud: float) -> None:
        """One player hits the ball to himself."""
        rng = self.rng
        begin, period = self.at, float(rng.uniform(0.9, 2.0))
        last = begin
        for _ in range(hits):
            last = self.at
            gap = period * float(rng.uniform(0.85, 1.2))
            self._add(Surface.RACKET, self.at, self._stance(player), loud, player)
            self._add(
                Surface.FRONT_WALL, self.at + gap * float(rng.uniform(0.2, 0.42)), (3.0, 0.02, 1.5), loud
            )
            if rng.random() < 0.75:
                self._floor(self.at + gap * float(rng.uniform(0.6, 0.93)), loud)
            self.at += gap
        if activity is not None:
            self.out.spans.append(WorldSpan(begin, self.at, activity, last))

    def _warm_up(self, length: float, activity: Activity) -> None:
        """Each hits to himself some times, then across; or feeds; the ball is fetched now and then."""
        rng = self.rng
        begin, end = self.at, self.at + length
        each = int(rng.integers(1, 8))
        fetched, loud, player = float(rng.uniform(0, 0.2)), float(rng.uniform(-8, 0)), 0
        alone = activity is Activity.BETWEEN_GAMES
        while self.at < end:
            self._knock(player, int(rng.integers(1, each + 1)), None, loud)
            player = player if alone else 1 - player
            if rng.random() < fetched:
                self._floor(self.at, loud)
                self.at += float(rng.uniform(2, 9))
        self.out.spans.append(WorldSpan(begin, self.at, activity))

    def _between_games(self, seconds: float) -> None:
        rng = self.rng
        left = float(rng.uniform(20, 90))
        self.out.pauses.append((self.at, self.at + left))
        if rng.random() < 0.5 and self.at < seconds - 20:
            self.at += float(rng.uniform(5, 25))
            self._warm_up(float(rng.uniform(8, 50)), Activity.BETWEEN_GAMES)
            self.at += float(rng.uniform(4, 20))
        else:
            self.at += left
