"""aim: where to aim, from ball, court, the player's scatter and what a miss costs.

It never reads the store, footage or pictures. Public: `task_of`, `Goal`, `Scatter`, `Aim`, `best_aim`,
`odds_of`, `window_of`, `KINDS`.
"""
