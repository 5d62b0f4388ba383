"""A coach's work on the demo: court, players and ball, measured serves, practice, clips, handout."""
