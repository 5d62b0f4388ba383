"""ball: being built."""
