"""The suite that kills, fuzzes and attacks, and the servers and films it does so to."""
