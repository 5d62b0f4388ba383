"""measure: being built."""
