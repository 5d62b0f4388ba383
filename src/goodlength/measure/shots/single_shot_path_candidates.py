"""Paths of one shot: found from a start, judged against candidates, sounds and rules."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from goodlength.ball.flight.path_at_times_kernel import path_at
from goodlength.ball.model import flight_array_indices as col
from goodlength.court import SINGLES
from goodlength.court.dimensions import FRONT_OUT_M, side_wall_line_m
from goodlength.measure.shots.rally_input_arrays import Floats, Indices, RallyScene, aims_after, starts_at
from goodlength.measure.shots.shot_flight_scoring_kernel import FLOOR, MOST, SHIFT, UNKNOWNS, WALL
from goodlength.measure.shots.shot_search_kernel import FINAL, judge_path, search_shot

LONGEST_SHOT_S = 3.4
SHORTEST_SHOT_S = 0.35
TOP = 10
STRIKE_HIGH_M, STRIKE_HIGH_SD_M = 0.95, 0.75
STRIKE_SIDE_SD_M, STRIKE_DEPTH_OFF_M, STRIKE_DEPTH_SD_M = 0.75, -0.3, 0.5
ANYWHERE_M = ((3.2, 5.5, 0.95), (2.5, 3.0, 0.8))
SPEED_SD_M_S = 60.0
BOUNCE_SD, FLOOR_SD = 0.06, 0.06
SHIFT_SD_S, READOUT_S, READOUT_SD_S = 0.009, 0.012, 0.006
OUT_MARGIN_M = 0.02

# Chance that a contact is heard, by surface; sounds a second that are none of them.
CONTACT_SOUND_CHANCE = {col.FRONT: 0.9, col.LEFT: 0.4, col.RIGHT: 0.4, col.BACK: 0.4, col.FLOOR: 0.3}
SOUND_SD_S, OTHER_SOUNDS_A_S = 0.007, 2.0


@dataclass(frozen=True, eq=False)
class FoundPath:
    """A path flown from one strike: unknowns, and what they say in frames `begin` onward.

    `sums` (n,) are scores up to each frame, `taken` (n,) the candidates on the path, `contacts` (m, 5) time
    after the strike, place and surface; `row` the ball's coefficients, `rows` (n,) how far down each
    frame shows the ball. `sounds_due` says by the time of each contact, s on the rally's clock, how well the
    contacts so far fit the sounds: times, and sums of log likelihood ratios, which have a 0 before the first.
    """

    struck_s: float
    begin: int
    th: Floats
    places: Floats
    sums: Floats
    taken: Indices
    contacts: Floats
    prior_score: float
    row: Floats
    rows: Floats
    sounds_due: tuple[Floats, Floats]

    def place_at(self, frame: int) -> Floats:
        """Return the ball's place in a frame of the rally."""
        return np.asarray(self.places[min(max(frame - self.begin, 0), len(self.places) - 1)])

    def sum_at(self, frame: int) -> float:
        """Return the score of the frames before one of the rally."""
        return float(self.sums_until(np.array([frame - self.begin]))[0])

    def sums_until(self, frames: Indices) -> Floats:
        """Return the score of the first so many frames of the path, for each of many numbers."""
        n = np.minimum(frames, len(self.sums))
        return np.where(n > 0, self.sums[np.maximum(n, 1) - 1], 0.0)

    def place_after(self, time_s: float) -> Floats:
        """Return the ball's place at a time on the rally's clock."""
        places, _ = self.flown(np.array([max(0.0, time_s - self.struck_s)]))
        return np.asarray(places[0])

    def flown(self, after_s: Floats) -> tuple[Floats, Floats]:
        """Return places at times after the strike, (n, 3), and contacts until the last, (m, 5)."""
        return path_at(np.concatenate([self.th[:6], np.zeros(3)]), self.row, after_s)

    @cached_property
    def over_s(self) -> float:
        """When the rally would be over by this path: out, tin, down or second bounce; s after the strike."""
        return rally_over_s(self.contacts, self.tin_m)

    @cached_property
    def front_s(self) -> float:
        """When the front wall is first touched, on the rally's clock; infinite where it is not."""
        front = self.contacts[self.contacts[:, 4] == col.FRONT, 0]
        return self.struck_s + float(front[0]) if len(front) else math.inf

    @property
    def tin_m(self) -> float:
        """How high the tin of the court is that it was flown on, m."""
        return float(self.row[col.TIN])


