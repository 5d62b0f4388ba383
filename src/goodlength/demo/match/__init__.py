"""The demo's invented matches: players, rally plans, the score's path."""
