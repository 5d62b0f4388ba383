"""Win probability of a game and a match from the probability of one rally, by score and server.

`a` is the chance that A wins a rally A serves, `b` the chance that A wins a rally B serves. Rallies are
taken as independent given the server: an assumption, to be named wherever a chance is shown. Both may be
arrays (draws of a posterior); then every chance is an array of the same shape.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from goodlength.errors import OutOfRange
from goodlength.scoring.scoring_types import Format, Points, System

Values = NDArray[Any]  # float, or complex where a derivative is taken
FIRST_SERVERS = ("winner", "alternate", "loser")


def _rates(a: ArrayLike, b: ArrayLike) -> tuple[Values, Values]:
    array, two = np.broadcast_arrays(np.asarray(a), np.asarray(b))
    kind = np.result_type(array, two, float)
    array, two = array.astype(kind), two.astype(kind)
    bad = ~((array.real > 0) & (array.real < 1) & (two.real > 0) & (two.real < 1))
    if bad.any():
        raise OutOfRange(
            f"Chances of a rally must lie between 0 and 1; got a = {array[bad].flat[0].real:g}, "
            f"b = {two[bad].flat[0].real:g}. Draw them in a little: nobody wins every rally."
        )
    return array, two


@dataclass(frozen=True)
class GameTable:
    """Chances that A wins the game and rallies still to come, by points of A, of B, and server (0 A, 1 B).

    `chance` and `rallies` have shape (n, n, 2, ...); `at` reads them at any score.
    """

    fmt: Format
    chance: Values
    rallies: Values

    def at(self, points: Points, server: int) -> Values:
        """Return chance that A wins the game from this score.

        Examples
        --------
        >>> game_table(0.5, 0.5, Format()).at((9, 9), 0).item()
        0.5
        """
        return np.asarray(self.chance[(*self._place(points), server)])

    def rallies_at(self, points: Points, server: int) -> Values:
        """Return rallies still to be played, on average."""
        return np.asarray(self.rallies[(*self._place(points), server)])

    def _place(self, points: Points) -> Points:
        """Return the same situation within the table: past the tie only the difference counts."""
        last, (x, y) = self.chance.shape[0] - 1, points
        if x < 0 or y < 0:
            raise OutOfRange(f"Points below zero have no place in the model; got {x}-{y}.")
        if self.fmt.system is System.RALLY:
            beyond = min(x, y) - (self.fmt.target - 1)
            if beyond > 0:
                x, y = x - beyond, y - beyond
        if max(x, y) > last:
            raise OutOfRange(f"{x}-{y} cannot be a score of a game to {self.fmt.target}.")
        return x, y


def _ties(a: Values, b: Values) -> tuple[tuple[Values, Values], tuple[Values, Values]]:
    """At a tie with two clear to play: chances of A with A and with B serving, and rallies to come.

    STATS-REF 1.2: D_A = a^2 / K, D_B = a b (1 + a - b) / K, K = c^2 - a b (1-a)(1-b), c = 1 - (1-a) b.
    """
    c = 1 - (1 - a) * b
    k = c * c - a * b * (1 - a) * (1 - b)
    # E_A = 2 + a(1-a) E_B + (1-a) b E_A ; E_B = 2 + b(1-a) E_B + (1-b) b E_A, solved by hand
    det = (1 - (1 - a) * b) * (1 - b * (1 - a)) - a * (1 - a) * (1 - b) * b
    e_a = 2 * ((1 - b * (1 - a)) + a * (1 - a)) / det
    e_b = 2 * ((1 - (1 - a) * b) + (1 - b) * b) / det
    return (a * a / k, a * b * (1 + a - b) / k), (e_a, e_b)


def _rally_scoring(a: Values, b: Values, fmt: Format) -> GameTable:
    n = fmt.target
    shape = (n + 1, n + 1, 2, *a.shape)
    chance, rallies = np.zeros(shape, a.dtype), np.zeros(shape, a.dtype)
    chance[n, : n - 1] = 1
    (d_a, d_b), (e_a, e_b) = _ties(a, b)
    for tie in (n - 1, n):
        chance[tie, tie, 0], chance[tie, tie, 1] = d_a, d_b
        rallies[tie, tie, 0], rallies[tie, tie, 1] = e_a, e_b
    for server, p in enumerate((a, b)):
        chance[n, n - 1, server] = p + (1 - p) * d_b
        chance[n - 1, n, server] = p * d_a
        rallies[n, n - 1, server] = 1 + (1 - p) * e_b
        rallies[n - 1, n, server] = 1 + p * e_a
    for i in range(n - 1, -1, -1):
        for j in range(n - 1, -1, -1):
            if i == j == n - 1:
                continue
            for server, p in enumerate((a, b)):
                chance[i, j, server] = p * chance[i + 1, j, 0] + (1 - p) * chance[i, j + 1, 1]
                rallies[i, j, server] = 1 + p * rallies[i + 1, j, 0] + (1 - p) * rallies[i, j + 1, 1]
    return GameTable(fmt, chance, rallies)


def _hand_out_step(a: Values, b: Values, x: Values, y: Values, cost: int) -> tuple[Values, Values]:
    """Value with A and with B serving, given the value x after A scores and y after B scores.

    `cost` is 1 to count rallies, 0 for chances. STATS-REF 1.3: d = 1 - (1-a) b.
    """
    d = 1 - (1 - a) * b
    serving = (a * x + (1 - a) * (1 - b) * y + cost * (1 + (1 - a))) / d
    receiving = ((1 - b) * y + b * a * x + cost * (1 + b)) / d
    return serving, receiving


def _hand_out_to(a: Values, b: Values, target: int) -> tuple[Values, Values]:
    """Tables for hand-out scoring to `target`, one clear and no choice."""
    shape = (target + 1, target + 1, 2, *a.shape)
    chance, rallies = np.zeros(shape, a.dtype), np.zeros(shape, a.dtype)
    chance[target] = 1
    for i in range(target - 1, -1, -1):
        for j in range(target - 1, -1, -1):
            for table, cost in ((chance, 0), (rallies, 1)):
                x, y = table[i + 1, j, 0], table[i, j + 1, 1]
                table[i, j, 0], table[i, j, 1] = _hand_out_step(a, b, x, y, cost)
    return chance, rallies


def _hand_out(a: Values, b: Values, fmt: Format) -> GameTable:
    """Hand-out scoring with the receiver's choice one point before the end, made as well as can be."""
    n = fmt.target
    long_chance, long_rallies = _hand_out_to(a, b, n + 1)
    short_chance, short_rallies = _hand_out_to(a, b, n)
    chance, rallies = long_chance.copy(), long_rallies.copy()
    tie = (n - 1, n - 1)
    # The receiver chooses: B while A serves (takes what is lower for A), A while B serves.
    for server in (0, 1):
        short, long = short_chance[(*tie, server)], long_chance[(*tie, server)]
        pick_short = (short.real < long.real) if server == 0 else (short.real > long.real)
        chance[(*tie, server)] = np.where(pick_short, short, long)
        rallies[(*tie, server)] = np.where(
            pick_short, short_rallies[(*tie, server)], long_rallies[(*tie, server)]
        )
    chance[n, : n - 1], rallies[n, : n - 1] = 1, 0  # over at n, unless it came to the tie
    chance[: n - 1, n], rallies[: n - 1, n] = 0, 0
    for i in range(n - 1, -1, -1):
        for j in range(n - 1, -1, -1):
            if (i, j) == tie:
                continue
            for table, cost in ((chance, 0), (rallies, 1)):
                x, y = table[i + 1, j, 0], table[i, j + 1, 1]
                table[i, j, 0], table[i, j, 1] = _hand_out_step(a, b, x, y, cost)
    return GameTable(fmt, chance, rallies)


