"""Slow or simple ways to a value that the program reaches otherwise; tests alone use them."""
