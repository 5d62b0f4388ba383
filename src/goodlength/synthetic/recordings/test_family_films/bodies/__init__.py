"""People: their surface, clothes and rackets, how they move, and how they are drawn."""
