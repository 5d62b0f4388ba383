"""training_flights: learning families whose play follows from flights of a ball, and all play mixed."""
