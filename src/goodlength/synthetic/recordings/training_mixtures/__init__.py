"""Learning families in which the play of a retired judging family is heard in the halls of others."""
