"""Lists of a library: matches without their details, and counts kept with each match."""
