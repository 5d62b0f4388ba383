"""cli: being built."""
