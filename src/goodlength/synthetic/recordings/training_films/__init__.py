"""Films of the training families: a court, people and a ball drawn with truth for every frame.

Two families share the play, the skeleton, the lens and the file, and nothing of what is seen: colours,
materials, bodies, light and the way of drawing are each family's own. Nothing here is used for judging.
"""
