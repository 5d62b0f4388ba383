"""Open, probe and decode recordings: timestamps, packets, frames, sound, orientation, colours."""
