"""The chance that a span heard is one whole rally: by itself, and within its recording."""
