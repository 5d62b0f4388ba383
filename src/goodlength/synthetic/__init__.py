"""synthetic: made-up matches, seasons, sounds and pictures with known truth.

Used by the demo, by bench and by tests to hold estimates and grades to their promises.
It draws random worlds from an `rng` that is passed in; it never reads a library or a recording of anyone.
"""
