"""practice: drills, plans, sessions and whether they carried into the next match.

Plain numbers in, frozen results out: hit rates that stay honest while one peeks, scatter, carry-over.
It never reads the store or footage and never computes findings; pages and commands reach it through tasks.
Public names: `HitRate`, `hit_rate`, `AttemptScatter`, `scatter_of`, `learning_curve`, `carried_over`.
"""

from goodlength.practice.statistics.attempt_scatter import (
    AttemptScatter,
    ScatterEllipse,
    scatter_of,
)
from goodlength.practice.statistics.discounted_beta_hit_rate import (
    HitRate,
    hit_rate,
    hit_rate_of_sets,
)
from goodlength.practice.statistics.learning_curve_model_comparison import (
    LearningCurve,
    learning_curve,
)
from goodlength.practice.statistics.practice_transfer import CarryOver, carried_over

__all__ = [
    "AttemptScatter",
    "CarryOver",
    "HitRate",
    "LearningCurve",
    "ScatterEllipse",
    "carried_over",
    "hit_rate",
    "hit_rate_of_sets",
    "learning_curve",
    "scatter_of",
]
