"""Transfer of practice into matches: the same measure before and after, within strata."""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from goodlength.findings.statistics.between_day_overdispersion import form_of
from goodlength.practice import input_validation

Counts = tuple[int, int]  # hits, of
NORMAL_95 = 1.959963984540054
Condition = TypeVar("Condition", bound=Hashable)


@dataclass(frozen=True)
class CarryOver:
    """The change from before to after within like conditions, with its 95-in-100 range, as shares.

    `compared` counts the attempts in conditions met both before and after; the rest say nothing about
    the change. `began_low` warns that the measure was picked because it had been bad: part of any rise
    would have come by itself (regression to the mean).
    """

    change: float | None
    low: float | None
    high: float | None
    before: Counts
    after: Counts
    compared: int
    left_out: int
    began_low: bool


def carried_over(
    before: Mapping[Condition, Counts],
    after: Mapping[Condition, Counts],
    picked_because_low: bool = True,
    matches: tuple[Sequence[Counts], Sequence[Counts]] | None = None,
) -> CarryOver:
    """Change of a share from before practice to after it, within each condition, then together.

    Parameters
    ----------
    before, after : mapping of condition to (hits, of)
        Conditions are what must be alike: opponent, box, ball.
    picked_because_low : bool
        Whether this measure was practised because it had looked bad.
    matches : pair of sequences of (hits, of), optional
        The same counts match by match, before and after: how far matches differ by themselves is read from
        them. One match on each side without it.

    Returns
    -------
    CarryOver
        `change` is None when no condition was met both before and after.

    Source
    ------
    Mantel-Haenszel weights over conditions (GREENLAND-ROBINS-1985); each condition's variance has a hit and
    a miss added, which is ours and was measured (docs/bench.md). The range for one condition is Newcombe's.

    Limits
    ------
    Good and bad days of whole matches are in the range, as far as
    `findings.statistics.between_day_overdispersion` knows them; one form
    is taken for all conditions of a match.

    Examples
    --------
    >>> carried_over({"Petra": (48, 80)}, {"Petra": (56, 70)}).change
    0.2
    """
    for counts in (*before.values(), *after.values()):
        input_validation.counts(*counts)
    both = [k for k in before if k in after and before[k][1] and after[k][1]]
    everything = sum(n for _, n in before.values()) + sum(n for _, n in after.values())
    compared = sum(before[k][1] + after[k][1] for k in both)
    total_before = (sum(before[k][0] for k in both), sum(before[k][1] for k in both))
    total_after = (sum(after[k][0] for k in both), sum(after[k][1] for k in both))
    change, low, high = _change([(before[k], after[k]) for k in both])
    if change is not None and low is not None and high is not None:
        low, high = _with_form(change, low, high, matches or ([total_before], [total_after]))
    return CarryOver(
        change, low, high, total_before, total_after, compared, everything - compared, picked_because_low
    )


def _change(pairs: list[tuple[Counts, Counts]]) -> tuple[float | None, float | None, float | None]:
    if not pairs:
        return None, None, None
    if len(pairs) == 1:
        return newcombe(*pairs[0])
    weight = top = variance = 0.0
    for (h0, n0), (h1, n1) in pairs:
        w = n0 * n1 / (n0 + n1)
        weight += w
        top += w * (h1 / n1 - h0 / n0)
        variance += w * w * (_spread(h0, n0) / n0 + _spread(h1, n1) / n1)
    change = top / weight
    spread = NORMAL_95 * math.sqrt(variance) / weight
    return change, max(change - spread, -1.0), min(change + spread, 1.0)


def _with_form(
    change: float, low: float, high: float, matches: tuple[Sequence[Counts], Sequence[Counts]]
) -> tuple[float, float]:
    """Return the range widened by good and bad days: each match counts by its share of the attempts."""
    form = form_of(matches)
    days = sum(sum(n * n for _, n in side) / max(sum(n for _, n in side), 1) ** 2 for side in matches)
    below, above = (form.half_range((half / NORMAL_95) ** 2, days) for half in (change - low, high - change))
    return max(-1.0, change - below), min(1.0, change + above)


def _spread(hits: int, n: int) -> float:
    """Variance of one attempt, a hit and a miss added: without them small parts hold 88 in 100."""
    return (hits + 1) * (n - hits + 1) / (n + 2) ** 2


def newcombe(before: Counts, after: Counts, level: float = 0.95) -> tuple[float, float, float]:
    """Return difference of two shares (after less before) with Newcombe's hybrid score range.

    Examples
    --------
    >>> [round(v, 4) for v in newcombe((48, 80), (56, 70))]
    [0.2, 0.0524, 0.3339]
    """
    (h0, n0), (h1, n1) = before, after
    p0, p1 = h0 / n0, h1 / n1
    l0, u0 = _wilson(h0, n0, level)
    l1, u1 = _wilson(h1, n1, level)
    change = p1 - p0
    low = change - math.hypot(p1 - l1, u0 - p0)
    high = change + math.hypot(u1 - p1, p0 - l0)
    return round(change, 12), low, high


def _wilson(hits: int, n: int, level: float) -> tuple[float, float]:
    from scipy.stats import binomtest  # half a second to load, and few pages ask

    interval = binomtest(hits, n).proportion_ci(level, method="wilson")
    return float(interval.low), float(interval.high)
