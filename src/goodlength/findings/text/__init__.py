"""Sentences for results: grammar, and the words of each question."""
