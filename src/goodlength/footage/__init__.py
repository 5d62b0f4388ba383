"""footage: being built."""
