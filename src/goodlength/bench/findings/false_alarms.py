"""How often findings cry wolf: matches in which nothing is different, judged by the real grades."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.findings.analyses.questions import judge_all
from goodlength.findings.model import Grade
from goodlength.findings.rally_masks import RallyMasks
from goodlength.findings.statistics.intervals import jeffreys, wilson
from goodlength.record.model import Ending, Left, ReturnKind
from goodlength.record.tables.rally_table import ENDINGS, HOW_TAKEN, LEFT, RallyTable

MIXES = ((0.46, 0.32, 0.12, 0.05, 0.05), (0.4, 0.3, 0.2, 0.1), (0.6, 0.4), (0.25, 0.25, 0.25, 0.25))
KIND_IDS = ("lob", "hard", "mid-height", "body-feet", "body-nick")


@dataclass(frozen=True)
class NullRates:
    """Shares of null matches with any Clear and any Leaning finding, with their Monte Carlo errors."""

    matches: int
    null_any_clear: float
    null_any_clear_error: float
    null_any_leaning: float
    null_any_leaning_error: float
    questions_a_match: float


def null_match(
    rng: np.random.Generator, share_a: float = 0.5, target: int = 11, games_to: int = 3, lets: float = 0.05
) -> RallyTable:
    """One invented match in which kind, box, return, length and order have nothing to do with who wins.

    Parameters
    ----------
    rng : numpy Generator
        Draws everything.
    share_a : float
        Chance that A wins a rally, whoever serves.
    target, games_to : int
        Points a game, and games that win the match.
    lets : float
        Share of serves that end in a let.

    Returns
    -------
    RallyTable
        With every answer of the depth "serve and return".
    """
    rows = _played(rng, share_a, target, games_to, lets)
    n = len(rows)
    game, n_in_game, server, box, winner, score_a, score_b = (
        np.array(column, dtype=np.int16) for column in zip(*rows, strict=True)
    )
    mix = [MIXES[rng.integers(len(MIXES))] for _ in (0, 1)]
    kind = np.array([rng.choice(len(mix[s]), p=mix[s]) for s in server], dtype=np.int16)
    how = rng.choice(4, size=n, p=(0.5, 0.1, 0.3, 0.1)).astype(np.int16)
    left = rng.choice(len(LEFT), size=n, p=(0.08, 0.32, 0.45, 0.15)).astype(np.int16)
    how[left == LEFT.index(Left.NOT_MADE)] = HOW_TAKEN.index(ReturnKind.NOT_MADE)
    ending = rng.integers(0, 3, size=n).astype(np.int16)
    ending[winner < 0] = ENDINGS.index(Ending.LET)
    return RallyTable(
        match="null",
        key=tuple(f"r{i}" for i in range(n)),
        game=game,
        n_in_game=n_in_game,
        server=server,
        box=box,
        kinds=KIND_IDS,
        kind=kind,
        how_taken=how,
        left=left,
        winner=winner,
        let=winner < 0,
        ending=ending,
        ending_stroke=np.full(n, -1, dtype=np.int16),
        score_a=score_a,
        score_b=score_b,
        length_s=rng.lognormal(2.5, 0.6, size=n),
        shots=np.full(n, -1, dtype=np.int16),
        placed=(None,) * n,
    )


def _played(
    rng: np.random.Generator, share_a: float, target: int, games_to: int, lets: float
) -> list[tuple[int, ...]]:
    """Rows of game, number in game, server, box, winner (-1 let) and score before."""
    rows: list[tuple[int, ...]] = []
    won, server, box = [0, 0], int(rng.integers(2)), 0
    while max(won) < games_to:
        points, number = [0, 0], 0
        box = int(rng.integers(2))
        while not (max(points) >= target and abs(points[0] - points[1]) >= 2):
            number += 1
            winner = -1 if rng.random() < lets else int(rng.random() >= share_a)
            rows.append((sum(won) + 1, number, server, box, winner, points[0], points[1]))
            if winner >= 0:
                points[winner] += 1
                box = 1 - box if winner == server else int(rng.integers(2))
                server = winner
        won[int(points[1] > points[0])] += 1
    return rows


def null_rates(rng: np.random.Generator, matches: int = 400) -> NullRates:
    """Judge invented matches without any difference and count false Clear and false Leaning findings.

    Counted over all questions looked at, of both players, listed or not.

    Parameters
    ----------
    rng : numpy Generator
        Draws the matches: even and uneven pairs, games to 11 and to 15, four mixes of serves.
    matches : int
        How many; 400 take a few seconds and give a Monte Carlo error of about a point.

    Returns
    -------
    NullRates
        `null_any_leaning` counts matches with any finding graded Leaning or Clear.
    """
    clear = leaning = asked = 0
    for _ in range(matches):
        share_a = float(rng.uniform(0.4, 0.6))
        table = null_match(rng, share_a, int(rng.choice((11, 11, 15))), 3)
        found = judge_all(RallyMasks(table))
        grades = {one.grade for one in found}
        clear += Grade.CLEAR in grades
        leaning += bool(grades & {Grade.CLEAR, Grade.LEANING})
        asked += sum(one.p is not None for one in found)
    p, q = clear / matches, leaning / matches
    return NullRates(
        matches,
        p,
        math.sqrt(max(p, 1 / matches) * (1 - p) / matches),
        q,
        math.sqrt(max(q, 1 / matches) * (1 - q) / matches),
        asked / matches,
    )


@dataclass(frozen=True)
class Coverage:
    """How often a range holds the true share, averaged over shares .05 to .95, and the worst one."""

    method: str
    tries: int
    level: float
    mean: float
    worst: float
    worst_share: float


def coverage(tries: int, level: float, method: str = "jeffreys", shares: int = 181) -> Coverage:
    """Exact coverage of a range of one share, averaged over evenly spaced shares from .05 to .95.

    Parameters
    ----------
    tries : int
        Tries behind each share.
    level : float
        The level promised.
    method : str
        "jeffreys" or "wilson".
    shares : int
        How many true shares to average over.

    Examples
    --------
    >>> round(coverage(20, 0.90).mean, 3)
    0.897
    """
    count = np.arange(tries + 1)
    low, high = (wilson if method == "wilson" else jeffreys)(count, np.full(tries + 1, tries), level)
    true = np.linspace(0.05, 0.95, shares)
    ways = np.array([math.comb(tries, int(k)) for k in count], dtype=float)
    chance: NDArray[np.float64] = ways * true[:, None] ** count * (1 - true[:, None]) ** (tries - count)
    held = (chance * ((low <= true[:, None]) & (true[:, None] <= high))).sum(axis=1)
    worst = int(held.argmin())
    return Coverage(method, tries, level, float(held.mean()), float(held[worst]), float(true[worst]))