def rally_over_s(contacts: Floats, tin_m: float) -> float:
    """Return the time of the contact that ends a rally, of contacts (m, 5); infinite where none does.

    `tin_m` is the height of the tin.
    """
    front, floors = False, 0
    for time_s, _, y, z, surface in contacts.tolist():
        if surface == col.FLOOR:
            floors += 1
            if floors == 2 or not front:
                return float(time_s)
        elif is_out(int(surface), y, z):
            return float(time_s)
        elif surface == col.FRONT:
            if z < tin_m:
                return float(time_s)
            front = True
    return float("inf")


def is_out(surface: int, y: float, z: float) -> bool:
    """Return whether a wall is touched above its line, by a margin that a camera cannot tell."""
    if surface == col.FRONT:
        return z > FRONT_OUT_M + OUT_MARGIN_M
    if surface == col.BACK:
        return z > SINGLES.back_out_line.value_m + OUT_MARGIN_M
    return surface in (col.LEFT, col.RIGHT) and z > side_wall_line_m(y) + OUT_MARGIN_M


def prior_of(body: tuple[float, float] | None, ball: tuple[float, float, float]) -> Floats:
    """Return means and spreads of the unknowns before anything is seen, shape (2, 10).

    `ball` holds what walls and floor are taken to leave (logarithms), and the shift, as known so far.
    """
    prior = np.zeros((2, UNKNOWNS))
    if body is None:
        prior[0, :3], prior[1, :3] = ANYWHERE_M
    else:
        prior[0, :3] = body[0], body[1] + STRIKE_DEPTH_OFF_M, STRIKE_HIGH_M
        prior[1, :3] = STRIKE_SIDE_SD_M, STRIKE_DEPTH_SD_M, STRIKE_HIGH_SD_M
    prior[1, 3:6] = SPEED_SD_M_S
    prior[0, 6:] = ball[0], ball[1], ball[2], READOUT_S
    prior[1, 6:] = BOUNCE_SD, FLOOR_SD, SHIFT_SD_S, READOUT_SD_S
    return prior


def find_paths(
    scene: RallyScene,
    struck_s: float,
    body: tuple[float, float] | None,
    before: Sequence[Floats],
    coefficients: Floats,
    ball: tuple[float, float, float] = (0.0, 0.0, 0.0),
    shift_sd_s: float = SHIFT_SD_S,
) -> list[FoundPath]:
    """Return paths from a strike, the best supported first; empty where nothing can be flown.

    Parameters
    ----------
    struck_s : float
        On the rally's clock.
    body : (x, y) or None
        Where the striker stands.
    before : sequence of ndarray, shape (3,)
        Where the shot before would have the ball then.
    """
    begin = int(np.searchsorted(scene.times, struck_s + 0.002))
    end = int(np.searchsorted(scene.times, struck_s + LONGEST_SHOT_S))
    if end - begin < 4:
        return []
    aims = aims_after(scene, struck_s)
    if not len(aims):
        return []
    prior = prior_of(body, ball)
    prior[1, SHIFT] = shift_sd_s
    found, scores = np.zeros((TOP, UNKNOWNS)), np.empty(TOP)
    starts = starts_at(scene, struck_s, body, before)
    count = search_shot(
        struck_s,
        begin,
        end,
        scene.scale,
        starts,
        aims,
        prior,
        *scene.arrays,
        coefficients,
        found,
        scores,
    )
    return [judged(scene, found[k].copy(), struck_s, begin, end, prior, coefficients) for k in range(count)]


