"""Agreement of two observers of one match, by variable, with the rallies they disagree on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from goodlength.findings.statistics.diversity_entropy import seeded
from goodlength.findings.statistics.observer_agreement_measures import (
    DOUBTFUL,
    TRUSTED,
    ac1,
    agreed,
    alpha,
    confusion,
    kappa,
    match_times,
    percentage_error,
)
from goodlength.findings.text.win_probability_and_trend_sentences import (
    agreement_words,
    reliability_words,
)
from goodlength.record.tables.rally_table import ENDINGS, HOW_TAKEN, LEFT, RallyTable

Ints = NDArray[np.int64]
FEWEST = 10  # rallies both observers answered, before a variable is judged
DOMINATES = 0.8  # share of one label from which kappa and alpha mislead, and AC1 is read
RESAMPLES = 400


class ReliabilityGrade(StrEnum):
    """What may be built on a variable. Limits of 0.80 and 0.667: STATS-REF 2.1 (from memory there)."""

    GOOD = "good"
    DOUBTFUL = "doubtful"
    NOT_RELIABLE = "not-reliable"
    TOO_FEW = "too-few"


@dataclass(frozen=True)
class Disagreement:
    """One rally on which the observers differ, by each one's key, with what each said."""

    first_key: str
    second_key: str
    first: str
    second: str


@dataclass(frozen=True)
class VariableRow:
    """Agreement on one variable. `measure` names the figure the trust is read from."""

    variable: str
    words: str
    compared: int
    agreed: float | None
    kappa: float | None
    alpha: float | None
    ac1: float | None
    percentage_error: float | None  # of the counts of each label; never to be shown alone
    measure: str
    value: float | None
    low: float | None  # 95 in 100, whole rallies drawn again
    high: float | None
    trust: ReliabilityGrade
    disagreements: tuple[Disagreement, ...]
    sentence: str


@dataclass(frozen=True)
class Reliability:
    """Two layers of the same match side by side."""

    matched: int
    only_first: tuple[str, ...]  # keys of rallies the second observer has not got
    only_second: tuple[str, ...]
    f1: float | None
    by: str  # how rallies were put together: "time" or "place in the game"
    rows: tuple[VariableRow, ...]
    unreliable: frozenset[str]
    words: str

    @property
    def is_identical(self) -> bool:
        """Whether all answers of many rallies are the same, as in a copy of one record."""
        alone = self.only_first or self.only_second or any(row.disagreements for row in self.rows)
        return self.matched >= FEWEST and not alone and any(row.compared for row in self.rows)


_VARIABLES: tuple[tuple[str, str], ...] = (
    ("server", "who served"),
    ("box", "box"),
    ("kind", "kind of serve"),
    ("how_taken", "how the return was taken"),
    ("left", "return quality"),
    ("winner", "who won"),
    ("ending", "how the rally ended"),
)


def observer_agreement(
    first: RallyTable,
    second: RallyTable,
    first_s: ArrayLike | None = None,
    second_s: ArrayLike | None = None,
    within_s: float = 2.0,
    rng: np.random.Generator | None = None,
) -> Reliability:
    """Compare two observers of one match, or one observer twice.

    Parameters
    ----------
    first, second : RallyTable
        The two layers.
    first_s, second_s : array_like of float, shape (n,), optional
        Start of each rally, s of match time. With both, rallies are put together by time; without, by game
        and number in the game.
    within_s : float
        Rallies that start further apart are different rallies.
    rng : numpy Generator, optional
        Draws whole rallies again for the ranges; seeded from the answers by default.

    Returns
    -------
    Reliability

    Source
    ------
    STATS-REF 2.1: detection and labels apart; trust from alpha, from AC1 where one label dominates.

    Limits
    ------
    One observer twice is weaker evidence than two observers.
    """
    by_time = first_s is not None and second_s is not None
    if by_time:
        matched = match_times(np.asarray(first_s), np.asarray(second_s), within_s)
        pairs, f1 = list(matched.pairs), matched.f1
    else:
        pairs = _by_place(first, second)
        total = len(first.key) + len(second.key)
        f1 = 2 * len(pairs) / total if total else None
    with_first, with_second = {i for i, _ in pairs}, {j for _, j in pairs}
    rng = seeded("agreement", first.key, second.key) if rng is None else rng
    rows = tuple(_row(first, second, pairs, name, words, rng) for name, words in _VARIABLES)
    only_first = tuple(key for i, key in enumerate(first.key) if i not in with_first)
    only_second = tuple(key for j, key in enumerate(second.key) if j not in with_second)
    return Reliability(
        len(pairs),
        only_first,
        only_second,
        f1,
        "time" if by_time else "place in the game",
        rows,
        frozenset(row.variable for row in rows if row.trust is ReliabilityGrade.NOT_RELIABLE),
        agreement_words(len(pairs), len(only_first), len(only_second)),
    )


