"""What commands share: options, and results as lines for a terminal."""
