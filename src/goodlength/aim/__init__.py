"""aim: being built."""
