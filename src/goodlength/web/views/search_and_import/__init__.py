"""What the search page and the import pages show of conditions, rows and columns."""
