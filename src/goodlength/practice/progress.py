"""Is practice working? Sets in, the rate now, and whether it is better than at first, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from scipy.special import betaln

from goodlength.errors import InputError
from goodlength.practice import checks
from goodlength.practice.curve import FEWEST_SESSIONS, LearningCurve, learning_curve
from goodlength.practice.evidence import ENOUGH
from goodlength.practice.power import attempts_to_tell
from goodlength.practice.rates import HitRate, hit_rate

MOST_ATTEMPTS_NAMED = 2000


class Order(StrEnum):
    """In what order the attempts were made; the last blocked set flatters."""

    BLOCKED = "blocked"  # the same each time
    MIXED = "mixed"  # among other drills or kinds
    RETENTION = "retention"  # first thing on a later day, before practising


@dataclass(frozen=True)
class PracticeSet:
    """One set as logged."""

    on: date
    hits: int
    attempts: int
    order: Order = Order.BLOCKED


@dataclass(frozen=True)
class Progress:
    """What the sets of one drill say.

    `first` and `since` are the rates of the first session and of all later ones; `evidence` is how many
    times likelier the hits are if the rate changed than if it did not. `told` is "better", "worse",
    "cannot-tell" or "one-session". `more` is about how many more attempts would tell, None if settled
    or beyond what anyone would log.
    """

    sessions: tuple[tuple[date, HitRate], ...]
    first: HitRate
    since: HitRate | None
    by_order: dict[Order, HitRate]
    evidence: float
    told: str
    more: int | None
    curve: LearningCurve | None
    words: tuple[str, ...]


def evidence_of_change(before: tuple[int, int], after: tuple[int, int]) -> float:
    """How many times likelier the hits are under two rates than under one, uniform priors.

    Parameters
    ----------
    before, after : pair of int
        (hits, attempts).

    Source
    ------
    Ratio of Beta functions; looked at after every ball it passes 20 in less than one of twenty
    simulated players who did not change (docs/bench.md).

    Examples
    --------
    >>> round(evidence_of_change((10, 40), (30, 40)), 1) > 20
    True
    >>> evidence_of_change((20, 40), (22, 40)) < 1
    True
    """
    for pair in (before, after):
        checks.counts(*pair)
    (k0, n0), (k1, n1) = before, after
    apart = betaln(k0 + 1, n0 - k0 + 1) + betaln(k1 + 1, n1 - k1 + 1)
    together = betaln(k0 + k1 + 1, n0 + n1 - k0 - k1 + 1)
    return math.exp(min(float(apart - together), 700.0))


def progress_of(sets: Sequence[PracticeSet], drill_words: str = "the target") -> Progress:
    """What the logged sets of one drill say so far.

    Parameters
    ----------
    sets : sequence of PracticeSet
        In any order; days are put in order here.
    drill_words : str
        How sentences name what was hit.

    Raises
    ------
    InputError
        No set at all, or a set that cannot be.
    """
    if not sets:
        raise InputError("nothing has been logged for this drill yet. Log a set first.")
    for one in sets:
        checks.counts(one.hits, one.attempts)
    days = sorted({one.on for one in sets})
    counts = [_added(one for one in sets if one.on == day) for day in days]
    first, since = counts[0], (sum(h for h, _ in counts[1:]), sum(n for _, n in counts[1:]))
    evidence = evidence_of_change(first, since)
    told = _told(first, since, evidence)
    more = _more(first, since) if told == "cannot-tell" else None
    curve = learning_curve(*zip(*counts, strict=True)) if _has_curve(counts) else None
    orders = {order: _added(one for one in sets if one.order is order) for order in Order}
    by_order = {order: hit_rate(*pair) for order, pair in orders.items() if pair[1]}
    return Progress(
        tuple((day, hit_rate(*pair)) for day, pair in zip(days, counts, strict=True)),
        hit_rate(*first),
        hit_rate(*since) if since[1] else None,
        by_order,
        evidence,
        told,
        more,
        curve,
        tuple(_words(first, since, told, more, orders, curve, drill_words)),
    )


def _added(sets: object) -> tuple[int, int]:
    chosen = list(sets)  # type: ignore[call-overload]
    return sum(one.hits for one in chosen), sum(one.attempts for one in chosen)


def _has_curve(counts: list[tuple[int, int]]) -> bool:
    return len(counts) >= FEWEST_SESSIONS and all(n > 0 for _, n in counts)


def _told(first: tuple[int, int], since: tuple[int, int], evidence: float) -> str:
    if not first[1] or not since[1]:
        return "one-session"
    if evidence < ENOUGH:
        return "cannot-tell"
    return "better" if since[0] / since[1] > first[0] / first[1] else "worse"


def _more(first: tuple[int, int], since: tuple[int, int]) -> int | None:
    rates = [min(max((h + 0.5) / (n + 1), 0.01), 0.99) for h, n in (first, since)]
    needed = attempts_to_tell(*rates)
    if not math.isfinite(needed) or needed > MOST_ATTEMPTS_NAMED:
        return None
    return max(1, math.ceil(needed - since[1]))


def _words(
    first: tuple[int, int],
    since: tuple[int, int],
    told: str,
    more: int | None,
    orders: dict[Order, tuple[int, int]],
    curve: LearningCurve | None,
    drill_words: str,
) -> list[str]:
    said = [f"{first[0]} of {first[1]} met {drill_words} in the first session."]
    if told == "one-session":
        return [*said, "One session is a beginning; nothing can be compared yet."]
    said.append(f"Since then {since[0]} of {since[1]}.")
    said.append(
        {
            "better": "That is better, and hardly luck, however often one looked.",
            "worse": "That is less than at first, and hardly luck. Was the ball or the place another?",
            "cannot-tell": "Too few to say whether that is a change.",
        }[told]
    )
    if told == "cannot-tell":
        said.append(
            f"If the gap is as it looks, about {more} more attempts would tell."
            if more
            else "The gap is so small that it would take thousands of attempts to tell."
        )
    apart = [order for order in (Order.MIXED, Order.RETENTION) if orders[order][1]]
    for order in apart:
        name = "Mixed with other drills" if order is Order.MIXED else "First thing on a later day"
        said.append(f"{name}: {orders[order][0]} of {orders[order][1]}. That is nearer to a match.")
    if not apart:
        said.append(
            "All sets were the same serve again and again, which flatters. Mix them to see what holds."
        )
    if curve is not None and curve.shape == "curved" and curve.levels_off_at is not None:
        said.append(f"The sessions bend towards about {round(20 * curve.levels_off_at)} of 20.")
    return said
