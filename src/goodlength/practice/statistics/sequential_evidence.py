"""Evidence that stays valid however often one looks: the coach may peek after every ball."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.special import betaln

from goodlength.practice import checks

ENOUGH = 20.0  # Ville's inequality: a true `rate` passes this at most once in 20, however often one looks


@dataclass(frozen=True)
class SequentialEvidence:
    """How many times likelier the hits are under "some other rate" than under the rate asked about."""

    factor: float
    enough: bool


@dataclass(frozen=True)
class SequentialBounds:
    """Log-evidence walk between two rates: add `hit` or `miss` a ball, stop beyond `upper` or `lower`."""

    upper: float
    lower: float
    hit: float
    miss: float


def evidence_against(rate: float, hits: int, attempts: int) -> SequentialEvidence:
    """Evidence that the true rate is not `rate`.

    Parameters
    ----------
    rate : float
        The rate to doubt, a share between 0 and 1 (for instance the rate before practice).
    hits, attempts : int
        What was seen since.

    Source
    ------
    Mixture Bayes factor with a uniform prior; stopping at 20 keeps false alarms at 1 in 20 (Ville).

    Examples
    --------
    >>> round(evidence_against(0.5, 15, 20).factor, 5)
    3.2206
    >>> evidence_against(0.5, 17, 20).enough
    True
    """
    checks.open_share("rate", rate)
    checks.counts(hits, attempts)
    log_factor = float(betaln(hits + 1, attempts - hits + 1)) - hits * math.log(rate)
    log_factor -= (attempts - hits) * math.log1p(-rate)
    return SequentialEvidence(math.exp(min(log_factor, 700.0)), log_factor >= math.log(ENOUGH))


def sequential_bounds(low: float, high: float, error: float = 0.10) -> SequentialBounds:
    """The steps of a ball-by-ball decision between two rates, both errors `error`.

    Source
    ------
    Wald's sequential probability ratio test.

    Examples
    --------
    >>> b = sequential_bounds(0.5, 0.7)
    >>> round(b.upper, 7), round(b.hit, 7), round(b.miss, 7)
    (2.1972246, 0.3364722, -0.5108256)
    """
    for name, value in (("low", low), ("high", high), ("error", error)):
        checks.open_share(name, value)
    bound = math.log((1.0 - error) / error)
    return SequentialBounds(bound, -bound, math.log(high / low), math.log((1.0 - high) / (1.0 - low)))