@lru_cache(maxsize=64)
def _cached(a: float, b: float, fmt: Format) -> GameTable:
    return _game_table(np.asarray(a), np.asarray(b), fmt)


def _game_table(a: Values, b: Values, fmt: Format) -> GameTable:
    return _rally_scoring(a, b, fmt) if fmt.system is System.RALLY else _hand_out(a, b, fmt)


def game_table(a: ArrayLike, b: ArrayLike, fmt: Format | None = None) -> GameTable:
    """Return chances of the game at every score.

    Parameters
    ----------
    a, b : array_like, any shape
        Chance that A wins a rally served by A, by B; between 0 and 1.
    fmt : Format, optional
        Rally scoring to 11, two clear, without it. In hand-out scoring the receiver chooses at 8-all
        (8 to a game of 9) what is better, knowing a and b.

    Returns
    -------
    GameTable

    Source
    ------
    STATS-REF 1.2 (ties and recursion) and 1.3 (hand-out scoring).

    Limits
    ------
    Rallies independent given the server; not checked against results of real matches here.

    Examples
    --------
    >>> round(game_table(0.6, 0.5).at((0, 0), 0).item(), 10)
    0.6941802495
    """
    fmt = fmt or Format()
    array, two = _rates(a, b)
    if array.ndim == 0 and array.dtype == float:
        return _cached(float(array), float(two), fmt)
    return _game_table(array, two, fmt)


