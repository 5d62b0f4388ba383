"""Play behind the test family's films: the ball's flight in closed form, players, shots, rallies.

The recordings of the test family once shared it; their play has been written anew since, and this one
belongs to the films alone. It never imports a detector or another family.
"""
