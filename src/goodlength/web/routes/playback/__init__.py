"""Routes of the player: small pictures to scrub by, and where to jump to."""
