"""practice: drills, plans, sessions and whether they carried into the next match.

Plain numbers in, frozen results out: hit rates that stay honest while one peeks, scatter, carry-over.
It never reads the store or footage and never computes findings; pages and commands reach it through tasks.
Public names: `HitRate`, `hit_rate`, `evidence_against`, `attempts_needed`, `tries_for_width`,
`AttemptScatter`,
`scatter_of`, `learning_curve`, `carried_over`.
"""

from goodlength.practice.statistics.attempt_scatter import (
    AttemptScatter,
    ScatterEllipse,
    scatter_of,
)
from goodlength.practice.statistics.hit_rate import (
    HitRate,
    hit_rate,
    hit_rate_of_sets,
    hit_rate_with_forgetting,
)
from goodlength.practice.statistics.learning_curve import LearningCurve, learning_curve
from goodlength.practice.statistics.power import attempts_needed, tries_for_width
from goodlength.practice.statistics.sequential_evidence import (
    SequentialBounds,
    SequentialEvidence,
    evidence_against,
    sequential_bounds,
)
from goodlength.practice.statistics.transfer import CarryOver, carried_over

__all__ = [
    "AttemptScatter",
    "CarryOver",
    "HitRate",
    "LearningCurve",
    "ScatterEllipse",
    "SequentialBounds",
    "SequentialEvidence",
    "attempts_needed",
    "carried_over",
    "evidence_against",
    "hit_rate",
    "hit_rate_of_sets",
    "hit_rate_with_forgetting",
    "learning_curve",
    "scatter_of",
    "sequential_bounds",
    "tries_for_width",
]
