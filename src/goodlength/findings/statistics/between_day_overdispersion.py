"""Overdispersion between days: how far one player's proportions vary between matches beyond sampling.

Estimated from the player's own matches, starting from a stated prior; every before-and-after and every range
over days takes it in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

Floats = NDArray[np.float64]
Counts = tuple[int, int]  # counted, of: one match or one day

# Standard deviation of a match's form, as a share, and how likely each is beforehand. No published record
# says it for squash; own history moves it.
ASSUMED_FORMS = ((0.0, 0.10), (0.04, 0.20), (0.08, 0.25), (0.12, 0.25), (0.18, 0.20))


@dataclass(frozen=True)
class DayForm:
    """Chances of each standard deviation of form, after the player's own history; both of shape (k,)."""

    sd: Floats
    weight: Floats

    @property
    def variance(self) -> float:
        """Mean variance of a match's share around the usual one."""
        return float(self.weight @ self.sd**2)

    def half_range(self, counting: float, days: float, level: float = 0.95) -> float:
        """Return half of the range of a difference, form being known no better than it is.

        Parameters
        ----------
        counting : float
            Variance by counting alone.
        days : float
            What the variance of form is multiplied by.
        level : float
            How often the range should hold the true difference.

        Source
        ------
        Two-sided quantile of the mixture of normals over form, by bisection: its tails are longer than those
        of one normal with the mean variance.

        Examples
        --------
        >>> known = DayForm(np.array([0.1]), np.ones(1))
        >>> unsure = DayForm(np.array([0.0, 0.14]), np.full(2, 0.5))
        >>> round(known.half_range(0.0, 1.0), 3), unsure.half_range(0.0001, 1.0) > 0.2
        (0.196, True)
        """
        errors = np.sqrt(counting + days * self.sd**2)
        low, high = 0.0, 6.0 * float(errors.max())
        for _ in range(50):
            middle = (low + high) / 2
            outside = float(self.weight @ (2 * ndtr(-middle / np.maximum(errors, 1e-12))))
            low, high = (middle, high) if outside > 1 - level else (low, middle)
        return (low + high) / 2


def form_of(groups: Sequence[Sequence[Counts]]) -> DayForm:
    """Return the form of a player from matches in groups within which nothing else differs.

    Parameters
    ----------
    groups : sequence of sequences of (counted, of)
        One group for each opponent and side of the block. Groups of one match say nothing.

    Returns
    -------
    Form
        The stated prior where there is no history.

    Source
    ------
    Normal likelihood of the shares around the mean of their group, that mean integrated out.

    Examples
    --------
    >>> steady, wild = form_of([[(20, 40), (21, 40), (20, 40)]]), form_of([[(8, 40), (33, 40), (18, 40)]])
    >>> steady.variance < form_of([]).variance < wild.variance
    True
    """
    sd, prior = (np.array(column) for column in zip(*ASSUMED_FORMS, strict=True))
    log = np.log(prior)
    for group in groups:
        known = [(y, n) for y, n in group if n]
        if len(known) > 1:
            log = log + np.array([_log_likelihood(known, item) for item in sd])
    weight = np.exp(log - log.max())
    return DayForm(sd, weight / weight.sum())


def _log_likelihood(known: Sequence[Counts], sd: float) -> float:
    y, n = np.array(known, dtype=float).T
    p = (y.sum() + 1) / (n.sum() + 2)
    variance = p * (1 - p) / n + sd**2
    worth = 1 / variance
    mean = float(worth @ (y / n) / worth.sum())
    rest = float((worth * (y / n - mean) ** 2).sum())
    return -0.5 * (float(np.log(variance).sum()) + math.log(float(worth.sum())) + rest)


@dataclass(frozen=True)
class FormTest:
    """A pooled difference tested with form taken in: two-sided p, and its range (95 in 100)."""

    p: float
    low: float
    high: float


def difference_with_form(
    pairs: Sequence[tuple[Sequence[Counts], Sequence[Counts]]], difference: float, form: DayForm
) -> FormTest:
    """Return p and range of a difference (after less before) pooled over conditions.

    Parameters
    ----------
    pairs : sequence of (matches before, matches after)
        One pair a condition, such as an opponent; weights are Mantel and Haenszel's.
    difference : float
        The pooled difference of the counts.
    form : Form
        How far matches differ by themselves.
    """
    counting, days = _variances(pairs)
    errors = np.sqrt(counting + days * form.sd**2)
    p = float(form.weight @ (2 * ndtr(-abs(difference) / errors)))
    half = form.half_range(counting, days)
    return FormTest(min(p, 1.0), max(-1.0, difference - half), min(1.0, difference + half))


def _variances(pairs: Sequence[tuple[Sequence[Counts], Sequence[Counts]]]) -> tuple[float, float]:
    """Variance of the pooled difference by counting alone, and what the variance of form is multiplied by."""
    counting = days = weight = 0.0
    for before, after in pairs:
        n, m = (sum(of for _, of in side) for side in (before, after))
        if not n or not m:
            continue
        w = n * m / (n + m)
        weight += w
        for side, of in ((before, n), (after, m)):
            p = (sum(y for y, _ in side) + 1) / (of + 2)
            counting += w * w * p * (1 - p) / of
            days += w * w * sum(number * number for _, number in side) / of**2
    return (counting / weight**2, days / weight**2) if weight else (0.25, 2.0)
