"""Classifier of the serve kind at every moment of the movement, trained on the other serves.

The watcher is a ridge rule on posture and its change over the last moments. It learns on some matches or
games and is asked about the others. Because its answers are linear in the labels, thousands of shuffled
labellings cost one matrix product.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

ASSUMED_GLANCE_S = 0.08  # posture is taken as the mean of this long, and its change over as long again
ASSUMED_SHRINK = 1.0  # ridge, in mean squared lengths of a movement
BLOCKS = 5  # of serves in order, where all come from one group


def cv_folds(groups: Ints) -> Ints:
    """Return which serves are asked about together: whole groups, at most ten; one group is cut in order.

    Examples
    --------
    >>> cv_folds(np.array([4, 4, 9, 9])).tolist()
    [0, 0, 1, 1]
    >>> cv_folds(np.zeros(10, dtype=int)).tolist()
    [0, 0, 1, 1, 2, 2, 3, 3, 4, 4]
    """
    _, number = np.unique(groups, return_inverse=True)
    if number.max() == 0:
        return np.arange(len(groups)) * min(BLOCKS, len(groups)) // len(groups)
    out: Ints = number % 10
    return out


def centre_within(values: Floats, strata: Ints) -> Floats:
    """Return values less the mean of their own stratum."""
    _, number, counts = np.unique(strata, return_inverse=True, return_counts=True)
    flat = values.reshape(len(values), -1)
    sums = np.zeros((len(counts), flat.shape[1]))
    np.add.at(sums, number, flat)
    return (flat - (sums / counts[:, None])[number]).reshape(values.shape)


def window_features(movements: Floats, times_s: Floats) -> tuple[Floats, Floats]:
    """Return the posture and its change as seen up to each moment.

    Parameters
    ----------
    movements : ndarray, shape (n, T, k)
        Finite.
    times_s : ndarray, shape (T,)
        Rising.

    Returns
    -------
    seen : ndarray, shape (t, n, 2k)
        Mean of the last glance, and that mean less the mean of the glance before.
    until_s : ndarray, shape (t,)
        The last moment used in each.
    """
    total = np.concatenate([np.zeros_like(movements[:, :1]), np.cumsum(movements, axis=1)], axis=1)
    step = float(np.median(np.diff(times_s)))
    wide = max(1, round(ASSUMED_GLANCE_S / step))
    ends = np.arange(2 * wide, movements.shape[1] + 1)
    if not len(ends):
        return np.empty((0, len(movements), 2 * movements.shape[2])), np.empty(0)
    now = (total[:, ends] - total[:, ends - wide]) / wide
    before = (total[:, ends - wide] - total[:, ends - 2 * wide]) / wide
    seen = np.concatenate([now, now - before], axis=2)
    return np.ascontiguousarray(seen.transpose(1, 0, 2)), times_s[ends - 1]


def hat_matrices(seen: Floats, fold: Ints) -> Floats:
    """Return, for each moment, the matrix that maps labels to held-out predictions.

    Parameters
    ----------
    seen : ndarray, shape (t, n, k)
        What is seen; each column is scaled to one here.
    fold : ndarray, shape (n,)

    Returns
    -------
    ndarray, shape (t, n, n)
        Row i holds the weight of each label in the answer about serve i; weights within i's own fold are 0.
    """
    spread = seen.std(axis=1, keepdims=True)
    scaled = seen / np.where(spread > 1e-12, spread, np.inf)
    kernel = scaled @ scaled.transpose(0, 2, 1)
    ridge = ASSUMED_SHRINK * np.einsum("tii->t", kernel) / seen.shape[1] + 1e-12
    out = np.zeros_like(kernel)
    for item in np.unique(fold):
        asked, known = np.flatnonzero(fold == item), np.flatnonzero(fold != item)
        m = len(known)
        middle = np.eye(m) - 1.0 / m
        inner = middle @ kernel[:, known][:, :, known] @ middle
        inner += ridge[:, None, None] * np.eye(m)
        across = kernel[:, asked][:, :, known]
        across = (across - kernel[:, known][:, :, known].mean(axis=1, keepdims=True)) @ middle
        weight = np.linalg.solve(inner, across.transpose(0, 2, 1)).transpose(0, 2, 1) @ middle
        out[np.ix_(np.arange(len(out)), asked, known)] = weight
    return out


def auc(answers: Floats, labels: Bools) -> Floats:
    """Return chance that a serve of the first kind gets the higher answer than one of the other kind.

    Parameters
    ----------
    answers : ndarray, shape (..., n, b)
        Answers under each labelling.
    labels : ndarray, shape (n, b)
        Each labelling with as many true as every other.

    Returns
    -------
    ndarray, shape (..., b)
    """
    n, many = labels.shape
    order = np.argsort(labels, axis=0, kind="stable")
    few = n - int(labels[:, 0].sum())
    other = np.take_along_axis(answers, np.broadcast_to(order[:few], (*answers.shape[:-2], few, many)), -2)
    first = np.take_along_axis(
        answers, np.broadcast_to(order[few:], (*answers.shape[:-2], n - few, many)), -2
    )
    higher: Floats = np.zeros((*answers.shape[:-2], many))
    for row in range(n - few):
        higher += (first[..., row : row + 1, :] > other).mean(axis=-2)
        higher += 0.5 * (first[..., row : row + 1, :] == other).mean(axis=-2)
    out: Floats = higher / (n - few)
    return out
