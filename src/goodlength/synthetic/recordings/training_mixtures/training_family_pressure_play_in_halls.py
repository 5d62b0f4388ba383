"""Learning family: the play of `retired_test_families.pressure_play` in the halls of older families."""

from __future__ import annotations

import numpy as np

from goodlength.synthetic.recordings.recording_types import WorldRecording
from goodlength.synthetic.recordings.training_background_levels import CONDITIONS
from goodlength.synthetic.recordings.training_mixtures.play_of_retired_test_families import (
    PressureSession,
    recorded_in_a_hall,
)

FAMILY = "learning pressure in halls"
__all__ = ["CONDITIONS", "FAMILY", "draw_world"]


def draw_world(
    rng: np.random.Generator, condition: str | None = None, seconds: float = 240.0
) -> WorldRecording:
    """Return one recording with its truth; parameters as in `training_family_image_source.draw_world`."""
    return recorded_in_a_hall(rng, FAMILY, condition, seconds, PressureSession)
