"""Findings that only places give: length, tightness, positions and time, from followed ball paths."""
