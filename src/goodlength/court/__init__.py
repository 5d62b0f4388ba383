"""court: being built."""
