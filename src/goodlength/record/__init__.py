"""record: being built."""
