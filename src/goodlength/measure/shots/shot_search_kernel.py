"""Compiled doors of the search of a shot: from starts to fitted paths, and what a path says in each frame."""
# mypy: disable-error-code="no-any-return"

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path

import numpy as np

from goodlength.ball.flight.free_flight_kernel import F, N, compiled_apart, compiled_on_disk
from goodlength.ball.flight.path_at_times_kernel import kernel_digest
from goodlength.ball.model import flight_array_indices as col
from goodlength.measure.shots.path_least_squares_kernel import fit_path, insert, prior_cost
from goodlength.measure.shots.shot_flight_scoring_kernel import (
    NONE,
    UNKNOWNS,
    Scene,
    Work,
    best_prefix,
    first_leg,
    fly_to_frames,
    leg_score,
    score_frames,
    workspace,
)

AFTER_FRONT_S = 0.4  # followed after the front wall before paths are compared for the first time
STARTS_A_SPOT = 2
REFINED = 5
FEWEST_FRAMES = 3
ANY_FRONT_S = 0.6  # where a path does not reach the front wall
WIDE, MIDDLE, NARROW, FINAL = 16.0, 10.0, 5.0, 3.0  # spreads, px at 1080 lines
SLOWEST_M_S, FASTEST_M_S = 4.0, 75.0
BACK_WALL, BOASTED_FROM_M = 3, 6.5


@compiled_apart
def best_starts(
    starts: F, aim: F, mode: int, t0: float, spread: float, scene: Scene, chosen: N, scores: F
) -> None:
    """Write the starts whose first leg to a place on the front wall is supported best."""
    leg = np.empty(5)
    scores[:] = NONE
    for i in range(starts.shape[0]):
        if mode == BACK_WALL and starts[i, 1] < BOASTED_FROM_M:
            continue
        first_leg(starts[i], aim, mode, scene[6], leg)
        speed = math.sqrt(leg[0] ** 2 + leg[1] ** 2 + leg[2] ** 2)
        if speed < SLOWEST_M_S or speed > FASTEST_M_S or (leg[1] > 0.0 and mode != BACK_WALL):
            continue
        value = leg_score(starts[i], aim, mode, leg, t0, spread, scene)
        worst = 0
        for k in range(1, scores.shape[0]):
            if scores[k] < scores[worst]:
                worst = k
        if value > scores[worst]:
            scores[worst], chosen[worst] = value, i


@compiled_apart
def front_contact(hits: int, contacts: F) -> int:
    """Return which contact is the first with the front wall; -1 where there is none."""
    for h in range(hits):
        if contacts[h, 4] == col.FRONT:
            return h
    return -1


@compiled_apart
def aim_start(
    start: F, aim: F, mode: int, t0: float, begin: int, stop: int, scene: Scene, work: Work, th: F
) -> None:
    """Write the launch from a start that meets a place on the front wall, its misses corrected."""
    leg, again, contacts = np.empty(5), aim.copy(), work[4]
    for _ in range(2 if mode == 0 else 3):
        first_leg(start, again, mode, scene[6], leg)
        for a in range(3):
            th[a], th[3 + a] = start[a], leg[a]
        front = front_contact(fly_to_frames(th, t0, begin, stop, 0.0, scene, work), contacts)
        if front < 0:
            break
        again[0] = min(max(again[0] + aim[0] - contacts[front, 1], -1.0), 7.4)
        again[1] = min(max(again[1] + aim[1] - contacts[front, 3], -0.5), 7.0)
        again[2] = min(max(again[2] + aim[2] - contacts[front, 0], 0.05), 2.0)


@compiled_apart
def flown_starts(
    t0: float,
    begin: int,
    end: int,
    scale: float,
    starts: F,
    aims: F,
    prior: F,
    scene: Scene,
    work: Work,
    found: F,
    scores: F,
) -> None:
    """Fill `found` with the launches whose paths until shortly after the front wall are supported best."""
    frames, sums = scene[0], work[5]
    th = prior[0].copy()
    chosen, leg_scores = np.zeros(STARTS_A_SPOT, np.int64), np.empty(STARTS_A_SPOT)
    for m in range(aims.shape[0]):
        stop = min(end, np.searchsorted(frames[:, 0], t0 + aims[m, 2] + AFTER_FRONT_S))
        if stop - begin < FEWEST_FRAMES:
            continue
        for mode in range(4):
            best_starts(starts, aims[m], mode, t0, WIDE * scale, scene, chosen, leg_scores)
            for k in range(STARTS_A_SPOT):
                if leg_scores[k] <= NONE:
                    continue
                aim_start(starts[chosen[k]], aims[m], mode, t0, begin, stop, scene, work, th)
                score_frames(begin, stop, MIDDLE * scale, scene, work)
                least = max(0, np.searchsorted(frames[:, 0], t0 + aims[m, 2]) - begin)
                value, _ = best_prefix(sums, min(least, stop - begin - 1), stop - begin)
                insert(found, scores, th, value)


@compiled_apart
def fitted_first(
    t0: float, begin: int, end: int, scale: float, prior: F, scene: Scene, work: Work, found: F, scores: F
) -> None:
    """Fit each launch until shortly after the front wall, and score it as far as it is supported."""
    frames, contacts, sums, no_goal = scene[0], work[4], work[5], np.zeros((3, 3))
    for k in range(found.shape[0]):
        if scores[k] <= NONE:
            continue
        front = front_contact(fly_to_frames(found[k], t0, begin, end, 0.0, scene, work), contacts)
        due = contacts[front, 0] if front >= 0 else ANY_FRONT_S
        stop = int(np.searchsorted(frames[:, 0], t0 + due + AFTER_FRONT_S))
        stop = min(end, max(begin + FEWEST_FRAMES, stop))
        fit_path(found[k], t0, begin, stop, MIDDLE * scale, 3, prior, no_goal, scene, work)
        fly_to_frames(found[k], t0, begin, end, 0.0, scene, work)
        score_frames(begin, end, NARROW * scale, scene, work)
        value, _ = best_prefix(sums, 0, end - begin)
        scores[k] = value - 0.5 * prior_cost(found[k], prior)


