"""The season's columns: rallies of every match in one file, the query, and tables from it."""
