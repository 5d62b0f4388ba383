"""Benchmarks of findings and practice: false alarms, power, coverage, speed over a season."""
