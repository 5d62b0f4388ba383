"""footage: what a recording is and shows: probe, frame table, proxies, exact clips, stills, long jobs.

It reads films by their own time stamps, upright, and survives damage; it tells problems in words.
It never changes an original, never trusts a file's header, never knows the ball's physics or the score.
Public: `look.look`, `look.frame_table`, `stamps.FrameTable`, `proxy.make_proxy`, `proxy.needs_proxy`,
`cut.cut`, `still.still`, `joining.in_natural_order`, `joining.join`, `jobs.Jobs`, `jobs.JobState`.
"""
