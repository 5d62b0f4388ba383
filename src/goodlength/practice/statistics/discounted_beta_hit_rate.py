"""Hit rate as a beta posterior with an informed prior, optionally discounting old sets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import betaincinv

from goodlength.errors import OutOfRange
from goodlength.practice import input_validation


@dataclass(frozen=True)
class HitRate:
    """A hit rate with its 95-in-100 range, and the weights it stands on.

    `hits` and `misses` include what was known before (`before`, in attempts); `low` and `high` are shares.
    """

    rate: float
    low: float
    high: float
    hits: float
    misses: float
    before: float


def hit_rate(hits: int, attempts: int, before: tuple[float, float] = (0.5, 0.5)) -> HitRate:
    """Return the rate of a set of attempts, starting from what was known.

    Parameters
    ----------
    hits, attempts : int
        Count of hits among the attempts.
    before : pair of float
        Hits and misses' worth of earlier knowledge; (0.5, 0.5) is next to nothing.

    Raises
    ------
    InputError
        More hits than attempts, or a count below zero.

    Source
    ------
    Beta updating; check value computed in statistics notes 5.1: Beta(2, 2) and 12 of 20.

    Examples
    --------
    >>> r = hit_rate(12, 20, before=(2, 2))
    >>> round(r.rate, 4), round(r.low, 5), round(r.high, 5)
    (0.5833, 0.38542, 0.76809)
    """
    input_validation.counts(hits, attempts)
    return _rate(before[0] + hits, before[1] + attempts - hits, sum(before))


def hit_rate_of_sets(
    sets: Sequence[tuple[int, int]], keep: float = 0.95, before: tuple[float, float] = (0.5, 0.5)
) -> HitRate:
    """Return the rate now from sets in order, fading by `keep` with every later attempt.

    Within a set the order of hits is not known: they count as spread evenly over it.

    Raises
    ------
    OutOfRange
        `keep` not above 0 and at most 1.
    InputError
        More hits than attempts in a set.

    Examples
    --------
    >>> round(hit_rate_of_sets([(0, 20), (20, 20)]).rate, 2)
    0.73
    >>> hit_rate_of_sets([(1, 4)], keep=1.0).rate == hit_rate(1, 4).rate
    True
    """
    if not 0.0 < keep <= 1.0:
        raise OutOfRange(f"Keep is above 0 and at most 1 (1 forgets nothing); got {keep:g}.")
    made, missed = before
    balls = 0
    for hits, attempts in sets:
        input_validation.counts(hits, attempts)
        if attempts:
            fresh = attempts if keep == 1.0 else (1.0 - keep**attempts) / (1.0 - keep)
            made = made * keep**attempts + fresh * hits / attempts
            missed = missed * keep**attempts + fresh * (attempts - hits) / attempts
            balls += attempts
    return _rate(max(made, 1e-9), max(missed, 1e-9), sum(before) * keep**balls)


def _rate(hits: float, misses: float, before: float) -> HitRate:
    low, high = (float(betaincinv(hits, misses, tail)) for tail in (0.025, 0.975))
    return HitRate(hits / (hits + misses), low, high, hits, misses, before)
