"""What drawn flights of a serve say of its kind, and of how it was taken."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from goodlength.ball import fly_summaries
from goodlength.ball.flight.path_at_times_kernel import path_at
from goodlength.ball.model import flight_array_indices as col
from goodlength.measure.serves.serve_forward_model import Floats
from goodlength.measure.serves.serve_kind_posterior import kind_sentence
from goodlength.record.model import ReturnKind

VOTERS = 100  # flights that are looked at contact by contact
FLOWN_S = 3.5
TIME_ERROR_S = (
    0.03  # of strike against wall, beyond what the fit leaves open; chosen with the weights of the chances
)


def shares(words: Sequence[str]) -> dict[str, float]:
    """Return the share of each word, the most frequent first; empty words count among all.

    Examples
    --------
    >>> shares(["lob", "lob", "", "hard"])
    {'lob': 0.5, 'hard': 0.25}
    """
    counts = Counter(word for word in words if word)
    return {word: round(n / len(words), 3) for word, n in counts.most_common()}


def kind_shares(launches: Floats, rows: Floats) -> dict[str, float]:
    """Return the share of flights that look like each kind of serve; see `kind_sentence`.

    Parameters
    ----------
    launches : ndarray, shape (n, 9)
    rows : ndarray, shape (n, 25)
        Coefficients of each.
    """
    flown = fly_summaries(launches, rows, np.arange(len(rows)), threads=1).rows
    speed = np.linalg.norm(launches[:, 3:6], axis=1)
    return shares([str(kind) for kind in kind_sentence(flown, speed)])


def taken_shares(
    launches: Floats, rows: Floats, after_s: float, rng: np.random.Generator
) -> dict[str, float]:
    """Return the share of flights by which a serve, struck so long after it, was taken in each way.

    Parameters
    ----------
    launches, rows
        As for `kind_shares`; the first `VOTERS` are looked at.
    """
    until = np.array([FLOWN_S])
    words = []
    for launch, row, off_s in zip(
        launches[:VOTERS], rows[:VOTERS], rng.normal(0.0, TIME_ERROR_S, VOTERS), strict=False
    ):
        words.append(taken_word(path_at(launch, row, until)[1], after_s + off_s))
    return shares(words)


def taken_word(contacts: Floats, after_s: float) -> str:
    """Return how a serve was taken that was struck so long after it, as a `ReturnKind`; "" before the wall.

    Off the back wall goes before the bounce, the bounce before the side wall.

    Parameters
    ----------
    contacts : ndarray, shape (m, 5)
        As `path_at` gives them.
    """
    before = [int(surface) for time_s, *_, surface in contacts.tolist() if time_s < after_s]
    if col.FRONT not in before:
        return ""
    if col.BACK in before:
        return ReturnKind.OFF_BACK_WALL.value
    if col.FLOOR in before:
        return ReturnKind.AFTER_BOUNCE.value
    side = col.LEFT in before or col.RIGHT in before
    return (ReturnKind.AFTER_SIDE_WALL if side else ReturnKind.VOLLEYED).value
