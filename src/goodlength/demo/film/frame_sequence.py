"""Generate the frames of the demo video: figures posed from the truth, drawn over the court."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from goodlength.demo.film.court_background import Picture, back_wall_glass, empty_court
from goodlength.demo.film.frame_compositing import NAVY, OCHRE, SHUTTER_S, Brush
from goodlength.demo.film.game_timeline import HAND_M, Filmed
from goodlength.demo.film.player_skeleton import FOLLOWS_S, PREPARES_S, FigureMoment, pose
from goodlength.demo.play.court_camera import Floats, PinholeCamera, Point
from goodlength.demo.play.player_walking import places
from goodlength.demo.play.rally_simulation import PlayedShot
from goodlength.scoring.scoring_types import Side

FRAMES_A_S = 25
STRIDE_M = 1.35
CLOTHES = {Side.A: NAVY, Side.B: OCHRE}


class FrameRenderer:
    """Draws any frame of a filmed game; frame n shows the moment n / 25 s."""

    def __init__(self, filmed: Filmed, camera: PinholeCamera) -> None:
        self.filmed = filmed
        self.camera = camera
        self.count = math.floor(filmed.length_s * FRAMES_A_S)
        self.court = empty_court(camera)
        self.glass = back_wall_glass(camera)
        self.strikes: dict[Side, tuple[PlayedShot, ...]] = {
            side: tuple(s for r in filmed.rallies for s in r.strikes if s.by is side) for side in Side
        }
        times = np.arange(self.count) / FRAMES_A_S
        hit_times = {side: tuple(s.time_s for s in own) for side, own in self.strikes.items()}
        self.places = places(filmed.walks, hit_times, times)
        self.speeds = {side: np.gradient(p, 1 / FRAMES_A_S, axis=0) for side, p in self.places.items()}
        self.phases = {side: _phases(v) for side, v in self.speeds.items()}
        self.hit_times = {side: np.array(t) for side, t in hit_times.items()}

    def moment(self, side: Side, n: int) -> FigureMoment:
        """Return what a figure is doing in a frame."""
        t = n / FRAMES_A_S
        x, y = self.places[side][n]
        vx, vy = self.speeds[side][n]
        own = self.hit_times[side]
        near: PlayedShot | None = None
        if own.size:
            strike = self.strikes[side][int(np.argmin(np.abs(own - t)))]
            near = strike if -PREPARES_S <= t - strike.time_s <= FOLLOWS_S else None
        return FigureMoment(
            float(x),
            float(y),
            float(vx),
            float(vy),
            float(self.phases[side][n]),
            None if near is None else t - near.time_s,
            None if near is None else near.ball,
            self.hand_at(side, t),
            self.filmed.playing(t),
            self.bends(side, t),
        )

    def bends(self, side: Side, t: float) -> float:
        """Return how far a player is down for the ball, 0 to 1."""
        near = [1 - abs(t - at) / 0.45 for at, who, _ in self.filmed.picked_up if who is side]
        return max(0.0, *near, 0.0)

    def hand_at(self, side: Side, t: float) -> Point | None:
        """Return where a server's free hand is in the two seconds before the serve."""
        for rally in self.filmed.rallies:
            before = rally.start_s - t
            if 0.0 < before <= 2.2 and rally.plan.server is side:
                ball = self.filmed.ball(t)
                x, y = rally.strikes[0].body
                if before <= 0.45:
                    return (x + 0.2, y - 0.40, 1.05)
                z = HAND_M if ball is None else max(HAND_M - 0.1, min(ball[2] + 0.05, HAND_M + 0.1))
                return (x + 0.15, y - 0.45, z)
        return next(
            (at for when, who, at in self.filmed.picked_up if who is side and abs(t - when) < 0.3), None
        )

    def frame(self, n: int) -> Picture:
        """Return frame n, blue-green-red."""
        picture = self.court.copy()
        brush = Brush(picture, self.camera)
        t = n / FRAMES_A_S
        ball = self.filmed.ball(t)
        order = sorted(Side, key=lambda side: float(self.places[side][n][1]))
        for side in order:
            brush.shadow(float(self.places[side][n][0]), float(self.places[side][n][1]))
        if ball is not None:
            brush.ball_shadow(ball)
        ball_done = ball is None
        for side in order:
            if not ball_done and ball is not None and ball[1] < self.places[side][n][1] - 0.3:
                self._ball(brush, t, ball)
                ball_done = True
            brush.figure(pose(self.moment(side, n)), CLOTHES[side])
        if not ball_done and ball is not None:
            self._ball(brush, t, ball)
        self.glass.over(picture)
        return picture

    def _ball(self, brush: Brush, t: float, ball: Point) -> None:
        """The ball with its streak, from the shutter's opening to its closing."""
        before, after = self.filmed.ball(t - SHUTTER_S / 2), self.filmed.ball(t + SHUTTER_S / 2)
        brush.ball(before or ball, after or ball)

    def frames(self, first: int = 0, last: int | None = None) -> Iterator[Picture]:
        """Yield frames first to last, the last left out."""
        for n in range(first, self.count if last is None else min(last, self.count)):
            yield self.frame(n)


def _phases(speed: Floats) -> Floats:
    """Phase of the steps: grows with the way gone."""
    way = np.cumsum(np.hypot(speed[:, 0], speed[:, 1])) / FRAMES_A_S
    return np.asarray(way * (2 * math.pi / STRIDE_M))
