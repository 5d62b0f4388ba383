"""aim: where to aim, from ball, court, the player's scatter and what the opponent does with it.

Nothing of it is in this version; the Aim page says so. The flight it will stand on is in `ball`.
It never reads the store, footage or pictures.
"""