@compiled_apart
def fitted_whole(
    th: F, t0: float, begin: int, end: int, scale: float, prior: F, scene: Scene, work: Work
) -> float:
    """Fit a path as far as it is supported, twice; return its score."""
    sums, no_goal = work[5], np.zeros((3, 3))
    for turn in range(2):
        fly_to_frames(th, t0, begin, end, 0.0, scene, work)
        score_frames(begin, end, NARROW * scale, scene, work)
        _, last = best_prefix(sums, 0, end - begin)
        stop = min(end, begin + max(FEWEST_FRAMES, last + 4))
        spread = NARROW if turn == 0 else FINAL
        fit_path(th, t0, begin, stop, spread * scale, 4, prior, no_goal, scene, work)
    fly_to_frames(th, t0, begin, end, 0.0, scene, work)
    score_frames(begin, end, FINAL * scale, scene, work)
    value, _ = best_prefix(sums, 0, end - begin)
    return value - 0.5 * prior_cost(th, prior)


def _search_door(digest: int) -> Callable[..., int]:
    @compiled_on_disk(_SEARCH)
    def search_shot(
        t0: float,
        begin: int,
        end: int,
        scale: float,
        starts: F,
        aims: F,
        prior: F,
        frames: F,
        spots: F,
        gains: F,
        camera: F,
        size: F,
        c0: F,
        found: F,
        scores: F,
    ) -> int:
        """Fill `found` (top, 10) with fitted paths and `scores` with their support; return how many."""
        scene = (frames, spots, gains, camera, size, np.zeros(frames.shape[0] if digest >= 0 else 0), c0)
        work = workspace(end - begin, c0.shape[0])
        scores[:] = NONE
        flown_starts(t0, begin, end, scale, starts, aims, prior, scene, work, found, scores)
        fitted_first(t0, begin, end, scale, prior, scene, work, found, scores)
        best, best_scores = np.zeros((REFINED, UNKNOWNS)), np.full(REFINED, NONE)
        for k in np.argsort(-scores)[:REFINED]:
            if scores[k] > NONE:
                insert(
                    best,
                    best_scores,
                    found[k],
                    fitted_whole(found[k], t0, begin, end, scale, prior, scene, work),
                )
        count = 0
        for k in np.argsort(-best_scores):
            if best_scores[k] > NONE:
                found[count], scores[count] = best[k], best_scores[k]
                count += 1
        return count

    return search_shot


def _judge_door(digest: int) -> Callable[..., int]:
    @compiled_on_disk(_JUDGE)
    def judge_path(
        th: F,
        t0: float,
        begin: int,
        end: int,
        spread: float,
        frames: F,
        spots: F,
        gains: F,
        camera: F,
        size: F,
        c0: F,
        places: F,
        sums: F,
        taken: N,
        contacts: F,
    ) -> int:
        """Write places, sums of scores, taken candidates and contacts of a path; return how many contacts."""
        scene = (frames, spots, gains, camera, size, np.zeros(frames.shape[0] if digest >= 0 else 0), c0)
        times, launch = np.empty(end - begin + 1), np.zeros(9)
        work = (np.empty(c0.shape[0]), times, launch, places, contacts, sums, taken)
        count = 0
        for _ in range(2):
            count = fly_to_frames(th, t0, begin, end, 0.0, scene, work)
            score_frames(begin, end, spread, scene, work)
        return count

    return judge_path


def _refine_door(digest: int) -> Callable[..., float]:
    @compiled_on_disk(_REFINE)
    def refine_path(
        th: F,
        t0: float,
        begin: int,
        end: int,
        spread: float,
        turns: int,
        prior: F,
        goal: F,
        frames: F,
        spots: F,
        gains: F,
        camera: F,
        size: F,
        c0: F,
    ) -> float:
        """Fit a path to the frames from `begin` to `end`; see `fit_path`."""
        scene = (frames, spots, gains, camera, size, np.zeros(frames.shape[0] if digest >= 0 else 0), c0)
        return fit_path(
            th, t0, begin, end, spread, turns, prior, goal, scene, workspace(end - begin, c0.shape[0])
        )

    return refine_path


_SCENE = "f8[:,::1], f8[:,:,::1], f8[:,::1], f8[::1], f8[::1], f8[::1]"
_SEARCH = f"i8(f8, i8, i8, f8, f8[:,::1], f8[:,::1], f8[:,::1], {_SCENE}, f8[:,::1], f8[::1])"
_JUDGE = f"i8(f8[::1], f8, i8, i8, f8, {_SCENE}, f8[:,::1], f8[::1], i8[::1], f8[:,::1])"
_REFINE = f"f8(f8[::1], f8, i8, i8, f8, i8, f8[:,::1], f8[:,::1], {_SCENE})"

_KERNELS = ("shot_flight_scoring_kernel.py", "path_least_squares_kernel.py", "shot_search_kernel.py")
_NOW = kernel_digest(*(Path(__file__).with_name(name) for name in _KERNELS))
search_shot = _search_door(_NOW)
judge_path = _judge_door(_NOW)
refine_path = _refine_door(_NOW)
