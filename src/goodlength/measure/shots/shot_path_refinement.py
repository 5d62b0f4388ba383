"""Shots of a chain fitted once more, knowing their neighbours and what the rally says of ball and clock."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from goodlength.measure.shots.rally_input_arrays import Floats, RallyScene
from goodlength.measure.shots.shot_chain_dynamic_programming import ChainShot, ended_sum
from goodlength.measure.shots.shot_flight_scoring_kernel import FLOOR, READOUT, SHIFT, WALL
from goodlength.measure.shots.shot_search_kernel import FINAL, NARROW, refine_path
from goodlength.measure.shots.single_shot_path_candidates import FoundPath, judged, prior_of, sound_score

SWEEPS = 2
TURNS = 6
JOIN_SD_M = 0.12
POOLED_SD = {WALL: 0.03, FLOOR: 0.035, SHIFT: 0.004, READOUT: 0.003}
FEWEST_POOLED = 3
ALIKE_M = 0.25
MOST_PATHS = 3
END_S = 0.03  # contacts so short before the next strike are not told
AFTER_OVER = -25.0
LAST_S = 0.4  # followed after the rally seems over: by another path it is not


@dataclass(frozen=True, eq=False)
class RankedPath:
    """A path with its score and the parts of it that say how far to believe it."""

    path: FoundPath
    score: float
    prior: Floats


@dataclass(frozen=True, eq=False)
class RefinedShot:
    """A shot of the chain with its paths, the best first, until `until_s`."""

    shot: ChainShot
    paths: tuple[RankedPath, ...]
    until_s: float


def pooled_ball(shots: Sequence[ChainShot]) -> Floats | None:
    """Return what the rally says of walls, floor, shift and readout, shape (4,); None with too few shots."""
    known = [shot.chosen.th[[WALL, FLOOR, SHIFT, READOUT]] for shot in shots if shot.strike.with_sound]
    return np.median(known, axis=0) if len(known) >= FEWEST_POOLED else None


def refine_chain(scene: RallyScene, shots: Sequence[ChainShot], coefficients: Floats) -> list[RefinedShot]:
    """Return the shots with their paths fitted to the frames between their strikes, and to each other."""
    pooled = pooled_ball(shots)
    chosen = [shot.chosen for shot in shots]
    out: list[RefinedShot] = []
    for _ in range(SWEEPS):
        out = []
        for n, shot in enumerate(shots):
            before = chosen[n - 1].place_after(shot.struck_s) if n else None
            after = None if shot.last else chosen[n + 1].th[:3]
            until_s = shot.until_s if shot.last else shots[n + 1].struck_s
            ranked = _ranked(scene, shot, shot.paths, before, after, until_s, pooled, coefficients)
            out.append(RefinedShot(shot, tuple(ranked), until_s))
            chosen[n] = ranked[0].path
    return out


def _ranked(
    scene: RallyScene,
    shot: ChainShot,
    paths: Sequence[FoundPath],
    before: Floats | None,
    after: Floats | None,
    until_s: float,
    pooled: Floats | None,
    coefficients: Floats,
) -> list[RankedPath]:
    body = scene.body_at(shot.player, shot.struck_s) if scene.bodies else None
    prior = prior_of(body, (0.0, 0.0, 0.0))
    if pooled is not None:
        for value, (at, spread) in zip(pooled, POOLED_SD.items(), strict=True):
            prior[0, at], prior[1, at] = value, spread
    if before is not None:
        weight = 1.0 / JOIN_SD_M**2
        total = weight + 1.0 / prior[1, :3] ** 2
        prior[0, :3] = (weight * before + prior[0, :3] / prior[1, :3] ** 2) / total
        prior[1, :3] = 1.0 / np.sqrt(total)
    if not shot.strike.with_sound:
        prior[1, SHIFT] = 0.02
    goal = np.zeros((3, 3))
    if after is not None:
        goal[0], goal[1], goal[2, 0] = after, JOIN_SD_M, until_s
    out: list[RankedPath] = []
    for path in paths:
        th = path.th.copy()
        end = int(np.searchsorted(scene.times, until_s + (LAST_S if shot.last else 0.0)))
        end = min(max(end, path.begin + 4), len(scene.frames))
        if end - path.begin < 4:
            continue
        for spread, turns in ((NARROW, 3), (FINAL, TURNS)):
            refine_path(
                th,
                shot.struck_s,
                path.begin,
                end,
                spread * scene.scale,
                turns,
                prior,
                goal,
                *scene.arrays,
                coefficients,
            )
        again = judged(scene, th, shot.struck_s, path.begin, end, prior, coefficients)
        over_s = again.struck_s + again.over_s
        last = int(np.searchsorted(scene.times, over_s + 0.03)) if shot.last else end
        score = again.prior_score + (ended_sum(again, last) if shot.last else again.sum_at(last))
        score += sound_score(scene, again, min(over_s + 0.03, scene.length_s) if shot.last else until_s)
        if after is not None:
            off = (again.place_after(until_s) - after) / JOIN_SD_M
            score -= min(15.0, 0.5 * float(off @ off))
            if again.over_s + shot.struck_s < until_s - 0.05:
                score += AFTER_OVER
        out.append(RankedPath(again, score, prior))
    out.sort(key=lambda each: -each.score)
    return _distinct(out) or [RankedPath(shot.chosen, 0.0, prior)]


def _distinct(paths: Sequence[RankedPath]) -> list[RankedPath]:
    """Return the best of paths that are alike."""
    out: list[RankedPath] = []
    for each in paths:
        if not any(alike(each.path, other.path) for other in out):
            out.append(each)
    return out[:MOST_PATHS]


def alike(a: FoundPath, b: FoundPath) -> bool:
    """Return whether two paths lie near each other all the time."""
    n = min(len(a.places), len(b.places))
    return n > 0 and float(np.linalg.norm(a.places[:n] - b.places[:n], axis=1).max()) < ALIKE_M
