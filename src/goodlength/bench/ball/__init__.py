"""Benchmarks of the ball followed through rallies, on simulated rallies with known truth."""