@dataclass(frozen=True)
class MatchTable:
    """Chances that A wins the match, by games won and first server; `at` reads any score within a game."""

    game: GameTable
    need: int  # games that win the match
    chance: Values  # [games of A, games of B, first server of the next game]
    rallies: Values
    games: Values  # games still to come
    first: str

    def after_game(self, games: Points, winner: int, first_server: int) -> Values:
        """Return chance of the match once this game is won by `winner` (0 A, 1 B)."""
        x, y = games[0] + (winner == 0), games[1] + (winner == 1)
        return np.asarray(self.chance[x, y, self._next(winner, first_server)])

    def _next(self, winner: int, first_server: int) -> int:
        return {"winner": winner, "loser": 1 - winner, "alternate": 1 - first_server}[self.first]

    def at(self, games: Points, points: Points, server: int, first_server: int | None = None) -> Values:
        """Return chance that A wins the match from this score.

        `first_server` of the game in play matters only where first servers alternate.

        Examples
        --------
        >>> round(match_table(0.55, 0.5).at((1, 1), (9, 9), 0).item(), 10)
        0.6253354872
        """
        opened = server if first_server is None else first_server
        won, lost = (self.after_game(games, w, opened) for w in (0, 1))
        return np.asarray(lost + (won - lost) * self.game.at(points, server))

    def swing(self, games: Points, points: Points, server: int, first_server: int | None = None) -> Values:
        """Return how far this rally moves A's chance of the match: if A wins it, less if A loses it.

        Source
        ------
        STATS-REF 1.4 (importance, after Morris 1977).

        Examples
        --------
        >>> round(match_table(0.55, 0.5).swing((1, 1), (9, 9), 0).item(), 10)
        0.2458861356
        """
        opened = server if first_server is None else first_server
        won, lost = (self.after_game(games, w, opened) for w in (0, 1))
        return np.asarray((won - lost) * importance(self.game, points, server))


def _then(table: GameTable, points: Points, server: int, winner: int) -> Values:
    """Return chance that A wins the game once this rally is won by `winner`."""
    fmt, (x, y) = table.fmt, points
    scores = fmt.system is System.RALLY or winner == server
    if scores:
        x, y = x + (winner == 0), y + (winner == 1)
    over = fmt.target if fmt.system is System.RALLY else _set(fmt, x, y)
    clear = 2 if fmt.system is System.RALLY else 1
    if max(x, y) >= over and abs(x - y) >= clear:
        return np.full(table.chance.shape[3:], float(x > y))
    return table.at((x, y), winner)


