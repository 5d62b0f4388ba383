"""show: being built."""