def judged(
    scene: RallyScene, th: Floats, struck_s: float, begin: int, end: int, prior: Floats, coefficients: Floats
) -> FoundPath:
    """Return a path with what it says in each frame."""
    n = end - begin
    places, sums = np.empty((n + 1, 3)), np.empty(n + 1)
    taken, contacts = np.empty(n, np.int64), np.zeros((MOST, 5))
    spread = FINAL * scene.scale
    count = judge_path(
        th, struck_s, begin, end, spread, *scene.arrays, coefficients, places, sums, taken, contacts
    )
    off = (th - prior[0]) / prior[1]
    return FoundPath(
        struck_s, begin, th, places[:n], sums[:n], taken, contacts[:count], -0.5 * float(off @ off),
        ball_row(th, coefficients), _rows_of(scene, places[:n]),
        sounds_due(scene, struck_s, contacts[:count]),
    )  # fmt: skip


def _rows_of(scene: RallyScene, places: Floats) -> Floats:
    """Return how far down the picture places are read, -0.5 to 0.5; 0 outside."""
    axes, eye = scene.camera[:9].reshape(3, 3), places - scene.camera[9:12]
    down, depth = eye @ axes[1], np.maximum(eye @ axes[2], 0.05)
    flat = (eye @ axes[0]) / depth, down / depth
    bend = 1.0 + scene.camera[13] * (flat[0] ** 2 + flat[1] ** 2)
    row = (scene.camera[15] + scene.camera[12] * bend * flat[1]) / scene.size[1] - 0.5
    return np.where(np.abs(row) <= 0.5, row, 0.0)


def ball_row(th: Floats, coefficients: Floats) -> Floats:
    """Return the coefficients of the ball with which a path flies."""
    row = coefficients.copy()
    row[[col.K_FRONT, col.K_LEFT, col.K_RIGHT, col.K_BACK]] *= np.exp(th[WALL])
    row[col.K_FLOOR] *= np.exp(th[FLOOR])
    return row


def sound_score(scene: RallyScene, path: FoundPath, until_s: float) -> float:
    """Return how well the contacts of a path before a time fit the sounds."""
    if not scene.with_sound:
        return 0.0
    return float(sound_scores(path, np.array([until_s]))[0])


def sound_scores(path: FoundPath, until_s: Floats) -> Floats:
    """Return how well the contacts of a path before each of many times fit the sounds."""
    times, sums = path.sounds_due
    return np.asarray(sums[np.searchsorted(times, until_s - 0.02, side="right")])


def sounds_due(scene: RallyScene, struck_s: float, contacts: Floats) -> tuple[Floats, Floats]:
    """Return the times of contacts, (m, 5), and how well those until each fit the sounds; see `FoundPath`."""
    times, sums = [], [0.0]
    for time_s, x, y, z, surface in contacts.tolist():
        at = struck_s + time_s
        chance = CONTACT_SOUND_CHANCE[int(surface)]
        times.append(at)
        sums.append(sums[-1] + contact_sound_score(scene, at + scene.delay_s((x, y, z)), chance))
    return np.array(times), np.array(sums)


def contact_sound_score(scene: RallyScene, at_s: float, chance: float) -> float:
    """Return the log likelihood ratio of a contact whose sound is due at a time."""
    missed = float(np.log(1.0 - chance))
    if not len(scene.sounds):
        return missed
    k = int(np.searchsorted(scene.sounds, at_s))
    off = min(abs(float(scene.sounds[n]) - at_s) for n in (k - 1, k) if 0 <= n < len(scene.sounds))
    peak = float(np.log(chance / (2.507 * SOUND_SD_S * OTHER_SOUNDS_A_S)))
    return max(missed, peak - 0.5 * (off / SOUND_SD_S) ** 2)
