"""Routes of what is shown to a player: clips, pairs, the review list, the handout, its login."""
