"""What a coach reads: a match, between games, an opponent, a player over matches, two observers."""
