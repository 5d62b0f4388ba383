"""Benchmarks of what is seen and heard in footage, and of copies and clips."""
