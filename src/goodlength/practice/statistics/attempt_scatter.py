"""Scatter of attempts: bias of the mean from the aim, and spread around it."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import fdtri

from goodlength.errors import InputError
from goodlength.practice import input_validation

FEWEST = 3  # fewer places give no ellipse


@dataclass(frozen=True)
class ScatterEllipse:
    """Half axes in metres, the longer one first, and the angle of the longer from the first coordinate."""

    major_m: float
    minor_m: float
    angle_deg: float


@dataclass(frozen=True)
class AttemptScatter:
    """Bias and spread of a set of attempts, metres.

    `bias_m` is None when no aim was declared: then the miss of the middle is not known.
    `usual` is the 95-in-100 ellipse if the spread were known exactly; `next_ball` holds the next
    attempt 95 times in 100 with the spread only estimated from `n` attempts; `middle` holds the
    true middle 95 times in 100.
    """

    n: int
    middle_m: tuple[float, float]
    bias_m: tuple[float, float] | None
    covariance_m2: NDArray[np.float64]
    usual: ScatterEllipse
    next_ball: ScatterEllipse
    middle: ScatterEllipse


def scatter_of(places_m: ArrayLike, aim_m: tuple[float, float] | None = None) -> AttemptScatter:
    """Return bias and spread of attempts from where each one went.

    Parameters
    ----------
    places_m : array, shape (n, 2)
        Where each attempt went, metres, for instance across and up on the front wall; n at least 3.
    aim_m : pair of float, optional
        Where the player aimed, in the same frame.

    Raises
    ------
    InputError
        Fewer than three places, or a place that cannot be read.

    Source
    ------
    Normal theory with Hotelling's small-sample factors; check values in statistics notes 5.4.

    Examples
    --------
    >>> s = scatter_of([(0.1, 0.4), (0.2, 0.3), (0.0, 0.6), (0.2, 0.6)], aim_m=(0.0, 0.5))
    >>> [round(b, 3) for b in s.bias_m]
    [0.125, -0.025]
    """
    places = input_validation.points_array(places_m)
    n = len(places)
    if n < FEWEST:
        raise InputError(f"{n} places give no scatter: at least {FEWEST} are needed. Log more attempts.")
    middle = places.mean(axis=0)
    covariance = np.cov(places, rowvar=False)
    bias = None if aim_m is None else (float(middle[0] - aim_m[0]), float(middle[1] - aim_m[1]))
    usual, following, mean = (_ellipse(covariance, scale) for scale in (_known(), *_small_sample(n)))
    return AttemptScatter(n, (float(middle[0]), float(middle[1])), bias, covariance, usual, following, mean)


def _known(level: float = 0.95) -> float:
    return math.sqrt(-2.0 * math.log(1.0 - level))


def _small_sample(n: int, level: float = 0.95) -> tuple[float, float]:
    quantile = float(fdtri(2, n - 2, level))
    base = 2.0 * (n - 1) / (n * (n - 2)) * quantile
    return math.sqrt(base * (n + 1)), math.sqrt(base)


def _ellipse(covariance: NDArray[np.float64], scale: float) -> ScatterEllipse:
    values, vectors = np.linalg.eigh(covariance)
    long = vectors[:, 1]
    angle = math.degrees(math.atan2(long[1], long[0])) % 180.0
    minor, major = scale * np.sqrt(np.maximum(values, 0.0))
    return ScatterEllipse(float(major), float(minor), angle)
