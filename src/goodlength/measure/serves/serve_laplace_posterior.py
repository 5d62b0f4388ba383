"""Sample flights from the Laplace posterior of the marks.

```
 fits x spins x click errors ── normal distribution round each, weighed by its evidence ──> samples
       └─ one step toward the residuals they have if flights are straight ──> flights that keep to the marks
```

Least squares take the flight for straight near a fit. A sample of that normal distribution bends away from
the marks: its bounce then lies further from the marked one than anybody clicks. Each sample therefore takes
one step toward the residuals it would have if flights were straight. That is randomise-then-optimise
(Bardsley and others, SIAM J. Sci. Comput. 36, 2014; from memory), ended after one step.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from goodlength.measure.serves.click_error_estimation import (
    ASSUMED_CLICK_ERRORS_PX,
    ClickEvidence,
    evidence_of,
    pooled_evidence,
)
from goodlength.measure.serves.serve_fit import PosteriorMode
from goodlength.measure.serves.serve_forward_model import FAR, SPIN, UNKNOWNS, Floats, ServeModel
from goodlength.measure.serves.serve_marks_and_strike_prior import (
    ASSUMED_BALL_PX,
    ASSUMED_SPIN_RAD_S,
    ASSUMED_SPINS_RAD_S,
)

WIDER, KNOWN = 1.05, 3.0  # samples are widened until the click error is known: so far apart its logarithms


@dataclass(frozen=True, eq=False)
class LinearPosterior:
    """Normal distribution of the unknowns round a fit, for one spread of the spin and one click error.

    `slopes` and `residuals` are those of the fit times `weights`, which turn them into standard errors of
    this spread and click error; `root` is a root of the covariance; `evidence` is the logarithm of how likely
    the marks are, but for a constant common to all.
    """

    middle: Floats
    slopes: Floats
    residuals: Floats
    weights: Floats
    fitted: Floats
    root: Floats
    evidence: float

    def straight(self, unknowns: Floats) -> Floats:
        """Return the residuals of samples (n, 33) if flights were straight near the fit, shape (n, m)."""
        return np.asarray(self.residuals + (unknowns - self.fitted) @ self.slopes.T)

    def step(self, bent: Floats) -> Floats:
        """Return the steps that take residuals off straight ones back by least squares, (n, m) to (n, 33)."""
        return np.asarray(-(bent @ self.slopes) @ (self.root @ self.root.T))


def linear_posterior(
    model: ServeModel, mode: PosteriorMode, spin_rad_s: float, click_px: float
) -> LinearPosterior:
    """Return the normal distribution round a fit for a spread of the spin and a click error."""
    spin, click = spin_rad_s / ASSUMED_SPIN_RAD_S, click_px / ASSUMED_BALL_PX
    clicked = model.clicked()
    weights = np.ones(len(mode.residuals))
    weights[: len(clicked)][clicked] = 1.0 / click
    weights[-UNKNOWNS:][SPIN] = 1.0 / spin
    slopes, residuals = weights[:, None] * mode.slopes, weights * mode.residuals
    stiff, ways = np.linalg.eigh(slopes.T @ slopes)
    root = ways / np.sqrt(np.maximum(stiff, 1e-6))
    shift = -root @ (root.T @ (slopes.T @ residuals))
    left = residuals + slopes @ shift
    scales = 3.0 * math.log(spin) + int(clicked.sum()) * math.log(click)
    evidence = -0.5 * float(left @ left) - scales + float(np.linalg.slogdet(root)[1])
    return LinearPosterior(mode.unknowns + shift, slopes, residuals, weights, mode.unknowns, root, evidence)


def sample_posterior(
    model: ServeModel,
    modes: Sequence[PosteriorMode],
    count: int,
    rng: np.random.Generator,
    others: Sequence[ClickEvidence] = (),
) -> tuple[Floats, ClickEvidence]:
    """Return unknowns sampled from what the marks leave open, (count, 33), and what they tell of the clicks.

    `others` is what the coach's other serves tell of the clicks. Flights that do not come to a marked touch
    are left out: near the end of a wall the normal distribution reaches beyond it.
    """
    parts = [
        linear_posterior(model, mode, spin, click)
        for click in ASSUMED_CLICK_ERRORS_PX
        for mode in modes
        for spin in ASSUMED_SPINS_RAD_S
    ]
    evidence = np.array([part.evidence for part in parts]).reshape(len(ASSUMED_CLICK_ERRORS_PX), -1)
    click_evidence = evidence_of(np.logaddexp.reduce(evidence, axis=1))
    known = pooled_evidence(others)
    logs = (evidence + known[:, None]).ravel()
    weight = np.exp(logs - logs.max())
    which = rng.choice(len(parts), 2 * count, p=weight / weight.sum())
    noise = (WIDER if np.ptp(known) < KNOWN else 1.0) * rng.normal(size=(2 * count, UNKNOWNS))
    samples = np.empty_like(noise)
    for k in np.unique(which):
        samples[which == k] = parts[k].middle + noise[which == k] @ parts[k].root.T
    samples, lost = _nearer_the_marks(model, parts, which, samples)
    valid = samples[~lost] if (~lost).sum() >= count // 4 else samples
    return np.asarray(
        np.resize(valid, (count, UNKNOWNS)) if len(valid) < count else valid[:count]
    ), click_evidence


def _nearer_the_marks(
    model: ServeModel, parts: Sequence[LinearPosterior], which: NDArray[np.int64], samples: Floats
) -> tuple[Floats, NDArray[np.bool_]]:
    """Return the samples after one step each where that brings them nearer, and which miss a marked touch."""
    flown = model.residuals(samples)
    lost = _misses(model, flown)
    stepped, target = samples.copy(), np.empty_like(flown)
    before, after = np.empty(len(samples)), np.empty(len(samples))
    for k in np.unique(which):
        mine = which == k
        target[mine] = parts[k].straight(samples[mine])
        step = parts[k].step(parts[k].weights * flown[mine] - target[mine])
        before[mine] = (step**2).sum(axis=1)
        stepped[mine] += np.where(lost[mine, None], 0.0, step)
    flown = model.residuals(stepped)
    for k in np.unique(which):
        mine = which == k
        after[mine] = (parts[k].step(parts[k].weights * flown[mine] - target[mine]) ** 2).sum(axis=1)
    taken = ~lost & ~_misses(model, flown) & (after < before)
    return np.where(taken[:, None], stepped, samples), lost


def _misses(model: ServeModel, residuals: Floats) -> NDArray[np.bool_]:
    """Return which flights do not come to a marked touch."""
    return np.asarray((np.abs(residuals[:, : len(model.named())]) >= FAR).any(axis=1))
