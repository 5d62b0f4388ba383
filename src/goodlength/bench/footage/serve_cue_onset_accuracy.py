"""Benchmark of serve cue onset on simulated joints: a planted onset is found, and none where there is
none.

Movements are smooth noise over a swing alike for all serves; the kind bends one arm and the trunk a little
from the onset on. Matches have habits of their own, and the kinds are not served alike often in each.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.measure.body.serve_cue_onset import TooFewServes, time_of_disguise_loss
from goodlength.synthetic.simulated_poses import ONSET_S, TIMES_S, serves

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True)
class DisguiseFigures:
    """Sets simulated; tells raised where there was none; found where one was put in, how far off, how late.

    `late_s` is the middle of found less true (later is positive), `early` how many were found before it.
    """

    null_sets: int
    false_tells: int
    planted_sets: int
    found: int
    late_s: float
    late_p90_s: float
    early: int
    serves_of_a_kind: int


def bench_serve_disguise(
    seed: int = 20261125, null_sets: int = 200, planted_sets: int = 100, count: int = 24
) -> DisguiseFigures:
    """Return figures over so many simulated sets."""
    rng = np.random.default_rng(seed)
    false, late = 0, []
    for _ in range(null_sets):
        false += _disguise_time_s(rng, count, None) is not None
    for _ in range(planted_sets):
        at = _disguise_time_s(rng, count, ONSET_S)
        if at is not None:
            late.append(at - ONSET_S)
    return DisguiseFigures(
        null_sets,
        false,
        planted_sets,
        len(late),
        float(np.median(late)) if late else float("nan"),
        float(np.quantile(np.abs(late), 0.9)) if late else float("nan"),
        sum(value < -0.02 for value in late),
        count,
    )


def _disguise_time_s(rng: np.random.Generator, count: int, onset_s: float | None) -> float | None:
    joints, labels, match, box, places = serves(rng, count, onset_s)
    found = time_of_disguise_loss(
        joints, TIMES_S, labels, groups=match, strata=box, places=places, shuffles=200, rng=rng
    )
    return None if isinstance(found, TooFewServes) else found.tell_s
