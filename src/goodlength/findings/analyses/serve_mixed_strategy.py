"""Mix of serves as a matrix game of server against receiver: its value against the best response.

With about a hundred serves the payoffs are so uncertain that many mixes do as well: everything here is
given as ranges over what the payoffs could be.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.optimize import linprog
from scipy.sparse import csr_array, hstack

from goodlength.errors import OutOfRange
from goodlength.findings.rally_masks import Mask, RallyMasks
from goodlength.findings.statistics.diversity_entropy import seeded
from goodlength.findings.text.sentence_grammar import noun
from goodlength.findings.text.win_probability_and_trend_sentences import mix_words
from goodlength.record.answer_enumerations import RECEIVER_PLACES

Floats = NDArray[np.float64]
DRAWS = 400
STANCE_LEAST = 5  # decided rallies at a place of the receiver before it is a column; a choice of this project
WEIGHT = (
    12.0  # serves of prior evidence in each cell, towards row + column - overall; a choice of this project
)


@dataclass(frozen=True)
class GameSolution:
    """Best mix of the rows, a best mix of the columns, and what the rows then earn.

    Where several column mixes are equally good one of them is given.
    """

    rows: Floats
    columns: Floats
    value: float


def _matrix(payoff: ArrayLike) -> Floats:
    a = np.asarray(payoff, dtype=float)
    if a.ndim != 2 or not a.size or not np.isfinite(a).all():
        raise OutOfRange(
            f"Payoffs must be a table of numbers, one row a kind of serve; got shape {a.shape}. Fill in or "
            "leave out kinds and answers that were never seen."
        )
    return a


def _program(cost: Floats, upper: Any, below: Floats, kinds: int) -> tuple[Floats, Floats, float]:
    """Return shares of `kinds` (adding up to 1, with free variables after them) that make `cost` least.

    Returns the shares, the weights of the conditions, and the least cost.
    """
    free = cost.size - kinds
    found: Any = linprog(
        cost,
        A_ub=upper,
        b_ub=below,
        A_eq=np.r_[np.ones(kinds), np.zeros(free)][None, :],
        b_eq=[1.0],
        bounds=[(0, None)] * kinds + [(None, None)] * free,
        method="highs",
    )
    rows = np.clip(found.x[:kinds], 0.0, None)
    return rows / rows.sum(), np.clip(-found.ineqlin.marginals, 0.0, None), float(found.fun)


def cell_means(wins: ArrayLike, tries: ArrayLike, weight: float = WEIGHT) -> tuple[Floats, Floats, Floats]:
    """Return payoffs drawn in towards what their row and column suggest, and the Beta counts of each cell.

    Returns
    -------
    mean, alpha, beta : ndarray, shape (kinds, answers)

    Source
    ------
    STATS-REF 4.2: shrink cells toward row + column + overall; the rates of rows, columns and all have two
    even rallies added (computed here).
    """
    w, n = _matrix(wins), _matrix(tries)
    if w.shape != n.shape or (w < 0).any() or (w > n).any():
        raise OutOfRange("Wins need the shape of tries, zero or more, and never more than tries.")
    row = (w.sum(axis=1) + 1) / (n.sum(axis=1) + 2)
    column = (w.sum(axis=0) + 1) / (n.sum(axis=0) + 2)
    overall = (w.sum() + 1) / (n.sum() + 2)
    centre = np.clip(row[:, None] + column[None, :] - overall, 0.05, 0.95)
    alpha, beta = weight * centre + w, weight * (1 - centre) + n - w
    return alpha / (alpha + beta), alpha, beta


def cautious(draws: Floats) -> GameSolution:
    """Return the best mix against a receiver who knows the true payoffs while the server does not.

    Parameters
    ----------
    draws : ndarray, shape (s, kinds, answers)
        Payoffs that could be.

    Returns
    -------
    Solved
        `columns` is empty: the receiver's answer differs from draw to draw.

    Source
    ------
    STATS-REF 4.2: one linear program with an extra variable a draw.
    """
    s, kinds, answers = draws.shape
    payoffs = csr_array(-draws.transpose(0, 2, 1).reshape(s * answers, kinds))
    each = csr_array(np.repeat(np.eye(s), answers, axis=0))
    upper: Any = hstack([payoffs, each], format="csr")
    cost = np.r_[np.zeros(kinds), np.full(s, -1 / s)]
    rows, _, least = _program(cost, upper, np.zeros(s * answers), kinds)
    return GameSolution(rows, np.zeros(0), -least)


def solve_games(draws: Floats) -> tuple[Floats, Floats]:
    """Return the best mix and its value for many small games at once, the maximin of each, as by linear
    programming.

    Parameters
    ----------
    draws : ndarray, shape (s, kinds, answers)
        Payoffs; a handful of kinds and of answers.

    Returns
    -------
    rows : ndarray, shape (s, kinds)
    values : ndarray, shape (s,)

    Notes
    -----
    Some best mix makes as many answers equal as it has kinds in it. So every such mix is formed, for every
    choice of kinds and answers, and the one is kept whose worst answer is best. With one answer that is the
    kind that wins most.

    Examples
    --------
    >>> rows, values = solve_games(np.array([[[3.0, -1.0], [-2.0, 1.0]]]))
    >>> rows.round(6).tolist(), values.round(6).tolist()
    ([[0.428571, 0.571429]], [0.142857])
    """
    s, kinds, answers = draws.shape
    best, values = np.zeros((s, kinds)), np.full(s, -np.inf)
    for size in range(1, min(kinds, answers) + 1):
        for some in itertools.combinations(range(kinds), size):
            for equal in itertools.combinations(range(answers), size):
                rows = _equalising(draws[:, some][:, :, equal])
                worst = np.einsum("sk,ska->sa", rows, draws[:, some]).min(axis=1)
                better = np.flatnonzero((rows >= -1e-12).all(axis=1) & (worst > values + 1e-12))
                best[better] = 0.0
                best[better[:, None], some] = rows[better]
                values[better] = worst[better]
    return best, values


def _equalising(square: Floats) -> Floats:
    """Return shares of the rows that make all columns earn the same; NaN where there are none."""
    s, size, _ = square.shape
    system = np.zeros((s, size + 1, size + 1))
    system[:, :size, :size] = square.transpose(0, 2, 1)
    system[:, :size, size] = -1.0
    system[:, size, :size] = 1.0
    right = np.zeros((s, size + 1, 1))
    right[:, size] = 1.0
    sound = np.abs(np.linalg.det(system)) > 1e-12
    rows = np.full((s, size), np.nan)
    if sound.any():
        rows[sound] = np.linalg.solve(system[sound], right[sound])[:, :size, 0]
    return rows


@dataclass(frozen=True)
class MixAdvice:
    """The present mix beside an even one and a careful one. Ranges hold 95% of the possible payoffs.

    `share_low` and `share_high` are the range of each kind's share in the best mix; where they are wide
    the record does not settle the mix. `losses` are mean and range of what the receiver could take off a
    mix by knowing it.
    """

    kinds: tuple[str, ...]
    serves: int
    present: tuple[float, ...]
    careful: tuple[float, ...]
    share_low: tuple[float, ...]
    share_high: tuple[float, ...]
    present_loss: tuple[float, float, float]
    even_loss: tuple[float, float, float]
    careful_loss: tuple[float, float, float]
    settled: bool
    words: str
    stances: tuple[str, ...] = ()  # where the receiver stood, one a column; empty: by kind alone


def advise(
    kinds: Sequence[str],
    wins: ArrayLike,
    tries: ArrayLike,
    rng: np.random.Generator | None = None,
) -> MixAdvice:
    """Return how exploitable the present mix is, and whether the record says which mix would be better.

    Parameters
    ----------
    kinds : sequence of str
        Words for each kind, one a row.
    wins, tries : array_like of int, shape (kinds, answers)
        Rallies the server won, and played, by kind and by the receiver's stance or first answer. With one
        column (by kind alone) there is no game: the best mix is the best kind, and the range says how
        little is known of which that is.
    rng : numpy Generator, optional
        Draws payoffs; seeded from the counts by default.

    Returns
    -------
    MixAdvice

    Raises
    ------
    OutOfRange
        If there are no rallies, or names and rows do not fit.

    Source
    ------
    STATS-REF 4.2.

    Limits
    ------
    Answers are seen, not chosen at the same moment; payoffs drift with tiredness and score; the order of
    serves matters too (see `guess`).
    """
    w, n = _matrix(wins), _matrix(tries)
    if len(kinds) != w.shape[0] or n.sum() == 0:
        raise OutOfRange(
            f"A mix needs one name a row and at least one rally; got {len(kinds)} names, {w.shape[0]} rows "
            f"and {n.sum():g} rallies."
        )
    rng = seeded("mix", w.tolist(), n.tolist()) if rng is None else rng
    _, alpha, beta = cell_means(w, n)
    draws = rng.beta(alpha, beta, size=(DRAWS, *w.shape))
    best, values = solve_games(draws)
    present, even = n.sum(axis=1) / n.sum(), np.full(len(kinds), 1 / len(kinds))
    careful = cautious(draws).rows if w.shape[1] > 1 else np.eye(len(kinds))[draws.mean(axis=0).argmax()]
    low, high = np.quantile(best, [0.025, 0.975], axis=0)
    losses = [_loss(draws, values, mix) for mix in (present, even, careful)]
    settled = bool((high - low).max() < 0.5)
    return MixAdvice(
        tuple(kinds),
        int(n.sum()),
        tuple(present.tolist()),
        tuple(careful.tolist()),
        tuple(low.tolist()),
        tuple(high.tolist()),
        losses[0],
        losses[1],
        losses[2],
        settled,
        mix_words(
            tuple(kinds), int(n.sum()), settled, losses[0][0], losses[1][0], tuple(high.tolist()), n.shape[1]
        ),
    )


def _loss(draws: Floats, values: Floats, mix: Floats) -> tuple[float, float, float]:
    """Return mean and 95% range of what a receiver who knows the payoffs takes off this mix."""
    loss = values - np.einsum("k,ska->sa", mix, draws).min(axis=1)
    low, high = np.quantile(loss, [0.025, 0.975])
    return float(loss.mean()), float(low), float(high)


def advise_match(
    view: RallyMasks, side: int, kind_words: Mapping[str, str] | None = None
) -> MixAdvice | None:
    """Return what one match, or several as one table, says of the mix.

    Where the receiver's place was written down, and at least two places hold `STANCE_LEAST` decided rallies
    each, kinds are held against places and the mix is a game. Else it is by kind alone: one column, no game
    (see `advise`). None without a decided rally on a serve whose kind is known.

    Parameters
    ----------
    view : View
        The match.
    side : int
        0 A, 1 B.
    kind_words : mapping of str to str, optional
        The coach's words for kinds of serve.

    Limits
    ------
    Where the receiver stood was seen, not chosen at the same moment as the serve; serves of which nobody
    wrote the place down, and places with fewer rallies, are left out of the game.
    """
    own = view.served(side) & view.decided
    stances, columns = _stances(view, own)
    kinds = [
        kind
        for kind in view.kinds_by_use(side)
        if any((own & (view.table.kind == kind) & c).any() for c in columns)
    ]
    if not kinds:
        return None
    words = [noun(view.table.kinds[kind], kind_words or {}).one for kind in kinds]
    served = [[own & (view.table.kind == kind) & column for column in columns] for kind in kinds]
    tries = [[int(cell.sum()) for cell in row] for row in served]
    wins = [[int((cell & view.won(side)).sum()) for cell in row] for row in served]
    return replace(advise(words, wins, tries), stances=stances)


def _stances(view: RallyMasks, own: Mask) -> tuple[tuple[str, ...], list[Mask]]:
    """Return places of the receiver that were written down often enough, with their rallies; else all as
    one.
    """
    everywhere = np.ones(view.n, dtype=np.bool_)
    column = view.table.receiver_place
    if not column:
        return (), [everywhere]
    masks = [
        (place, np.array([text == place for text in column], dtype=np.bool_)) for place in RECEIVER_PLACES
    ]
    known = own & view.kind_known
    often = [(place, mask) for place, mask in masks if int((mask & known).sum()) >= STANCE_LEAST]
    if len(often) < 2:
        return (), [everywhere]
    return tuple(place for place, _ in often), [mask for _, mask in often]
