"""A player over many matches: usual proportions with their spread, trend, before and after."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray
from scipy.special import expit, stdtrit

from goodlength.findings.rally_masks import SIDES, Mask, RallyMasks
from goodlength.findings.reports.findings_stratified_by_match import SeasonMatch
from goodlength.findings.result_types import PooledShare, Share
from goodlength.findings.statistics.between_day_overdispersion import difference_with_form, form_of
from goodlength.findings.statistics.evidence_grades import LEANING_SIDE
from goodlength.findings.statistics.exact_tests import Stratum, risk_difference, stratified_exact
from goodlength.findings.statistics.median_intervals import MedianRange, median_range
from goodlength.findings.statistics.partial_pooling_over_serve_kinds import pooled_posterior
from goodlength.findings.statistics.proportion_intervals import jeffreys_share
from goodlength.findings.text.win_probability_and_trend_sentences import (
    before_after_words,
    no_trend_words,
    trend_words,
)
from goodlength.record.model import Ending
from goodlength.record.tables.rally_table import ENDINGS

_UNFORCED = ENDINGS.index(Ending.UNFORCED_ERROR)
Picked = tuple[Mask, Mask]  # what is counted, and among which rallies
FEWEST_FOR_TREND = 4


def _serving(view: RallyMasks, me: int) -> Picked:
    return view.won(me), view.served(me) & view.decided


def _receiving(view: RallyMasks, me: int) -> Picked:
    return view.won(me), view.served(1 - me) & view.decided


def _weak_returns_forced(view: RallyMasks, me: int) -> Picked:
    return view.weak, view.served(me) & view.return_known


def _weak_returns_given(view: RallyMasks, me: int) -> Picked:
    return view.weak, view.served(1 - me) & view.return_known


def _unforced(view: RallyMasks, me: int) -> Picked:
    return view.won(1 - me) & (view.table.ending == _UNFORCED), view.decided & (view.table.ending >= 0)


MEASURES: dict[str, tuple[str, Callable[[RallyMasks, int], Picked]]] = {
    "serving": ("Rallies won when serving", _serving),
    "receiving": ("Rallies won when receiving", _receiving),
    "weak-drawn": ("Weak returns of the serve (loose or missed)", _weak_returns_forced),
    "weak-given": ("Own weak returns (loose or missed)", _weak_returns_given),
    "unforced": ("Rallies lost by an unforced error", _unforced),
}


@dataclass(frozen=True)
class MatchFigure:
    """One measure in one match."""

    match: str
    opponent: str
    played_on: date | None
    share: Share


@dataclass(frozen=True)
class Trend:
    """Change of a share per match, near its mean, with its range (95 in 100).

    `smaller_side` is how many rallies were counted, or not counted, whichever are fewer; `separated` that
    all of one sort lie before all of the other, so that no slope can be had. Such figures claim nothing.
    """

    per_match: float
    low: float
    high: float
    matches: int
    words: str
    smaller_side: int = 0
    separated: bool = False

    @property
    def estimable(self) -> bool:
        """Whether there is enough of both sorts, in both halves, for a slope."""
        return self.smaller_side >= LEANING_SIDE and not self.separated


@dataclass(frozen=True)
class ProfileRow:
    """One measure over matches: the median match with its range, and the usual share with its range.

    `spread` is the sd between matches beyond what counting alone gives. `by_opponent` pools the matches
    against each opponent, most rallies first.
    """

    measure: str
    words: str
    figures: tuple[MatchFigure, ...]
    middle: MedianRange
    usual: PooledShare | None
    spread: float | None
    by_opponent: tuple[tuple[str, Share], ...]
    trend: Trend | None  # None with fewer than four matches that have figures


def match_figure(match: SeasonMatch, measure: str) -> MatchFigure:
    """Return one measure of one match; see `MEASURES` for the names."""
    view = RallyMasks(match.table)
    counted, among = MEASURES[measure][1](view, SIDES.index(match.side))
    share = view.share(counted, among)
    keys = tuple(f"{match.table.match}/{key}" for key in share.rallies)
    return MatchFigure(
        match.table.match, match.opponent, match.played_on, jeffreys_share(share.count, share.of, keys)
    )


def profile(matches: Sequence[SeasonMatch]) -> tuple[ProfileRow, ...]:
    """Return what is usual for a player over matches, measure by measure.

    Parameters
    ----------
    matches : sequence of SeasonMatch
        In the order played.

    Returns
    -------
    tuple of ProfileRow
        One for each of `MEASURES`.

    Source
    ------
    STATS-REF 2.2 (medians by ranks; profiles are per opponent) and 2.4 (beta-binomial over matches). The
    "stable after n matches" rule is not used: it must converge whatever the data.
    """
    return tuple(_row(name, matches) for name in MEASURES)


def _row(measure: str, matches: Sequence[SeasonMatch]) -> ProfileRow:
    figures = tuple(match_figure(match, measure) for match in matches)
    known = [figure.share for figure in figures if figure.share.of]
    usual, spread = None, None
    if len(known) > 1:
        posterior = pooled_posterior([s.count for s in known], [s.of for s in known])
        order = np.argsort(posterior.mu, kind="stable")
        upto = np.cumsum(posterior.weight[order])
        low, high = (float(posterior.mu[order][np.searchsorted(upto, at)]) for at in (0.025, 0.975))
        usual, spread = PooledShare(posterior.centre(), low, high), posterior.spread()
    words = MEASURES[measure][0]
    return ProfileRow(
        measure,
        words,
        figures,
        median_range([s.count / s.of for s in known]),
        usual,
        spread,
        _by_opponent(figures),
        trend([s.count for s in known], [s.of for s in known], words),
    )


def _by_opponent(figures: Sequence[MatchFigure]) -> tuple[tuple[str, Share], ...]:
    names = dict.fromkeys(figure.opponent for figure in figures)
    rows = []
    for name in names:
        shares = [figure.share for figure in figures if figure.opponent == name]
        keys = [key for share in shares for key in share.rallies]
        rows.append((name, jeffreys_share(sum(s.count for s in shares), sum(s.of for s in shares), keys)))
    return tuple(sorted(rows, key=lambda row: (-row[1].of, row[0])))


def trend(count: Sequence[int], of: Sequence[int], words: str = "The share") -> Trend | None:
    """Change of a share from match to match, with a range that allows for good and bad days.

    Parameters
    ----------
    count, of : sequence of int
        One a match, in the order played; at least four, each of at least one rally.
    words : str
        The measure, for the sentence.

    Returns
    -------
    Trend or None
        None with fewer than four matches. Without enough of both sorts it says so (`Trend.estimable`).

    Source
    ------
    Logistic slope over the number of the match, its variance widened by the scatter left over (never
    narrowed), t quantile; computed here, checked against statsmodels. Where the two
    sorts are separated half a rally of each sort is added to every match, and nothing is claimed.
    """
    y, n = np.asarray(count, dtype=float), np.asarray(of, dtype=float)
    keep = n > 0
    y, n = y[keep], n[keep]
    if n.size < FEWEST_FOR_TREND:
        return None
    x = np.arange(n.size) - (n.size - 1) / 2
    side, separated = int(min(y.sum(), (n - y).sum())), _separated(y, n)
    if separated:
        y, n = y + 0.5, n + 1.0
    design = np.c_[np.ones(n.size), x]
    beta = np.zeros(2)
    for _ in range(50):
        p = expit(design @ beta)
        information = (design.T * (n * p * (1 - p))) @ design
        step = np.linalg.solve(information, design.T @ (y - n * p))
        beta = np.clip(beta + step, -12, 12)
        if np.abs(step).max() < 1e-10:
            break
    p = expit(design @ beta)
    scatter = float((((y - n * p) ** 2) / np.maximum(n * p * (1 - p), 1e-9)).sum() / (n.size - 2))
    error = math.sqrt(float(np.linalg.inv(information)[1, 1]) * max(1.0, scatter))
    wide = float(stdtrit(n.size - 2, 0.975)) * error
    centre = float(y.sum() / n.sum())
    scale = centre * (1 - centre)  # from log odds to shares, near the mean
    low, high = (float(np.clip((beta[1] + sign * wide) * scale, -1.0, 1.0)) for sign in (-1, 1))
    per_match = float(beta[1] * scale)
    found = Trend(per_match, low, high, int(n.size), "", side, separated)
    if not found.estimable:
        return replace(found, words=no_trend_words(words, int(sum(count)), int(sum(of))))
    return replace(found, words=trend_words(words, per_match, low, high, int(n.size)))


def _separated(y: NDArray[np.float64], n: NDArray[np.float64]) -> bool:
    """Return whether one sort comes only up to some match, and the other only from that match on."""
    array, other = np.flatnonzero(y > 0), np.flatnonzero(n - y > 0)
    if not array.size or not other.size:
        return True
    return bool(array[-1] <= other[0] or other[-1] <= array[0])


@dataclass(frozen=True)
class BeforeAfter:
    """A measure before and after a practice block, against the same opponents only."""

    words: str
    before: Share
    after: Share
    difference: float | None  # after less before, within opponents
    low: float | None
    high: float | None
    p: float
    opponents: tuple[str, ...]
    left_out: tuple[str, ...]  # opponents met in one of the two only


def before_after(before: Sequence[SeasonMatch], after: Sequence[SeasonMatch], measure: str) -> BeforeAfter:
    """Return whether a measure changed over a practice block, like with like.

    Parameters
    ----------
    before, after : sequence of SeasonMatch
        Matches of the same player on both sides of the block.
    measure : str
        One of `MEASURES`.

    Returns
    -------
    BeforeAfter
        Its words warn that after a bad day the next is better by itself.

    Source
    ------
    STATS-REF 2.5 and 3.4: exact within opponents, and by the form of matches (`dayform`), of which the larger
    p counts; the range takes the form of matches in.
    """
    old, new = ([match_figure(match, measure) for match in part] for part in (before, after))
    both = [name for name in dict.fromkeys(f.opponent for f in old) if any(f.opponent == name for f in new)]
    alone = sorted({f.opponent for f in (*old, *new)} - set(both))
    parts = [_pooled(part, both) for part in (old, new)]
    strata: list[Stratum] = []
    for name in both:
        (c, m), (a, n) = (_counts(part, name) for part in (old, new))
        strata.append((a, n, c, m))
    difference = risk_difference(strata)
    test = stratified_exact(strata)
    low, high, p = None, None, test.mid_p
    if difference is not None:
        pairs = [(_matches_of(old, name), _matches_of(new, name)) for name in both]
        with_form = difference_with_form(
            pairs, difference, form_of([matches for pair in pairs for matches in pair])
        )
        low, high, p = with_form.low, with_form.high, max(p, with_form.p)
    words = before_after_words(
        MEASURES[measure][0], parts[0], parts[1], difference, low, high, len(both), len(alone)
    )
    return BeforeAfter(words, parts[0], parts[1], difference, low, high, p, tuple(both), tuple(alone))


def _matches_of(figures: Sequence[MatchFigure], opponent: str) -> list[tuple[int, int]]:
    return [(f.share.count, f.share.of) for f in figures if f.opponent == opponent and f.share.of]


def _counts(figures: Sequence[MatchFigure], opponent: str) -> tuple[int, int]:
    mine = [f.share for f in figures if f.opponent == opponent]
    return sum(s.count for s in mine), sum(s.of for s in mine)


def _pooled(figures: Sequence[MatchFigure], opponents: Sequence[str]) -> Share:
    mine = [f.share for f in figures if f.opponent in opponents]
    keys = [key for s in mine for key in s.rallies]
    return jeffreys_share(sum(s.count for s in mine), sum(s.of for s in mine), keys)
