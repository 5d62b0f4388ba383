"""web: being built."""
