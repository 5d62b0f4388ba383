"""Analyses of one match: one question or table a module, each with its rallies."""
