"""Family of pressure play: the second ingredients of the judging family, spent after their runs.

Play follows from pressure on the players, impacts are Hertz contacts that drive lattices, beams and random
panel modes, rooms a network of waveguides with losses by Eyring, voices a tube, the codec a real AAC. Nothing
here is a real recording; what had no source is ASSUMED and drawn wide.

It never imports a detector or another family. Public: `CONDITIONS`, `draw_world`, and the groups `USUAL`,
`POOR`, `NEIGHBOUR`, `GLASS`, `ODD` of condition names.
"""

from goodlength.synthetic.recordings.retired_test_families.pressure_play import (
    recording_conditions as _conditions,
)
from goodlength.synthetic.recordings.retired_test_families.pressure_play.recording_generator import (
    FAMILY,
    draw_world,
)

USUAL = tuple(_conditions.USUAL)
POOR = tuple(_conditions.POOR)
NEIGHBOUR = tuple(_conditions.NEIGHBOUR)
GLASS = tuple(_conditions.GLASS)
ODD = tuple(_conditions.ODD)
CONDITIONS = tuple(_conditions.TABLE)

__all__ = ["CONDITIONS", "FAMILY", "GLASS", "NEIGHBOUR", "ODD", "POOR", "USUAL", "draw_world"]
