"""Families that once judged: their runs are spent, so that others may learn from them now.

`plan_rays` are the first ingredients of the judging family, `pressure_play` the second. Each module has the
function ``draw_world(rng, condition, seconds)`` and the lists of conditions of the family that judges.
"""
