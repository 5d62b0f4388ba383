"""findings: being built."""
