"""scoring: being built."""
