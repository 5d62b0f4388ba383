"""Simulated matches: models of how a match is played and recorded, with known truth.

A `World` says how serves are chosen, who wins rallies and what the observer misses. What is planted in it
(a true difference) is set apart from what only looks like a difference (runs, habits, tiredness).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.errors import OutOfRange
from goodlength.record.model import Ending, Left, ReturnKind
from goodlength.record.tables.rally_table import ENDINGS, HOW_TAKEN, LEFT, RallyTable

Floats = NDArray[np.float64]
KIND_IDS = ("lob", "hard", "mid-height", "body-feet", "body-nick")
MIXES = ((0.46, 0.32, 0.12, 0.05, 0.05), (0.4, 0.3, 0.2, 0.1), (0.6, 0.4), (0.25, 0.25, 0.25, 0.25))
WEAK = 0.4  # share of returns that are loose or not made, where nothing else is said
LETS = 0.05
_DRAWS = 12  # uniform numbers a rally
_MEDIAN_LENGTH = 2.5  # logarithm of seconds
_LENGTH_SD = 0.6


@dataclass(frozen=True)
class World:
    """How a match can be. With every default nothing differs and every rally is independent.

    Attributes
    ----------
    repeats : float
        Chance that a serve repeats the last of that player in that game whatever the mix says; below zero
        the chance that a repeat is served again as another kind.
    by_box, by_score : float
        Chance that the box, or being behind, decides the kind (the commonest, or the second).
    run : float
        What having won the last rally adds to a player's chance of the next, and takes off the other's.
    form_sd : float
        Spread of the chance of A from game to game.
    fatigue : float
        What the chance of A falls by from the first rally to the eightieth; rallies get shorter by as much
        (in logarithm, twice over), returns of both get weaker by as much.
    learning : float
        What the share of weak returns falls by from the first to the fortieth serve a receiver has seen.
    weak_by_box : float
        What the share of weak returns is higher by from the right box.
    kind_errors, return_errors : float
        Chance that the observer writes down another kind, or another outcome of the return.
    unwritten : float
        Chance that a good return is not written down, of any kind.
    unwritten_first : float
        The same for good returns of the server's commonest kind alone.
    unwritten_half : float
        Chance that kind and return of a rally are not written down at all.
    weak, won : (float, float) or None
        Planted: shares of weak returns, and of rallies won by the server, on the first and second kind.
    drift : (float, float) or None
        Planted: share of the first kind in the first two games, and after them.
    serving, long, changing : float
        Planted: what serving, a longer rally (for A), a change of serve adds to the chance of winning.
    """

    mix: tuple[float, ...] | None = None
    repeats: float = 0.0
    by_box: float = 0.0
    by_score: float = 0.0
    run: float = 0.0
    form_sd: float = 0.0
    fatigue: float = 0.0
    learning: float = 0.0
    weak_by_box: float = 0.0
    kind_errors: float = 0.0
    return_errors: float = 0.0
    unwritten: float = 0.0
    unwritten_first: float = 0.0
    unwritten_half: float = 0.0
    weak: tuple[float, float] | None = None
    won: tuple[float, float] | None = None
    drift: tuple[float, float] | None = None
    serving: float = 0.0
    long: float = 0.0
    changing: float = 0.0


@dataclass(frozen=True)
class Invented:
    """A match with its truth: the mixes it was drawn from, before boxes and scores decide, one a player."""

    table: RallyTable
    mixes: tuple[Floats, Floats]


@dataclass
class _Played:
    """Rows of a match while it is played."""

    rows: list[tuple[int, ...]]
    lengths: list[float]
    last_kind: list[int]
    served: list[int]


def invent_match(
    rng: np.random.Generator,
    world: World,
    share_a: float = 0.5,
    target: int = 11,
    games_to: int = 3,
) -> Invented:
    """Return one match played and written down as `world` says.

    Parameters
    ----------
    rng : numpy Generator
        Draws everything.
    world : World
        How serves, rallies and the observer are.
    share_a : float
        Chance that A wins a rally, whoever serves, before `world` adds to it.
    target, games_to : int
        Points a game, two clear, and games that win the match.

    Returns
    -------
    Invented
        The table holds what the observer wrote.

    Examples
    --------
    >>> found = invent_match(np.random.default_rng(1), World(repeats=0.5))
    >>> int(found.table.game[-1]) >= 3
    True
    """
    if not 0.0 < share_a < 1.0:
        raise OutOfRange(f"share_a must lie between 0 and 1; got {share_a:g}. Use 0.5 for an even pair.")
    mixes = (_mix(rng, world), _mix(rng, world))
    played = _Played([], [], [-1, -1], [0, 0])
    won = [0, 0]
    server = int(rng.integers(2))
    while max(won) < games_to:
        form = rng.normal(0.0, world.form_sd) if world.form_sd else 0.0
        points, server = _game(rng, world, (share_a + form, target), server, mixes, played, sum(won) + 1)
        won[int(points[1] > points[0])] += 1
    return Invented(_written(rng, world, played), mixes)


def _mix(rng: np.random.Generator, world: World) -> Floats:
    return np.array(world.mix if world.mix is not None else MIXES[rng.integers(len(MIXES))])


def _game(
    rng: np.random.Generator,
    world: World,
    chance_and_target: tuple[float, int],
    server: int,
    mixes: tuple[Floats, Floats],
    played: _Played,
    game: int,
) -> tuple[list[int], int]:
    """Return one game; gives its points and who serves next."""
    chance, target = chance_and_target
    points, number, box = [0, 0], 0, int(rng.integers(2))
    played.last_kind[:] = [-1, -1]
    last = -1
    while not (max(points) >= target and abs(points[0] - points[1]) >= 2):
        number += 1
        u = rng.random(_DRAWS)
        before = played.last_kind[server]
        behind = points[server] < points[1 - server]
        kind = _kind(world, mixes[server], u, before, box, behind, game)
        weak = u[3] < _weak_chance(world, kind, box, played.served[server], len(played.rows))
        length = _length(world, rng, len(played.rows))
        p = chance + _gains(world, kind, before, server, last, length, len(played.rows))
        winner = -1 if u[4] < LETS else int(u[5] >= np.clip(p, 0.03, 0.97))
        played.rows.append((game, number, server, box, kind, int(weak), winner, points[0], points[1]))
        played.lengths.append(length)
        played.last_kind[server] = kind
        played.served[server] += 1
        if winner >= 0:
            points[winner] += 1
            box = 1 - box if winner == server else int(u[6] < 0.5)
            server = last = winner
    return points, server


def _kind(world: World, mix: Floats, u: Floats, before: int, box: int, behind: bool, game: int) -> int:
    """Return the kind served next."""
    if world.drift is not None:
        first = world.drift[0 if game <= 2 else 1]
        mix = np.concatenate(([first], (1 - first) * mix[1:] / mix[1:].sum()))
    sampled = min(int(np.searchsorted(np.cumsum(mix), u[0])), mix.size - 1)
    if world.by_box and u[1] < world.by_box:
        sampled = 1 if box == 1 else 0
    if world.by_score and behind and u[1] < world.by_score:
        sampled = 1
    if before < 0:
        return sampled
    if world.repeats > 0 and u[2] < world.repeats:
        return before
    if world.repeats < 0 and sampled == before and u[2] < -world.repeats:
        others = np.delete(np.arange(mix.size), before)
        weights = np.cumsum(mix[others] / mix[others].sum())
        return int(others[min(int(np.searchsorted(weights, u[7])), others.size - 1)])
    return sampled


def _weak_chance(world: World, kind: int, box: int, seen: int, rally: int) -> float:
    chance = WEAK
    if world.weak is not None and kind < 2:
        chance = world.weak[kind]
    chance += world.weak_by_box * (0.5 if box == 0 else -0.5)
    chance += world.learning * (0.5 - min(seen, 40) / 40)
    return chance + world.fatigue * (min(rally, 80) / 80 - 0.5)


def _length(world: World, rng: np.random.Generator, rally: int) -> float:
    middle = _MEDIAN_LENGTH - 2 * world.fatigue * (min(rally, 80) / 80 - 0.5)
    return float(np.exp(rng.normal(middle, _LENGTH_SD)))


def _gains(world: World, kind: int, before: int, server: int, last: int, length: float, rally: int) -> float:
    """Return what is added to the chance that A wins this rally."""
    sign = 1 if server == 0 else -1
    gain = sign * world.serving
    if last >= 0:
        gain += world.run if last == 0 else -world.run
    if world.won is not None and kind < 2:
        gain += sign * (world.won[kind] - 0.5)
    if world.long:
        gain += world.long if length > np.exp(_MEDIAN_LENGTH) else -world.long
    if world.changing and before >= 0:
        gain += sign * (world.changing if kind != before else -world.changing)
    return gain - world.fatigue * (min(rally, 80) / 80 - 0.5)


def _written(rng: np.random.Generator, world: World, played: _Played) -> RallyTable:
    """Return what the observer wrote down of it."""
    game, number, server, box, kind, weak, winner, score_a, score_b = (
        np.array(column, dtype=np.int16) for column in zip(*played.rows, strict=True)
    )
    n = len(played.rows)
    left = np.where(
        weak == 1,
        rng.choice([LEFT.index(Left.NOT_MADE), LEFT.index(Left.LOOSE)], size=n, p=(0.2, 0.8)),
        rng.choice([LEFT.index(Left.TIGHT), LEFT.index(Left.ATTACKED)], size=n, p=(0.75, 0.25)),
    ).astype(np.int16)
    how = rng.choice(4, size=n, p=(0.5, 0.1, 0.3, 0.1)).astype(np.int16)
    how[left == LEFT.index(Left.NOT_MADE)] = HOW_TAKEN.index(ReturnKind.NOT_MADE)
    first = kind == 0
    kind, left, how = _observed(rng, world, kind, left, how)
    _unwritten(rng, world, first, kind, left, how)
    ending = rng.integers(0, 3, size=n).astype(np.int16)
    ending[winner < 0] = ENDINGS.index(Ending.LET)
    return RallyTable(
        match="invented",
        key=tuple(f"r{i}" for i in range(n)),
        game=game,
        n_in_game=number,
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
        length_s=np.array(played.lengths),
        shots=np.full(n, -1, dtype=np.int16),
        placed=(None,) * n,
    )


Codes = NDArray[np.int16]


def _observed(
    rng: np.random.Generator, world: World, kind: Codes, left: Codes, how: Codes
) -> tuple[Codes, Codes, Codes]:
    """Return the answers with the observer's errors in them."""
    n = kind.size
    if world.kind_errors:
        wrong = rng.random(n) < world.kind_errors
        kind = np.where(wrong, rng.choice(kind, size=n), kind).astype(np.int16)
    if world.return_errors:
        wrong = (rng.random(n) < world.return_errors) & (left != LEFT.index(Left.NOT_MADE))
        other = np.where(left == LEFT.index(Left.LOOSE), LEFT.index(Left.TIGHT), LEFT.index(Left.LOOSE))
        left = np.where(wrong, other, left).astype(np.int16)
    return kind, left, how


def _unwritten(
    rng: np.random.Generator, world: World, first: NDArray[np.bool_], kind: Codes, left: Codes, how: Codes
) -> None:
    """Takes answers away, in place: more often those of returns that went well."""
    n = kind.size
    good = (left == LEFT.index(Left.TIGHT)) | (left == LEFT.index(Left.ATTACKED))
    u = rng.random(n)
    gone = good & (u < np.where(first, max(world.unwritten, world.unwritten_first), world.unwritten))
    left[gone] = -1
    how[gone] = -1
    skipped = rng.random(n) < world.unwritten_half
    for column in (kind, left, how):
        column[skipped] = -1


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
    """Return rows of game, number in game, server, box, winner (-1 let) and score before."""
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
