"""The judging family's films: pictures on which the figures are reported, never learnt or chosen on.

Written without knowledge of any detector or of the other families' pictures, by other methods: people are
skinned polygons of blended implicit surfaces, drawn by depth; the empty court is followed ray by ray, once a
pose of the camera; mirrors show reflected geometry; rows are read one after another. No real film, face,
court or brand is in it; all looks are ASSUMED and drawn wide. It imports no detector and no other family.

Public: `render_film` writes a film and returns its truth; `draw_scene` and `frames_of` do it step by step;
`KINDS`, `ODD` and `choices` name what can be drawn.
"""

from goodlength.synthetic.recordings.test_family_films.random_filming_conditions import KINDS, ODD, choices
from goodlength.synthetic.recordings.test_family_films.video_generator import (
    FAMILY,
    draw_scene,
    frames_of,
    render_film,
)

__all__ = ["FAMILY", "KINDS", "ODD", "choices", "draw_scene", "frames_of", "render_film"]
