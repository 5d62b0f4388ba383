"""demo: the invented match with its truth, and a film of one game made by code.

Two invented players, three matches as entries, footage with sound, and beside it what is true of every
frame. It is never needed by anything but doors, bench and tests, and no real person or match is in it.
Public: `build`, `remove`, `is_built`, `Built`, `Removed`.
"""
