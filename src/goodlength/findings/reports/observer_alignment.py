"""Align two observers' records of one match rally by rally, and list the ordered variables.

`reliability.compare` judges the labels. Here rallies are put together where times are missing too, and what
the return left and where a rally ended are weighed by how far apart the two answers are.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from goodlength.court import SINGLES
from goodlength.findings.reports.observer_agreement import (
    FEWEST,
    RESAMPLES,
    Disagreement,
    Reliability,
    observer_agreement,
)
from goodlength.findings.result_types import Share
from goodlength.findings.statistics.diversity_entropy import seeded
from goodlength.findings.statistics.observer_agreement_measures import (
    agreed,
    confusion,
    kappa,
    match_times,
)
from goodlength.findings.statistics.proportion_intervals import jeffreys_share
from goodlength.record.answer_enumerations import PLACES
from goodlength.record.model import Left
from goodlength.record.tables.rally_table import LEFT, STROKES, RallyTable

Floats = NDArray[np.float64]
Pair = tuple[int, int]
WITHIN_S = (
    4.0  # starts further apart belong to different rallies; a service fault and the next serve are further
)
_GAP, _SAME, _OTHER = -1.0, 1.0, -1.5  # of putting a game's rallies together by what was played
# From the best return to the worst one for whoever served: a mistake by two steps weighs twice as much.
LEFT_ORDER = (Left.NOT_MADE, Left.LOOSE, Left.TIGHT, Left.ATTACKED)
_THIRD_X_M, _THIRD_Y_M = SINGLES.width.value_m / 3, SINGLES.length.value_m / 3  # between places


@dataclass(frozen=True)
class WeightedAgreement:
    """One more variable. `kappa` weighs disagreements by how far apart they are, where `weights` says how."""

    variable: str
    words: str
    weights: str  # how disagreements are weighed, in words
    compared: int
    agreed: Share
    kappa: float | None
    low: float | None  # 95 in 100, whole rallies drawn again
    high: float | None
    disagreements: tuple[Disagreement, ...]


@dataclass(frozen=True)
class LayerComparison:
    """Two layers side by side: the reliability of each variable, and what has an order beside it."""

    reliability: Reliability
    pairs: tuple[Pair, ...]
    by: str
    weighed: tuple[WeightedAgreement, ...]


def compare_layers(
    first: RallyTable,
    second: RallyTable,
    first_s: Sequence[float],
    second_s: Sequence[float],
    rng: np.random.Generator | None = None,
    *,
    weigh: bool = True,
) -> LayerComparison:
    """Return two observers of one match, or one observer twice.

    Parameters
    ----------
    first, second : RallyTable
        The two layers.
    first_s, second_s : sequence of float, shape (n,)
        Start of each rally, s of match time; NaN where nobody marked it.
    rng : numpy Generator, optional
        Draws whole rallies again for the ranges; seeded from the answers by default.
    weigh : bool
        False leaves the weighed variables out, where only trust is asked for.

    Returns
    -------
    Layers

    Source
    ------
    STATS-REF 2.1: weighted kappa for places and ordered grades (after Robinson and O'Donoghue 2007).

    Limits
    ------
    Where times are missing and the observers differ on how many rallies a game had, rallies are put together
    by who served and who won: agreement on these two then looks a little better than it is.
    """
    pairs, by = merge_layers(first, second, np.asarray(first_s), np.asarray(second_s))
    rng = seeded("layers", first.key, second.key) if rng is None else rng
    aligned_first, aligned_second = _as_times(len(first.key), len(second.key), pairs)
    found = observer_agreement(first, second, aligned_first, aligned_second, 0.5, rng)
    weighed = tuple(_weighed(first, second, pairs, rng)) if weigh else ()
    return LayerComparison(replace(found, by=by), pairs, by, weighed)


def merge_layers(
    first: RallyTable, second: RallyTable, first_s: Floats, second_s: Floats
) -> tuple[tuple[Pair, ...], str]:
    """Return rallies of two layers one to one, and how they were put together.

    By time where all are timed; else by place in the game where both have as many rallies of every game; else
    by the order of who served and won over the whole match (one rally missed can shift where a game ends).
    """
    timed = np.isfinite(first_s).all() and np.isfinite(second_s).all()
    if timed and first_s.size and second_s.size:
        return match_times(first_s, second_s, WITHIN_S).pairs, "time"
    if first.game.tolist() == second.game.tolist():
        return tuple((n, n) for n in range(len(first.key))), "place in the game"
    return _by_play(first, second), "who served and won, in order"


def _by_play(first: RallyTable, second: RallyTable) -> tuple[Pair, ...]:
    """Return the order-keeping way of pairing two lists of rallies in which most pairs are alike.

    Source
    ------
    Alignment of sequences by dynamic programming (Needleman and Wunsch); from memory.
    """
    number, two = len(first.key), len(second.key)
    alike = np.zeros((number, two))
    for column in ("server", "winner", "let"):
        left, right = np.asarray(getattr(first, column)), np.asarray(getattr(second, column))
        alike += np.where(left[:, None] == right[None, :], _SAME, _OTHER)
    best = np.zeros((number + 1, two + 1))
    best[:, 0], best[0, :] = _GAP * np.arange(number + 1), _GAP * np.arange(two + 1)
    for i in range(number):
        for j in range(two):
            best[i + 1, j + 1] = max(best[i, j] + alike[i, j], best[i, j + 1] + _GAP, best[i + 1, j] + _GAP)
    pairs: list[Pair] = []
    i, j = number, two
    while i and j:
        if best[i, j] == best[i - 1, j - 1] + alike[i - 1, j - 1]:
            pairs.append((i - 1, j - 1))
            i, j = i - 1, j - 1
        elif best[i, j] == best[i - 1, j] + _GAP:
            i -= 1
        else:
            j -= 1
    return tuple(pairs[::-1])


def _as_times(n_first: int, n_second: int, pairs: Sequence[Pair]) -> tuple[Floats, Floats]:
    """Stand-in times in which exactly these rallies lie together."""
    first, second = np.full(n_first, np.nan), np.full(n_second, np.nan)
    for at, (i, j) in enumerate(pairs):
        first[i] = second[j] = 10.0 * at
    return first, second


def _weighed(
    first: RallyTable, second: RallyTable, pairs: Sequence[Pair], rng: np.random.Generator
) -> list[WeightedAgreement]:
    steps = np.abs(np.subtract.outer(np.arange(4), np.arange(4))).astype(float)
    codes = [LEFT.index(left) for left in LEFT_ORDER]
    rows = [
        _row(
            "left",
            "return quality, in steps",
            "by steps from missed through loose and tight to attacked",
            steps,
            [[_place_of(code, codes) for code in table.left] for table in (first, second)],
            [left.value for left in LEFT_ORDER],
            first,
            second,
            pairs,
            rng,
        ),
        _row(
            "placed",
            "where the rally ended",
            "by the distance between places",
            _distances(),
            [_words(table.placed, PLACES, len(table.key)) for table in (first, second)],
            list(PLACES),
            first,
            second,
            pairs,
            rng,
        ),
        _row(
            "ending_stroke",
            "the last shot",
            "equally",
            1.0 - np.eye(len(STROKES)),
            [[int(code) for code in table.ending_stroke] for table in (first, second)],
            [stroke.value for stroke in STROKES],
            first,
            second,
            pairs,
            rng,
        ),
    ]
    return [row for row in rows if row is not None]


def _place_of(code: int, codes: Sequence[int]) -> int:
    return codes.index(int(code)) if int(code) in codes else -1


def _words(column: Sequence[str | None], words: Sequence[str], n: int) -> list[int]:
    texts = column or (None,) * n
    return [words.index(word) if word in words else -1 for word in texts]


def _distances() -> Floats:
    """Metres between the centres of the nine places."""
    at = np.array([[x * _THIRD_X_M, y * _THIRD_Y_M] for y in range(3) for x in range(3)])
    gaps = at[:, None, :] - at[None, :, :]
    return np.asarray(np.sqrt((gaps**2).sum(axis=2)))


def _row(
    variable: str,
    words: str,
    weights: str,
    away: Floats,
    coded: Sequence[Sequence[int]],
    labels: Sequence[str],
    first: RallyTable,
    second: RallyTable,
    pairs: Sequence[Pair],
    rng: np.random.Generator,
) -> WeightedAgreement | None:
    """Return one variable over the rallies both observers answered; None where there is none."""
    both = [(i, j) for i, j in pairs if coded[0][i] >= 0 and coded[1][j] >= 0]
    if not both:
        return None
    a = np.array([coded[0][i] for i, _ in both])
    b = np.array([coded[1][j] for _, j in both])
    table = confusion(a.tolist(), b.tolist(), len(labels))
    value = kappa(table, away)
    low, high = _range(a, b, away, rng) if value is not None and a.size >= FEWEST else (None, None)
    return WeightedAgreement(
        variable,
        words,
        weights,
        len(both),
        jeffreys_share(round(agreed(table) * len(both)), len(both), ()),
        value,
        low,
        high,
        tuple(
            Disagreement(first.key[i], second.key[j], labels[coded[0][i]], labels[coded[1][j]])
            for i, j in both
            if coded[0][i] != coded[1][j]
        ),
    )


def _range(
    a: NDArray[np.int64], b: NDArray[np.int64], away: Floats, rng: np.random.Generator
) -> tuple[float | None, float | None]:
    resampled = []
    for _ in range(RESAMPLES):
        again = rng.integers(0, a.size, a.size)
        value = kappa(confusion(a[again].tolist(), b[again].tolist(), len(away)), away)
        if value is not None:
            resampled.append(value)
    if len(resampled) < RESAMPLES // 2:
        return None, None
    low, high = np.quantile(resampled, [0.025, 0.975])
    return float(low), float(high)
