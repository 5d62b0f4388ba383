"""tasks: being built."""
