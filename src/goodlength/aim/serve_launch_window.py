"""Launch window of a serve: spots and speeds that reach the goal, its size, and what lies beyond its
edges.

One world only, the middle of what is known, and no scatter: what a perfect striker could use.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from goodlength.aim.aim_optimisation import AimPoint
from goodlength.aim.serve_goals import Task
from goodlength.aim.serve_outcome_classification import LOW_M, OUT_M, Outcomes, serve_at
from goodlength.ball import PlayConditions
from goodlength.ball.flight.batch_serve_legality import FAULT_WORDS, Flags, ServeFault
from goodlength.ball.model.input_validation import Floats

SPACING = (0.05, 0.05, 0.5)
ROOMY = (0.10, 0.10, 1.0)
EDGE_STEPS = (0.01, 0.01, 0.1)
WAYS = (("too far left", "too far right"), ("too low", "too high"), ("too slow", "too fast"))


@dataclass(frozen=True)
class Edge:
    """One edge of the window, walked from the aim: how far to it, where it is, and what lies beyond."""

    way: str
    distance: float
    at: float
    beyond: str


@dataclass(frozen=True)
class LaunchWindow:
    """Spots and speeds that reach the goal: `met` of shape (across, up, speed) over the three axes.

    `edges` walk from the aim along each axis, None when the aim itself is outside the window.
    """

    across_m: Floats
    up_m: Floats
    speed_m_s: Floats
    met: Flags
    edges: tuple[Edge, ...] | None

    @property
    def share(self) -> float:
        """Share of the searched spots and speeds inside."""
        return float(self.met.mean())


def window_of(task: Task, setting: PlayConditions, aim: AimPoint) -> LaunchWindow:
    """Return the window of a task, with its edges around an aim.

    Examples
    --------
    >>> from goodlength.aim.serve_goals import task_of
    >>> task = task_of("mid-height", "right")
    >>> window_of(task, PlayConditions(), middle_of_window(task, PlayConditions())).edges[5].way
    'too fast'
    """
    axes, met = _grid_met(task, setting)
    return LaunchWindow(axes[0], axes[1], axes[2], met, _edges(task, setting, aim))


def middle_of_window(task: Task, setting: PlayConditions) -> AimPoint | None:
    """Return the spot and pace farthest inside the window, in steps of 10 cm and 1 m/s; None if there is
    none.
    """
    from scipy.ndimage import distance_transform_edt

    axes, met = _grid_met(task, setting)
    if not met.any():
        return None
    deep = distance_transform_edt(
        np.pad(met, 1), sampling=[s / r for s, r in zip(SPACING, ROOMY, strict=True)]
    )
    at = np.unravel_index(int(np.argmax(deep)), deep.shape)
    across, up, speed = (float(axis[i - 1]) for axis, i in zip(axes, at, strict=True))
    return AimPoint(across, up, speed)


def _grid_met(task: Task, setting: PlayConditions) -> tuple[list[Floats], Flags]:
    spans = (task.across_m, task.wanted.up_m, task.wanted.speed_m_s)
    axes: list[Floats] = [
        np.arange(low, high + step / 2, step) for (low, high), step in zip(spans, SPACING, strict=True)
    ]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    met: Flags = _flown(task, setting, grid).goal.reshape([len(axis) for axis in axes])
    return axes, met


def _flown(task: Task, setting: PlayConditions, places: Floats) -> Outcomes:
    sets = setting.coefficients().row()[None]
    which = np.zeros(len(places), np.int64)
    return serve_at(
        task, places[:, :2], places[:, 2], sets, which, np.zeros((1, 3)), np.full(len(places), 2.0)
    )


def _edges(task: Task, setting: PlayConditions, aim: AimPoint) -> tuple[Edge, ...] | None:
    here = np.array([aim.across_m, aim.up_m, aim.speed_m_s])
    found = []
    for axis, ends in enumerate(((0.1, 6.3), (LOW_M - 0.2, OUT_M + 0.2), (8.0, 60.0))):
        step = EDGE_STEPS[axis]
        for way, sign, end in zip(WAYS[axis], (-1.0, 1.0), ends, strict=True):
            count = max(2, int(abs(end - here[axis]) / step) + 2)
            places = np.tile(here, (count, 1))
            places[:, axis] += sign * step * np.arange(count)
            got = _flown(task, setting, places)
            if not got.goal[0]:
                return None
            out = int(np.argmin(got.goal)) if not got.goal.all() else count - 1
            beyond = _beyond(task, got, out)
            found.append(Edge(way, step * out, float(places[out, axis]), beyond))
    return tuple(found)


def _beyond(task: Task, got: Outcomes, k: int) -> str:
    """Return what becomes of a serve just past the edge."""
    if got.fault[k] != ServeFault.NONE:
        return FAULT_WORDS[ServeFault(int(got.fault[k]))]
    if got.goal[k]:
        return "still works at the limit of the search"
    goal = task.goal
    if goal.feet_within_m is not None:
        return "bounces too far from the feet"
    if goal.first_from_back_m is not None:
        return "first bounce too far from the back wall"
    if got.off_back[k] and (goal.off_back_within_m is None or goal.there_within_s is None):
        return "comes off the back wall"
    if goal.there_within_s is not None and not got.time_s[k] <= goal.there_within_s:
        return "slower to the receiver than intended"
    if got.off_back[k]:
        return "comes far off the back wall"
    if not got.dies[k]:
        return "drops short of the back wall"
    return "passes the receiver lower than intended" if goal.above_m is not None else "does not meet the goal"
