"""Map of the front wall: of 100 serves aimed at each place at one speed, how many do what is wanted.

Every place is flown in a few of the drawn worlds, scattered within its cell and in speed; the player's
scatter across and up then smooths the map. The worlds, speeds and luck are the same for every map.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from goodlength.aim.aim_optimisation import SEED, WORLDS
from goodlength.aim.expected_value_map import cell_weights
from goodlength.aim.serve_goals import Task
from goodlength.aim.serve_outcome_classification import LOW_M, OUT_M, serve_at
from goodlength.aim.serve_scatter_on_front_wall import AimScatter, evenly
from goodlength.ball import PlayConditions, draw
from goodlength.ball.model.input_validation import Floats, within
from goodlength.court import SINGLES

MAP_FLIGHTS = 120_000
FINEST_M, COARSEST_M = 0.06, 0.12
FEWEST_THROWS, MOST_THROWS = 12, 64


@dataclass(frozen=True)
class FrontWallMap:
    """Of 100 serves aimed at each place: `of_100` of shape (across, up), over middles of cells in metres."""

    across_m: Floats
    up_m: Floats
    of_100: Floats
    speed_m_s: float
    flights: int

    @property
    def best(self) -> tuple[float, float, float]:
        """The place from which most serves do what is wanted, across and up, and how many of 100."""
        i, j = np.unravel_index(int(np.argmax(self.of_100)), self.of_100.shape)
        return float(self.across_m[i]), float(self.up_m[j]), float(self.of_100[i, j])


def map_of(
    task: Task, setting: PlayConditions, scatter: AimScatter, speed_m_s: float, seed: int = SEED
) -> FrontWallMap:
    """Return the map of a serve at one speed, for one player's scatter.

    Raises
    ------
    OutOfRange
        If the speed cannot be.

    Limits
    ------
    About 1 in 100 of luck at a club player's scatter, more at a tight one, which fewer cells smooth. Scatter
    is taken as normal, also where it was measured on few balls.
    """
    within("speed off the racket", speed_m_s, 8.0, 70.0, "m/s")
    across, up = (_cells(*ends, sd) for ends, sd in (_sides(scatter)))
    step = np.array([across[1] - across[0], up[1] - up[0]])
    cells = np.stack(np.meshgrid(across, up, indexing="ij"), axis=-1).reshape(-1, 2)
    throws = int(np.clip(MAP_FLIGHTS // len(cells), FEWEST_THROWS, MOST_THROWS))
    by_part = [np.random.default_rng([seed, part]) for part in range(4)]
    count = throws * len(cells)
    even = evenly(count, 3, by_part[1])
    spots = np.repeat(cells, throws, axis=0) + (even[:, :2] - 0.5) * step
    draws = draw(setting, WORLDS, by_part[0])
    which = by_part[2].permutation(np.arange(count) % WORLDS)
    speeds = speed_m_s + scatter.speed_m_s * _normal(even[:, 2])
    found = serve_at(task, spots, speeds, draws.sets, which, draws.spins, by_part[3].random(count))
    met = found.goal.reshape(len(across), len(up), throws).mean(axis=2)
    of_100 = 100.0 * _scattered(_scattered(met, scatter.across_m / step[0], 0), scatter.up_m / step[1], 1)
    return FrontWallMap(across, up, of_100, speed_m_s, count)


def _sides(
    scatter: AimScatter,
) -> tuple[tuple[tuple[float, float], float], tuple[tuple[float, float], float]]:
    """Return the two sides of the wall that are in play, with the scatter along each."""
    return ((0.0, SINGLES.width.value_m), scatter.across_m), ((LOW_M, OUT_M), scatter.up_m)


def _cells(low: float, high: float, sd: float) -> Floats:
    """Return the middles of cells about half a standard deviation wide."""
    count = round((high - low) / float(np.clip(0.5 * sd, FINEST_M, COARSEST_M)))
    edges = np.linspace(low, high, count + 1)
    middles: Floats = (edges[:-1] + edges[1:]) / 2
    return middles


def _normal(even: Floats) -> Floats:
    from scipy.special import ndtri

    found: Floats = ndtri(even)
    return found


def _scattered(values: Floats, sd_cells: float, axis: int) -> Floats:
    """Smooth along one side; nothing beyond the edge does what is wanted."""
    from scipy.ndimage import correlate1d

    out: Floats = correlate1d(values, cell_weights(sd_cells), axis=axis, mode="constant")
    return out