def _set(fmt: Format, x: int, y: int) -> int:
    """Return points that end a hand-out game: one more once both have come to the choice."""
    return fmt.target + 1 if min(x, y) >= fmt.target - 1 else fmt.target


def importance(table: GameTable, points: Points, server: int) -> Values:
    """Return how far this rally moves A's chance of the game: if A wins it, less if A loses it.

    In hand-out scoring at 8-all it takes the set as chosen to 10 once a point is played there.

    Source
    ------
    STATS-REF 1.4.

    Examples
    --------
    >>> importance(game_table(0.5, 0.5), (8, 8), 0).item()
    0.375
    """
    return np.asarray(_then(table, points, server, 0) - _then(table, points, server, 1))


def match_table(a: ArrayLike, b: ArrayLike, fmt: Format | None = None, first: str = "winner") -> MatchTable:
    """Return chances of the match at every score.

    Parameters
    ----------
    a, b : array_like
        As in `game_table`.
    fmt : Format, optional
        Best of five to 11 without it.
    first : "winner", "alternate" or "loser"
        Who serves first in the next game: the winner of the last, the other than last time, or the loser.

    Returns
    -------
    MatchTable

    Raises
    ------
    OutOfRange
        If a chance is not between 0 and 1, or `first` is none of the three.

    Source
    ------
    STATS-REF 1.2; the chance of the match does not depend on `first` (1.1).

    Examples
    --------
    >>> round(match_table(0.6, 0.5).at((0, 0), (0, 0), 0).item(), 10)
    0.8204682299
    """
    if first not in FIRST_SERVERS:
        raise OutOfRange(f"First must be one of {', '.join(FIRST_SERVERS)}; got {first!r}.")
    fmt = fmt or Format()
    game = game_table(a, b, fmt)
    need, extra = fmt.best_of // 2 + 1, game.chance.shape[3:]
    shape = (need + 1, need + 1, 2, *extra)
    chance, rallies, games = (np.zeros(shape, game.chance.dtype) for _ in range(3))
    chance[need] = 1
    table = MatchTable(game, need, chance, rallies, games, first)
    for x in range(need - 1, -1, -1):
        for y in range(need - 1, -1, -1):
            for server in (0, 1):
                p = game.at((0, 0), server)
                a_wins, b_wins = table._next(0, server), table._next(1, server)
                for values, cost in ((chance, 0), (rallies, game.rallies_at((0, 0), server)), (games, 1)):
                    values[x, y, server] = (
                        cost + p * values[x + 1, y, a_wins] + (1 - p) * values[x, y + 1, b_wins]
                    )
    return table


def slopes(
    a: float, b: float, fmt: Format | None = None, first_server: int | None = None
) -> dict[str, float]:
    """Return how fast chances of game and match rise with a and with b, per unit of chance of a rally.

    Parameters
    ----------
    a, b : float
        As in `game_table`.
    fmt : Format, optional
        Best of five to 11 without it.
    first_server : int, optional
        0 A, 1 B; the mean of both without it.

    Returns
    -------
    dict
        "game_a", "game_b", "match_a", "match_b".

    Source
    ------
    STATS-REF 1.5; taken by a complex step, exact to rounding (computed here).

    Examples
    --------
    >>> round(slopes(0.5, 0.5)["match_a"], 6)
    3.634064
    """
    step = 1e-30
    out: dict[str, float] = {}
    for name, da, db in (("a", 1j * step, 0.0), ("b", 0.0, 1j * step)):
        table = match_table(np.asarray(a + da), np.asarray(b + db), fmt)
        servers = (0, 1) if first_server is None else (first_server,)
        game = [table.game.at((0, 0), s).imag / step for s in servers]
        match = [table.at((0, 0), (0, 0), s).imag / step for s in servers]
        out[f"game_{name}"] = float(np.mean(game))
        out[f"match_{name}"] = float(np.mean(match))
    return out
