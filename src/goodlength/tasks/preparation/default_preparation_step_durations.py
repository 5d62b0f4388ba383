"""About how long each step takes before anything was measured on this computer.

Shipped: what each step cost on one computer. It is scaled by how fast this computer does a small known piece
of work, its load included, and after the first finished steps by how long those really took.
"""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np

from goodlength.jobs.job_queue import JobState


@dataclass(frozen=True)
class StepCost:
    """What a step costs on the reference computer: once, and for each second of video, in seconds."""

    once_s: float
    per_s: float

    def work_s(self, length_s: float) -> float:
        """Return the seconds of work for so much video."""
        return self.once_s + self.per_s * length_s


# Processor seconds on one core of the reference computer: docs/bench.md, "Time left on a first match"
COSTS: Mapping[str, StepCost] = {
    "proxy": StepCost(2.0, 0.2),  # not measured there: by what an encoder of such a size usually takes
    "rallies": StepCost(2.5, 0.009),
    "picture": StepCost(2.5, 0.025),
    "court": StepCost(0.0, 9.0),  # a file, not a second
    "players": StepCost(3.5, 0.42),
    "ball-sample": StepCost(3.5, 0.45),
    "ball": StepCost(3.5, 0.45),
    "ball-paths": StepCost(4.0, 0.32),
}
REFERENCE_PIECE_S = 0.0017  # the piece of work on the same core
PIECES = 16
LEAST_FACTOR, MOST_FACTOR = 0.2, 20.0  # beyond, the check was disturbed
ASSUMED_PLAYED_SHARE = 0.6  # of a video, in rallies, while they are not known: our own choice
ASSUMED_SAMPLE_S = 27.0  # of video that the first look at the ball takes, while the rallies are not known
LATEST = 5


def first_work_s(kind: str, length_s: float, factor: float) -> float | None:
    """Return about how many seconds a step works, from what it cost on the reference computer.

    Parameters
    ----------
    kind : str
        Kind of job.
    length_s : float
        How much video it works on, seconds; for the court, how many files.
    factor : float
        How many times as long as the reference this computer takes.

    Examples
    --------
    >>> first_work_s("unheard of", 60.0, 1.0) is None
    True
    """
    cost = COSTS.get(kind)
    return None if cost is None else factor * cost.work_s(length_s)


def slowness(jobs: Sequence[tuple[JobState, float]]) -> float:
    """Return how many times as long as the reference this computer takes.

    From the latest jobs done on it, each with how much video it worked on; where there is none, from a small
    piece of work, timed once.
    """
    known = [
        (job.worked_s, COSTS[job.kind].work_s(length)) for job, length in jobs if length and job.kind in COSTS
    ][:LATEST]
    if not known:
        return timed_slowness()
    return min(
        max(sum(took for took, _ in known) / sum(cost for _, cost in known), LEAST_FACTOR), MOST_FACTOR
    )


@cache
def timed_slowness() -> float:
    """Return how many times as long as the reference core this computer takes, by a small piece of work."""
    numbers = np.random.default_rng(0).random(1 << 16)
    _piece(numbers)
    started = time.perf_counter()
    for _ in range(PIECES):
        _piece(numbers)
    took = (time.perf_counter() - started) / PIECES
    return min(max(took / REFERENCE_PIECE_S, LEAST_FACTOR), MOST_FACTOR)


def _piece(numbers: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> float:
    """Sort and transform numbers: work that no second core takes part in."""
    return float(np.sort(numbers)[-1] + np.abs(np.fft.rfft(numbers)).sum())
