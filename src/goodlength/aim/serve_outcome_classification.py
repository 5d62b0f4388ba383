"""Classify the outcomes of many serves: good or which fault, dies, volley, off the back wall, goal
reached.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from goodlength.aim.serve_goals import Goal, Task
from goodlength.ball import Summaries, aim_at_spots, fly_summaries
from goodlength.ball.flight.batch_flight_simulation import SEARCH_STEP_S, Ints, in_pieces
from goodlength.ball.flight.batch_serve_legality import (
    Flags,
    ServeFault,
    faults,
    rolled_out,
    room_m,
    side_before_bounce,
    volleyable,
)
from goodlength.ball.flight.single_flight_simulation import DIES_WITHIN_M
from goodlength.ball.model import flight_array_indices as at
from goodlength.ball.model.input_validation import Floats
from goodlength.court import SINGLES

OUT_M = SINGLES.front_out_line.value_m
LOW_M = SINGLES.service_line.value_m + SINGLES.line_width.value_m
# A throw is aimed at its spot to a millimetre or two: it is scattered by ten times as much and more
CLOSE_M = 0.03
PIECE = 4096


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

    @classmethod
    def none(cls, count: int) -> Outcomes:
        """Return outcomes of serves too low on the front wall."""
        dies, volley, off_back, goal = (np.zeros(count, bool) for _ in range(4))
        low, nan = np.full(count, int(ServeFault.LOW), np.int64), np.full(count, np.nan)
        return cls(low, dies, volley, off_back, goal, nan, nan.copy())

    def into(self, whole: Outcomes, piece: slice) -> None:
        """Write these outcomes into a piece of others."""
        for part in fields(self):
            getattr(whole, part.name)[piece] = getattr(self, part.name)


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
    found = Outcomes.none(len(spots_m))

    def work(piece: slice) -> None:
        _serve_piece(task, spots_m[piece], speeds_m_s[piece], sets, which[piece], spins, luck[piece]).into(
            found, piece
        )

    in_pieces(len(spots_m), None, work, PIECE)
    return found


def _serve_piece(
    task: Task, spots_m: Floats, speeds_m_s: Floats, sets: Floats, which: Ints, spins: Floats, luck: Floats
) -> Outcomes:
    """`serve_at` for a piece of the throws, on one thread."""
    out = Outcomes.none(len(spots_m))
    inside = (spots_m[:, 1] > LOW_M) & (spots_m[:, 1] < OUT_M)
    aside = inside & ~((spots_m[:, 0] > 0.03) & (spots_m[:, 0] < SINGLES.width.value_m - 0.03))
    out.fault[spots_m[:, 1] >= OUT_M] = ServeFault.OUT
    out.fault[aside] = ServeFault.NOT_FRONT_FIRST
    index = np.flatnonzero(inside & ~aside)
    starts = np.empty((len(index), 6))
    starts[:, :3], starts[:, 3:] = task.contact_m, spins[which[index]]
    speeds = np.clip(speeds_m_s[index], 2.0, 75.0)
    launches, miss = aim_at_spots(
        starts, speeds, spots_m[index], sets, which[index], close_m=CLOSE_M, threads=1, checked=True
    )
    index, launches = index[miss < CLOSE_M], launches[miss < CLOSE_M]
    flown = fly_summaries(
        launches,
        sets,
        which[index],
        lines_m=task.receiver.lines_m,
        draws=luck[index],
        longest_step_s=SEARCH_STEP_S,
        threads=1,
        checked=True,
    )
    out.fault[index] = faults(task.box, flown)
    good = out.fault[index] == ServeFault.NONE
    gap, rolled = room_m(flown), rolled_out(flown)
    volley = volleyable(task.box, flown, task.receiver)
    out.goal[index] = good & goal_met(task, flown, gap, rolled, volley)
    out.dies[index] = good & (rolled | (np.abs(gap) < DIES_WITHIN_M))
    out.volley[index] = good & volley
    out.off_back[index] = good & ~rolled & (gap >= DIES_WITHIN_M)
    out.time_s[index], out.height_m[index] = flown.seen[:, 1, 0], flown.seen[:, 1, 2]
    return out


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
