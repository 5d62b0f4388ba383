"""demo: being built."""
