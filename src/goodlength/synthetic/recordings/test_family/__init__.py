"""The test family: made-up recordings on which the figures are reported, never learnt or chosen on.

Its third ingredients are being written; until they are here it still draws with the second, which others may
learn from (`retired_test_families.pressure_play`), so that no figure of it counts meanwhile.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from goodlength.synthetic.recordings.retired_test_families import pressure_play
from goodlength.synthetic.recordings.retired_test_families.pressure_play import (
    CONDITIONS,
    GLASS,
    NEIGHBOUR,
    ODD,
    POOR,
    USUAL,
)

if TYPE_CHECKING:
    import numpy as np

    from goodlength.synthetic.recordings.recording_types import WorldRecording

FAMILY = "judging"

__all__ = ["CONDITIONS", "FAMILY", "GLASS", "NEIGHBOUR", "ODD", "POOR", "USUAL", "draw_world"]


def draw_world(rng: np.random.Generator, condition: str, seconds: float) -> WorldRecording:
    """Return one recording with its truth; arguments and errors as in `pressure_play.draw_world`."""
    return replace(pressure_play.draw_world(rng, condition, seconds), family=FAMILY)
