"""practice: being built."""
