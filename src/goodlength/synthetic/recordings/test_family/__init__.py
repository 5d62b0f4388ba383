"""The test family: made-up recordings on which the figures are reported, never learnt or chosen on.

Its third ingredients were made on 30 November 2026 by other methods than both before, without knowledge of
any detector's code or of the generators for learning and choosing. Play is a chain of states with timed
strokes, what happens between rallies a grammar of small doings; impacts are forces through all-pole lattices
drawn as line spectral frequencies; rooms are ray-traced in three dimensions; voices are formant grains; the
codecs Opus and MP3. Nothing here is a real recording; what had no source is ASSUMED and drawn wide.

It never imports a detector or another family. Public: `CONDITIONS`, `draw_world`, and the groups `USUAL`,
`POOR`, `NEIGHBOUR`, `GLASS`, `ODD` of condition names.
"""

from goodlength.synthetic.recordings.test_family import recording_conditions as _conditions
from goodlength.synthetic.recordings.test_family.recording_generator import FAMILY, draw_world

USUAL = tuple(_conditions.USUAL)
POOR = tuple(_conditions.POOR)
NEIGHBOUR = tuple(_conditions.NEIGHBOUR)
GLASS = tuple(_conditions.GLASS)
ODD = tuple(_conditions.ODD)
CONDITIONS = tuple(_conditions.TABLE)

__all__ = ["CONDITIONS", "FAMILY", "GLASS", "NEIGHBOUR", "ODD", "POOR", "USUAL", "draw_world"]
