"""What pages show of how the players moved."""
