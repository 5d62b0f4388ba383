"""Play from a table of shots, each with the times of what the ball touches, and from drills.

A shot has moments of its own (front wall, side wall, floor, back wall, next strike) in seconds, not shares of
a tempo. Which shot follows which depends on where it leaves the next player. Warm-ups, practice and what
happens between rallies come from a list of drills, some of which keep a rally's rhythm.

```
 warm-up drills │ rally │ ball kept warm at once │ pause │ rally │ ... │ knocking up │ ... │ drills
```
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from goodlength.synthetic.recordings.recording_types import Activity, Surface, WorldSpan
from goodlength.synthetic.recordings.training_random_session_play import RandomSession

RACKET, WALL, SIDE, FLOOR = Surface.RACKET, Surface.FRONT_WALL, Surface.OTHER_WALL, Surface.FLOOR
LEAST_NEXT_S, MOST_NEXT_S = 0.34, 3.6
LEAST_AFTER_S = 2.6  # from the last strike of a rally to the next serve
MOST_STROKES = 60


@dataclass(frozen=True)
class ShotTimes:
    """A kind of shot: seconds from the strike to what the ball touches, and where it leaves the next player.

    `side_before` is the chance of a side wall before the front wall; `side`, `floor` and `back` are chances
    of each after it; `deep` is the chance that the next shot is played from the back of the court.
    """

    level_db: float
    wall_s: float
    next_s: float
    side_before: float
    side: float
    floor: float
    back: float
    deep: float


# ASSUMED: times of a club player; each recording draws its own about them
SHOTS = {
    "drive": ShotTimes(0.0, 0.32, 1.30, 0.0, 0.15, 0.85, 0.35, 0.9),
    "cross": ShotTimes(0.0, 0.34, 1.35, 0.0, 0.55, 0.75, 0.25, 0.85),
    "volley": ShotTimes(-1.0, 0.26, 1.05, 0.0, 0.15, 0.75, 0.15, 0.8),
    "boast": ShotTimes(-3.0, 0.58, 1.30, 1.0, 0.25, 0.85, 0.0, 0.05),
    "drop": ShotTimes(-11.0, 0.30, 0.95, 0.05, 0.30, 0.80, 0.0, 0.0),
    "kill": ShotTimes(2.0, 0.20, 0.80, 0.0, 0.20, 0.85, 0.0, 0.1),
    "lob": ShotTimes(-9.0, 0.52, 2.30, 0.0, 0.35, 0.70, 0.45, 1.0),
    "fast volley": ShotTimes(-2.0, 0.17, 0.62, 0.0, 0.05, 0.1, 0.0, 0.4),
}
FROM_DEEP = {"drive": 5, "cross": 2.5, "boast": 1.2, "lob": 0.8, "drop": 0.3, "kill": 0.2}
FROM_FRONT = {"drive": 2, "cross": 2, "drop": 1.5, "lob": 1.3, "kill": 1, "volley": 1.5, "fast volley": 0.4}
WARM_UPS = (
    "turns", "turns", "across", "boast and drive", "volleys to oneself", "volleys across", "fed by hand",
    "lob and drop", "serves", "juggling", "slow across", "drives in a row", "two balls",
)  # fmt: skip


class DrillSession(RandomSession):
    """Plays a recording with shots from the table and drills; programmes as in `RandomSession`."""

    def __init__(self, rng: np.random.Generator, seconds: float, programme: str | None = None) -> None:
        super().__init__(rng, seconds, programme)
        self.pace = float(np.exp(rng.normal(0.0, 0.16)))
        self.uneven = float(rng.uniform(0.03, 0.16))
        self.own = {name: float(np.exp(rng.normal(0, 0.15))) for name in SHOTS}
        self.louder = {name: float(rng.normal(0, 2.0)) for name in SHOTS}
        self.spread = float(rng.uniform(0.3, 1.2))  # of the table's levels
        self.sides = float(rng.uniform(0.2, 1.6))
        mix = float(rng.uniform(0.4, 3))
        self.mixes = [self._mix(FROM_DEEP, mix), self._mix(FROM_FRONT, mix)]
        self.warm_chance = float(rng.choice([0.0, 0.1, 0.35]))
        self.alone = float(rng.random() ** 2)  # how often the winner keeps it warm, not the loser
        self.serve_kind = str(rng.choice(["lob", "cross", "drive"], p=[0.4, 0.4, 0.2]))
        self.deep = True

    def _mix(self, usual: dict[str, float], mix: float) -> tuple[list[str], np.ndarray]:
        names = list(usual)
        return names, self.rng.dirichlet(np.array([usual[name] for name in names]) * mix)

    # ---- a shot --------------------------------------------------------------------------------------

    def shot(self, name: str, player: int, level: float, slow: float = 1.0, until_s: float = 9.0) -> float:
        """Add a shot and what the ball touches before `until_s`; seconds until the next strike."""
        rng, shot = self.rng, SHOTS[name]
        tempo = self.pace * slow * self.own[name] * float(np.exp(rng.normal(0, self.uneven)))
        level += self.spread * shot.level_db + self.louder[name]
        following = float(np.clip(shot.next_s * tempo, LEAST_NEXT_S, MOST_NEXT_S))
        wall = float(np.clip(shot.wall_s * tempo * np.exp(rng.normal(0, 0.12)), 0.07, 0.55 * following))
        self.knock(RACKET, self.at, level, player)
        touched = [(WALL, wall, self.wall_follows * level)]
        if rng.random() < shot.side_before:
            touched.append((SIDE, wall * float(rng.uniform(0.12, 0.6)), level - 1))
        rest, floor = following - wall, wall + (following - wall) * float(rng.uniform(0.4, 0.75))
        after = [(FLOOR, floor, shot.floor), (SIDE, wall + rest * float(rng.uniform(0.2, 0.9)), 0.0)]
        after += [(SIDE, floor + (following - floor) * float(rng.uniform(0.2, 0.7)), shot.back)]
        after[1] = (SIDE, after[1][1], min(0.9, self.sides * shot.side))
        touched += [(kind, at, 0.7 * level - 2) for kind, at, chance in after if rng.random() < chance]
        for kind, at, loud in touched:
            if at < min(until_s, following - 0.03):
                self.knock(kind, self.at + at, loud)
        self.deep = rng.random() < shot.deep
        return following

    def chosen(self) -> str:
        """Return a shot that fits where the ball is."""
        names, shares = self.mixes[0 if self.deep else 1]
        return names[int(self.rng.choice(len(names), p=shares))]

    # ---- rallies -------------------------------------------------------------------------------------

    def rally(self) -> None:
        """Play a rally: the serve, the shots, the end."""
        rng = self.rng
        self._before_serve()
        start, player = self.at, int(rng.integers(2))
        count = 1 + int(rng.negative_binomial(self.even, self.even / (self.even + self.mean)))
        count = 1 if rng.random() < 0.06 else min(count, MOST_STROKES)
        last, mood = start, 0.0
        for k in range(count):
            last = self.at
            name = self.serve_kind if k == 0 else self.chosen()
            if k == count - 1:
                self._ending(name, player)
                break
            level = 0.4 * self.serve_db if k == 0 else 0.0
            self.at += self.shot(name, player, level, float(np.exp(mood)))
            mood = 0.8 * mood + float(rng.normal(0, 0.06))
            self.deep = True if k == 0 else self.deep
            player = 1 - player
        let = bool(rng.random() < 0.06)
        self.out.spans.append(WorldSpan(start, max(self.at, last + 0.05), Activity.RALLY, last, let))
        self.out.ends.append(self.at)
        if rng.random() < self.warm_chance:
            self._keep_warm(player)

    def _ending(self, name: str, player: int) -> None:
        rng = self.rng
        how = str(rng.choice(["dead", "tin", "out", "stopped", "short"], p=self.ends))
        begin = self.at
        if how == "stopped":
            self.shot(name, player, 0.0, 1.0, float(rng.uniform(0.05, 0.9)))
            self.at = begin + float(rng.uniform(0.4, 1.2))
        elif how == "dead":
            self.at = begin + self.shot(name, player, 0.0)
            self._dead(-6.0)
        else:
            self.knock(RACKET, begin, self.louder[name], player)
            self.at = begin + float(rng.uniform(0.15, 0.6))
            if how == "tin":
                self.knock(Surface.TIN, self.at, float(rng.uniform(-5, 5)))
            elif how == "out":
                self.knock(Surface.OTHER, self.at, float(rng.uniform(-12, 0)))
            self.at += float(rng.uniform(0.1, 0.6))
            self._dead(-8.0)

    def _keep_warm(self, player: int) -> None:
        """One of them hits the ball on at once: the winner on the spot, or the loser after a step."""
        rng = self.rng
        self.at += float(rng.uniform(0.4, 2.6))
        begin, kind = self.at, str(rng.choice(["drive", "drop", "volley", "lob"]))
        player = player if rng.random() < self.alone else 1 - player
        level, slow = float(rng.uniform(-12, 0)), float(rng.uniform(0.9, 1.7))
        for _ in range(int(rng.integers(1, 7))):
            self.at += self.shot(kind, player, level, slow)
        last = max(k.time_s for k in self.out.knocks if k.surface is RACKET)
        self.out.spans.append(WorldSpan(begin, max(self.at, begin + 0.1), Activity.KNOCKING, last))

    # ---- drills --------------------------------------------------------------------------------------

    def _stretch(self, until: float, style: str, level: float) -> None:
        """Hit without a match until a moment, in drills of the list, with stops to fetch the ball."""
        rng = self.rng
        drill = {"alone": "drives in a row", "across": "across", "feeding": "fed by hand"}.get(style)
        drill = str(rng.choice(WARM_UPS)) if drill is None else drill
        slow, lost = float(rng.uniform(0.9, 1.6)), float(rng.uniform(0.01, 0.15))
        player = int(rng.integers(2))
        while self.at < until:
            player = self.drilled(drill, player, level, slow)
            if rng.random() < lost:
                self._dead(level - 6)
                self.at += float(rng.uniform(1.5, 9))
            if style == "turns" and rng.random() < 0.05:
                drill = str(rng.choice(WARM_UPS))

    def drilled(self, drill: str, player: int, level: float, slow: float) -> int:
        """Play one turn of a drill; the player who hits next."""
        rng, other = self.rng, 1 - player
        if drill in ("across", "slow across", "volleys across"):
            name = "volley" if drill == "volleys across" else "cross"
            self.at += self.shot(name, player, level, slow * (1.3 if drill == "slow across" else 1.0))
            return other
        if drill == "boast and drive":
            self.at += self.shot("boast", player, level, slow)
            self.at += self.shot("drive", other, level, slow)
            return player if rng.random() < 0.8 else other
        if drill == "lob and drop":
            self.at += self.shot("lob", player, level, slow)
            self.at += self.shot("drop", other, level, slow)
            return player
        if drill in ("turns", "two balls", "drives in a row", "volleys to oneself"):
            name = "fast volley" if drill == "volleys to oneself" else "drive"
            for _ in range(int(rng.integers(2, 25 if drill != "turns" else 8))):
                self.at += self.shot(name, player, level, slow)
            if drill in ("turns", "two balls"):
                self.at += self.shot("cross", player, level, slow)
                return other
            return player if drill == "drives in a row" else other
        if drill == "serves":
            self._before_serve()
            self.at += self.shot("lob", player, level, slow) + float(rng.uniform(2.5, 7))
            return player
        if drill == "juggling":
            for _ in range(int(rng.integers(3, 20))):
                self.knock(RACKET, self.at, level - 12, player)
                self.at += float(rng.uniform(0.34, 0.7))
            self.at += float(rng.uniform(0.5, 4))
            return player
        self.knock(FLOOR, self.at, level - 10)  # fed by hand
        self.at += float(rng.uniform(0.3, 0.6))
        self.at += self.shot(self.chosen(), player, level, slow) + float(rng.uniform(0.4, 3.5))
        return player

    def pause(self) -> None:
        """Wait for the next serve; long pauses are longer than those of `RandomSession`."""
        super().pause()
        if self.rng.random() < 0.06:
            begin = self.at
            self.at += float(self.rng.uniform(10, 40))
            self.out.pauses.append((begin, self.at))
        latest = max((span.last_strike_s or 0.0 for span in self.out.spans), default=0.0)
        self.at = max(self.at, latest + LEAST_AFTER_S)
