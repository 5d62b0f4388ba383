"""footage: what a recording is and shows.

It reads recordings by their own timestamps, upright, and survives damage; it tells problems in words.
It never changes an original, never trusts a file's header, never knows the ball's physics or the score.
`media` opens, probes and decodes; `audio` detects rallies, attempts and bounces; `vision` finds people, poses
and the ball; `edit` makes clips, playable copies and highlights; `camera` calibrates a camera on the court,
`court_detection` finds it without clicks, `ball_detection` candidates for the ball in every frame.
"""
