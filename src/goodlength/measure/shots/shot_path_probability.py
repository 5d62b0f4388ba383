"""Chance that a shot's path is right, from how it is supported.

Right means: order of contacts as it was and, where there is a bounce, its place within 30 cm. Weights were
learnt on simulated rallies of the choosing states and are judged on others (`bench ball-following`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from goodlength.measure.shots.rally_input_arrays import Floats, Indices, RallyScene
from goodlength.measure.shots.shot_path_refinement import RefinedShot

FEATURES = (
    "one",
    "share of frames on the path",
    "lead over the next path",
    "misfit of place, ball and clock",
    "strike unheard",
    "last shot",
    "frames around the bounce",
    "join to the neighbours",
    "frames",
)
WEIGHTS = (-0.06, 3.22, 1.55, -0.13, -2.16, -1.72, 0.56, -1.61, -1.43)
SURE = 0.9  # from this chance on a shot is marked sure
MOST_LEAD, NO_RIVAL = 20.0, 20.0
AROUND_S = 0.1


@dataclass(frozen=True)
class ShotSupport:
    """What speaks for a path, in the order of `FEATURES`."""

    values: tuple[float, ...]

    @property
    def chance(self) -> float:
        """Chance that the path is right."""
        return 1.0 / (1.0 + math.exp(-float(np.dot(WEIGHTS, self.values))))


def support_of(
    scene: RallyScene, refined: RefinedShot, before: RefinedShot | None, after: RefinedShot | None
) -> ShotSupport:
    """Return what speaks for the best path of a shot, its neighbours given."""
    best = refined.paths[0]
    path = best.path
    until = int(np.searchsorted(scene.times, min(refined.until_s, path.struck_s + path.over_s)))
    taken = path.taken[: max(1, until - path.begin)]
    lead = best.score - refined.paths[1].score if len(refined.paths) > 1 else NO_RIVAL
    join = 0.0
    if before is not None and before.paths:
        join += float(np.linalg.norm(before.paths[0].path.place_after(path.struck_s) - path.th[:3]))
    if after is not None and after.paths:
        join += float(np.linalg.norm(path.place_after(refined.until_s) - after.paths[0].path.th[:3]))
    return ShotSupport(
        (
            1.0,
            float((taken >= 0).mean()),
            min(MOST_LEAD, lead) / 10.0,
            min(20.0, -path.prior_score) / 5.0,
            float(not refined.shot.strike.with_sound),
            float(refined.shot.last),
            _around_bounce(scene.times, path.begin, path.taken, path.struck_s, path.contacts),
            min(1.5, join),
            min(1.0, len(taken) / 40.0),
        )
    )


def _around_bounce(times: Floats, begin: int, taken: Indices, struck_s: float, contacts: Floats) -> float:
    """Return the share of frames around the first bounce that show the ball on the path; 1 without one."""
    bounces = contacts[contacts[:, 4] == 0.0]
    if not len(bounces):
        return 1.0
    at = struck_s + bounces[0, 0]
    near = np.abs(times[begin : begin + len(taken)] - at) < AROUND_S
    return float((taken[near] >= 0).mean()) if near.any() else 0.0
