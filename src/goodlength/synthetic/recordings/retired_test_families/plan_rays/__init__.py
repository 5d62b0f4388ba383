"""Family of plan rays: the first ingredients of the judging family, spent after three runs.

The ball walks through the court's geometry shot by shot, impacts are plates, strings and beams struck by a
force pulse, rooms are rays in the plan with a late field of sparse noise or of fed-back delays, voices a buzz
through formants, music added partials. Nothing here is a real recording; what had no source is ASSUMED and
drawn wide. How a rally is played is shared with the judging family's films (`test_family_films.rally_play`).

It never imports a detector. Public: `CONDITIONS`, `draw_world`, and the groups `USUAL`, `POOR`, `NEIGHBOUR`,
`GLASS`, `ODD` of condition names.
"""

from goodlength.synthetic.recordings.retired_test_families.plan_rays import (
    recording_conditions as _conditions,
)
from goodlength.synthetic.recordings.retired_test_families.plan_rays.recording_generator import (
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
