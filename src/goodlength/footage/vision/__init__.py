"""Find people, poses, the ball and what moves in frames, with models that ship in `footage.models`."""
