"""Routes of the library as a whole: players, the bin, settings, fonts."""