def _by_place(first: RallyTable, second: RallyTable) -> list[tuple[int, int]]:
    places = {(int(g), int(n)): j for j, (g, n) in enumerate(zip(second.game, second.n_in_game, strict=True))}
    found = (
        (i, places.get((int(g), int(n))))
        for i, (g, n) in enumerate(zip(first.game, first.n_in_game, strict=True))
    )
    return [(i, j) for i, j in found if j is not None]


def _coded(table: RallyTable, name: str) -> tuple[Ints, list[str]]:
    """Codes of one variable, -1 not recorded, and the names of the codes; lets have no winner."""
    codes = np.asarray(getattr(table, name), dtype=np.int64)
    if name == "winner":
        return np.where(table.let, 2, codes), ["a", "b", "let"]
    names: dict[str, Sequence[str]] = {
        "server": ("a", "b"),
        "box": ("right", "left"),
        "kind": table.kinds,
        "how_taken": HOW_TAKEN,
        "left": LEFT,
        "ending": ENDINGS,
    }
    return codes, [str(label) for label in names[name]]


def _row(
    first: RallyTable,
    second: RallyTable,
    pairs: Sequence[tuple[int, int]],
    name: str,
    words: str,
    rng: np.random.Generator,
) -> VariableRow:
    array, labels = _coded(first, name)
    two, labels_2 = _coded(second, name)
    if labels_2 != labels:  # kinds may be listed differently in the two layers
        extra = [label for label in labels_2 if label not in labels]
        labels = labels + extra
        two = np.array([labels.index(labels_2[c]) if c >= 0 else -1 for c in two], dtype=np.int64)
    both = [(i, j) for i, j in pairs if array[i] >= 0 and two[j] >= 0]
    if not both:
        grade_words = reliability_words(words, 0, 0, ReliabilityGrade.TOO_FEW)
        return VariableRow(
            name,
            words,
            0,
            None,
            None,
            None,
            None,
            None,
            "alpha",
            None,
            None,
            None,
            ReliabilityGrade.TOO_FEW,
            (),
            grade_words,
        )
    a, b = np.array([array[i] for i, _ in both]), np.array([two[j] for _, j in both])
    table = confusion(a.tolist(), b.tolist(), len(labels))
    used = (table.sum(axis=0) + table.sum(axis=1)) > 0
    table = table[np.ix_(used, used)]
    dominant = float((table.sum(axis=0) + table.sum(axis=1)).max() / (2 * table.sum()))
    measure = "AC1" if dominant >= DOMINATES and len(table) > 1 else "alpha"
    value, low, high = _with_range(a, b, measure, len(labels), rng)
    trust = _trust(value, len(both), agreed(table))
    differ = tuple(
        Disagreement(first.key[i], second.key[j], labels[array[i]], labels[two[j]])
        for i, j in both
        if array[i] != two[j]
    )
    return VariableRow(
        name,
        words,
        len(both),
        agreed(table),
        kappa(table),
        alpha([a.tolist(), b.tolist()]),
        ac1(table),
        percentage_error(table.sum(axis=1), table.sum(axis=0)),
        measure,
        value,
        low,
        high,
        trust,
        differ,
        reliability_words(words, len(both) - len(differ), len(both), trust),
    )


def _trust(value: float | None, compared: int, same: float) -> ReliabilityGrade:
    if compared < FEWEST:
        return ReliabilityGrade.TOO_FEW
    if value is None:  # one label throughout: nothing to tell apart
        return ReliabilityGrade.GOOD if same == 1.0 else ReliabilityGrade.TOO_FEW
    if value >= TRUSTED:
        return ReliabilityGrade.GOOD
    return ReliabilityGrade.DOUBTFUL if value >= DOUBTFUL else ReliabilityGrade.NOT_RELIABLE


def _measured(a: Ints, b: Ints, measure: str, labels: int) -> float | None:
    table = np.bincount(a * labels + b, minlength=labels * labels).reshape(labels, labels).astype(float)
    if measure == "alpha":  # of two observers without gaps: `alpha`, a hundred times as fast
        both = table + table.T
        n = both.sum(axis=1)
        by_chance = float(n.sum() ** 2 - (n**2).sum())
        apart = float(both.sum() - np.trace(both))
        return None if by_chance == 0 else 1 - (float(n.sum()) - 1) * apart / by_chance
    used = (table.sum(axis=0) + table.sum(axis=1)) > 0
    return ac1(table[np.ix_(used, used)])


def _with_range(
    a: Ints, b: Ints, measure: str, labels: int, rng: np.random.Generator
) -> tuple[float | None, float | None, float | None]:
    """Return the measure, with the range of what other rallies of the same match would have given."""
    value = _measured(a, b, measure, labels)
    if value is None or a.size < FEWEST:
        return value, None, None
    resampled = []
    for _ in range(RESAMPLES):
        again = rng.integers(0, a.size, a.size)
        item = _measured(a[again], b[again], measure, labels)
        if item is not None:
            resampled.append(item)
    if len(resampled) < RESAMPLES // 2:
        return value, None, None
    low, high = np.quantile(resampled, [0.025, 0.975])
    if low == high:  # every answer the same: what other rallies would have given cannot be drawn from these
        return value, None, None
    return value, float(low), float(high)
