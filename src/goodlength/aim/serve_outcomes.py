"""Classify the outcomes of many serves: good or which fault, dies, volley, off the back wall, goal
reached.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from goodlength.aim.serve_goals import Goal, Task
from goodlength.ball import Summaries, aim_at_spots, fly_summaries
from goodlength.ball.flight.batch_flight import SEARCH_STEP_S, Ints
from goodlength.ball.flight.batch_serve_legality import (
    Flags,
    ServeFault,
    faults,
    rolled_out,
    room_m,
    side_before_bounce,
    volleyable,
)
from goodlength.ball.flight.single_flight import DIES_WITHIN_M
from goodlength.ball.model import array_layout as at
from goodlength.ball.model.input_validation import Floats
from goodlength.court import SINGLES

OUT_M = SINGLES.front_out_line.value_m
LOW_M = SINGLES.service_line.value_m + SINGLES.line_width.value_m
REACHED_M = 1e-4


@dataclass(frozen=True)
class Outcomes:
    """What became of n serves, each array of shape (n,).

    `good` if nobody volleys it; `dies`, `volley`, `off_back` and `goal` are false for a fault.
    """

    fault: Ints
    dies: Flags
    volley: Flags
    off_back: Flags
    goal: Flags
    time_s: Floats
    height_m: Floats

    @property
    def good(self) -> Flags:
        """Which are no fault."""
        found: Flags = self.fault == ServeFault.NONE
        return found


def serve_at(
    task: Task, spots_m: Floats, speeds_m_s: Floats, sets: Floats, which: Ints, spins: Floats, luck: Floats
) -> Outcomes:
    """Fly serves that meet spots on the front wall, each in its own world, and say what becomes of them.

    Parameters
    ----------
    spots_m : ndarray, shape (n, 2)
        Ball's centre on the front wall: across from the left wall, up. Too low or out is a fault unflown.
    speeds_m_s, which, luck : ndarray, shape (n,)
        Off the racket; the set of coefficients; the draw that decides a nick.
    sets : ndarray, shape (m, columns.COEFFICIENT_COLUMNS)
    spins : ndarray, shape (m, 3)
        The racket's spin in each world. The player is taken to allow for it: the spot is met all the same.
    """
    n = len(spots_m)
    fault = np.full(n, int(ServeFault.LOW), np.int64)
    fault[spots_m[:, 1] >= OUT_M] = ServeFault.OUT
    inside = (spots_m[:, 1] > LOW_M) & (spots_m[:, 1] < OUT_M)
    inside &= (spots_m[:, 0] > 0.03) & (spots_m[:, 0] < SINGLES.width.value_m - 0.03)
    fault[(spots_m[:, 1] > LOW_M) & (spots_m[:, 1] < OUT_M) & ~inside] = ServeFault.NOT_FRONT_FIRST
    index = np.flatnonzero(inside)
    starts = np.hstack([np.tile(np.array(task.contact_m), (len(index), 1)), spins[which[index]]])
    speeds = np.clip(speeds_m_s[index], 2.0, 75.0)
    launches, miss = aim_at_spots(starts, speeds, spots_m[index], sets, which[index])
    index, launches = index[miss < REACHED_M], launches[miss < REACHED_M]
    flown = fly_summaries(
        launches,
        sets,
        which[index],
        lines_m=task.receiver.lines_m,
        draws=luck[index],
        longest_step_s=SEARCH_STEP_S,
        checked=True,
    )
    found = faults(task.box, flown)
    fault[index] = found
    good = found == ServeFault.NONE
    gap, rolled = room_m(flown), rolled_out(flown)
    volley = volleyable(task.box, flown, task.receiver)
    met = good & goal_met(task, flown, gap, rolled, volley)
    dead = rolled | (np.abs(gap) < DIES_WITHIN_M)
    return Outcomes(
        fault,
        _spread(n, index, good & dead),
        _spread(n, index, good & volley),
        _spread(n, index, good & ~rolled & (gap >= DIES_WITHIN_M)),
        _spread(n, index, met),
        _numbers(n, index, flown.seen[:, 1, 0]),
        _numbers(n, index, flown.seen[:, 1, 2]),
    )


def goal_met(task: Task, flown: Summaries, gap: Floats, rolled: Flags, volley: Flags) -> Flags:
    """Return whether each serve does what is wanted; faults are not looked at here."""
    goal: Goal = task.goal
    met = np.ones(len(flown), bool)
    rows = flown.rows
    direct = (side_before_bounce(flown) < 0) & ~(rows[:, at.BACK_T] < rows[:, at.ONE_T])
    with np.errstate(invalid="ignore"):
        if goal.dies_within_m is not None:
            met &= rolled | (np.abs(gap) < goal.dies_within_m)
        if goal.off_back_within_m is not None:
            met &= rolled | (gap <= goal.off_back_within_m)
        if goal.not_volleyed:
            met &= ~volley
        if goal.feet_within_m is not None:
            off = np.hypot(rows[:, at.ONE_X] - task.receiver.x_m, rows[:, at.ONE_Y] - task.receiver.y_m)
            met &= direct & (off <= goal.feet_within_m)
        if goal.first_from_back_m is not None:
            met &= direct & (SINGLES.length.value_m - rows[:, at.ONE_Y] <= goal.first_from_back_m)
        if goal.above_m is not None:
            met &= (flown.seen[:, 0, 4] == 0) & (flown.seen[:, 0, 2] >= goal.above_m)
        if goal.there_within_s is not None:
            met &= flown.seen[:, 1, 0] <= goal.there_within_s
    return met


def _spread(n: int, index: Ints, values: Flags) -> Flags:
    out = np.zeros(n, bool)
    out[index] = values
    return out


def _numbers(n: int, index: Ints, values: Floats) -> Floats:
    out = np.full(n, np.nan)
    out[index] = values
    return out
