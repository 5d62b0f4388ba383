"""Exact test of whether serving helps, since the server of a rally is the winner of the one before.

With rally scoring the count of rallies won by the server is tied to the score, so an ordinary test of two
shares would be a little wrong. Given how a game began and ended, every legal order of points is equally
likely when serving makes no difference; here those orders are counted.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from goodlength.findings.rally_masks import Mask, RallyMasks
from goodlength.findings.statistics.exact_tests import ExactTest, both_tails, summed

Floats = NDArray[np.float64]
TARGETS = (11, 15)
# What having won the last rally is taken to add, at most, to the chance of the next (62 of 100 after one
# won, 38 after one lost). A guess: no measurement of squash is known to us.
ASSUMED_RUN = 0.12
# The part of the promised false alarms that runs of that strength may use up; the rest is for luck.
RUNS_PART = 0.5


def over(a: int, b: int, target: int) -> bool:
    """Return whether a game to `target`, two clear, is over.

    Examples
    --------
    >>> over(12, 10, 11), over(11, 10, 11)
    (True, False)
    """
    return max(a, b) >= target and abs(a - b) >= 2


@lru_cache(maxsize=4096)
def server_wins(
    start: tuple[int, int], end: tuple[int, int], server: int, target: int
) -> tuple[float, ...] | None:
    """Return chances of 0, 1, 2, ... rallies won by the server, over all orders from `start` to `end`.

    Parameters
    ----------
    start, end : (int, int)
        Points of A and B; no rally is played after the game is over.
    server : int
        Who serves first: 0 A, 1 B.
    target : int
        Points a game goes to, two clear.

    Returns
    -------
    tuple of float or None
        None where no legal order leads to `end`.

    Examples
    --------
    >>> server_wins((0, 0), (1, 1), 0, 11)  # A then B: one; B then A: none
    (0.5, 0.5, 0.0)
    """
    n = end[0] - start[0] + end[1] - start[1]
    ways: dict[tuple[int, int, int], Floats] = {(*start, server): np.eye(1, n + 1)[0]}
    for _ in range(n):
        new: dict[tuple[int, int, int], Floats] = {}
        for (a, b, serving), counts in ways.items():
            if over(a, b, target):
                continue
            for winner, to in ((0, (a + 1, b)), (1, (a, b + 1))):
                if to[0] > end[0] or to[1] > end[1]:
                    continue
                moved = np.roll(counts, 1) if winner == serving else counts
                state = (*to, winner)
                new[state] = new[state] + moved if state in new else moved
        ways = new
    total = sum((counts for (a, b, _), counts in ways.items() if (a, b) == end), np.zeros(n + 1))
    return tuple((total / total.sum()).tolist()) if total.sum() else None


def _game(view: RallyMasks, game: int) -> tuple[tuple[int, int], tuple[int, int], int, int] | None:
    """Start, end, first server and rallies won by the server; None where the rows do not add up."""
    table = view.table
    rows = np.flatnonzero((table.game == game) & ~table.let)
    if not rows.size:
        return None
    start = (int(table.score_a[rows[0]]), int(table.score_b[rows[0]]))
    points, serving, by_server = list(start), int(table.server[rows[0]]), 0
    for i in rows:
        if (int(table.score_a[i]), int(table.score_b[i])) != tuple(points):
            return None
        if int(table.server[i]) != serving or table.winner[i] < 0:
            return None
        serving_wins = int(table.winner[i]) == serving
        by_server += serving_wins
        serving = int(table.winner[i])
        points[serving] += 1
    return start, (points[0], points[1]), int(table.server[rows[0]]), by_server


def _target(view: RallyMasks) -> int | None:
    """Return points a game goes to, read off the scores: no rally may follow the end of its game."""
    a, b = view.table.score_a, view.table.score_b
    for target in TARGETS:
        if not np.any((np.maximum(a, b) >= target) & (np.abs(a - b) >= 2)):
            return target
    return None


def used_games(view: RallyMasks) -> dict[int, tuple[int, tuple[float, ...]]]:
    """Return the games that can be used, each with the rallies won by the server and their chances.

    Only games whose score adds up one point a rally: counts shown beside the test are of these alone.
    """
    target, out = _target(view), {}
    for game in view.games if target is not None else ():
        whole = _game(view, game)
        part = server_wins(whole[0], whole[1], whole[2], target or 0) if whole else None
        if whole is not None and part is not None:
            out[game] = (whole[3], part)
    return out


def in_used_games(view: RallyMasks) -> Mask:
    """Return the rallies of the games that can be used."""
    return np.isin(view.table.game, list(used_games(view)))


def run_odds(run: float) -> float:
    """Return how much more a rally won by the server weighs in an order where winning adds `run` to the next.

    Examples
    --------
    >>> round(run_odds(0.12), 3)
    1.632
    """
    return (0.5 + run) / (0.5 - run)


def serve_edge(view: RallyMasks, run: float = 0.0) -> ExactTest | None:
    """Test whether the server wins more, or fewer, rallies than the same results in another order give.

    Uses games whose score adds up one point a rally (rally scoring, no rally missing); others drop out.
    A server who is simply on a run gives the same picture: with rally scoring the two cannot be told apart.

    Parameters
    ----------
    view : View
        The match.
    run : float
        What having won the last rally may add to the chance of the next. "More than luck" then means more
        than luck and such runs together; "fewer" is held against luck alone. With final scores given,
        an order with s rallies won by the server weighs `run_odds(run)` to the power of s.

    Returns
    -------
    ExactTest or None
        None where no game can be used.
    """
    used = used_games(view)
    if not used:
        return None
    seen, chances = sum(by_server for by_server, _ in used.values()), _together(*used.values())
    plain = both_tails(0, chances, seen)
    return plain if not run or seen <= plain.expected else _against_runs(chances, seen, run)


@lru_cache(maxsize=2)  # the same games are asked about twice
def _together(*games: tuple[int, tuple[float, ...]]) -> Floats:
    """Return the chances of rallies won by the server, over games."""
    chances = np.ones(1)
    for _, part in games:
        chances = np.convolve(chances, np.array(part))
    chances.setflags(write=False)
    return chances


def p_against_runs(view: RallyMasks) -> float:
    """Return the p that runs of winners must pass beside luck; to be held against the levels of the grades.

    Luck is judged beside everything else that was asked (`grades.joint`). Runs are one other cause of this
    one gap, so that their p is not raised for the other questions: it only may not use up the whole promise.

    Source
    ------
    With rally scoring the server is the winner of the rally before, so a gap of serving and a run have the
    same likelihood, whatever the test: only an assumed bound on runs tells them apart. Given that bound and
    the final scores, the number of rallies won by the server is sufficient, and the test against the
    strongest run allowed is the most powerful one.
    """
    test = serve_edge(view, ASSUMED_RUN)
    return 1.0 if test is None else min(1.0, test.mid_p / RUNS_PART)


def _against_runs(chances: Floats, seen: int, run: float) -> ExactTest:
    """Return the same test with runs in the chances: p of both tails is twice that of more."""
    # by logarithms: over 1,450 rallies the odds to that power are beyond the largest number
    with np.errstate(divide="ignore"):
        logs = np.log(chances) + math.log(run_odds(run)) * np.arange(chances.size)
    weighed = np.exp(logs - logs.max())
    test = summed(0, weighed / weighed.sum(), seen)
    return replace(test, p=min(1.0, 2 * test.upper), mid_p=min(1.0, 2 * test.mid_upper))
