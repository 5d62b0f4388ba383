"""worlds: whole recordings of made-up courts with truth, in families for learning, choosing and judging.

Each family is a module with a renderer of its own and a function ``draw_world(rng, condition, seconds)``.
A model is trained on learning families only, thresholds are chosen on the choosing family only, and
figures are reported on the judging family. It never imports a detector.
"""
