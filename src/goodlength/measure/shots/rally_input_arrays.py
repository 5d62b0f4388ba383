"""What is known of a rally before shots are joined, as the arrays that the compiled search reads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.court.dimensions import LENGTH_M, WIDTH_M
from goodlength.footage.ball_detection.ball_candidate_selection import BallCandidates
from goodlength.footage.camera.camera_model import CameraModel
from goodlength.measure.shots.shot_flight_scoring_kernel import NONE

Floats = NDArray[np.float64]
Indices = NDArray[np.int64]

SOUND_M_S = 343.0  # in air of 20 °C; source: SOUND-SPEED-20C
FRONT_Y_M = 0.02
LINES = 1080.0
# Log likelihood ratio of a candidate that lies on the path, by its score; chosen on simulated rallies.
GAIN_NONE, GAIN_SCORE, GAIN_MOST = 1.5, 6.0, 7.0
CLICKED_GAIN = 14.0
RECALL = (0.4, 0.93)  # between which the share of balls found is believed
COUNTS_AS_FOUND = 0.6


@dataclass(frozen=True)
class SoundImpact:
    """A sound as the microphone had it, s, and the chance that a racket made it (0.5: unnamed)."""

    time_s: float
    racket_chance: float = 0.5


@dataclass(frozen=True, eq=False)
class RallyScene:
    """Arrays of a rally on one clock, seconds from `origin_us` of media time.

    `shot_flight_scoring_kernel` says what stands in each.
    `rays` (f, 8, 3) are the directions of the candidates; `bodies` says whether players' places are known,
    `sounds` whether the sound was searched.
    """

    origin_us: int
    frames: Floats
    spots: Floats
    gains: Floats
    rays: Floats
    camera: Floats
    size: Floats
    scale: float
    impacts: tuple[SoundImpact, ...]
    sounds: Floats
    bodies: bool
    with_sound: bool

    @property
    def times(self) -> Floats:
        """Time of each frame."""
        return np.asarray(self.frames[:, 0])

    @property
    def arrays(self) -> tuple[Floats, Floats, Floats, Floats, Floats]:
        """What the compiled search reads."""
        return self.frames, self.spots, self.gains, self.camera, self.size

    @property
    def length_s(self) -> float:
        """Time of the last frame."""
        return float(self.frames[-1, 0])

    def body_at(self, player: int, time_s: float) -> tuple[float, float] | None:
        """Return where a player stands; None where that is not known."""
        k = min(int(np.searchsorted(self.times, time_s)), len(self.frames) - 1)
        x, y = (float(value) for value in self.frames[k, 2 + 2 * player : 4 + 2 * player])
        return (x, y) if np.isfinite(x) and np.isfinite(y) else None

    def delay_s(self, place: Sequence[float] | Floats) -> float:
        """Return how long sound takes from a place to the microphone, taken to be at the camera."""
        return float(np.linalg.norm(np.asarray(place, float) - self.camera[9:12])) / SOUND_M_S


def camera_row(lens: CameraModel) -> Floats:
    """Return a camera as the compiled search reads it, shape (18,)."""
    return np.concatenate(
        [
            np.asarray(lens.axes, float).ravel(),
            lens.place_m,
            [lens.focal_px, lens.k1],
            lens.middle,
            lens.tangential,
        ]
    )


def scene_of(
    found: BallCandidates,
    lens: CameraModel,
    impacts: Sequence[SoundImpact],
    player_times_s: Floats,
    players_m: Floats,
    *,
    with_sound: bool,
    clicked: Sequence[tuple[int, float, float]] = (),
) -> RallyScene:
    """Return the arrays of a rally.

    Parameters
    ----------
    found : BallCandidates
        Of the rally, at least one frame.
    lens : CameraModel
    impacts : sequence of SoundImpact
        On the clock that begins with the first frame.
    player_times_s : ndarray, shape (n,)
        Same clock; n may be 0.
    players_m : ndarray, shape (n, 2, 2)
        Track, x and y; NaN where a player was not found.
    clicked : sequence of (frame, u, v)
        Where the coach says that the ball is.
    """
    origin = int(found.times_us[0])
    times = (found.times_us - origin) / 1e6
    best = np.nan_to_num(found.score[:, 0])
    searched = found.searched
    share = float((best[searched] >= COUNTS_AS_FOUND).mean()) if searched.any() else 0.0
    frames = np.full((len(times), 6), np.nan)
    frames[:, 0] = times
    frames[:, 1] = np.where(searched, np.log(1.0 - np.clip(share, *RECALL)), 0.0)
    known = bool(len(player_times_s)) and bool(np.isfinite(players_m).any())
    if known:
        for n in range(4):
            frames[:, 2 + n] = _between(player_times_s, players_m.reshape(-1, 4)[:, n], times)
    order = np.argsort(np.where(np.isfinite(found.score), -found.score, np.inf), axis=1, kind="stable")
    score = np.take_along_axis(found.score, order, axis=1)
    spots = np.take_along_axis(found.uv, order[:, :, None], axis=1)
    gains = np.where(np.isfinite(score), np.minimum(GAIN_MOST, GAIN_NONE + GAIN_SCORE * score), NONE)
    for k, u, v in clicked:
        gains[k, 0], gains[k, 1:] = CLICKED_GAIN, NONE
        spots[k, 0] = u, v
    spots = np.where(gains[:, :, None] > NONE, spots, 0.0)
    rays = lens.rays(spots.reshape(-1, 2)).reshape(*spots.shape[:2], 3)
    return RallyScene(
        origin,
        np.ascontiguousarray(frames),
        np.ascontiguousarray(spots),
        np.ascontiguousarray(gains),
        rays,
        camera_row(lens),
        np.array([lens.width, lens.height], float),
        min(lens.width, lens.height) / LINES,
        tuple(sorted(impacts, key=lambda each: each.time_s)),
        np.array(sorted(each.time_s for each in impacts)),
        known,
        with_sound,
    )


def _between(at: Floats, values: Floats, times: Floats) -> Floats:
    """Return values between those known; the nearest known one beyond them."""
    good = np.isfinite(values)
    if not good.any():
        return np.full(len(times), np.nan)
    return np.interp(times, at[good], values[good])


def aims_after(scene: RallyScene, time_s: float) -> Floats:
    """Return where candidates would meet the front wall, and when: x, z, seconds after `time_s`; (n, 3)."""
    out = []
    times = scene.times
    for k in range(*np.searchsorted(times, [time_s + SOONEST_FRONT_S, time_s + LATEST_FRONT_S])):
        for j in range(AIMS_A_FRAME):
            if scene.gains[k, j] < LEAST_AIM_GAIN:
                break
            ray = scene.rays[k, j]
            along = (FRONT_Y_M - scene.camera[10]) / ray[1]
            x, z = scene.camera[9] + along * ray[0], scene.camera[11] + along * ray[2]
            if along > 0 and -0.05 < x < WIDTH_M + 0.05 and 0.03 < z < HIGHEST_M:
                out.append((min(max(x, 0.03), WIDTH_M - 0.03), z, times[k] - time_s))
    return np.array(out, float).reshape(-1, 3)


SOONEST_FRONT_S, LATEST_FRONT_S = 0.05, 1.45
AIMS_A_FRAME, LEAST_AIM_GAIN, HIGHEST_M = 3, 2.5, 5.2
DEPTHS_M = (-1.0, -0.55, -0.15, 0.3)  # of the ball before the striker's feet, towards the front wall
ALL_DEPTHS_M = (1.5, 2.8, 4.1, 5.4, 6.6, 7.8, 9.0)  # where nobody knows where the players are
REACH_M = 1.6
MOST_STARTS = 18


def starts_at(
    scene: RallyScene, time_s: float, body: tuple[float, float] | None, before: Sequence[Floats]
) -> Floats:
    """Return where the ball may have been struck, (n, 3): ends of the shot before, candidates by depth."""
    out = [np.asarray(place, float) for place in before]
    k = int(np.searchsorted(scene.times, time_s))
    depths = ALL_DEPTHS_M if body is None else [body[1] + off for off in DEPTHS_M]
    nearest = sorted(
        range(max(0, k - 2), min(len(scene.frames), k + 2)), key=lambda n: abs(scene.times[n] - time_s)
    )
    for n in nearest[:3]:
        for j in range(3):
            if scene.gains[n, j] < LEAST_AIM_GAIN:
                break
            for depth in depths:
                along = (depth - scene.camera[10]) / scene.rays[n, j, 1]
                place = scene.camera[9:12] + along * scene.rays[n, j]
                near = body is None or abs(place[0] - body[0]) < REACH_M
                if (
                    along > 0
                    and near
                    and 0.0 < place[0] < WIDTH_M
                    and 0.02 < place[2] < 3.0
                    and 0.1 < depth < LENGTH_M
                ):
                    out.append(place)
    out = out[:MOST_STARTS]
    if len(out) < 4 and body is not None:
        out += [
            np.array([body[0] + side, body[1] - 0.2, up]) for side in (-0.8, 0.8) for up in (0.3, 0.9, 1.6)
        ]
    elif len(out) < 4:
        out += [np.array([x, y, 0.9]) for x in (1.0, 3.2, 5.4) for y in (3.0, 6.0, 8.5)]
    return np.asarray(np.clip(np.array(out), [0.04, 0.1, 0.03], [WIDTH_M - 0.04, LENGTH_M - 0.05, 3.2]))
