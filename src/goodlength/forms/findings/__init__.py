"""Forms of findings: between games, observers, an opponent, a player, a season."""
