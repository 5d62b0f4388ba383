"""bench: being built."""
