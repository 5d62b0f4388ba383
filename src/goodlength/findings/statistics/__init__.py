"""Tests, intervals, pooling and models on plain arrays and counts; no squash but the score."""
